//! Block Lanczos on (K − σM)⁻¹ M in the M inner product.
//!
//! In: a pencil and a factor of K − σM. Out: Ritz pairs (θ, x) with θ = 1/(λ − σ), xᵀMx = 1, and for each the norm of
//! its residual. Full reorthogonalisation, twice; blocks, so that members of a multiple are not lost; thick restart
//! (Wu & Simon 2000, in blocks). A fixed start makes runs repeatable. A direction that breaks down is replaced by a
//! new random one, which is also how a search for missed modes goes on.

use super::dense::{Columns, eigen, inner, noise, orthonormal_directions, product, subtract};
use super::error::SpectrumError;
use super::factor::Factor;
use super::pencil::{Pencil, Which};
use faer::prelude::ReborrowMut;
use faer::{Mat, MatRef};

/// A direction is noise if applying the operator left less of it than this share of the largest column.
const NOISE: f64 = 1e-13;

/// Share of the largest column above which two projections are enough.
const CLEAN: f64 = 1e-8;
/// Smallest eigenvalue of a block's normalised Gram matrix at which taking it apart is harmless.
const INDEPENDENT: f64 = 1e-4;
/// Norm below which a normalised direction has vanished when projected again.
const AGAIN: f64 = 1e-2;

/// The basis and the projected operator.
pub(super) struct Lanczos<'a> {
    pencil: &'a Pencil,
    block: usize,
    capacity: usize,
    /// Ritz vectors that survive a restart.
    keep: usize,
    /// Basis V, M-orthonormal, and M V.
    basis: Columns,
    basis_m: Columns,
    /// Vᵀ M (K − σM)⁻¹ M V for the expanded columns.
    projected: Mat<f64>,
    /// Columns to which the operator has been applied.
    expanded: usize,
    /// Columns of the block that comes next.
    pending: usize,
    /// What the last application left outside the basis: its coefficients on the pending block.
    coupling: Mat<f64>,
    coupled_from: usize,
    stream: u64,
    pub(super) solves: usize,
    pub(super) restarts: usize,
}

/// Ritz pairs of one moment, largest |θ| first.
pub(super) struct Ritz {
    pub(super) theta: Vec<f64>,
    pub(super) residual: Vec<f64>,
    /// Coefficients on the basis.
    coefficients: Mat<f64>,
}

/// Columns of a basis of n unknowns that `need` modes are sought in.
pub(super) fn capacity(n: usize, block: usize, need: usize) -> usize {
    (2 * need + 8 * block).max(need + 5 * block).min(n)
}

impl<'a> Lanczos<'a> {
    /// Starts, with room for `need` modes, from a fixed pseudo-random block, once filtered by the operator.
    pub(super) fn new(
        pencil: &'a Pencil,
        factor: &Factor<'_>,
        block: usize,
        need: usize,
    ) -> Result<Self, SpectrumError> {
        let n = pencil.len();
        let block = block.clamp(1, n);
        let (keep, capacity) = (need + 2 * block, capacity(n, block, need));
        let mut lanczos = Self {
            pencil,
            block,
            capacity,
            keep,
            basis: Columns::zeros(n, capacity),
            basis_m: Columns::zeros(n, capacity),
            projected: Mat::zeros(capacity, capacity),
            expanded: 0,
            pending: 0,
            coupling: Mat::zeros(0, 0),
            coupled_from: 0,
            stream: 1,
            solves: 0,
            restarts: 0,
        };
        lanczos.add_random(factor)?;
        Ok(lanczos)
    }

    /// Asks for more Ritz pairs than first thought.
    pub(super) fn want_more(&mut self, keep: usize) {
        self.keep = self.keep.max(keep);
        self.reserve(self.keep + self.keep / 2 + 4 * self.block.max(self.pending));
    }

    fn reserve(&mut self, capacity: usize) {
        let capacity = capacity.min(self.pencil.len());
        if capacity > self.capacity {
            self.basis.widen(capacity);
            self.basis_m.widen(capacity);
            self.projected.resize_with(capacity, capacity, |_, _| 0.0);
            self.capacity = capacity;
        }
    }

    /// True when the basis spans the whole space.
    pub(super) fn exhausted(&self) -> bool {
        self.pending == 0
    }

    /// Applies the operator to the pending block and orthogonalises the result into the next one.
    pub(super) fn expand(&mut self, factor: &Factor<'_>) -> Result<(), SpectrumError> {
        if self.expanded + 2 * self.pending > self.capacity && self.capacity < self.pencil.len() {
            self.restart(self.keep.min(self.capacity.saturating_sub(3 * self.pending)))?;
        }
        let (from, width) = (self.expanded, self.pending);
        let filled = from + width;
        let mut w = self.basis_m.of(from, width).to_owned();
        factor.solve(w.as_mut());
        self.solves += 1;
        let (coefficients, left, size) = self.orthogonalise(w, filled)?;
        for j in 0..width {
            for i in 0..from {
                self.projected[(i, from + j)] = coefficients[(i, j)];
                self.projected[(from + j, i)] = coefficients[(i, j)];
            }
            // The diagonal block is symmetric up to round-off.
            for i in 0..width {
                let mean = 0.5 * (coefficients[(from + i, j)] + coefficients[(from + j, i)]);
                self.projected[(from + i, from + j)] = mean;
            }
        }
        self.coupled_from = from;
        self.coupling = left;
        self.expanded = filled;
        self.pending = size;
        self.fill_pending(factor, self.block)
    }

    /// Orthogonalises `w` against the first `filled` columns and itself, stores what is left behind them.
    /// Returns the coefficients on the basis, those on the new columns, and how many columns there are.
    fn orthogonalise(&mut self, mut w: Mat<f64>, filled: usize) -> Result<(Mat<f64>, Mat<f64>, usize), SpectrumError> {
        let (n, width) = (w.nrows(), w.ncols());
        let room = self.pencil.len().min(self.capacity) - filled;
        let ((v, mut new), (mv, mut new_m)) = (self.basis.split(filled), self.basis_m.split(filled));
        let mut coefficients = inner(mv, w.as_ref());
        subtract(w.as_mut(), v, coefficients.as_ref());
        let largest = (0..width).map(|j| coefficients.col(j).norm_l2()).fold(0.0, f64::max);
        let mut floor = NOISE * largest;
        let mut back = Mat::<f64>::identity(width, width);
        // The second projection removes what rounding left of the first. More are needed only where the block itself
        // is nearly dependent: taking it apart magnifies what is left.
        loop {
            let again = inner(mv, w.as_ref());
            subtract(w.as_mut(), v, again.as_ref());
            coefficients += product(again.as_ref(), back.as_ref());
            let mut mw = Mat::zeros(n, w.ncols());
            self.pencil.multiply(Which::M, w.as_ref(), mw.as_mut());
            let gram = inner(w.as_ref(), mw.as_ref());
            let clean = (0..w.ncols()).all(|j| gram[(j, j)] > (CLEAN * largest).powi(2));
            let (combine, next_back, smallest) = orthonormal_directions(gram.as_ref(), floor)?;
            let rank = combine.ncols().min(room);
            let combine = combine.subcols(0, rank);
            back = product(next_back.subrows(0, rank), back.as_ref());
            if rank == 0 || (clean && smallest > INDEPENDENT) || floor == AGAIN {
                new.rb_mut().subcols_mut(0, rank).copy_from(product(w.as_ref(), combine));
                new_m.rb_mut().subcols_mut(0, rank).copy_from(product(mw.as_ref(), combine));
                return Ok((coefficients, back, rank));
            }
            w = product(w.as_ref(), combine);
            // Now normalised: what vanishes this time was nothing but rounding.
            floor = AGAIN;
        }
    }

    /// Brings the pending block to `wanted` columns with random ones, as far as the space goes.
    fn fill_pending(&mut self, factor: &Factor<'_>, wanted: usize) -> Result<(), SpectrumError> {
        let wanted = wanted.min(self.pencil.len().min(self.capacity).saturating_sub(self.expanded));
        for _ in 0..3 {
            if self.pending >= wanted {
                break;
            }
            let filled = self.expanded + self.pending;
            let mut fresh = self.random(wanted - self.pending);
            // One application of the operator keeps what does not matter small.
            factor.solve(fresh.as_mut());
            self.solves += 1;
            let (_, _, rank) = self.orthogonalise(fresh, filled)?;
            self.pending += rank;
        }
        // New directions are not coupled to what came before.
        let (rows, columns) = (self.coupling.nrows(), self.coupling.ncols());
        let old = std::mem::replace(&mut self.coupling, Mat::zeros(0, 0));
        self.coupling = Mat::from_fn(self.pending, columns, |i, j| if i < rows { old[(i, j)] } else { 0.0 });
        Ok(())
    }

    fn random(&mut self, width: usize) -> Mat<f64> {
        let n = self.pencil.len();
        let stream = self.stream;
        self.stream += width as u64;
        let raw = Mat::from_fn(n, width, |i, j| noise(i as u64, stream + j as u64));
        let mut mass = Mat::zeros(n, width);
        self.pencil.multiply(Which::M, raw.as_ref(), mass.as_mut());
        mass
    }

    /// Adds a new random block to the pending one: finds what the old start was blind to.
    pub(super) fn add_random(&mut self, factor: &Factor<'_>) -> Result<(), SpectrumError> {
        let width = self.pending + self.block;
        if self.expanded + 2 * width > self.capacity && self.capacity < self.pencil.len() {
            self.reserve(self.capacity + 2 * width);
        }
        self.fill_pending(factor, width)
    }

    /// Ritz pairs of the expanded basis.
    pub(super) fn ritz(&self) -> Result<Ritz, SpectrumError> {
        let p = self.expanded;
        let (values, vectors) = eigen(self.projected.submatrix(0, 0, p, p))?;
        let mut by_size: Vec<usize> = (0..p).collect();
        by_size.sort_by(|&a, &b| values[b].abs().total_cmp(&values[a].abs()));
        let coefficients = Mat::from_fn(p, p, |i, j| vectors[(i, by_size[j])]);
        let tail = coefficients.subrows(self.coupled_from, self.coupling.ncols().min(p - self.coupled_from));
        let outside = if self.coupling.nrows() == 0 { Mat::zeros(0, p) } else { product(self.coupling.as_ref(), tail) };
        let residual = (0..p).map(|j| outside.col(j).norm_l2()).collect();
        Ok(Ritz { theta: by_size.iter().map(|&i| values[i]).collect(), residual, coefficients })
    }

    /// The Ritz vectors with the given places.
    pub(super) fn vectors(&self, ritz: &Ritz, places: &[usize]) -> Mat<f64> {
        let chosen = Mat::from_fn(self.expanded, places.len(), |i, j| ritz.coefficients[(i, places[j])]);
        product(self.basis.of(0, self.expanded), chosen.as_ref())
    }

    /// Replaces the basis by its `keep` largest Ritz vectors, followed by the pending block.
    fn restart(&mut self, keep: usize) -> Result<(), SpectrumError> {
        let ritz = self.ritz()?;
        let keep = keep.min(self.expanded);
        let chosen = ritz.coefficients.subcols(0, keep);
        let (from, width) = (self.expanded, self.pending);
        for basis in [&mut self.basis, &mut self.basis_m] {
            let kept = product(basis.of(0, from), chosen);
            let next = basis.of(from, width).to_owned();
            basis.of_mut(0, keep).copy_from(kept);
            basis.of_mut(keep, width).copy_from(next);
        }
        self.projected.fill(0.0);
        for (i, &theta) in ritz.theta.iter().take(keep).enumerate() {
            self.projected[(i, i)] = theta;
        }
        let tail: MatRef<'_, f64> = chosen.subrows(self.coupled_from, self.coupling.ncols());
        self.coupling = product(self.coupling.as_ref(), tail);
        self.coupled_from = 0;
        self.expanded = keep;
        self.restarts += 1;
        Ok(())
    }
}
