//! Small dense pieces: products, eigenvalues, fixed pseudo-random numbers. All on one thread, so that the number of
//! threads cannot change a bit of the result.

use super::error::SpectrumError;
use faer::diag::Diag;
use faer::dyn_stack::{MemBuffer, MemStack};
use faer::linalg::evd::{ComputeEigenvectors, self_adjoint_evd, self_adjoint_evd_scratch};
use faer::linalg::matmul::matmul;
use faer::{Accum, Mat, MatMut, MatRef, Par};

/// aᵀ b of tall blocks, on one thread.
pub fn inner(a: MatRef<'_, f64>, b: MatRef<'_, f64>) -> Mat<f64> {
    let mut product = Mat::zeros(a.ncols(), b.ncols());
    matmul(product.as_mut(), Accum::Replace, a.transpose(), b, 1.0, Par::Seq);
    product
}

/// a b.
pub(super) fn product(a: MatRef<'_, f64>, b: MatRef<'_, f64>) -> Mat<f64> {
    let mut product = Mat::zeros(a.nrows(), b.ncols());
    matmul(product.as_mut(), Accum::Replace, a, b, 1.0, Par::Seq);
    product
}

/// x ← x − a b with tall x and a, on one thread.
pub fn subtract(x: MatMut<'_, f64>, a: MatRef<'_, f64>, b: MatRef<'_, f64>) {
    matmul(x, Accum::Add, a, b, -1.0, Par::Seq);
}

/// Columns of a basis. Memory comes zeroed from the system, which hands out pages only when a column is written.
pub(super) struct Columns {
    rows: usize,
    values: Vec<f64>,
}

impl Columns {
    pub(super) fn zeros(rows: usize, count: usize) -> Self {
        Self { rows, values: vec![0.0; rows * count] }
    }

    /// Brings them to `count`.
    pub(super) fn widen(&mut self, count: usize) {
        self.values.resize(self.rows * count, 0.0);
    }

    pub(super) fn of(&self, from: usize, count: usize) -> MatRef<'_, f64> {
        let part = &self.values[from * self.rows..(from + count) * self.rows];
        MatRef::from_column_major_slice(part, self.rows, count)
    }

    pub(super) fn of_mut(&mut self, from: usize, count: usize) -> MatMut<'_, f64> {
        let part = &mut self.values[from * self.rows..(from + count) * self.rows];
        MatMut::from_column_major_slice_mut(part, self.rows, count)
    }

    /// Those before `at`, and those from there on.
    pub(super) fn split(&mut self, at: usize) -> (MatRef<'_, f64>, MatMut<'_, f64>) {
        let (rows, (before, after)) = (self.rows, self.values.split_at_mut(at * self.rows));
        let rest = after.len() / rows;
        (MatRef::from_column_major_slice(before, rows, at), MatMut::from_column_major_slice_mut(after, rows, rest))
    }
}

/// Eigenvalues, ascending, and orthonormal eigenvectors of a symmetric matrix (its lower triangle is read).
pub(super) fn eigen(a: MatRef<'_, f64>) -> Result<(Vec<f64>, Mat<f64>), SpectrumError> {
    let n = a.nrows();
    let inner = |reason: String| SpectrumError::Inner { stage: "dense eigenvalues", reason };
    let request = self_adjoint_evd_scratch::<f64>(n, ComputeEigenvectors::Yes, Par::Seq, Default::default());
    let mut buffer = MemBuffer::try_new(request).map_err(|_| inner("not enough memory".to_owned()))?;
    let (mut values, mut vectors) = (Diag::zeros(n), Mat::zeros(n, n));
    // Above 128 columns the library drops couplings by their absolute size: the matrix is brought to the size of one.
    let largest = a.norm_max();
    let unit = if largest > 0.0 && largest.is_finite() { largest.log2().round().exp2() } else { 1.0 };
    let scaled = Mat::from_fn(n, n, |i, j| a[(i, j)] / unit);
    self_adjoint_evd(
        scaled.as_ref(),
        values.as_mut(),
        Some(vectors.as_mut()),
        Par::Seq,
        MemStack::new(&mut buffer),
        Default::default(),
    )
    .map_err(|e| inner(format!("{e:?}")))?;
    Ok(((0..n).map(|i| unit * values.column_vector()[i]).collect(), vectors))
}

/// Directions of a block W with Gram matrix `gram` that survive: W C has orthonormal columns and W = (W C) B, up to
/// directions with a norm below `floor` (singular-value based orthonormalisation, Stathopoulos & Wu 2002).
/// C has as many columns as directions survived. The last value is the smallest eigenvalue kept of the Gram matrix of
/// the normalised columns: zero for dependent columns, one for orthogonal ones.
pub(super) fn orthonormal_directions(
    gram: MatRef<'_, f64>,
    floor: f64,
) -> Result<(Mat<f64>, Mat<f64>, f64), SpectrumError> {
    let b = gram.nrows();
    let scale: Vec<f64> =
        (0..b).map(|i| gram[(i, i)].max(0.0).sqrt()).map(|s| if s > floor { s } else { 0.0 }).collect();
    let unit =
        Mat::from_fn(
            b,
            b,
            |i, j| {
                if scale[i] > 0.0 && scale[j] > 0.0 { gram[(i, j)] / (scale[i] * scale[j]) } else { 0.0 }
            },
        );
    let (values, vectors) = eigen(unit.as_ref())?;
    // A Gram matrix of a positive definite inner product has no negative eigenvalue beyond rounding.
    if values.first().is_some_and(|&v| v < -1e-6) || (0..b).any(|i| gram[(i, i)] < -floor * floor) {
        return Err(SpectrumError::MassNotPositive);
    }
    // Directions lost in the round-off of the Gram matrix cannot be told from noise.
    let kept: Vec<usize> = (0..b).rev().filter(|&i| values[i] > 1e-13).collect();
    let combine = Mat::from_fn(b, kept.len(), |i, j| {
        if scale[i] > 0.0 { vectors[(i, kept[j])] / (scale[i] * values[kept[j]].sqrt()) } else { 0.0 }
    });
    let back = Mat::from_fn(kept.len(), b, |i, j| scale[j] * vectors[(j, kept[i])] * values[kept[i]].sqrt());
    Ok((combine, back, kept.last().map_or(0.0, |&i| values[i])))
}

/// Fixed pseudo-random number in (−1, 1) for a place and a stream (SplitMix64, Steele, Lea & Flood 2014).
pub(super) fn noise(place: u64, stream: u64) -> f64 {
    let mut z = place.wrapping_add(stream.wrapping_mul(0xD1B5_4A32_D192_ED03)).wrapping_add(1);
    z = z.wrapping_mul(0x9E37_79B9_7F4A_7C15);
    z = (z ^ (z >> 30)).wrapping_mul(0xBF58_476D_1CE4_E5B9);
    z = (z ^ (z >> 27)).wrapping_mul(0x94D0_49BB_1331_11EB);
    z ^= z >> 31;
    ((z >> 11) as f64 + 0.5) * (2.0 / (1u64 << 53) as f64) - 1.0
}

#[cfg(test)]
mod tests {
    use super::*;

    /// A chain of equal springs between walls, 2 − 2 cos(kπ/(n + 1)) with sines for vectors (handbook), in any unit.
    #[test]
    fn eigenvalues_do_not_depend_on_the_unit() {
        let n = 200;
        for unit in [1.0, 1e-20, 1e-100, 1e100] {
            let chain = |i: usize, j: usize| match i.abs_diff(j) {
                0 => 2.0 * unit,
                1 => -unit,
                _ => 0.0,
            };
            let a = Mat::from_fn(n, n, chain);
            let (values, vectors) = eigen(a.as_ref()).unwrap();
            let turned = product(a.as_ref(), vectors.as_ref());
            for (k, value) in values.iter().enumerate() {
                let exact = 2.0 - 2.0 * (std::f64::consts::PI * (k + 1) as f64 / (n + 1) as f64).cos();
                assert!((value / unit - exact).abs() < 1e-13, "{k} in units of {unit}: {value}");
                let off = (turned.col(k) - faer::Scale(*value) * vectors.col(k)).norm_l2();
                assert!(off < 1e-13 * unit, "{k} in units of {unit}: {off}");
            }
        }
    }
}
