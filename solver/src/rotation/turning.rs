//! Frequencies of a turning device: the quadratic eigenproblem q̈ + Ω G q̇ + (Λ − Ω² C) q = 0 on its modes.
//!
//! With Λ − Ω² C = L Lᵀ the state (q̇, Lᵀq) obeys a skew-symmetric first-order system, so i times its matrix is Hermitian and
//! its eigenvalues, the frequencies and their negatives, keep full accuracy (Meirovitch, AIAA J. 12 (1974) 1337: the
//! gyroscopic eigenproblem in symmetric form; the complex form here is ours).

use super::Coriolis;
use nalgebra::{Cholesky, Complex, DMatrix};

/// The device turns too fast, or a motion without stiffness was kept.
#[derive(Clone, Copy, Debug, PartialEq, thiserror::Error)]
#[error(
    "turning at {rate_rad_s:.3e} rad/s, the centrifugal force is no smaller than the stiffness of some motion; leave rigid motions out"
)]
pub struct Supercritical {
    /// The rate, rad/s.
    pub rate_rad_s: f64,
}

/// Angular frequencies in the device's frame, rad/s, ascending, one for each mode. `lambda` is ω² of the modes at rest,
/// rad²/s², in the order of `coriolis`; `axis` a unit vector; `rate` Ω in rad/s, of either sign.
///
/// Modes left out do not take part: keep those within reach of the ones that matter.
///
/// # Errors
/// [`Supercritical`] unless Λ − Ω² C is positive definite.
pub fn frequencies_at_rate(
    coriolis: &Coriolis,
    lambda: &[f64],
    axis: [f64; 3],
    rate: f64,
) -> Result<Vec<f64>, Supercritical> {
    let n = coriolis.len();
    debug_assert_eq!(lambda.len(), n, "one λ for each mode");
    let stiffness = DMatrix::from_fn(n, n, |i, j| if i == j { lambda[i] } else { 0.0 })
        - coriolis.centrifugal(axis) * (rate * rate);
    let root = Cholesky::new(stiffness).ok_or(Supercritical { rate_rad_s: rate })?.l();
    let g = coriolis.along(axis) * rate;
    let mut hermitian = DMatrix::<Complex<f64>>::zeros(2 * n, 2 * n);
    for j in 0..n {
        for i in 0..n {
            hermitian[(i, j)] = Complex::new(0.0, -g[(i, j)]);
            hermitian[(i, n + j)] = Complex::new(0.0, -root[(i, j)]);
            hermitian[(n + j, i)] = Complex::new(0.0, root[(i, j)]);
        }
    }
    let mut omega: Vec<f64> = hermitian.symmetric_eigenvalues().iter().copied().collect();
    omega.sort_by(f64::total_cmp);
    Ok(omega.split_off(n))
}
