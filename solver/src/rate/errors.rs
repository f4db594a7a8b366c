//! What is read without rotation: quadrature, and what stays in phase with the rate.
//!
//! In: a small coupling between drive and sense, or what the electrodes see of the drive mode; shares and angles of the
//! electronics. Out: rates, rad/s, ranked. In-run bias (drift of all this with temperature, charge and stress) is not
//! predicted: it follows from how constant these terms are.
//!
//! A layout with mirror symmetry has no coupling at all; what the modes of its drawing show is the numerical residue of mesh
//! and eigensolver, a floor and not a property of the device.
//!
//! Source: force balance on the sense mode. The coupling force k_sd q_d is in phase with the drive's displacement, the Coriolis
//! force G Ω ω_d q_d with its velocity.

use super::answer::WorkingPair;

/// Quadrature as a rate, rad/s, signed: k_sd/(G_ds ω_d), from a coupling `k_sd` in rad²/s² at unit modal mass. It does not
/// depend on split or amplitude.
///
/// ```
/// use modalith_solver::rate::{Oscillator, answer::WorkingPair, errors::quadrature};
/// let at = |omega: f64| Oscillator { omega, quality: None };
/// let pair = WorkingPair { drive: at(1e5), sense: at(1.1e5), gyroscopic: 2.0, amplitude: None };
/// assert_eq!(quadrature(&pair, 1e3), 5e-3);
/// ```
pub fn quadrature(pair: &WorkingPair, k_sd: f64) -> f64 {
    k_sd / (pair.gyroscopic * pair.drive.omega)
}

/// The coupling, rad²/s², that a quadrature (rad/s) comes from: the inverse of [`quadrature`].
pub fn coupling_of(pair: &WorkingPair, quadrature: f64) -> f64 {
    quadrature * pair.gyroscopic * pair.drive.omega
}

/// The coupling, rad²/s², that a drive mode seen by the electrodes amounts to: −(e·φ_d)(ω_s² − ω_d²)/(e·φ_s), from the
/// readings of both modes in any one unit. The difference is the undamped one.
///
/// With a coupling k_sd the drive mode holds −k_sd/(ω_s² − ω_d²) of the sense mode. A mode of the whole device already
/// holds it: its reading is the quadrature, and no coupling is to be added on top.
pub fn coupling_from_readings(pair: &WorkingPair, of_drive: f64, of_sense: f64) -> f64 {
    -(of_drive / of_sense) * (pair.sense.omega.powi(2) - pair.drive.omega.powi(2))
}

/// Where an in-phase zero-rate output comes from.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Cause {
    /// A share of the drive force acts on the sense mode.
    DriveLeak,
    /// Quadrature read through the demodulator's phase error.
    PhaseError,
}

/// One in-phase term.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Term {
    /// Its cause.
    pub cause: Cause,
    /// Its size as a rate, rad/s, not negative.
    pub rate: f64,
}

/// Drive force leaking into the sense motion by a share ε is in phase with the Coriolis force: ε ω_d/(2 κ Q_d), rad/s, no
/// demodulator removes it. `None` where Q_d is not known or nothing couples.
pub fn drive_leak(pair: &WorkingPair, share: f64) -> Option<f64> {
    let rate = share.abs() * pair.drive.omega / (pair.gyroscopic.abs() * pair.drive.quality?);
    rate.is_finite().then_some(rate)
}

/// What a phase error δ (rad) lets through of a quadrature Ω_q (rad/s), rad/s, not negative: |Ω_q sin δ|, the share of the carrier in
/// quadrature that a demodulator turned by δ reads.
pub fn through_phase(quadrature: f64, phase_error: f64) -> f64 {
    (quadrature * phase_error.sin()).abs()
}

/// In-phase zero-rate output by cause.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct InPhase {
    /// The terms that are known, the largest first.
    pub terms: Vec<Term>,
    /// Whether every cause has its term.
    pub whole: bool,
}

impl InPhase {
    /// From the terms of both causes, rad/s; `None` where one is not known.
    pub fn of(leak: Option<f64>, through_phase: Option<f64>) -> Self {
        let all = [(Cause::DriveLeak, leak), (Cause::PhaseError, through_phase)];
        let mut terms: Vec<Term> =
            all.into_iter().filter_map(|(cause, rate)| rate.map(|rate| Term { cause, rate })).collect();
        terms.sort_by(|a, b| b.rate.total_cmp(&a.rate));
        Self { whole: terms.len() == all.len(), terms }
    }

    /// All terms together, rad/s: the worst case. `None` where one is not known.
    pub fn sum(&self) -> Option<f64> {
        self.at_least().filter(|_| self.whole)
    }

    /// What is known of the sum, rad/s, which is no less; `None` where nothing is.
    pub fn at_least(&self) -> Option<f64> {
        self.terms.iter().map(|t| t.rate).reduce(|a, b| a + b)
    }
}

#[cfg(test)]
mod tests {
    use super::super::Oscillator;
    use super::*;
    use nalgebra::Matrix2;

    fn pair(d: f64, s: f64) -> WorkingPair {
        let at = |omega: f64| Oscillator { omega, quality: Some(1e4) };
        WorkingPair { drive: at(d), sense: at(s), gyroscopic: 1.8, amplitude: None }
    }

    /// Two oscillators with a weak spring between them, solved exactly: what the second one moves in the drive mode gives the
    /// coupling back, to the order of its square.
    #[test]
    fn readings_give_the_coupling_back() {
        let (d, s, k): (f64, f64, f64) = (1.0, 1.1, 1e-5);
        let eigen = Matrix2::new(d * d, k, k, s * s).symmetric_eigen();
        let drive = if eigen.eigenvalues[0] < eigen.eigenvalues[1] { 0 } else { 1 };
        // Electrodes see the second coordinate; signs so that each mode moves its own forwards.
        let v = &eigen.eigenvectors;
        let of_drive = v[(1, drive)] * v[(0, drive)].signum();
        let of_sense = v[(1, 1 - drive)].abs();
        let found = coupling_from_readings(&pair(d, s), of_drive, of_sense);
        assert!((found / k - 1.0).abs() < 1e-6, "{found:e}");
        assert!((quadrature(&pair(d, s), found) / (k / 1.8) - 1.0).abs() < 1e-6);
    }

    #[test]
    fn in_phase_terms_are_ranked() {
        // ε ω_d/(2κ Q_d) with κ = 0.9.
        let leak = drive_leak(&pair(1e5, 1.1e5), 1e-3).unwrap();
        assert!((leak - 1e-3 * 1e5 / (1.8 * 1e4)).abs() < 1e-15);
        let both = InPhase::of(Some(leak), Some(through_phase(-1.0, 0.5_f64.asin())));
        assert_eq!(both.terms.iter().map(|t| t.cause).collect::<Vec<_>>(), [Cause::PhaseError, Cause::DriveLeak]);
        assert!((both.sum().unwrap() - leak - 0.5).abs() < 1e-12);
        // A cause without a term leaves no sum, only what it is no less than.
        let one = InPhase::of(Some(leak), None);
        assert_eq!((one.sum(), one.at_least()), (None, Some(leak)));
        assert_eq!(InPhase::of(None, None), InPhase::default());
        let blind = WorkingPair { gyroscopic: 0.0, ..pair(1.0, 1.1) };
        assert_eq!(drive_leak(&blind, 1e-3), None);
    }
}
