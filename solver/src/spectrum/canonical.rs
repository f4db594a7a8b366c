//! The stated form of the answer: signs, the basis inside an exact multiple, errors.
//!
//! In: approximate eigenvectors. Out: M-orthonormal eigenvectors whose sign and, inside a multiple, whose basis are fixed
//! by a rule that does not depend on how they were found.

use super::dense::{eigen, inner, noise, orthonormal_directions, product};
use super::error::SpectrumError;
use super::factor::{Analysis, Factor};
use super::pencil::{Pencil, Which};
use faer::Mat;

/// Streams of fixed numbers that choose signs and bases; far from those that start the iteration.
const RULE: u64 = 1 << 40;

/// Modes in the order of the factor and scaled unknowns.
pub(super) struct Modes {
    pub(super) lambda: Vec<f64>,
    pub(super) vectors: Mat<f64>,
    /// K φ − λ M φ.
    pub(super) residual: Mat<f64>,
    /// Uncertainty of every λ from rounding.
    pub(super) floor: Vec<f64>,
}

/// One step of inverse iteration for all vectors at once, then Rayleigh–Ritz with K and M themselves.
pub(super) fn refine(analysis: &Analysis, factor: &Factor<'_>, vectors: Mat<f64>) -> Result<Modes, SpectrumError> {
    let (n, count) = (vectors.nrows(), vectors.ncols());
    let mut y = Mat::zeros(n, count);
    analysis.pencil.multiply(Which::M, vectors.as_ref(), y.as_mut());
    drop(vectors);
    factor.solve(y.as_mut())?;
    rayleigh_ritz(&analysis.pencil, y)
}

/// Rayleigh–Ritz on the span of `y`, whose columns must be independent.
pub(super) fn rayleigh_ritz(pencil: &Pencil, y: Mat<f64>) -> Result<Modes, SpectrumError> {
    let (n, count) = (y.nrows(), y.ncols());
    let mut work = Mat::zeros(n, count);
    // Twice, so that the second combination is nearly the identity and adds no error.
    let mut basis = y;
    for _ in 0..2 {
        pencil.multiply(Which::M, basis.as_ref(), work.as_mut());
        let gram = inner(basis.as_ref(), work.as_ref());
        let (combine, _) = orthonormal_directions(gram.as_ref(), 0.0)?;
        pencil.multiply(Which::K, basis.as_ref(), work.as_mut());
        let stiffness = inner(basis.as_ref(), work.as_ref());
        let small = product(combine.transpose(), product(stiffness.as_ref(), combine.as_ref()).as_ref());
        let (_, turn) = eigen(small.as_ref())?;
        basis = product(basis.as_ref(), product(combine.as_ref(), turn.as_ref()).as_ref());
    }
    modes(pencil, basis)
}

/// Rayleigh quotients, residuals and floors of M-orthonormal vectors, ascending.
fn modes(pencil: &Pencil, vectors: Mat<f64>) -> Result<Modes, SpectrumError> {
    let (n, count) = (vectors.nrows(), vectors.ncols());
    let (mut k, mut m) = (Mat::zeros(n, count), Mat::zeros(n, count));
    pencil.multiply(Which::K, vectors.as_ref(), k.as_mut());
    pencil.multiply(Which::M, vectors.as_ref(), m.as_mut());
    let quotient = |j: usize| {
        let dot = |a: &Mat<f64>| (0..n).map(|i| vectors[(i, j)] * a[(i, j)]).sum::<f64>();
        dot(&k) / dot(&m)
    };
    let raw: Vec<f64> = (0..count).map(quotient).collect();
    let mut by_value: Vec<usize> = (0..count).collect();
    by_value.sort_by(|&a, &b| raw[a].total_cmp(&raw[b]));
    let lambda: Vec<f64> = by_value.iter().map(|&j| raw[j]).collect();
    let sorted = Mat::from_fn(n, count, |i, j| vectors[(i, by_value[j])]);
    let residual = Mat::from_fn(n, count, |i, j| k[(i, by_value[j])] - lambda[j] * m[(i, by_value[j])]);
    let (k_norm, m_norm) = (pencil.norm_one(Which::K), pencil.norm_one(Which::M));
    let floor = (0..count)
        .map(|j| f64::EPSILON * (k_norm + lambda[j].abs() * m_norm) * sorted.col(j).squared_norm_l2())
        .collect();
    Ok(Modes { lambda, vectors: sorted, residual, floor })
}

/// Two neighbours closer than this cannot be told apart: they span one space.
pub(super) fn same(low: f64, high: f64, floor: f64) -> bool {
    high - low <= (1e-12 * low.abs().max(high.abs())).max(floor)
}

/// Fixes signs and bases. Inside a multiple the basis is the Gram–Schmidt of the projections of fixed pseudo-random
/// vectors g₁, g₂, … (numbered by unknown, in the caller's order) on the multiple's space; a single mode is the case of
/// one, which fixes its sign: gᵀφ > 0.
pub(super) fn fix_basis(modes: &mut Modes, forward: &[u32]) {
    let (n, count) = (modes.vectors.nrows(), modes.lambda.len());
    let mut first = 0;
    while first < count {
        let mut end = first + 1;
        while end < count && same(modes.lambda[end - 1], modes.lambda[end], modes.floor[end]) {
            end += 1;
        }
        let size = end - first;
        // Coordinates of the projections: row j is gⱼ seen from the present basis.
        let seen = Mat::from_fn(size, size, |j, c| {
            (0..n).map(|i| noise(u64::from(forward[i]), RULE + j as u64) * modes.vectors[(i, first + c)]).sum::<f64>()
        });
        if let Some(turn) = gram_schmidt(&seen) {
            for block in [&mut modes.vectors, &mut modes.residual] {
                let turned = product(block.subcols(first, size), turn.as_ref());
                block.subcols_mut(first, size).copy_from(turned);
            }
        }
        first = end;
    }
}

/// Orthonormal columns from the rows of `seen`, each orthogonalised twice; `None` if they are dependent.
fn gram_schmidt(seen: &Mat<f64>) -> Option<Mat<f64>> {
    let size = seen.nrows();
    let mut turn = Mat::<f64>::zeros(size, size);
    for j in 0..size {
        let mut row: Vec<f64> = (0..size).map(|c| seen[(j, c)]).collect();
        for _ in 0..2 {
            for done in 0..j {
                let dot: f64 = (0..size).map(|c| row[c] * turn[(c, done)]).sum();
                for (c, value) in row.iter_mut().enumerate() {
                    *value -= dot * turn[(c, done)];
                }
            }
        }
        let norm = row.iter().map(|v| v * v).sum::<f64>().sqrt();
        if norm.is_nan() || norm <= 0.0 {
            return None;
        }
        for (c, value) in row.iter().enumerate() {
            turn[(c, j)] = value / norm;
        }
    }
    Some(turn)
}
