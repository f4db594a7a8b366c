//! What a shock of the base does: travel of named places, first touch, stress of the flexures.

use super::electrode::ElectrodeFound;
use super::flaws::half;
use super::report::Touch;
use super::stated::{Facing, FacingElectrode, Place, StatedSensor, Stopper};
use super::weighing::Weighing;
use crate::lumped::{Lumped, Pieces};
use crate::mode::{MassMotion, Mode};
use crate::model::ModalSolution;
use crate::process::{ProcessTerms, Spread};
use crate::rate::shock::{Answers, HalfSine, Travel, first_touch_g};
use crate::rate::stress::{ALIKE, Driven, FibreStresses, Stressed};
use modalith_mesher::outline::Outline;
use std::f64::consts::TAU;

/// What every mode strains the flexures by, where a shock is stated. Without springs that closed forms describe there is no nominal
/// stress; a requirement on it then has no verdict.
pub(super) fn fibres(stated: &StatedSensor, outline: &Outline, solved: &ModalSolution) -> Option<FibreStresses> {
    stated.operation.shock?;
    let model = Pieces::of(outline).and_then(|p| Lumped::new(p, stated.law, stated.thickness_um, true)).ok()?;
    Some(FibreStresses::new(&solved.sampled, &outline.flexures, &model.springs))
}

/// Directions in which the farthest corner of a mass is looked for.
const WAYS: usize = 8;
/// Travel below this share of that along the shock is rounding.
const ROUNDING: f64 = 1e-9;

/// A spot whose travel is looked at.
enum Spot {
    /// A sampled point of the layout, by number; none without any.
    Sampled(Option<usize>),
    /// A place of a named mass: its number, and how far from the centre, m.
    OnMass { mass: usize, arm_m: [f64; 2] },
}

/// The motion of a mass at a place beside its centre.
fn rigid_motion(mass: &MassMotion, [x, y]: [f64; 2]) -> [f64; 3] {
    let (u, turn) = (mass.translation, mass.turn);
    [u[0] - turn[2] * y, u[1] + turn[2] * x, u[2] + turn[0] * y - turn[1] * x]
}

impl Weighing<'_> {
    /// Where a place is looked at: a point, or the corners of a mass that reach farthest, since one that tilts is not met at its centre.
    fn spots(&self, place: &Place) -> Vec<Spot> {
        let name = match place {
            Place::Point(p) => return vec![Spot::Sampled(self.sampled_at(*p))],
            Place::Mass(name) => name,
        };
        let Some(mass) = self.mode(0).masses.iter().position(|m| m.name == *name) else { return Vec::new() };
        let centre = self.mode(0).masses[mass].centre_um;
        let drawn = self.outline.masses.iter().filter(|m| m.name == *name).flat_map(|m| &m.polygons);
        let corners: Vec<[f64; 2]> = drawn.flat_map(|p| p.outer.iter().copied()).collect();
        let mut spots: Vec<[f64; 2]> = Vec::new();
        for way in (0..WAYS).map(|k| TAU * (k as f64 + 0.5) / WAYS as f64) {
            let along = |p: &[f64; 2]| p[0] * way.cos() + p[1] * way.sin();
            let farthest = corners.iter().max_by(|a, b| along(a).total_cmp(&along(b)));
            spots.extend(farthest.filter(|p| !spots.contains(p)));
        }
        // As a rigid body, whose static deflection is known with all modes in it, and as it is shaped: arms bend.
        let rigid = |p: [f64; 2]| Spot::OnMass { mass, arm_m: [0, 1].map(|k| (p[k] - centre[k]) * 1e-6) };
        if spots.is_empty() {
            return vec![rigid(centre)];
        }
        spots.into_iter().flat_map(|p| [rigid(p), Spot::Sampled(self.sampled_at(p))]).collect()
    }

    /// Shape of a mode at a spot, kg^-½.
    fn shape_there(&self, spot: &Spot, mode: usize) -> [f64; 3] {
        match spot {
            Spot::Sampled(point) => self.shape_of(*point, mode),
            Spot::OnMass { mass, arm_m } => rigid_motion(&self.mode(mode).masses[*mass], *arm_m),
        }
    }

    /// The most that a place moves along an axis in the drive mode, kg^-½.
    pub(super) fn driven(&self, place: &Place, axis: usize) -> f64 {
        self.spots(place).iter().map(|s| self.shape_there(s, self.modes.0)[axis].abs()).fold(0.0, f64::max)
    }

    /// The farthest travel of any spot of a place along an axis under the stated shock, every mode slower by a share of its frequency.
    fn farthest(&self, place: &Place, axis: usize, slower: &dyn Fn(usize) -> f64) -> Option<Travel> {
        let (pulse, shock_axis) = self.pulse()?;
        let modes: Vec<usize> = (0..self.list.len()).filter(|&i| self.mode(i).frequency_hz > 0.0).collect();
        let omegas: Vec<f64> = modes.iter().map(|&i| self.mode(i).omega() * (1.0 - slower(i))).collect();
        let answers = Answers::new(&pulse, &omegas);
        let travel_at = |spot: &Spot| {
            let moved = |i: usize| [self.mode(i).participation[shock_axis], self.shape_there(spot, i)[axis]];
            answers.travel(modes.iter().map(|&i| moved(i)), self.statics(spot, axis, shock_axis, &modes, &omegas))
        };
        let mut found = self.spots(place).iter().map(travel_at).max_by(|a, b| a.peak_m.total_cmp(&b.peak_m))?;
        // What moves only by rounding does not move.
        let scale = self.along_the_shock(&answers, &modes, shock_axis);
        if found.peak_m <= ROUNDING * scale {
            found = Travel { during_m: [0.0; 2], after_m: 0.0, peak_m: 0.0, left_out_m: 0.0 };
        }
        Some(found)
    }

    /// The farthest that the centre of any mass travels along the shock, m.
    fn along_the_shock(&self, answers: &Answers, modes: &[usize], axis: usize) -> f64 {
        let spots_of = |mass: usize| {
            let moved = |i: &usize| [self.mode(*i).participation[axis], self.mode(*i).masses[mass].translation[axis]];
            answers.travel(modes.iter().map(moved), None).peak_m
        };
        (0..self.mode(0).masses.len()).map(spots_of).fold(0.0, f64::max)
    }

    fn pulse(&self) -> Option<(HalfSine, usize)> {
        let shock = self.stated.operation.shock?;
        Some((HalfSine { peak_g: shock.peak_g, duration_s: shock.duration_ms * 1e-3 }, shock.axis))
    }

    /// Static deflection of a spot per unit base acceleration along the shock, where it was solved for; of `modes` with other
    /// frequencies it differs from that of the modes solved for by what they make of it.
    fn statics(&self, spot: &Spot, axis: usize, shock_axis: usize, modes: &[usize], omegas: &[f64]) -> Option<f64> {
        let Spot::OnMass { mass, arm_m } = spot else { return None };
        let name = &self.mode(0).masses[*mass].name;
        let found = self.solved.statics.as_ref()?[shock_axis].iter().find(|m| m.name == *name)?;
        let part = |m: &Mode, omega: f64| {
            m.participation[shock_axis] * rigid_motion(&m.masses[*mass], *arm_m)[axis] / omega.powi(2)
        };
        let solved = self.solved.modes.iter().filter(|m| m.frequency_hz > 0.0);
        let solved: f64 = solved.map(|m| part(m, m.omega())).sum();
        let here: f64 = modes.iter().zip(omegas).map(|(&i, omega)| part(self.mode(i), *omega)).sum();
        Some(rigid_motion(found, *arm_m)[axis] + solved - here)
    }

    /// How far a place has moved towards a stopper at rest under the stated biases and film stress, m; 0 where it leans away, since a bias
    /// may be off. `None` where there is a bias and the state under it is not known.
    pub(super) fn rest_towards(&self, stopper: &Stopper) -> Option<f64> {
        let biased = self.stated.electrodes.iter().any(|e| e.bias_v != 0.0);
        if biased && self.solved.bias.is_none() {
            return None;
        }
        let Some(rest) = self.solved.rest_m() else { return Some(0.0) };
        let moved = match &stopper.at {
            Place::Point(p) => *rest.get(self.sampled_at(*p)?)?,
            Place::Mass(name) => {
                let number = self.mesh.mass_names.iter().position(|m| m == name)?;
                self.solved.sampled.mean_over_mass(self.mesh, number, &rest)?
            }
        };
        let towards = if stopper.forwards { 1.0 } else { -1.0 };
        Some((towards * moved[stopper.axis]).max(0.0))
    }

    /// What a shock may touch before a stopper, in words: masses without one, plates and walls that lie nearer.
    pub(super) fn touches_elsewhere(&self) -> Option<String> {
        let stoppers = &self.stated.stoppers;
        let at = |mass: &str| {
            stoppers.iter().any(|s| match &s.at {
                Place::Mass(name) => name == mass,
                Place::Point(p) => {
                    let drawn = self.outline.masses.iter().filter(|m| m.name == mass);
                    drawn.flat_map(|m| &m.polygons).any(|polygon| polygon.touches(*p))
                }
            })
        };
        if let Some(mass) = self.mode(0).masses.iter().find(|m| !at(&m.name)) {
            return Some(format!("no stopper is stated for \"{}\", which may touch something sooner", mass.name));
        }
        // Fingers have walls on both sides too, which a shock along or across them alone reaches.
        let shock_axis = self.stated.operation.shock.map(|s| s.axis);
        let facing = |(e, found): &(&FacingElectrode, &ElectrodeFound)| -> Vec<(usize, bool, f64)> {
            match &e.facing {
                Facing::Plate { gap_um } | Facing::Side { gap_um, .. } => vec![(e.axis, e.forwards, *gap_um)],
                Facing::Comb { .. } => {
                    // What is not known is as near as can be.
                    let sides = [true, false].map(|forwards| (1 - e.axis, forwards, found.side_gap_um.unwrap_or(0.0)));
                    let tip_um = found.tip_gap_m.map_or(0.0, |m| m * 1e6);
                    let all = sides.into_iter().chain([(e.axis, e.forwards, tip_um)]);
                    all.filter(|(axis, ..)| Some(*axis) == shock_axis).collect()
                }
            }
        };
        let nearer = |(axis, forwards, gap_um): (usize, bool, f64)| {
            let there = stoppers.iter().filter(|s| s.axis == axis && s.forwards == forwards).map(|s| s.gap_um);
            there.reduce(f64::max).is_none_or(|um| gap_um <= um)
        };
        let mut electrodes = self.stated.electrodes.iter().zip(self.electrodes);
        let (electrode, _) = electrodes.find(|e| facing(e).into_iter().any(nearer))?;
        Some(format!(
            "electrode \"{}\" lies as near as a stopper or has none before it, and touching it is not looked at",
            electrode.name
        ))
    }

    pub(super) fn touches(&self, terms: Option<(&ProcessTerms, &Spread)>) -> Vec<Touch> {
        let Some((pulse, _)) = self.pulse() else { return Vec::new() };
        let touch = |stopper: &Stopper| -> Option<Touch> {
            let found = self.farthest(&stopper.at, stopper.axis, &|_| 0.0)?;
            // As made: every mode at the lower end of its range.
            let worst = self.farthest(&stopper.at, stopper.axis, &|i| self.slower(terms, i))?;
            let gap_m = stopper.gap_um * 1e-6;
            // The shock meets the part anywhere in its drive motion: what that takes of the gap is gone.
            let driven = |(q, _): (f64, String)| q * self.driven(&stopper.at, stopper.axis);
            let driven_m = self.amplitude().map_or(0.0, driven).min(gap_m);
            let rest_m = self.rest_towards(stopper).unwrap_or(0.0).min(gap_m - driven_m);
            let open_m = gap_m - driven_m - rest_m;
            Some(Touch {
                place: match &stopper.at {
                    Place::Mass(name) => name.clone(),
                    Place::Point(p) => format!("({}, {}) µm", p[0], p[1]),
                },
                direction: format!("{}{}", if stopper.forwards { '+' } else { '-' }, ["x", "y", "z"][stopper.axis]),
                gap_m,
                driven_m,
                rest_m,
                first_touch_g: first_touch_g(&pulse, &found, open_m),
                worst_first_touch_g: first_touch_g(&pulse, &worst, open_m),
                worst_m: worst.peak_m,
                travel: found,
            })
        };
        self.stated.stoppers.iter().filter_map(touch).collect()
    }

    /// The named mass that travels farthest along the shock, as drawn or with every mode at the lower end of its range (`terms`).
    pub(super) fn free_travel(&self, terms: Option<(&ProcessTerms, &Spread)>) -> Option<(String, Travel)> {
        let (_, axis) = self.pulse()?;
        let all = self.mode(0).masses.iter().filter_map(|m| {
            let place = Place::Mass(m.name.clone());
            Some((m.name.clone(), self.farthest(&place, axis, &|i| self.slower(terms, i))?))
        });
        all.max_by(|a, b| a.1.peak_m.total_cmp(&b.1.peak_m))
    }

    /// The most stressed flexure of these modes, drawn or made, or with every mode at the lower end of its range (`terms`); none
    /// without a shock, or where no flexure was found. A flexure made wider is bent by as much more at its edges.
    pub(super) fn stress(&self, terms: Option<(&ProcessTerms, &Spread)>) -> Option<Stressed> {
        let (pulse, axis) = self.pulse()?;
        let fibres = self.fibres?;
        let modes: Vec<Driven> = (0..self.list.len())
            .filter(|&i| self.mode(i).frequency_hz > 0.0)
            .map(|i| Driven {
                mode: i,
                omega: self.mode(i).omega() * (1.0 - self.slower(terms, i)),
                participation: self.mode(i).participation[axis],
            })
            .collect();
        let mut all = fibres.under(&pulse, &modes, self.shares);
        let wider_um = self.stated.imperfections.left_right_width_um.filter(|_| self.shares.is_some()).unwrap_or(0.0);
        for found in &mut all {
            let flexure = &self.outline.flexures[found.flexure];
            found.peak_pa *= 1.0 + half(flexure, self.middle_m()[0] * 1e6) * 0.5 * wider_um / flexure.width_um;
        }
        let most = all.iter().map(|s| s.peak_pa).fold(0.0, f64::max);
        // Images of each other are stressed alike up to rounding: then the first.
        all.into_iter().find(|s| s.peak_pa >= most * (1.0 - ALIKE))
    }

    /// Share of the moving mass that the modes at hand hold along the shock: what shakes the rest stresses flexures too.
    pub(super) fn shaken_mass(&self) -> Option<f64> {
        let (_, axis) = self.pulse()?;
        let held: f64 = (0..self.list.len()).map(|i| self.mode(i).participation[axis].powi(2)).sum();
        Some((held / self.solved.moving_mass_kg).clamp(0.0, 1.0)).filter(|share| share.is_finite())
    }

    /// By which share of its frequency a mode may be slower as made.
    fn slower(&self, terms: Option<(&ProcessTerms, &Spread)>, i: usize) -> f64 {
        terms.map_or(0.0, |(t, spread)| {
            let range = t.range(i, spread);
            (range.drawn_hz - range.low_hz) / self.mode(i).frequency_hz
        })
    }
}
