//! Requirements against what was found: every figure as drawn and as made, in the unit of its key.

use super::errors::Errors;
use super::needs::of_flat_part;
use super::report::{Made, Touch, Work};
use super::weighing::Weighing;
use crate::process::{Range, down_by, up_by};
use crate::rate::balance::FalseRate;
use crate::rate::errors::{InPhase, through_phase};
use crate::rate::guards::clearance;
use crate::rate::noise::RateNoise;
use crate::rate::requirements::{Because, Figure, Found, Limits, Verdict, weigh};
use crate::rate::shock::Travel;
use crate::rate::stress::Stressed;
use std::f64::consts::TAU;

impl Weighing<'_> {
    pub(super) fn verdicts(&self, work: &Work, errors: &Errors) -> Vec<Verdict> {
        let weighed = |(figure, asked): &(Figure, Limits)| {
            let place = Figure::ALL.iter().position(|f| f == figure);
            let unknown = || Err(Because::ErrorUnknown("nobody measured it".into()));
            let error = place.and_then(|k| errors.get(k)).cloned().unwrap_or_else(unknown);
            let found = match of_flat_part(*figure, self.solved) {
                Some(because) => Found::unknown(vec![because]),
                None => Found { error, ..self.figure(*figure, work) },
            };
            weigh(*figure, *asked, found)
        };
        self.stated.requirements.iter().map(weighed).collect()
    }

    /// A figure as drawn and as made, in the unit of its key, with what of it could not be found.
    pub(super) fn found(&self, figure: Figure, work: &Work) -> Found {
        let (d, s) = (work.pair.drive.omega / TAU, work.pair.sense.omega / TAU);
        let ends = |range: Option<Range>| range.map(|r| [r.low_hz, r.high_hz]);
        match figure {
            Figure::ModeSplit => found_of(Some(s - d), ends(work.split)),
            Figure::DriveFrequency => found_of(Some(d), ends(work.frequencies.map(|r| r[0]))),
            Figure::SenseFrequency => found_of(Some(s), ends(work.frequencies.map(|r| r[1]))),
            Figure::Guard => self.guard_found(work),
            Figure::Coupling => found_of(Some(work.pair.coupling()), spread(work, &|w| Some([w.pair.coupling(); 2]))),
            Figure::CrossAxis => {
                let largest = |w: &Work| {
                    let others = (0..3).filter(|k| *k != self.axis).map(|k| w.cross_axis[k].abs());
                    others.fold(0.0, f64::max)
                };
                found_of(Some(largest(work)), spread(work, &|w| Some([largest(w); 2])))
            }
            Figure::Quadrature | Figure::ZeroRate => self.zero_rate_found(figure, work),
            Figure::Vibration => vibration_found(work),
            Figure::AngleRandomWalk => walk_found(work),
            Figure::ShockTravel | Figure::ShockStress | Figure::ShockFirstTouch => self.shock_found(figure, work),
        }
    }

    /// Distance of the nearest mode to a guard, Hz.
    fn guard_found(&self, work: &Work) -> Found {
        let range = |w: &Work| clearance(&w.neighbours, w.modes, &w.guards);
        let Some(near) = &work.nearest else { return found_of(None, None) };
        let drawn = near.distance_hz.abs();
        let reach = self.guards_reach(work, range(work).map_or(drawn, |r| r[1]));
        // Over all that the stated imperfections make; none where one of them does not have it.
        let all: Option<Vec<[f64; 2]>> = work.whole_made().iter().map(|m| range(&m.work)).collect();
        // At three sigma of a parameter modes may have mixed, as the slopes of one state do not tell.
        let states = work.spread_made.iter().flatten().chain(&work.spread_drawn).flatten();
        let nearest = states.filter_map(|m| m.work.nearest.as_ref()).map(|n| n.distance_hz.abs()).reduce(f64::min);
        let nearest = nearest.unwrap_or(f64::INFINITY);
        let range = |w: &Work| range(w).map(|[low, high]| [low.min(nearest), high]);
        let made = all.and_then(|all| all.into_iter().reduce(|a, b| [a[0].min(b[0]), a[1].max(b[1])]));
        let as_made = made.or_else(|| range(work).filter(|r| *r != [drawn; 2] && work.made_missing.is_empty()));
        // A mode beyond the list may lie nearer.
        let known = reach.is_none().then_some(drawn);
        Found { missing: reach.into_iter().collect(), ..found_of(known, as_made) }
    }

    /// Quadrature, or what of the zero rate is in phase, °/s.
    fn zero_rate_found(&self, figure: Figure, work: &Work) -> Found {
        if figure == Figure::Quadrature {
            // That of the modes made, as of the modes of a drawing.
            let as_made = spread(work, &|w| Some([w.quadrature.drawn.to_degrees(); 2]));
            let at_least = work.quadrature.together.map(|q| [q.to_degrees(); 2]);
            let found = found_of(Some(work.quadrature.drawn.to_degrees()), as_made.or(at_least));
            return lacks(
                found,
                work.quadrature.as_made().is_some(),
                "quadrature as made is not known in all its terms",
            );
        }
        let phase = self.stated.imperfections.phase_error_deg.map(f64::to_radians);
        let sum = |w: &Work| {
            let through = phase.map(|phase| through_phase(w.quadrature.drawn, phase));
            InPhase::of(w.drive_leak, through).at_least()
        };
        let as_made = spread(work, &|w| sum(w).map(|rate| [rate.to_degrees(); 2]));
        let at_least = work.in_phase.at_least().map(|rate| [rate.to_degrees(); 2]);
        let found = found_of(None, as_made.or(at_least));
        lacks(found, work.in_phase.sum().is_some(), "zero rate in phase is not known in all its terms")
    }

    /// What a shock makes of travel, µm, stress, MPa, or the peak at first touch, g.
    fn shock_found(&self, figure: Figure, work: &Work) -> Found {
        match figure {
            Figure::ShockStress => {
                let peak = |s: &Stressed| s.peak_pa * 1e-6;
                let drawn = work.stress.as_ref().map(peak);
                found_of(drawn, self.shocked(work, drawn, &|w| w.stress_as_made.as_ref().map(peak)))
            }
            Figure::ShockFirstTouch => {
                let drawn = touched(work, f64::min, &|t| t.first_touch_g);
                found_of(drawn, self.shocked(work, drawn, &|w| touched(w, f64::min, &|t| t.worst_first_touch_g)))
            }
            _ => {
                // A mass without a stopper travels all the same.
                let free = |t: &Option<(String, Travel)>| t.as_ref().map(|t| t.1.peak_m);
                let farthest =
                    |stopped: Option<f64>, free: Option<f64>| stopped.into_iter().chain(free).reduce(f64::max);
                let drawn = farthest(touched(work, f64::max, &|t| t.travel.peak_m), free(&work.free_travel));
                let worst = |w: &Work| farthest(touched(w, f64::max, &|t| t.worst_m), free(&w.free_travel_as_made));
                let as_made = self.shocked(work, drawn, &worst);
                found_of(drawn.map(|m| m * 1e6), as_made.map(|r| r.map(|m| m * 1e6)))
            }
        }
    }

    /// A guard near which modes may lie that were not looked at: nearer than `distance_hz`, above what was searched.
    fn guards_reach(&self, work: &Work, distance_hz: f64) -> Option<Because> {
        let search = &self.solved.search;
        if search.is_all() {
            return None;
        }
        let beyond = work.guards.iter().map(|g| g.frequency_hz).filter(|hz| hz + distance_hz > search.to_hz());
        let farthest = beyond.reduce(f64::max)?;
        Some(Because::NotFound(format!(
            "modes are known up to {:.0} Hz, and a guard lies at {farthest:.0} Hz: --up-to {:.0} looks far enough",
            search.to_hz(),
            (1.01 * (farthest + distance_hz)).ceil()
        )))
    }

    /// From the drawn figure of a shock to the worst as made; none where neither imperfections nor a spread are stated.
    fn shocked(&self, work: &Work, drawn: Option<f64>, of: &dyn Fn(&Work) -> Option<f64>) -> Option<[f64; 2]> {
        let drawn = drawn.filter(|_| work.frequencies.is_some())?;
        let one = std::slice::from_ref(work);
        let all: Option<Vec<f64>> = if work.made.is_empty() {
            one.iter().map(of).collect()
        } else {
            work.made.iter().map(|m| of(&m.work)).collect()
        };
        Some(all?.into_iter().fold([drawn; 2], |[low, high], x| [low.min(x), high.max(x)]))
    }
}

/// A figure as drawn and as made, nothing missing yet.
fn found_of(drawn: Option<f64>, as_made: Option<[f64; 2]>) -> Found {
    Found { drawn, as_made, ..Found::unknown(Vec::new()) }
}

/// A figure that lacks `what` unless it is there.
fn lacks(found: Found, there: bool, what: &str) -> Found {
    if there { found } else { Found { missing: vec![Because::NotFound(what.into())], ..found } }
}

/// A figure over all that the stated imperfections make, with what the stated spread makes of each; none where one of them does not have
/// it.
fn spread(work: &Work, of: &dyn Fn(&Work) -> Option<[f64; 2]>) -> Option<[f64; 2]> {
    let one = |(k, m): (usize, &Made)| -> Option<[f64; 2]> {
        let parameters = work.spread_made.get(k).map_or(&[][..], Vec::as_slice);
        let states = parameters.iter().map(|ends| Some([of(&ends[0].work)?, of(&ends[1].work)?]));
        Some(widened(of(&m.work)?, &states.collect::<Option<Vec<_>>>()?))
    };
    let all: Option<Vec<[f64; 2]>> = work.whole_made().iter().enumerate().map(one).collect();
    all?.into_iter().reduce(|a, b| [a[0].min(b[0]), a[1].max(b[1])])
}

/// False rate of vibration, °/s per g: the largest over the axes.
fn vibration_found(work: &Work) -> Found {
    let largest = |rates: &Option<[FalseRate; 3]>| -> Option<f64> {
        let all: Option<Vec<f64>> = rates.as_ref()?.iter().map(|r| r.worst).collect();
        Some(all?.into_iter().fold(0.0, f64::max).to_degrees())
    };
    let mismatched = |w: &Work| largest(&w.vibration_mismatched).map(|q| [q; 2]);
    let as_made = spread(work, &mismatched).or_else(|| mismatched(work).filter(|_| work.made.is_empty()));
    // An imperfection that is not made says so itself.
    let there = as_made.is_some() || !work.made_missing.is_empty();
    let what =
        "false rate of vibration as made is not known: an input is missing, or an undamped mode lies in the band";
    lacks(found_of(largest(&work.vibration), as_made), there, what)
}

impl Work {
    /// Angle random walk over all that is made, °/√h, lowest and highest: over the split's three sigma, and of the shapes that each parameter
    /// makes; none where that is not known.
    pub fn walk_as_made(&self) -> Option<[f64; 2]> {
        let both = |a: [f64; 2], b: [f64; 2]| [a[0].min(b[0]), a[1].max(b[1])];
        if self.made.is_empty() && self.made_missing.is_empty() {
            return self.walk_of_frequencies;
        }
        let all: Option<Vec<[f64; 2]>> = self.whole_made().iter().map(|m| m.work.walk_of_frequencies).collect();
        let of_frequencies = all?.into_iter().reduce(both)?;
        let of_shapes = spread(self, &|w| w.noise.total().map(|n| [n.angle_random_walk_deg_per_rth(); 2]));
        Some(of_shapes.map_or(of_frequencies, |shapes| both(of_frequencies, shapes)))
    }
}

/// Angle random walk, °/√h.
fn walk_found(work: &Work) -> Found {
    let walk = |n: RateNoise| n.angle_random_walk_deg_per_rth();
    let as_made = work.walk_as_made();
    // Of a sum with a term less the limits alone can be missed: it is no figure of the drawing.
    let at_least = work.noise.at_least().map(walk).map(|w| [w, w]);
    let found = found_of(work.noise.total().map(walk), as_made.or(at_least));
    lacks(found, work.noise.total().is_some(), "noise is not known in all its terms")
}

/// A range with what independent parameters at three sigma, to either side, make of it: the root of the sum of squares, each way.
fn widened([low, high]: [f64; 2], parameters: &[[[f64; 2]; 2]]) -> [f64; 2] {
    let ends = |k: usize| parameters.iter().map(move |[one, other]| [one[k], other[k]]);
    let (down, up) = (down_by(low, ends(0)), up_by(high, ends(1)));
    // No figure that is widened here is ever negative.
    [(low - down).max(0.0), high + up]
}

/// The worst of a figure over all stoppers.
fn touched(work: &Work, worst: fn(f64, f64) -> f64, of: &dyn Fn(&Touch) -> f64) -> Option<f64> {
    work.touches.iter().map(of).reduce(worst)
}
