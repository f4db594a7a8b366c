//! Whether modes found are modes: residuals, signs of eigenvalues.

use super::canonical::Modes;
use super::error::SpectrumError;
use super::session::Session;

/// Backward error of the scaled pencil above which a mode is refused.
const UNSOUND: f64 = 1e-10;

/// A residual far above rounding means that M is no inner product, or that the iteration was misled.
pub(super) fn check_residuals(session: &Session<'_>, modes: &Modes) -> Result<(), SpectrumError> {
    let (k, m) = session.analysis.norms;
    let sound = |j: usize| {
        let norm = (k + modes.lambda[j].abs() * m) * modes.vectors.col(j).norm_l2();
        modes.residual.col(j).norm_l2() <= UNSOUND * norm
    };
    let (wanted, converged) = (modes.lambda.len(), (0..modes.lambda.len()).filter(|&j| sound(j)).count());
    if converged == wanted {
        return Ok(());
    }
    match session.analysis.mass_is_positive()? {
        false => Err(SpectrumError::MassNotPositive),
        true => Err(SpectrumError::NotConverged { converged, wanted, solves: session.timings.solves }),
    }
}

/// K may have no eigenvalue below zero by more than rounding.
pub(super) fn no_negatives(modes: &Modes) -> Result<(), SpectrumError> {
    let negatives = modes.lambda.iter().zip(&modes.floor).filter(|(l, f)| **l < -100.0 * **f).count();
    if negatives > 0 { Err(SpectrumError::Indefinite { negatives }) } else { Ok(()) }
}
