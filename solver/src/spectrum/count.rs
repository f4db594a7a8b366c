//! Counting eigenvalues below a shift from the signs of the pivots (Sylvester's law of inertia).
//!
//! In: an analysed pencil and a shift. Out: the factor and a report of where the count was really taken.
//! A pivot that is tiny against the largest says that the shift lies on an eigenvalue, or that pivoting inside one
//! supernode was not enough: the count is then not to be trusted, and the shift is moved.

use super::error::SpectrumError;
use super::factor::{Analysis, Factor, Factorisation};

/// A factorization that was made, and what was read from it.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct ShiftReport {
    /// Shift asked for, in λ = ω², rad²/s².
    pub requested: f64,
    /// Shift used: moved when the factor at the requested one could not be trusted.
    pub used: f64,
    /// Eigenvalues below the shift used.
    pub negatives: usize,
    /// Smallest over largest pivot, of the scaled matrix.
    pub pivot_ratio: f64,
    /// What it was for.
    pub purpose: Purpose,
}

/// What a factor served.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Purpose {
    /// Solves of the iteration (and its count, if it is one).
    Iteration,
    /// Only the count, in a gap between modes that were found.
    Count,
    /// Only the count, at a place that somebody asked for, where a mode may lie.
    End,
}

/// Smallest over largest pivot that is trusted.
pub(super) const PIVOT_RATIO: f64 = 1e-12;
/// Moves of a shift that only counts, relative to its size.
const COUNT_MOVES: [f64; 4] = [0.0, 1e-8, 1e-6, 1e-4];
/// Moves of a shift for the iteration: farther, because an eigenvalue at a share d of the shift costs the others d⁻¹ ε.
const ITERATION_MOVES: [f64; 4] = [0.0, 1e-5, 1e-4, 1e-3];
/// How near to an eigenvalue a shift that somebody asked for may lie, relative: a count right at one is anybody's guess.
const CLEAR_TO_COUNT: f64 = 1e-10;
/// The same for the iteration: what is left of the other modes' accuracy is ε over this.
const CLEAR_TO_ITERATE: f64 = 1e-6;
/// Backward error of a solve that shows a stable factor.
pub(super) const STABLE: f64 = 1e-11;

/// Factors K − shift·M and counts. When the pivots are not to be trusted the shift is moved, by shares of `scale` and in
/// its direction, by less than `room`.
///
/// # Errors
/// [`SpectrumError::Singular`] if no move gives a usable factor.
pub(super) fn factor_and_count<'a>(
    analysis: &'a Analysis,
    shift: f64,
    scale: f64,
    room: f64,
    purpose: Purpose,
) -> Result<(Factor<'a>, ShiftReport), SpectrumError> {
    let (moves, clear) = match purpose {
        Purpose::Iteration => (ITERATION_MOVES, CLEAR_TO_ITERATE * scale.abs()),
        Purpose::Count => (COUNT_MOVES, 0.0),
        Purpose::End => (COUNT_MOVES, CLEAR_TO_COUNT * scale.abs()),
    };
    let mut last = None;
    for step in moves {
        let used = shift + scale.signum() * (step * scale.abs()).min(room * step.powf(0.125));
        drop(last.take());
        let Some(factor) = analysis.factor(used, Factorisation::Indefinite)? else { continue };
        let pivots = factor.pivots;
        let report =
            ShiftReport { requested: shift, used, negatives: pivots.negatives, pivot_ratio: pivots.ratio, purpose };
        let stable = pivots.ratio >= PIVOT_RATIO && backward_error(analysis, &factor)? < STABLE;
        // A solve is stable on an eigenvalue too.
        if stable && (clear == 0.0 || clearance(analysis, &factor) >= clear) {
            return Ok((factor, report));
        }
        last = Some((factor, report));
    }
    // A long chain of soft elements has small pivots by nature, at any shift. Then the solve decides.
    match last {
        Some((factor, report)) if report.pivot_ratio > 0.0 && backward_error(analysis, &factor)? < STABLE => {
            Ok((factor, report))
        }
        _ => Err(SpectrumError::Singular { shift }),
    }
}

/// Steps of inverse iteration that show how near an eigenvalue is.
const STEPS: usize = 3;

/// About how far the nearest eigenvalue lies from the shift of a factor: from above, by inverse iteration on a fixed vector.
fn clearance(analysis: &Analysis, factor: &Factor<'_>) -> f64 {
    use super::dense::noise;
    use super::pencil::Which;
    let n = analysis.pencil.len();
    let mut x = faer::Mat::from_fn(n, 1, |i, _| noise(i as u64, 1));
    let mut mx = faer::Mat::zeros(n, 1);
    let mut distance = f64::INFINITY;
    for _ in 0..STEPS {
        analysis.pencil.multiply(Which::M, x.as_ref(), mx.as_mut());
        let before = (x.transpose() * &mx)[(0, 0)].max(0.0).sqrt();
        x.copy_from(&mx);
        factor.solve(x.as_mut());
        analysis.pencil.multiply(Which::M, x.as_ref(), mx.as_mut());
        let after = (x.transpose() * &mx)[(0, 0)].max(0.0).sqrt();
        if !(after.is_finite() && after > 0.0) {
            return 0.0;
        }
        distance = before / after;
        x *= faer::Scale(1.0 / after);
    }
    distance
}

/// ‖b − A x‖ / (‖A‖₁ ‖x‖ + ‖b‖) of one solve with a fixed right-hand side.
pub(super) fn backward_error(analysis: &Analysis, factor: &Factor<'_>) -> Result<f64, SpectrumError> {
    use super::dense::noise;
    use super::pencil::Which;
    let n = analysis.pencil.len();
    let right = faer::Mat::from_fn(n, 1, |i, _| noise(i as u64, 0));
    let mut x = right.clone();
    factor.solve(x.as_mut());
    let (mut kx, mut mx) = (faer::Mat::zeros(n, 1), faer::Mat::zeros(n, 1));
    analysis.pencil.multiply(Which::K, x.as_ref(), kx.as_mut());
    analysis.pencil.multiply(Which::M, x.as_ref(), mx.as_mut());
    let residual = (0..n).map(|i| (right[(i, 0)] - kx[(i, 0)] + factor.shift * mx[(i, 0)]).powi(2)).sum::<f64>().sqrt();
    let norm = analysis.norms.0 + factor.shift.abs() * analysis.norms.1;
    let size = norm * x.norm_l2() + right.norm_l2();
    Ok(if size.is_finite() { residual / size } else { f64::NAN })
}
