//! Requirements against what was found: every figure as drawn and as made, in the unit of its key.

use super::errors::Errors;
use super::work::Weighing;
use crate::output::rate::{Touch, Work};
use modalith_solver::process::Range;
use modalith_solver::rate::balance::FalseRate;
use modalith_solver::rate::requirements::{Because, Figure, Found, Limits, Verdict, weigh};
use modalith_solver::rate::shock::Travel;
use std::f64::consts::TAU;

impl Weighing<'_> {
    pub(super) fn verdicts(&self, work: &Work, errors: &Errors) -> Vec<Verdict> {
        let weighed = |(figure, asked): &(Figure, Limits)| {
            let place = Figure::ALL.iter().position(|f| f == figure);
            let unknown = || Err(Because::ErrorUnknown("nobody measured it".into()));
            let error = place.and_then(|k| errors.get(k)).cloned().unwrap_or_else(unknown);
            weigh(*figure, *asked, Found { error, ..self.figure(*figure, work) })
        };
        self.device.requirements.iter().map(weighed).collect()
    }

    /// A figure as drawn and as made, in the unit of its key, with what of it could not be found.
    pub(super) fn found(&self, figure: Figure, work: &Work) -> Found {
        let (d, s) = (work.pair.drive.omega / TAU, work.pair.sense.omega / TAU);
        let ends = |range: Option<Range>| range.map(|r| [r.low_hz(), r.high_hz()]);
        // Over all that the stated imperfections make; none where one of them does not have it.
        let made = |of: &dyn Fn(&Work) -> Option<[f64; 2]>| -> Option<[f64; 2]> {
            let all: Option<Vec<[f64; 2]>> = work.whole_made().iter().map(|m| of(&m.work)).collect();
            all?.into_iter().reduce(|a, b| [a[0].min(b[0]), a[1].max(b[1])])
        };
        let of = |drawn: Option<f64>, as_made: Option<[f64; 2]>| Found { drawn, as_made, ..Found::unknown(Vec::new()) };
        let lacks = |found: Found, there: bool, what: &str| match there {
            true => found,
            false => Found { missing: vec![Because::NotFound(what.into())], ..found },
        };
        match figure {
            Figure::ModeSplit => of(Some(s - d), ends(work.split)),
            Figure::DriveFrequency => of(Some(d), ends(work.frequencies.map(|r| r[0]))),
            Figure::SenseFrequency => of(Some(s), ends(work.frequencies.map(|r| r[1]))),
            Figure::Guard => {
                let range = |work: &Work| -> Option<[f64; 2]> {
                    let near = work.nearest.as_ref()?;
                    let distance = near.distance_hz.abs();
                    Some([(distance - near.spread_hz).max(0.0), distance + near.spread_hz])
                };
                let Some(near) = &work.nearest else { return of(None, None) };
                let reach = self.guards_reach(work, near.distance_hz.abs() + near.spread_hz);
                let as_made = made(&range)
                    .or_else(|| range(work).filter(|_| near.spread_hz > 0.0 && work.made_missing.is_empty()));
                Found { missing: reach.into_iter().collect(), ..of(Some(near.distance_hz.abs()), as_made) }
            }
            Figure::Coupling => of(Some(work.pair.coupling()), made(&|w| Some([w.pair.coupling(); 2]))),
            Figure::CrossAxis => {
                let largest = |w: &Work| {
                    let others = (0..3).filter(|k| *k != self.axis).map(|k| w.cross_axis[k].abs());
                    others.fold(0.0, f64::max)
                };
                of(Some(largest(work)), made(&|w| Some([largest(w); 2])))
            }
            Figure::Quadrature => {
                let made = work.quadrature.together.map(f64::to_degrees);
                let found = of(Some(work.quadrature.drawn.to_degrees()), made.map(|q| [q; 2]));
                lacks(found, work.quadrature.as_made().is_some(), "quadrature as made is not known in all its terms")
            }
            Figure::ZeroRate => {
                let made = work.in_phase.at_least().map(f64::to_degrees);
                let found = of(None, made.map(|q| [q; 2]));
                lacks(found, work.in_phase.sum().is_some(), "zero rate in phase is not known in all its terms")
            }
            Figure::Vibration => {
                let largest = |rates: &Option<[FalseRate; 3]>| -> Option<f64> {
                    let all: Option<Vec<f64>> = rates.as_ref()?.iter().map(|r| r.worst).collect();
                    Some(all?.into_iter().fold(0.0, f64::max).to_degrees())
                };
                let mismatched = |w: &Work| largest(&w.vibration_mismatched).map(|q| [q; 2]);
                let as_made = made(&mismatched).or_else(|| mismatched(work).filter(|_| work.made.is_empty()));
                let there = as_made.is_some();
                let what = "false rate of vibration as made is not known: an input is missing, or an undamped mode lies in the band";
                lacks(of(largest(&work.vibration), as_made), there, what)
            }
            Figure::AngleRandomWalk => {
                let walk = |n: modalith_solver::rate::noise::RateNoise| n.angle_random_walk_deg_per_rth();
                let as_made = work.walk_as_made();
                // Of a sum with a term less the limits alone can be missed: it is no figure of the drawing.
                let at_least = work.noise.at_least().map(walk).map(|w| [w, w]);
                let found = of(work.noise.total().map(walk), as_made.or(at_least));
                lacks(found, work.noise.total().is_some(), "noise is not known in all its terms")
            }
            Figure::ShockTravel => {
                // A mass without a stopper travels all the same.
                let free = |t: &Option<(String, Travel)>| t.as_ref().map(|t| t.1.peak_m);
                let farthest =
                    |stopped: Option<f64>, free: Option<f64>| stopped.into_iter().chain(free).reduce(f64::max);
                let drawn = farthest(touched(work, f64::max, &|t| t.travel.peak_m), free(&work.free_travel));
                let worst = |w: &Work| farthest(touched(w, f64::max, &|t| t.worst_m), free(&w.free_travel_as_made));
                let as_made = self.shocked(work, drawn, &worst);
                of(drawn.map(|m| m * 1e6), as_made.map(|r| r.map(|m| m * 1e6)))
            }
            Figure::ShockStress => {
                let peak = |s: &modalith_solver::rate::stress::Stressed| s.peak_pa * 1e-6;
                let drawn = work.stress.as_ref().map(peak);
                of(drawn, self.shocked(work, drawn, &|w| w.stress_as_made.as_ref().map(peak)))
            }
            Figure::ShockFirstTouch => {
                let drawn = touched(work, f64::min, &|t| t.first_touch_g);
                of(drawn, self.shocked(work, drawn, &|w| touched(w, f64::min, &|t| t.worst_first_touch_g)))
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

/// The worst of a figure over all stoppers.
fn touched(work: &Work, worst: fn(f64, f64) -> f64, of: &dyn Fn(&Touch) -> f64) -> Option<f64> {
    work.touches.iter().map(of).reduce(worst)
}
