//! The same lumped model with one more assumption: turns held, or springs that couple nothing. In: a mode. Out: the frequency
//! of the mode most like it, Hz; what the assumption costs is the difference.

use super::Lumped;
use nalgebra::{DMatrix, DVector};

impl Lumped {
    /// Frequency, Hz, with all bodies kept from turning: flexures with ideally guided ends.
    pub fn hz_with_turns_held(&self, shape: &[f64]) -> Option<f64> {
        let kept: Vec<usize> = (0..self.k.nrows()).filter(|i| i % 6 < 3).collect();
        let pick = |m: &DMatrix<f64>| m.select_rows(&kept).select_columns(&kept);
        let shape = DVector::from_iterator(kept.len(), kept.iter().map(|&i| shape[i]));
        most_like(&pick(&self.k), &pick(&self.m), &shape)
    }

    /// Frequency, Hz, without stiffness between different directions (x, y, z, about x, y, z): straight-line springs.
    pub fn hz_without_cross_terms(&self, shape: &[f64]) -> Option<f64> {
        let n = self.k.nrows();
        let straight = DMatrix::from_fn(n, n, |i, j| if i % 6 == j % 6 { self.k[(i, j)] } else { 0.0 });
        most_like(&straight, &self.m, &DVector::from_column_slice(shape))
    }
}

/// Frequency of the mode of a pencil that is most like a shape, by its share of the shape's kinetic energy.
fn most_like(k: &DMatrix<f64>, m: &DMatrix<f64>, shape: &DVector<f64>) -> Option<f64> {
    let factor = m.clone().cholesky()?.l();
    let half = factor.solve_lower_triangular(k)?;
    let standard = factor.solve_lower_triangular(&half.transpose())?;
    let eigen = (0.5 * (&standard + standard.transpose())).symmetric_eigen();
    // Both in the coordinates in which M is the identity.
    let seen = factor.transpose() * shape;
    let likeness = |i: usize| eigen.eigenvectors.column(i).dot(&seen).abs();
    let best = (0..eigen.eigenvalues.len()).max_by(|a, b| likeness(*a).total_cmp(&likeness(*b)))?;
    Some(eigen.eigenvalues[best].max(0.0).sqrt() / std::f64::consts::TAU)
}
