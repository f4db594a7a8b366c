//! How far every figure of the rate report may be off, measured on the layout: the figure anew with the frequencies and couplings of a
//! second model, twice the difference, anew with the frequencies of drive, sense and all others lowered in turn by what the mesh leaves, and raised by what
//! shells that stand in both models lack in twist. In: a pair at work, the comparison of two models. Out: an error for every figure, or why there is none.

use super::electrode::ElectrodeFound;
use super::needs::missing;
use super::report::Work;
use super::weighing::Weighing;
use crate::mode::{MassMotion, Mode};
use crate::rate::answer::WorkingPair;
use crate::rate::comparison::Comparison;
use crate::rate::errors::{coupling_from_readings, quadrature, through_phase};
use crate::rate::reading::reading;
use crate::rate::requirements::{Because, Figure, Found};
use rayon::prelude::*;

/// How many times the difference of two models counts as the error: neither is exact, and both may lie on the same side. By the triangle
/// inequality, the second taken to be no farther from the truth than from the first.
const TWO_MODELS: f64 = 2.0;

/// The error of a figure by its place in [`Figure::ALL`], in the unit of its key.
pub(super) type Errors = Vec<Result<f64, Because>>;

/// A figure as drawn and the ends of its range as made.
fn ends(found: &Found) -> Vec<f64> {
    found.drawn.into_iter().chain(found.as_made.into_iter().flatten()).collect()
}

/// By how much a figure differs in another state of knowledge, at each of its ends; none where one of the two does not have it.
fn shifts(own: &Found, other: &Found) -> Option<Vec<f64>> {
    let (own, other) = (ends(own), ends(other));
    let alike = !own.is_empty() && own.len() == other.len();
    alike.then(|| own.iter().zip(&other).map(|(a, b)| if a == b { 0.0 } else { b - a }).collect())
}

/// The most that a figure differs by.
fn apart(own: &Found, other: &Found) -> Option<f64> {
    Some(shifts(own, other)?.into_iter().map(f64::abs).fold(0.0, f64::max))
}

/// The most that several causes shift a figure by, each of which acts in full, in part or not at all, and one way only: to first order
/// all that shift it up together, or all that shift it down.
fn together(own: &Found, others: &[Found]) -> Option<f64> {
    let all: Vec<Vec<f64>> = others.iter().map(|other| shifts(own, other)).collect::<Option<_>>()?;
    let one_way = |up: f64, end: usize| all.iter().map(|by| (up * by[end]).max(0.0)).sum::<f64>();
    Some((0..ends(own).len()).map(|end| one_way(1.0, end).max(one_way(-1.0, end))).fold(0.0, f64::max))
}

/// A mode without its coefficients, which no figure needs.
fn light(mode: &Mode) -> Mode {
    Mode {
        shape: Vec::new(),
        masses: mode.masses.clone(),
        flexure_strain_share: mode.flexure_strain_share.clone(),
        mass_strain_share: mode.mass_strain_share.clone(),
        ..*mode
    }
}

impl Weighing<'_> {
    /// The error of every figure.
    pub(super) fn errors(&self, work: &Work, compared: &Result<Comparison, Because>) -> Errors {
        let unknown = |because: &Because| Figure::ALL.iter().map(|_| Err(because.clone())).collect();
        let compared = match compared {
            Ok(compared) => compared,
            Err(because) => return unknown(because),
        };
        if let Some(against) = compared.against {
            let lost = [self.modes.0, self.modes.1].into_iter().find(|&i| compared.which[i].is_none());
            if let Some(mode) = lost {
                let why = format!("mode {} has no counterpart as {against}", mode + 1);
                return unknown(&Because::ErrorUnknown(why));
            }
        }
        let by_model = || {
            let (modes, coriolis) = self.by_model(compared)?;
            Some(Weighing { list: &modes, coriolis: coriolis.as_ref(), ..*self }.whole())
        };
        let bar = |i: usize| -self.solved.mesh_errors.get(i).map_or(0.0, |bar| bar.hz).min(self.list[i].frequency_hz);
        let softness = |i: usize| 0.5 * compared.shared_softness[i] * self.list[i].frequency_hz;
        // Both act one way: a mesh stiffens, and what both models lack softens.
        let moved = || [self.moved(&bar), self.moved(&softness)];
        let ((causes, second_order), other) = rayon::join(|| (moved(), self.second_order()), by_model);
        let follows = |i: usize| self.electrodes_follow_hz(i);
        let follow = self.moved(&follows);
        let error_of = |figure: &Figure| {
            let own = self.figure(*figure, work);
            if let Some(because) = self.guard_unsure(*figure, work, compared) {
                return Err(because);
            }
            // Stress of the mass that no mode looked at shakes is not known: taken as that of the rest by mass.
            let unshaken = match (figure, own.drawn, work.shaken_mass) {
                (Figure::ShockStress, Some(drawn), Some(share)) => drawn * (1.0 - share) / share.max(f64::MIN_POSITIVE),
                _ => 0.0,
            };
            let by_cause = causes.iter().map(|states| {
                together(&own, &states.iter().map(|state| self.figure(*figure, state)).collect::<Vec<_>>())
            });
            let by_model = other.iter().map(|state| Some(TWO_MODELS * apart(&own, &self.figure(*figure, state))?));
            // These act either way.
            let either = second_order.iter().chain(&follow).map(|state| apart(&own, &self.figure(*figure, state)));
            let parts = by_model.chain(either).chain(by_cause);
            let sum = parts.sum::<Option<f64>>().map(|sum| unshaken + self.of_shapes(*figure, compared) + sum);
            let sum = sum.ok_or_else(|| Because::ErrorUnknown("the figure is not known under both models".into()))?;
            let beyond = self.of_modes_left_out(*figure, work).ok_or_else(|| {
                Because::ErrorUnknown("what modes that are not listed add to the quadrature has no bound".into())
            })?;
            Ok(sum + beyond + self.of_quadrature_apart(*figure, compared))
        };
        Figure::ALL.iter().map(error_of).collect()
    }

    /// The figures with terms of second order in the imperfections as they may be otherwise; nothing where there are none.
    fn second_order(&self) -> Option<Work> {
        let flaws = self.flaws.otherwise()?;
        Some(Weighing { flaws: &flaws, ..*self }.whole())
    }

    /// By how much the softening of a mode by biased electrodes, Hz, may follow the stated spread of edges and thickness, which first-order
    /// terms hold as it is: combs and walls beside the part have a capacitance that goes with its height, and gaps that both their
    /// edges close; softening goes with the gap's third power.
    fn electrodes_follow_hz(&self, i: usize) -> f64 {
        let spread = &self.stated.spread_3sigma;
        let [edge_um, thickness_um] = [spread.edge_bias_um, spread.thickness_um].map(|um| um.unwrap_or(0.0).abs());
        let softening = |e: &ElectrodeFound| {
            let Some(gap_um) = e.side_gap_um else { return 0.0 };
            let follows = 6.0 * edge_um / gap_um + thickness_um / self.stated.thickness_um;
            e.softening(i).abs() * follows
        };
        let of_lambda: f64 = self.electrodes.iter().map(softening).sum();
        of_lambda / (2.0 * self.mode(i).omega()) / std::f64::consts::TAU
    }

    /// What the mesh, and the twist that both models lack, leave of a figure that is a product of two shapes alone: of the order of what
    /// they leave of their eigenvalues, twice that of the frequencies (Strang & Fix, *An Analysis of the Finite Element Method*, 1973, ch. 6).
    fn of_shapes(&self, figure: Figure, compared: &Comparison) -> f64 {
        if !matches!(figure, Figure::Coupling | Figure::CrossAxis) {
            return 0.0;
        }
        let eigenvalue_share = |i: usize| {
            let mesh = self.solved.mesh_errors.get(i).map_or(0.0, |bar| 2.0 * bar.hz / self.mode(i).frequency_hz);
            mesh + compared.shared_softness[i].abs()
        };
        eigenvalue_share(self.modes.0) + eigenvalue_share(self.modes.1)
    }

    /// Why the distance of modes to guards is not known beside what a second model has: the nearest mode is none of its own, or it has one
    /// nearer that is none of these.
    fn guard_unsure(&self, figure: Figure, work: &Work, compared: &Comparison) -> Option<Because> {
        let against = compared.against.filter(|_| figure == Figure::Guard)?;
        let nearest = work.nearest.as_ref();
        if let Some(mode) = nearest.map(|n| n.mode).filter(|&i| compared.which[i].is_none()) {
            return Some(Because::ErrorUnknown(format!("mode {} has no counterpart under the second model", mode + 1)));
        }
        let known = nearest.map_or(f64::INFINITY, |n| n.distance_hz.abs());
        let away = |hz: f64| work.guards.iter().map(|g| (g.frequency_hz - hz).abs()).fold(f64::INFINITY, f64::min);
        let nearer = compared.others_hz.iter().copied().filter(|hz| away(*hz) <= known);
        let hz = nearer.min_by(|a, b| away(*a).total_cmp(&away(*b)))?;
        Some(Because::ErrorUnknown(format!(
            "as {against} the layout has a mode at {hz:.0} Hz, {:.0} Hz from a guard, which the {} model does not have",
            away(hz),
            self.solved.model
        )))
    }

    /// What the quadrature of two models' shapes as drawn, read by the masses, makes of a figure, in its unit.
    fn of_quadrature_apart(&self, figure: Figure, compared: &Comparison) -> f64 {
        let share = match figure {
            Figure::Quadrature => 1.0,
            Figure::ZeroRate => {
                through_phase(1.0, self.stated.imperfections.phase_error_deg.unwrap_or(0.0).to_radians())
            }
            _ => return 0.0,
        };
        let Some((modes, coriolis)) = self.by_model(compared) else { return 0.0 };
        let other = Weighing { list: &modes, coriolis: coriolis.as_ref(), ..*self }.bare_pair();
        let own = self.bare_pair();
        let (d, s) = self.modes;
        let (Some(drive), Some(sense)) = (&compared.masses[d], &compared.masses[s]) else { return 0.0 };
        let read = |pair: &WorkingPair, drive: &[MassMotion], sense: &[MassMotion]| {
            let [drive, sense] = [drive, sense].map(|masses| reading(masses, self.sense, 0.0));
            quadrature(pair, coupling_from_readings(pair, drive, sense))
        };
        let apart = read(&own, &self.mode(d).masses, &self.mode(s).masses) - read(&other, drive, sense);
        // Where nothing couples there is no quadrature to compare.
        if apart.is_finite() { share * TWO_MODELS * apart.abs().to_degrees() } else { f64::INFINITY }
    }

    /// The most that modes beyond the list add to a figure, in its unit; none where that is not known.
    fn of_modes_left_out(&self, figure: Figure, work: &Work) -> Option<f64> {
        let phase = self.stated.imperfections.phase_error_deg.map_or(0.0, f64::to_radians);
        match figure {
            Figure::Quadrature => Some(work.quadrature.left_out?.to_degrees()),
            Figure::ZeroRate => Some(through_phase(work.quadrature.left_out?, phase).to_degrees()),
            _ => Some(0.0),
        }
    }

    /// The pair at work with drive, sense, and all other modes moved in turn by so many Hz; none of them where all of that is nothing.
    fn moved(&self, by_hz: &(dyn Fn(usize) -> f64 + Sync)) -> Vec<Work> {
        let (d, s) = self.modes;
        let groups: [&(dyn Fn(usize) -> bool + Sync); 3] = [&|i| i == d, &|i| i == s, &|i| i != d && i != s];
        let moved = |group: &&(dyn Fn(usize) -> bool + Sync)| -> Option<Work> {
            let mut list: Vec<Mode> = self.list.iter().map(light).collect();
            let mut moved = false;
            for (i, mode) in list.iter_mut().enumerate().filter(|(i, _)| group(*i)) {
                let hz = by_hz(i);
                moved |= hz != 0.0;
                mode.frequency_hz += hz;
            }
            moved.then(|| Weighing { list: &list, ..*self }.whole())
        };
        groups.par_iter().filter_map(moved).collect()
    }

    /// The modes with the other model's frequencies, and its couplings.
    fn by_model(&self, compared: &Comparison) -> Option<(Vec<Mode>, Option<crate::rotation::Coriolis>)> {
        compared.against?;
        let mut list: Vec<Mode> = self.list.iter().map(light).collect();
        for (mode, hz) in list.iter_mut().zip(&compared.frequency_hz) {
            mode.frequency_hz = hz.unwrap_or(mode.frequency_hz);
        }
        let coriolis = self.coriolis.zip(compared.coriolis.as_ref());
        Some((list, coriolis.map(|(own, other)| own.substituted(other, &compared.which))))
    }

    /// What a stated difference of widths leaves as it is, though it is slender: differences of widths are of flexures.
    fn not_widened(&self) -> Option<String> {
        self.stated.imperfections.left_right_width_um.filter(|um| *um != 0.0)?;
        let covered = self.outline.covered.first().map(|at| ("a named mass lies over the strip to an anchor at", at));
        if self.outline.flexures.is_empty() {
            return Some("no flexure was found that left_right_width_um widens".into());
        }
        let unrecognised =
            || self.outline.unrecognised.first().map(|at| ("not recognised as a flexure is the slender strip at", at));
        let (what, [x, y]) = covered.or_else(unrecognised)?;
        Some(format!("{what} ({x:.1}, {y:.1}) µm, which left_right_width_um does not widen then"))
    }

    /// A figure as found, with what is missing in it; its error is not set yet.
    pub(super) fn figure(&self, figure: Figure, work: &Work) -> Found {
        let found = self.found(figure, work);
        let mut missing = missing(figure, (self.stated, self.outline), self.solved, self.electrodes);
        missing.extend(work.made_missing.iter().cloned());
        missing.extend(found.missing.iter().cloned());
        missing.extend(self.not_widened().map(Because::NotFound));
        missing.extend(self.of_leaning_walls(figure, work).into_iter().map(Because::NotFound));
        missing.extend(self.of_shapes_made(figure, work).map(Because::NotFound));
        missing.extend(self.of_shock(figure).into_iter().map(Because::NotFound));
        missing.extend(self.of_drive_and_electrodes(figure).into_iter().map(Because::NotFound));
        if missing.is_empty() && found.as_made.is_none() && self.flaws.any() {
            missing.push(Because::NotFound("the figure as made, with the stated imperfections, was not found".into()));
        }
        Found { missing, ..found }
    }

    /// Walls whose lean is stated and not counted.
    fn of_leaning_walls(&self, figure: Figure, work: &Work) -> Vec<String> {
        if !rests_on_shapes(figure) {
            return Vec::new();
        }
        let leans = self.stated.imperfections.sidewall_tilt_deg.is_some_and(|degrees| degrees != 0.0);
        let strip = self.outline.unrecognised.first().filter(|_| leans).map(|[x, y]| {
            format!("the slender strip at ({x:.1}, {y:.1}) µm was not recognised as a flexure, and how its walls lean is not counted")
        });
        let partly = work.quadrature.lean_partly.map(|counted| {
            format!(
                "sidewall_tilt_deg is taken on {:.1} % of the flexures' length: the rest is too short or too curved for straight beams, of changing width, or has openings",
                100.0 * counted
            )
        });
        strip.into_iter().chain(partly).collect()
    }

    /// Shapes as made that stand for no single device.
    fn of_shapes_made(&self, figure: Figure, work: &Work) -> Option<String> {
        if !rests_on_shapes(figure) && !is_of_shock(figure) {
            return None;
        }
        let [i, j] = work.made.iter().find_map(|m| m.turned_by_spread)?;
        Some(format!(
            "the stated spread turns modes {} and {} as made into each other: no one shape stands for what is made",
            i + 1,
            j + 1
        ))
    }

    /// What of a shock is not looked at.
    fn of_shock(&self, figure: Figure) -> Vec<String> {
        let mut missing = Vec::new();
        if figure == Figure::ShockFirstTouch {
            missing.extend(self.touches_elsewhere());
            if self.stated.stoppers.iter().any(|s| self.rest_towards(s).is_none()) {
                let why = "the deflection towards a stopper under the stated biases is not known under this model";
                missing.push(why.into());
            }
        }
        if is_of_shock(figure) && self.stated.electrodes.iter().any(|e| e.bias_v != 0.0) {
            // It can carry a part past where it pulls in, long before the linear answer touches.
            let why = "the shock is answered to first order about the state under bias: how the pull grows as a gap closes is not in it";
            missing.push(why.into());
        }
        if figure == Figure::ShockStress
            && let Some([x, y]) = self.outline.unrecognised.first()
        {
            missing.push(format!(
                "the slender strip at ({x:.1}, {y:.1}) µm was not recognised as a flexure, and its stress is not looked at"
            ));
        }
        missing
    }

    /// What electrodes see that is not known, and an amplitude that is not reached.
    fn of_drive_and_electrodes(&self, figure: Figure) -> Vec<String> {
        let mut missing = Vec::new();
        if matches!(figure, Figure::Quadrature | Figure::ZeroRate | Figure::Vibration | Figure::AngleRandomWalk) {
            let changes = |e: &&ElectrodeFound| e.role == Some("sense") && e.overlap_change.is_some();
            missing.extend(self.electrodes.iter().find(changes).map(|e| {
                format!(
                    "an edge of the part lies over sense electrode \"{}\": what it sees of motion in the plane is not known",
                    e.name
                )
            }));
        }
        let moved = [Figure::Vibration, Figure::AngleRandomWalk, Figure::ZeroRate, Figure::ShockFirstTouch];
        if moved.contains(&figure) {
            missing.extend(self.drive_meets());
            if self.stated.operation.drive_amplitude_um.is_some() && self.amplitude().is_none() {
                missing.push("the stated amplitude is at no place that the drive mode moves".into());
            }
        }
        missing
    }
}

/// Whether a figure is of the stated shock.
fn is_of_shock(figure: Figure) -> bool {
    matches!(figure, Figure::ShockTravel | Figure::ShockFirstTouch | Figure::ShockStress)
}

/// Whether a figure rests on the shapes of the pair and not on frequencies alone.
fn rests_on_shapes(figure: Figure) -> bool {
    use Figure::{AngleRandomWalk, Coupling, CrossAxis, Quadrature, Vibration, ZeroRate};
    matches!(figure, Coupling | CrossAxis | Quadrature | ZeroRate | Vibration | AngleRandomWalk)
}
