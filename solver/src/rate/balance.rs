//! Balance: what a mode leaves at the anchors, and how much of an acceleration of the base looks like rate.
//!
//! In: participations of the modes (∫ ρ φ·e dV and moments), readings of the modes, answer to rate. Out: forces as shares of
//! one mass's inertial force, false rates per g.
//!
//! A base that accelerates by a drives mode i with −p_i·a, so the readout moves by −Σ r_i (p_i·a) χ_i(ω) at the frequency of
//! the vibration. Rate is carried at the drive frequency. A linear sensor therefore reads as rate
//! - all of what vibration does within the output's bandwidth of the drive frequency ([`FalseRate::at_drive`]);
//! - of slower vibration what the output's low-pass lets through after demodulation has moved it to ω_d − ω
//!   ([`FalseRate::worst`]).
//!
//! Second order: slow vibration shifts the masses within their gaps and changes the gain, so zero-rate output and rate itself
//! are modulated ([`modulated`]). Left out: clipping of the readout, modulation of frequencies by electrodes, a package that
//! turns or resonates. A symmetric drawing shows a numerical floor.

use super::reading::rms_motion;
use super::{GRAVITY_M_S2, Oscillator};
use crate::mode::Mode;
use nalgebra::{Complex, Vector3};
use std::f64::consts::TAU;

/// Frequencies at which a band is looked at, beside its ends and the modes in it.
const SAMPLES: usize = 400;

/// What a mode leaves at the anchors, per modal acceleration (m·kg^½/s²).
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct AnchorLoad {
    /// Net force along x, y, z, N per modal acceleration: kg^½.
    pub force: [f64; 3],
    /// Net moment about x, y, z through the point asked for, m·kg^½.
    pub moment: [f64; 3],
    /// Inertial force of the liveliest named mass, mass times root-mean-square acceleration, kg^½; 0 without masses.
    pub one_mass: f64,
}

impl AnchorLoad {
    /// Size of the net force as a share of one mass's inertial force; `None` without masses that move.
    pub fn force_ratio(&self) -> Option<f64> {
        (self.one_mass > 0.0).then(|| Vector3::from(self.force).norm() / self.one_mass)
    }

    /// Size of the net moment over one mass's inertial force: the arm at which that force would make it, m.
    pub fn moment_arm_m(&self) -> Option<f64> {
        (self.one_mass > 0.0).then(|| Vector3::from(self.moment).norm() / self.one_mass)
    }
}

/// Force and moment of a mode at the anchors, moments about `about_m` (layout frame, mid-layer): the rate of change of the
/// moving material's momentum, so the anchors hold p q̈. Two equal masses in antiphase leave a moment at most.
///
/// ```
/// use modalith_solver::mode::Mode;
/// use modalith_solver::rate::balance::at_anchors;
/// let mode = Mode { frequency_hz: 1.0, participation: [0.0, 0.0, 2.0, 0.0, -6.0, 0.0], ..Mode::default() };
/// // A force of 2 along z through (3, 0): no moment about that point.
/// assert_eq!(mode.participation, [0.0, 0.0, 2.0, 0.0, -6.0, 0.0]);
/// assert_eq!(at_anchors(&mode, [3.0, 0.0]).moment, [0.0; 3]);
/// ```
pub fn at_anchors(mode: &Mode, about_m: [f64; 2]) -> AnchorLoad {
    let p = &mode.participation;
    let force = Vector3::new(p[0], p[1], p[2]);
    let moment = Vector3::new(p[3], p[4], p[5]) - Vector3::new(about_m[0], about_m[1], 0.0).cross(&force);
    let one_mass = mode.masses.iter().map(|m| m.mass_kg * rms_motion(m)).fold(0.0, f64::max);
    AnchorLoad { force: force.into(), moment: moment.into(), one_mass }
}

/// A mode as base acceleration drives it and the readout sees it.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Shaken {
    /// The mode.
    pub mode: Oscillator,
    /// Its participation along x, y, z, kg^½.
    pub participation: [f64; 3],
    /// Its reading, in any unit per m·kg^½ (kg^-½ for metres, F for a capacitance).
    pub reading: f64,
}

/// The low-pass of the rate output: Butterworth.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct OutputFilter {
    /// Where it is 3 dB down, Hz.
    pub corner_hz: f64,
    /// Its order.
    pub order: i32,
}

impl OutputFilter {
    /// Share of an amplitude that passes at a frequency, Hz.
    pub fn passes(&self, hz: f64) -> f64 {
        (1.0 + (hz / self.corner_hz).abs().powi(2 * self.order)).sqrt().recip()
    }
}

/// False rate from base acceleration along one axis, rad/s per g (peak per peak).
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub struct FalseRate {
    /// Constant acceleration: the readout's offset as a rate, with no demodulation. It is no rate to a sensor that
    /// demodulates; it says how far the readout is moved.
    pub offset: f64,
    /// The largest in the band, filtered where a filter is stated, else the readout's motion at the vibration's own frequency
    /// as a rate. `None` where a mode without a quality factor lies in the band.
    pub worst: Option<f64>,
    /// Where that is, Hz.
    pub worst_hz: f64,
    /// Vibration at the drive frequency itself.
    pub at_drive: f64,
}

/// The readout's motion per base acceleration along axis `k` (0 to 2) at `omega` rad/s, reading per m/s². `left_out` is
/// what the modes not in the list add, quasi-statically ([`left_out`]).
fn moved(modes: &[Shaken], left_out: f64, k: usize, omega: f64) -> Complex<f64> {
    let response = |m: &Shaken| m.mode.receptance(omega) * (m.reading * m.participation[k]);
    modes.iter().map(|m| -response(m)).sum::<Complex<f64>>() + left_out
}

/// What modes beyond the list add to the reading, quasi-statically: the reading of the true static deflection under unit base
/// acceleration along x, y, z (reading per m/s²) less what the listed modes make of it.
pub fn left_out(modes: &[Shaken], static_reading: [f64; 3]) -> [f64; 3] {
    [0, 1, 2].map(|k| static_reading[k] - moved(modes, 0.0, k, 0.0).re)
}

/// False rate per g along x, y, z over a band of vibration, Hz. `answer` is the reading per rad/s of constant rate, `left_out`
/// from [`left_out`] or zero.
pub fn false_rate(
    modes: &[Shaken],
    left_out: [f64; 3],
    answer: f64,
    drive_hz: f64,
    band_hz: [f64; 2],
    filter: Option<OutputFilter>,
) -> [FalseRate; 3] {
    let inside = |hz: &f64| (band_hz[0]..=band_hz[1]).contains(hz);
    let resonances = modes.iter().map(|m| m.mode.omega / TAU).filter(inside);
    let step = |i: usize| band_hz[0] + (band_hz[1] - band_hz[0]) * i as f64 / SAMPLES as f64;
    let frequencies: Vec<f64> = (0..=SAMPLES).map(step).chain(resonances).collect();
    [0, 1, 2].map(|k| {
        let rate = |hz: f64| moved(modes, left_out[k], k, TAU * hz).norm() * GRAVITY_M_S2 / answer.abs();
        let undamped = modes.iter().any(|m| {
            m.mode.quality.is_none() && inside(&(m.mode.omega / TAU)) && m.reading * m.participation[k] != 0.0
        });
        let read = |hz: f64| rate(hz) * filter.map_or(1.0, |f| f.passes(drive_hz - hz));
        let worst =
            frequencies.iter().map(|&hz| (read(hz), hz)).fold((0.0, band_hz[0]), |a, b| if b.0 > a.0 { b } else { a });
        FalseRate {
            offset: rate(0.0),
            worst: (!undamped).then_some(worst.0),
            worst_hz: worst.1,
            at_drive: rate(drive_hz),
        }
    })
}

/// False rate, rad/s, that a deflection within a plate's gap makes of a zero-rate output (or of a rate) `rate`, rad/s: the
/// plate's gradient goes as 1/g², so its gain changes by 2 w/g. To first order in w/g; antiphase masses over plates alike,
/// both moved the same way, change by the same factor.
///
/// ```
/// use modalith_solver::rate::balance::modulated;
/// // 1 nm in 2 µm: a thousandth.
/// assert!((modulated(0.5, 1e-9, 2e-6) - 0.5e-3).abs() < 1e-15);
/// ```
pub fn modulated(rate: f64, deflection_m: f64, gap_m: f64) -> f64 {
    (rate * 2.0 * deflection_m / gap_m).abs()
}

#[cfg(test)]
mod tests {
    use super::super::reading::tests::{mass, mode};
    use super::*;

    /// Two masses of 4e-9 kg with nothing else: in phase twice one mass's force, in antiphase none but a moment.
    #[test]
    fn in_phase_and_antiphase() {
        let size = (8e-9_f64).sqrt().recip();
        let arm = 250e-6;
        let both = |second: f64| {
            let mut mode = mode(1e4, vec![mass("a", [0.0, 0.0, size]), mass("b", [0.0, 0.0, second * size])]);
            let m = 4e-9 * size;
            // Masses at x = ± arm: moment about y is −x F.
            mode.participation = [0.0, 0.0, m * (1.0 + second), 0.0, m * arm * (1.0 - second), 0.0];
            mode
        };
        let (together, apart) = (at_anchors(&both(1.0), [0.0; 2]), at_anchors(&both(-1.0), [0.0; 2]));
        assert!((together.force_ratio().unwrap() - 2.0).abs() < 1e-12 && together.moment == [0.0; 3]);
        assert_eq!(apart.force_ratio(), Some(0.0));
        assert!((apart.moment_arm_m().unwrap() - 2.0 * arm).abs() < 1e-15);
        assert_eq!(at_anchors(&mode(1.0, vec![]), [0.0; 2]).force_ratio(), None);
    }

    /// One mode that the electrodes see half of: the sag is g/ω², and far below resonance the answer is flat.
    #[test]
    fn sag_as_a_rate() {
        let omega = TAU * 1e4;
        let shaken = |quality| Shaken {
            mode: Oscillator { omega, quality },
            participation: [0.0, 0.0, 2e-5],
            reading: 0.5 / 2e-5,
        };
        let found = false_rate(&[shaken(None)], [0.0; 3], 1e-9, 2e4, [20.0, 2000.0], None);
        let sag = 0.5 * GRAVITY_M_S2 / (omega * omega) / 1e-9;
        assert!((found[2].offset / sag - 1.0).abs() < 1e-12);
        assert!((found[2].worst.unwrap() / (sag / (1.0 - 0.04)) - 1.0).abs() < 1e-12 && found[2].worst_hz == 2000.0);
        // At twice its own frequency a third of the sag is left.
        assert!((found[2].at_drive / (sag / 3.0) - 1.0).abs() < 1e-12);
        assert_eq!([found[0].worst, found[1].worst], [Some(0.0); 2]);
        // The filter: (100/18 000)² of it passes.
        let filter = OutputFilter { corner_hz: 100.0, order: 2 };
        let filtered = false_rate(&[shaken(None)], [0.0; 3], 1e-9, 2e4, [20.0, 2000.0], Some(filter));
        let expected = sag / 0.96 * (100.0_f64 / 18e3).powi(2);
        assert!((filtered[2].worst.unwrap() / expected - 1.0).abs() < 1e-3);
        // A resonance in the band.
        let wide = |quality| false_rate(&[shaken(quality)], [0.0; 3], 1e-9, 2e4, [20.0, 15e3], None)[2];
        assert_eq!(wide(None).worst, None);
        assert!((wide(Some(500.0)).worst.unwrap() / (500.0 * sag) - 1.0).abs() < 1e-6);
    }

    /// The whole static reading comes back at rest.
    #[test]
    fn static_correction() {
        let one =
            Shaken { mode: Oscillator { omega: 1e5, quality: None }, participation: [1e-5, 0.0, 2e-5], reading: 3e4 };
        let rest = left_out(&[one], [-1e-10, 0.0, -7e-11]);
        let found = false_rate(&[one], rest, 1e-9, 2e4, [20.0, 2000.0], None);
        assert!((found[0].offset / (0.1 * GRAVITY_M_S2) - 1.0).abs() < 1e-12);
        assert!((found[2].offset / (0.07 * GRAVITY_M_S2) - 1.0).abs() < 1e-12);
    }
}
