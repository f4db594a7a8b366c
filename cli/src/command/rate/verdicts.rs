//! Requirements against what was found: every figure as drawn and as made, in the unit of its key.

use super::work::Weighing;
use crate::output::rate::{Touch, Work};
use modalith_solver::process::Range;
use modalith_solver::rate::balance::FalseRate;
use modalith_solver::rate::requirements::{Figure, Found, Limits, Verdict, weigh};
use std::f64::consts::TAU;

impl Weighing<'_> {
    pub(super) fn verdicts(&self, work: &Work) -> Vec<Verdict> {
        let weighed = |(figure, asked): &(Figure, Limits)| weigh(*figure, *asked, self.found(*figure, work));
        self.device.requirements.iter().map(weighed).collect()
    }

    /// A figure as drawn and as made, in the unit of its key.
    fn found(&self, figure: Figure, work: &Work) -> Found {
        let share = self.model_error;
        let (d, s) = (work.pair.drive.omega / TAU, work.pair.sense.omega / TAU);
        // Of a frequency: what the model misses and what the mesh leaves.
        let of_mode = |i: usize| {
            let mesh_hz = self.solved.mesh_errors.get(i).map_or(0.0, |e| e.hz);
            share * self.mode(i).frequency_hz + mesh_hz
        };
        let (of_drive, of_sense) = (of_mode(self.modes.0), of_mode(self.modes.1));
        let ends = |range: Option<Range>| range.map(|r| [r.low_hz(), r.high_hz()]);
        let largest = |rates: &Option<[FalseRate; 3]>| -> Option<f64> {
            let all: Option<Vec<f64>> = rates.as_ref()?.iter().map(|r| r.worst).collect();
            Some(all?.into_iter().fold(0.0, f64::max).to_degrees())
        };
        let relative = |drawn: Option<f64>, as_made: Option<[f64; 2]>, share: f64| {
            let size = as_made.map_or(drawn, |r| Some(r[1].abs().max(r[0].abs())));
            Found { drawn, as_made, error: share * size.unwrap_or(0.0).abs() }
        };
        match figure {
            Figure::ModeSplit => Found { drawn: Some(s - d), as_made: ends(work.split), error: of_drive.max(of_sense) },
            Figure::DriveFrequency => {
                Found { drawn: Some(d), as_made: ends(work.as_made.map(|r| r[0])), error: of_drive }
            }
            Figure::SenseFrequency => {
                Found { drawn: Some(s), as_made: ends(work.as_made.map(|r| r[1])), error: of_sense }
            }
            Figure::Guard => {
                let Some(near) = &work.nearest else { return Found { drawn: None, as_made: None, error: 0.0 } };
                let distance = near.distance_hz.abs();
                let range = [(distance - near.spread_hz).max(0.0), distance + near.spread_hz];
                Found {
                    drawn: Some(distance),
                    as_made: (near.spread_hz > 0.0).then_some(range),
                    error: of_mode(near.mode),
                }
            }
            Figure::Coupling => Found { drawn: Some(work.pair.coupling()), as_made: None, error: share },
            Figure::CrossAxis => {
                let others = (0..3).filter(|k| *k != self.axis).map(|k| work.cross_axis[k].abs());
                Found { drawn: Some(others.fold(0.0, f64::max)), as_made: None, error: share }
            }
            Figure::Quadrature => {
                let made = work.quadrature.as_made().map(f64::to_degrees);
                relative(Some(work.quadrature.drawn.to_degrees()), made.map(|q| [q; 2]), 5.0 * share)
            }
            Figure::ZeroRate => {
                let made = (!work.in_phase.0.is_empty()).then(|| work.in_phase.1.to_degrees());
                relative(None, made.map(|q| [q; 2]), 5.0 * share)
            }
            Figure::Vibration => {
                let made = largest(&work.vibration_as_made);
                relative(largest(&work.vibration), made.map(|q| [q; 2]), 5.0 * share)
            }
            Figure::AngleRandomWalk => {
                let drawn = work.noise.total().map(|n| n.angle_random_walk_deg_per_rth());
                relative(drawn, work.walk_as_made, 5.0 * share)
            }
            Figure::ShockTravel => {
                let most = |of: &dyn Fn(&Touch) -> f64| work.touches.iter().map(of).reduce(f64::max);
                let drawn = most(&|t| t.travel.peak_m).or(work.free_travel.as_ref().map(|t| t.1.peak_m));
                let made = most(&|t| t.worst_m);
                let spread = work.as_made.is_some();
                let range = drawn.zip(made).filter(|_| spread).map(|(a, b)| [a.min(b) * 1e6, a.max(b) * 1e6]);
                relative(drawn.map(|m| m * 1e6), range, 2.0 * share)
            }
            Figure::ShockStress => relative(work.stress.map(|s| s.peak_pa * 1e-6), None, 2.0 * share),
            Figure::ShockFirstTouch => {
                let least = work.touches.iter().map(|t| t.first_touch_g).reduce(f64::min);
                relative(least, None, 2.0 * share)
            }
        }
    }
}
