//! Half-sine shock of the base: how far a point travels against it, and at how many g it first touches something.
//!
//! In: the pulse, for every mode its frequency, its participation along the shock and its shape at the point, the true static
//! deflection there. Out: the largest travel during the pulse and after it. Undamped, up to first contact: nothing is said
//! about what follows.
//!
//! Mode superposition with the static correction: modes left out follow quasi-statically, so their part is the true static
//! deflection less that of the modes in the list, times the pulse (Cornwell, Craig & Johnson, Earthq. Eng. Struct. Dyn. 11
//! (1983) 491). Each mode's answer to the half-sine is exact; the standards' pulses: MIL-STD-883 method 2002.

use super::GRAVITY_M_S2;
use std::f64::consts::{PI, TAU};

/// Samples in the shortest period, of the modes or of the pulse. A crest of that period between two samples is found by the
/// parabola through three: what is missed is under h⁴/32 of that part's amplitude, h = 2π/64 its phase a sample: 3e-6.
const PER_PERIOD: f64 = 64.0;
/// Most samples of a pulse: a mode with more than a thousand periods in it answers quasi-statically.
const MOST: f64 = 65_536.0;

/// A half-sine pulse of base acceleration A sin(πt/T), 0 to T. Taken both ways: travel counts in either direction.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct HalfSine {
    /// Peak, g.
    pub peak_g: f64,
    /// Duration T, s.
    pub duration_s: f64,
}

/// A mode's part in the travel of one point.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Part {
    /// Angular frequency, rad/s, over zero.
    pub omega: f64,
    /// Participation along the shock, kg^½.
    pub participation: f64,
    /// Shape at the point along the travel looked at, kg^-½.
    pub shape: f64,
}

/// Travel of a point relative to the base.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Travel {
    /// Lowest and highest travel during the pulse, m.
    pub during_m: [f64; 2],
    /// Largest travel after it, m: the sum of what the modes ring with, reached when they meet.
    pub after_m: f64,
    /// The largest of all, m, not negative.
    pub peak_m: f64,
    /// What the modes left out add at the pulse's peak, m, signed; 0 where no static deflection was given.
    pub left_out_m: f64,
}

/// A frequency nearer to the pulse's than this share of it is met by the limit.
const NEAR: f64 = 1e-6;
/// Steps after which sines are computed anew.
const ANEW: usize = 64;

/// Undamped answer of ü + ω²u = ω² sin(πt/T) at `t` up to T, and its rate over ω.
fn during(omega: f64, duration: f64, t: f64) -> [f64; 2] {
    let (pulse, own) = (PI * t / duration, omega * t);
    let ratio = PI / (omega * duration);
    // Where the two frequencies meet: the limit, exact to the order of their distance.
    if (1.0 - ratio).abs() < NEAR {
        return [0.5 * (own.sin() - own * own.cos()), 0.5 * own * own.sin()];
    }
    let scale = (1.0 - ratio * ratio).recip();
    [scale * (pulse.sin() - ratio * own.sin()), scale * ratio * (pulse.cos() - own.cos())]
}

/// [`during`] at equal steps of the pulse. It is the sum of two sines, each of which follows from its last two values; they are
/// set anew every [`ANEW`] steps, so that rounding does not add up.
fn history(omega: f64, duration: f64, steps: usize) -> Vec<f64> {
    let step = duration / steps as f64;
    let ratio = PI / (omega * duration);
    if (1.0 - ratio).abs() < NEAR {
        return (0..=steps).map(|i| during(omega, duration, i as f64 * step)[0]).collect();
    }
    let scale = (1.0 - ratio * ratio).recip();
    let (pulse, own) = (2.0 * (PI / steps as f64).cos(), 2.0 * (omega * step).cos());
    let mut values = vec![0.0; steps + 1];
    for (block, values) in values.chunks_mut(ANEW).enumerate() {
        let sines = |i: usize| [(PI * i as f64 / steps as f64).sin(), (omega * i as f64 * step).sin()];
        let (mut now, mut next) = (sines(block * ANEW), sines(block * ANEW + 1));
        for v in values {
            *v = scale * (now[0] - ratio * now[1]);
            let after = [pulse * next[0] - now[0], own * next[1] - now[1]];
            (now, next) = (next, after);
        }
    }
    values
}

/// What modes of some frequencies answer to a pulse, for every place that they move.
pub struct Answers {
    peak: f64,
    /// ω², 1/s².
    squares: Vec<f64>,
    /// By mode, as shares of its static travel at the pulse's peak.
    histories: Vec<Vec<f64>>,
    /// Largest after the pulse, likewise.
    ringing: Vec<f64>,
    /// The pulse as a share of its peak.
    pulse: Vec<f64>,
}

impl Answers {
    /// Of modes of these frequencies, rad/s.
    pub fn new(pulse: &HalfSine, omegas: &[f64]) -> Self {
        let (peak, duration) = (pulse.peak_g * GRAVITY_M_S2, pulse.duration_s);
        let fastest = omegas.iter().copied().fold(PI / duration, f64::max);
        let steps = (fastest * duration / TAU * PER_PERIOD).clamp(2.0 * PER_PERIOD, MOST).ceil();
        let ringing = |omega: &f64| {
            let [u, v] = during(*omega, duration, duration);
            u.hypot(v)
        };
        Self {
            peak,
            squares: omegas.iter().map(|o| o * o).collect(),
            histories: omegas.iter().map(|o| history(*o, duration, steps as usize)).collect(),
            ringing: omegas.iter().map(ringing).collect(),
            pulse: (0..=steps as usize).map(|i| (PI * i as f64 / steps).sin()).collect(),
        }
    }

    /// Travel of a point whose modes have these participations along the pulse and shapes there, in the order of the
    /// frequencies; `static_m_per_m_s2` as for [`travel`].
    pub fn travel(&self, moved: impl Iterator<Item = [f64; 2]>, static_m_per_m_s2: Option<f64>) -> Travel {
        // Static travel of every mode at the pulse's peak.
        let statics: Vec<f64> = moved.zip(&self.squares).map(|([p, shape], s)| -self.peak * p * shape / s).collect();
        let left_out_m = static_m_per_m_s2.map_or(0.0, |s| s * self.peak - statics.iter().sum::<f64>());
        let mut values: Vec<f64> = self.pulse.iter().map(|p| left_out_m * p).collect();
        for (history, size) in self.histories.iter().zip(&statics) {
            values.iter_mut().zip(history).for_each(|(v, h)| *v += size * h);
        }
        let after_m: f64 = statics.iter().zip(&self.ringing).map(|(s, r)| s.abs() * r).sum();
        let during_m = extremes(&values);
        let peak_m = during_m.iter().fold(after_m, |m, x| m.max(x.abs()));
        Travel { during_m, after_m, peak_m, left_out_m }
    }
}

/// Travel of a point under a pulse. `static_m_per_m_s2` is the deflection at the point per constant base acceleration,
/// signed along the travel looked at, with every mode in it: for a mode list that is complete, −Σ p φ/ω².
///
/// ```
/// use modalith_solver::rate::{GRAVITY_M_S2, shock::{HalfSine, Part, travel}};
/// // One mode whose period is the pulse's length: 1.7321 times the static travel.
/// let pulse = HalfSine { peak_g: 1000.0, duration_s: 1e-3 };
/// let omega = std::f64::consts::TAU * 1e3;
/// let found = travel(&pulse, &[Part { omega, participation: 1.0, shape: 1.0 }], None);
/// assert!((found.peak_m * omega * omega / (1000.0 * GRAVITY_M_S2) / 1.7321 - 1.0).abs() < 1e-4);
/// ```
pub fn travel(pulse: &HalfSine, parts: &[Part], static_m_per_m_s2: Option<f64>) -> Travel {
    let omegas: Vec<f64> = parts.iter().map(|p| p.omega).collect();
    let moved = parts.iter().map(|p| [p.participation, p.shape]);
    Answers::new(pulse, &omegas).travel(moved, static_m_per_m_s2)
}

/// Lowest and highest of a sampled curve, crests between samples by the parabola through three.
fn extremes(values: &[f64]) -> [f64; 2] {
    let mut found = values.iter().fold([0.0_f64; 2], |[low, high], &x| [low.min(x), high.max(x)]);
    for w in values.windows(3) {
        let (slope, bend) = (0.5 * (w[2] - w[0]), w[2] - 2.0 * w[1] + w[0]);
        // A crest between these samples.
        if bend.abs() > 0.0 && slope.abs() <= bend.abs() {
            let crest = w[1] - 0.5 * slope * slope / bend;
            found = [found[0].min(crest), found[1].max(crest)];
        }
    }
    found
}

/// Peak acceleration, g, of a pulse of this shape at which the travel first reaches `gap_m`; infinite where nothing moves.
pub fn first_touch_g(pulse: &HalfSine, travel: &Travel, gap_m: f64) -> f64 {
    pulse.peak_g * gap_m / travel.peak_m
}

#[cfg(test)]
mod tests {
    use super::*;

    fn one(f0_t: f64) -> Travel {
        let pulse = HalfSine { peak_g: 1.0 / GRAVITY_M_S2, duration_s: 1.0 };
        let omega = TAU * f0_t;
        travel(&pulse, &[Part { omega, participation: 1.0, shape: -omega * omega }], None)
    }

    /// Derived values of max |relative displacement| ω₀²/A of one undamped mode.
    #[test]
    fn shock_spectrum_of_the_half_sine() {
        let rows = [
            (0.05, 0.1995),
            (0.1, 0.3963),
            (0.2, 0.7705),
            (0.25, 0.9428),
            (0.3, 1.1021),
            (0.5, std::f64::consts::FRAC_PI_2),
            (0.81, 1.7685),
            (1.0, 1.7321),
            (1.5, 1.5),
            (2.0, 1.2681),
            (2.5, 1.0825),
            (3.0, 1.1699),
            (5.0, 1.0998),
            (10.0, 1.0497),
        ];
        for (f0_t, expected) in rows {
            let found = one(f0_t).peak_m;
            // To the last digit printed.
            assert!((found - expected).abs() < 5.1e-5, "f0 T = {f0_t}: {found} against {expected}");
        }
        // Short pulses: 4 f₀T; long ones: 1; no ringing at 1.5, 2.5, 3.5.
        assert!((one(1e-3).peak_m / 4e-3 - 1.0).abs() < 1e-4);
        assert!((one(1e3).peak_m - 1.0).abs() < 1e-3);
        for quiet in [1.5, 2.5, 3.5] {
            assert!(one(quiet).after_m < 1e-12);
        }
    }

    /// The two forms meet where the frequencies do.
    #[test]
    fn matched_frequencies() {
        for t in [0.2, 0.7, 1.0] {
            let (a, b) = (during(PI * (1.0 + 0.9e-6), 1.0, t), during(PI * (1.0 + 1.1e-6), 1.0, t));
            assert!(a.iter().zip(b).all(|(a, b)| (a - b).abs() < 3e-6), "{a:?} {b:?}");
        }
    }

    /// Integrated step by step: two modes and a static remainder, during the pulse.
    #[test]
    fn two_modes_against_step_by_step_integration() {
        let pulse = HalfSine { peak_g: 500.0, duration_s: 1e-3 };
        let parts = [
            Part { omega: TAU * 1.3e3, participation: 3e-5, shape: 2.5e4 },
            Part { omega: TAU * 7.1e3, participation: -1e-5, shape: 4e4 },
        ];
        let own: f64 = parts.iter().map(|p| -p.participation * p.shape / p.omega.powi(2)).sum();
        let found = travel(&pulse, &parts, Some(1.1 * own));
        let steps = 200_000;
        let dt = pulse.duration_s / f64::from(steps);
        let a = |t: f64| pulse.peak_g * GRAVITY_M_S2 * (PI * t / pulse.duration_s).sin();
        let mut state = [[0.0_f64; 2]; 2];
        let mut extreme = [0.0_f64; 2];
        for n in 0..steps {
            let t = f64::from(n) * dt;
            // Velocity Verlet.
            for (s, p) in state.iter_mut().zip(&parts) {
                let pull = |q: f64, t: f64| -p.participation * a(t) - p.omega.powi(2) * q;
                let half = s[1] + 0.5 * dt * pull(s[0], t);
                s[0] += dt * half;
                s[1] = half + 0.5 * dt * pull(s[0], t + dt);
            }
            let rest = 0.1 * own * a(t + dt);
            let u: f64 = state.iter().zip(&parts).map(|(s, p)| s[0] * p.shape).sum::<f64>() + rest;
            extreme = [extreme[0].min(u), extreme[1].max(u)];
        }
        let largest = extreme[0].abs().max(extreme[1].abs());
        for (a, b) in found.during_m.into_iter().zip(extreme) {
            assert!((a - b).abs() < 1e-5 * largest, "{a:e} against {b:e}");
        }
        assert!((found.left_out_m / (0.1 * own * pulse.peak_g * GRAVITY_M_S2) - 1.0).abs() < 1e-9);
        let touch = first_touch_g(&pulse, &found, 2.0 * found.peak_m);
        assert!((touch - 1000.0).abs() < 1e-9);
    }
}
