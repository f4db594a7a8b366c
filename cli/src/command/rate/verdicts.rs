//! Requirements against what was found: every figure as drawn and as made, in the unit of its key.

use super::errors::Errors;
use super::work::Weighing;
use crate::output::rate::{Touch, Work};
use modalith_solver::process::Range;
use modalith_solver::rate::balance::FalseRate;
use modalith_solver::rate::requirements::{Because, Figure, Found, Limits, Verdict, weigh};
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
        let largest = |rates: &Option<[FalseRate; 3]>| -> Option<f64> {
            let all: Option<Vec<f64>> = rates.as_ref()?.iter().map(|r| r.worst).collect();
            Some(all?.into_iter().fold(0.0, f64::max).to_degrees())
        };
        let of = |drawn: Option<f64>, as_made: Option<[f64; 2]>| Found { drawn, as_made, ..Found::unknown(Vec::new()) };
        let lacks = |found: Found, there: bool, what: &str| match there {
            true => found,
            false => Found { missing: vec![Because::NotFound(what.into())], ..found },
        };
        match figure {
            Figure::ModeSplit => of(Some(s - d), ends(work.split)),
            Figure::DriveFrequency => of(Some(d), ends(work.as_made.map(|r| r[0]))),
            Figure::SenseFrequency => of(Some(s), ends(work.as_made.map(|r| r[1]))),
            Figure::Guard => {
                let Some(near) = &work.nearest else { return of(None, None) };
                let distance = near.distance_hz.abs();
                let range = [(distance - near.spread_hz).max(0.0), distance + near.spread_hz];
                of(Some(distance), (near.spread_hz > 0.0).then_some(range))
            }
            Figure::Coupling => of(Some(work.pair.coupling()), None),
            Figure::CrossAxis => {
                let others = (0..3).filter(|k| *k != self.axis).map(|k| work.cross_axis[k].abs());
                of(Some(others.fold(0.0, f64::max)), None)
            }
            Figure::Quadrature => {
                let made = work.quadrature.at_least().map(f64::to_degrees);
                let found = of(Some(work.quadrature.drawn.to_degrees()), made.map(|q| [q; 2]));
                lacks(found, work.quadrature.as_made().is_some(), "quadrature as made is not known in all its terms")
            }
            Figure::ZeroRate => {
                let made = work.in_phase.at_least().map(f64::to_degrees);
                let found = of(None, made.map(|q| [q; 2]));
                lacks(found, work.in_phase.sum().is_some(), "zero rate in phase is not known in all its terms")
            }
            Figure::Vibration => {
                let (drawn, made) = (largest(&work.vibration), largest(&work.vibration_as_made));
                let what = "false rate of vibration as made is not known: an input is missing, or an undamped mode lies in the band";
                lacks(of(drawn, made.map(|q| [q; 2])), made.is_some(), what)
            }
            Figure::AngleRandomWalk => {
                let walk = |n: modalith_solver::rate::noise::RateNoise| n.angle_random_walk_deg_per_rth();
                let found = of(work.noise.at_least().map(walk), work.walk_as_made);
                lacks(found, work.noise.total().is_some(), "noise is not known in all its terms")
            }
            Figure::ShockTravel => {
                let most = |of: &dyn Fn(&Touch) -> f64| work.touches.iter().map(of).reduce(f64::max);
                let drawn = most(&|t| t.travel.peak_m).or(work.free_travel.as_ref().map(|t| t.1.peak_m));
                let made = most(&|t| t.worst_m);
                let range = drawn.zip(made).filter(|_| work.as_made.is_some());
                of(drawn.map(|m| m * 1e6), range.map(|(a, b)| [a.min(b) * 1e6, a.max(b) * 1e6]))
            }
            Figure::ShockStress => {
                let peak = |s: &modalith_solver::rate::stress::Stressed| s.peak_pa * 1e-6;
                let drawn = work.stress.as_ref().map(peak);
                let made = drawn.zip(work.stress_as_made.as_ref().map(peak)).filter(|_| work.as_made.is_some());
                of(drawn, made.map(|(a, b)| [a.min(b), a.max(b)]))
            }
            Figure::ShockFirstTouch => {
                let least = |of: &dyn Fn(&Touch) -> f64| work.touches.iter().map(of).reduce(f64::min);
                let drawn = least(&|t| t.first_touch_g);
                let made = drawn.zip(least(&|t| t.worst_first_touch_g)).filter(|_| work.as_made.is_some());
                of(drawn, made.map(|(a, b)| [a.min(b), a.max(b)]))
            }
        }
    }
}
