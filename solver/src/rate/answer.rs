//! The answer to rate: how far the sense mode moves per rate, how fast, how straight, and what rotation about the other axes
//! does.
//!
//! In: drive and sense as oscillators of unit modal mass, the entry G_ds of the rate axis, the drive's amplitude. Out: modal
//! amplitude of the sense mode per rad/s, bandwidth, departure from a straight line, cross-axis shares.
//!
//! Open loop: the drive is held at its amplitude on its own resonance, the sense mode is left to itself. Closed-loop readout
//! changes bandwidth and linearity, not the noise of rate. Left out: elastic and electrostatic non-linearity.

use super::Oscillator;
use crate::rotation::{Coriolis, Supercritical, frequencies_at_rate};
use nalgebra::{Complex, DMatrix, DVector};
use std::f64::consts::{SQRT_2, TAU};

/// Drive and sense at work.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct WorkingPair {
    /// The drive mode.
    pub drive: Oscillator,
    /// The sense mode.
    pub sense: Oscillator,
    /// G_ds about the rate axis, signed, at most 2 in size.
    pub gyroscopic: f64,
    /// Peak modal amplitude of the drive, m·kg^½; `None` where none is stated.
    pub amplitude: Option<f64>,
}

/// Peak modal amplitude, m·kg^½, of a mode that moves a point of shape `phi` (kg^-½) by `peak_m` metres. `None` where the mode
/// does not move that point: less than a millionth of `largest`, its motion elsewhere.
pub fn modal_amplitude(peak_m: f64, phi: f64, largest: f64) -> Option<f64> {
    (phi.abs() > 1e-6 * largest.abs()).then(|| peak_m / phi.abs())
}

/// Where the answer leaves ± 3 dB of its value at constant rate.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Bandwidth {
    /// Frequency of the rate, Hz.
    pub hz: f64,
    /// Whether the answer rises there, towards the resonance at the mode split; else it falls.
    pub rises: bool,
}

impl WorkingPair {
    /// Sense frequency less drive frequency, Hz.
    pub fn mode_split_hz(&self) -> f64 {
        (self.sense.omega - self.drive.omega) / TAU
    }

    /// |G_ds|/2: the coupling as a share of the ideal point mass, 0 to 1.
    pub fn coupling(&self) -> f64 {
        0.5 * self.gyroscopic.abs()
    }

    /// Peak modal amplitude of the sense mode per constant rate, m·kg^½ per rad/s: |G| ω_d q_d |χ_s(ω_d)|. `None` without a
    /// drive amplitude, or where the modes match and Q_s is not known.
    ///
    /// ```
    /// use modalith_solver::rate::{Oscillator, answer::WorkingPair};
    /// // Ideal coupling, 5 µm at 10 kHz, 500 Hz apart: 27.10 pm per °/s (at 1 kg, where q is metres).
    /// let at = |hz: f64| Oscillator { omega: std::f64::consts::TAU * hz, quality: None };
    /// let pair = WorkingPair { drive: at(1e4), sense: at(1.05e4), gyroscopic: 2.0, amplitude: Some(5e-6) };
    /// let per_deg = pair.response().ok_or("none")?.to_radians();
    /// assert!((per_deg / 27.10e-12 - 1.0).abs() < 2e-4);
    /// # Ok::<(), &str>(())
    /// ```
    pub fn response(&self) -> Option<f64> {
        let gain = self.sense.receptance(self.drive.omega).norm();
        let response = self.gyroscopic.abs() * self.drive.omega * self.amplitude? * gain;
        response.is_finite().then_some(response)
    }

    /// Answer to a rate that swings at `lambda` rad/s, over that to a constant one, demodulated in the phase of the latter:
    /// H = (χ(ω_d + λ) e^(−iψ) + χ(λ − ω_d) e^(iψ))/(2 |χ(ω_d)|), ψ the phase of χ(ω_d), ripple at 2 ω_d filtered off.
    fn relative(&self, lambda: f64) -> Complex<f64> {
        let at_rest = self.sense.receptance(self.drive.omega);
        let phase = Complex::from_polar(1.0, at_rest.arg());
        let sides = self.sense.receptance(self.drive.omega + lambda) / phase
            + self.sense.receptance(lambda - self.drive.omega) * phase;
        sides / (2.0 * at_rest.norm())
    }

    /// Open-loop bandwidth: the lowest frequency at which |H| has left ± 3 dB. Matched modes: f/2Q, falling; split modes of high
    /// Q: 0.541 times the split, rising. `None` where the modes match and Q_s is not known, and for a drive frequency of zero.
    pub fn bandwidth(&self) -> Option<Bandwidth> {
        let scale = 0.5 * self.sense.damping().max((self.sense.omega - self.drive.omega).abs());
        if !(scale > 0.0 && self.drive.omega > 0.0) {
            return None;
        }
        let outside = |lambda: f64| {
            let size = self.relative(lambda).norm();
            !(1.0 / SQRT_2..=SQRT_2).contains(&size)
        };
        // The answer bends on the scale of damping and split: steps of 2 % find the first crossing, halving sharpens it.
        let mut high = 1e-2 * scale;
        while !outside(high) {
            high *= 1.02;
            if high > self.drive.omega {
                return None;
            }
        }
        let mut low = high / 1.02;
        for _ in 0..60 {
            let middle = 0.5 * (low + high);
            if outside(middle) { high = middle } else { low = middle }
        }
        Some(Bandwidth { hz: high / TAU, rises: self.relative(high).norm() > 1.0 })
    }
}

/// How far the answer departs from a straight line.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Linearity {
    /// Answer at minus full scale over the straight line from small rates, less one, ppm.
    pub at_minus_ppm: f64,
    /// The same at plus full scale, ppm.
    pub at_plus_ppm: f64,
}

impl Linearity {
    /// The larger of both in size, ppm.
    pub fn worst_ppm(&self) -> f64 {
        self.at_plus_ppm.abs().max(self.at_minus_ppm.abs())
    }
}

/// Departure of the answer from a straight line at ± `full_scale` rad/s about the unit vector `axis`, with every kept mode:
/// (Λ − Ω²C − ω² + iω(D + ΩG)) q = 0 for all modes but the drive, which is held at its amplitude and at its own frequency ω(Ω)
/// of the turning device ([`frequencies_at_rate`]). What is compared is the sense coordinate in phase with its answer to
/// small rates. `None` where the two modes match and Q_s is not known.
///
/// Limits: the drive's branch is the frequency nearest to its own at rest, so the split must exceed the coupled shift κΩ;
/// amplitude non-linearity is not in.
///
/// `drive` and `sense` number the modes from 0, `axis` is a unit vector in the layout's frame. The equation of motion is that of
/// [`crate::rotation`] (L. Meirovitch, *Computational Methods in Structural Dynamics*, 1980, ch. 3).
///
/// # Errors
/// See [`frequencies_at_rate`].
pub fn linearity(
    coriolis: &Coriolis,
    modes: &[Oscillator],
    (drive, sense): (usize, usize),
    axis: [f64; 3],
    full_scale: f64,
) -> Result<Option<Linearity>, Supercritical> {
    let g = coriolis.along(axis);
    let rest: Vec<usize> = (0..modes.len()).filter(|&i| i != drive).collect();
    let omega_d = modes[drive].omega;
    let small = Complex::new(0.0, -omega_d * g[(sense, drive)]) * modes[sense].receptance(omega_d);
    if !(small.norm() > 0.0 && small.norm().is_finite()) {
        return Ok(None);
    }
    let lambda: Vec<f64> = modes.iter().map(|m| m.omega * m.omega).collect();
    let c = coriolis.centrifugal(axis);
    let departure = |rate: f64| -> Result<Option<f64>, Supercritical> {
        let turning = frequencies_at_rate(coriolis, &lambda, axis, rate)?;
        let omega = turning.into_iter().min_by(|a, b| (a - omega_d).abs().total_cmp(&(b - omega_d).abs()));
        let omega = omega.unwrap_or(omega_d);
        let entry = |i: usize, j: usize| {
            let own = if i == j { modes[i].receptance(omega).inv() } else { Complex::ZERO };
            own + Complex::new(-rate * rate * c[(i, j)], omega * rate * g[(i, j)])
        };
        let matrix = DMatrix::from_fn(rest.len(), rest.len(), |i, j| entry(rest[i], rest[j]));
        let load = DVector::from_fn(rest.len(), |i, _| -entry(rest[i], drive));
        let at = rest.iter().position(|&i| i == sense);
        let answer = matrix.lu().solve(&load).zip(at).map(|(q, at)| q[at]);
        Ok(answer.map(|q| ((q * small.conj()).re / (small.norm_sqr() * rate) - 1.0) * 1e6))
    };
    let (minus, plus) = (departure(-full_scale)?, departure(full_scale)?);
    Ok(minus.zip(plus).map(|(at_minus_ppm, at_plus_ppm)| Linearity { at_minus_ppm, at_plus_ppm }))
}

/// G_ds about x, y, z as shares of the rate axis's, signed; the rate axis (0 to 2) itself is 1. All zero where it does not
/// couple.
pub fn cross_axis(coriolis: &Coriolis, (drive, sense): (usize, usize), rate_axis: usize) -> [f64; 3] {
    let g = [0, 1, 2].map(|a| coriolis.about(a)[(drive, sense)]);
    if g[rate_axis] == 0.0 { [0.0; 3] } else { g.map(|x| x / g[rate_axis]) }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn pair(hz: [f64; 2], quality: Option<f64>) -> WorkingPair {
        let at = |hz: f64| Oscillator { omega: TAU * hz, quality };
        WorkingPair { drive: at(hz[0]), sense: at(hz[1]), gyroscopic: -2.0, amplitude: Some(5e-6) }
    }

    #[test]
    fn answer_matched_and_split() {
        // Matched: 2κΩ ω_d X Q/ω_d² at 1 kg.
        let matched = pair([1e4, 1e4], Some(1e3)).response().unwrap();
        assert!((matched / (2.0 * 5e-6 * 1e3 / (TAU * 1e4)) - 1.0).abs() < 1e-12);
        let split = pair([1e4, 1.05e4], Some(1e4));
        assert!((split.mode_split_hz() - 500.0).abs() < 1e-9);
        assert_eq!(split.coupling(), 1.0);
        let per_deg = split.response().unwrap().to_radians();
        assert!((per_deg / 27.10e-12 - 1.0).abs() < 3e-4, "{per_deg:e}");
        assert_eq!(pair([1e4, 1e4], None).response(), None);
        assert_eq!(WorkingPair { amplitude: None, ..split }.response(), None);
    }

    #[test]
    fn bandwidth_matched_and_split() {
        // f/2Q, exact for the slow envelope of high Q.
        let matched = pair([1e4, 1e4], Some(1e3)).bandwidth().unwrap();
        assert!((matched.hz / 5.0 - 1.0).abs() < 1e-3 && !matched.rises, "{matched:?}");
        // 1/(1 − (λ/Δ)²) = √2, from either side.
        for hz in [[1e4, 1.002e4], [1e4, 0.998e4]] {
            let split = pair(hz, Some(1e6)).bandwidth().unwrap();
            let expected = 20.0 * (1.0 - 1.0 / SQRT_2).sqrt();
            assert!((split.hz / expected - 1.0).abs() < 2e-3 && split.rises, "{split:?}");
        }
        assert_eq!(pair([1e4, 1e4], None).bandwidth(), None);
    }

    /// A point mass: drive along x, sense along y, turning about z.
    fn point() -> Coriolis {
        let zero = || DMatrix::zeros(2, 2);
        let unit = |i: usize, j: usize| DMatrix::from_fn(2, 2, |a, b| if (a, b) == (i, j) { 1.0 } else { 0.0 });
        Coriolis::from_momenta([unit(0, 0), unit(1, 1), zero()], [zero(), zero(), unit(0, 1)])
    }

    /// Undamped, the sense coordinate is known in closed form: 2ωΩ q_d/(ω_s² − Ω² − ω²) at ω² the lower root of
    /// (ω_d² − Ω² − ω²)(ω_s² − Ω² − ω²) = 4ω²Ω².
    #[test]
    fn departure_from_a_line_in_closed_form() {
        let (d, s): (f64, f64) = (1.0, 1.05);
        let modes = [d, s].map(|omega| Oscillator { omega, quality: None });
        let rate: f64 = 2e-3;
        let found = linearity(&point(), &modes, (0, 1), [0.0, 0.0, 1.0], rate).unwrap().unwrap();
        let (a, b) = (d * d - rate * rate, s * s - rate * rate);
        let middle = 0.5 * (a + b) + 2.0 * rate * rate;
        let squared = middle - (middle * middle - a * b).sqrt();
        let answer = 2.0 * squared.sqrt() * rate / (b - squared);
        let line = 2.0 * d * rate / (s * s - d * d);
        let expected = (answer / line - 1.0) * 1e6;
        assert!(expected.abs() > 10.0);
        assert!((found.at_plus_ppm - expected).abs() < 1e-3, "{} against {expected}", found.at_plus_ppm);
        assert!((found.at_minus_ppm - expected).abs() < 1e-3);
        let matched = [d, d].map(|omega| Oscillator { omega, quality: None });
        assert_eq!(linearity(&point(), &matched, (0, 1), [0.0, 0.0, 1.0], rate).unwrap(), None);
    }

    #[test]
    fn rotation_about_other_axes() {
        assert_eq!(cross_axis(&point(), (0, 1), 2), [0.0, 0.0, 1.0]);
        assert_eq!(cross_axis(&point(), (0, 1), 1), [0.0; 3]);
        assert_eq!(modal_amplitude(4e-6, -2.0, 2.0), Some(2e-6));
        assert_eq!(modal_amplitude(4e-6, 1e-9, 2.0), None);
    }
}
