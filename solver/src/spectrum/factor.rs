//! Shift and factor: K − σM = L Lᵀ or L B Lᵀ.
//!
//! In: a pencil, shifts. Out: solves with blocks of vectors, and what the pivots say (how many are negative).
//! The pattern is analysed once, on the union of K and M, and refilled for every shift.
//! Cholesky where K − σM should be positive definite; otherwise Bunch–Kaufman pivoting (Bunch & Kaufman 1977) inside
//! every supernode, so that by Sylvester's law the negative eigenvalues of B count the λ below σ.

use super::error::SpectrumError;
use super::order::{Order, order};
use super::pencil::{Lower, Pencil};
use super::problem::Problem;
use super::sweep::{Lanes, Supernode};
use faer::dyn_stack::{MemBuffer, MemStack, StackReq};
use faer::sparse::linalg::cholesky::{simplicial, supernodal};
use faer::sparse::{SparseColMatRef, SymbolicSparseColMatRef};
use faer::{MatMut, Par};
use pulp::{Arch, Simd, WithSimd};
use std::sync::Mutex;

/// The pencil in the order of its factor, and the pattern of the factor.
pub(super) struct Analysis {
    pub(super) pencil: Pencil,
    pub(super) order: Order,
    /// ‖K‖₁ and ‖M‖₁ of the scaled pencil.
    pub(super) norms: (f64, f64),
    symbolic: supernodal::SymbolicSupernodalCholesky<u32>,
    /// The memory of the last factor, for the next one: fresh pages have to be cleared first.
    spare: Mutex<Vec<f64>>,
}

/// How a factor was made.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) enum Factorisation {
    /// L Lᵀ.
    Definite,
    /// L B Lᵀ, pivots inside a supernode.
    Indefinite,
}

/// What the pivots of a factor say.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(super) struct Pivots {
    /// Negative eigenvalues of the block diagonal factor.
    pub(super) negatives: usize,
    /// Smallest over largest size of a pivot; zero or NaN if one of them is.
    pub(super) ratio: f64,
}

/// A numeric factor of K − σM.
pub(super) struct Factor<'a> {
    analysis: &'a Analysis,
    pub(super) shift: f64,
    pub(super) pivots: Pivots,
    kind: Factorisation,
    values: Vec<f64>,
    subdiagonal: Vec<f64>,
    forward: Vec<u32>,
    inverse: Vec<u32>,
}

fn memory(request: StackReq) -> Result<MemBuffer, SpectrumError> {
    MemBuffer::try_new(request)
        .map_err(|_| SpectrumError::Inner { stage: "factorization", reason: "not enough memory".to_owned() })
}

impl Analysis {
    /// Orders the unknowns and finds the pattern of the factor.
    pub(super) fn new(problem: &Problem) -> Result<Self, SpectrumError> {
        let order = order(&problem.pencil.k, problem.groups.as_deref(), problem.entities.as_deref())?;
        let pencil = problem.pencil.permuted(&order.inverse);
        let symbolic = analyse(&pencil.k)?;
        let norms = (pencil.k.norm_one(), pencil.m.norm_one());
        Ok(Self { pencil, order, norms, symbolic, spare: Mutex::default() })
    }

    /// Entries of one factor as stored, zeros of merged supernodes included; eight bytes each.
    pub(super) fn factor_entries(&self) -> usize {
        self.symbolic.len_val()
    }

    /// Whether M has a Cholesky factor.
    pub(super) fn mass_is_positive(&self) -> Result<bool, SpectrumError> {
        let mut mass = vec![0.0; self.pencil.k.values.len()];
        self.pencil.add_mass(&mut mass, 1.0 / self.norms.1);
        Ok(self.factor_values(&mass, 0.0, Factorisation::Definite)?.is_some())
    }

    /// Factors K − σM; `None` if a Cholesky factor does not exist.
    pub(super) fn factor(&self, shift: f64, kind: Factorisation) -> Result<Option<Factor<'_>>, SpectrumError> {
        self.factor_values(&self.pencil.shifted(shift), shift, kind)
    }

    /// Gives up the memory of the last factor.
    pub(super) fn forget(&self) {
        if let Ok(mut spare) = self.spare.lock() {
            *spare = Vec::new();
        }
    }

    /// Memory for a factor, which fills it with zeros itself.
    fn room(&self) -> Vec<f64> {
        let mut values = self.spare.lock().map(|mut spare| std::mem::take(&mut *spare)).unwrap_or_default();
        if values.is_empty() {
            values = vec![0.0; self.symbolic.len_val()];
        }
        values
    }

    // One call of the library with its two scratch spaces, and what is asked of its outcome.
    fn factor_values(
        &self,
        values: &[f64],
        shift: f64,
        kind: Factorisation,
    ) -> Result<Option<Factor<'_>>, SpectrumError> {
        let n = self.pencil.len();
        let pattern = SymbolicSparseColMatRef::new_checked(n, n, &self.pencil.k.col_ptr, None, &self.pencil.k.row_idx);
        let matrix = SparseColMatRef::new(pattern, values);
        let mut factor = Factor {
            analysis: self,
            shift,
            pivots: Pivots { negatives: 0, ratio: 0.0 },
            kind,
            values: self.room(),
            subdiagonal: Vec::new(),
            forward: Vec::new(),
            inverse: Vec::new(),
        };
        match kind {
            Factorisation::Definite => {
                let request = supernodal::factorize_supernodal_numeric_llt_scratch::<u32, f64>(
                    &self.symbolic,
                    Par::Seq,
                    Default::default(),
                );
                let mut buffer = memory(request)?;
                let outcome = supernodal::factorize_supernodal_numeric_llt(
                    &mut factor.values,
                    matrix,
                    Default::default(),
                    &self.symbolic,
                    Par::Seq,
                    MemStack::new(&mut buffer),
                    Default::default(),
                );
                if outcome.is_err() {
                    return Ok(None);
                }
            }
            Factorisation::Indefinite => {
                factor.subdiagonal = vec![0.0; n];
                factor.forward = vec![0; n];
                factor.inverse = vec![0; n];
                let request = supernodal::factorize_supernodal_numeric_intranode_lblt_scratch::<u32, f64>(
                    &self.symbolic,
                    Par::Seq,
                    Default::default(),
                );
                let mut buffer = memory(request)?;
                supernodal::factorize_supernodal_numeric_intranode_lblt(
                    &mut factor.values,
                    &mut factor.subdiagonal,
                    &mut factor.forward,
                    &mut factor.inverse,
                    matrix,
                    &self.symbolic,
                    Par::Seq,
                    MemStack::new(&mut buffer),
                    Default::default(),
                );
            }
        }
        factor.pivots = factor.read_pivots();
        Ok(Some(factor))
    }
}

/// Supernodes of the factor. Merging small ones costs zeros but saves calls.
fn analyse(pattern: &Lower) -> Result<supernodal::SymbolicSupernodalCholesky<u32>, SpectrumError> {
    let n = pattern.len();
    let inner = |reason: String| SpectrumError::Inner { stage: "symbolic factorization", reason };
    let identity: Vec<u32> = (0..n as u32).collect();
    let upper = pattern.upper_entries(&identity);
    let rows: Vec<u32> = upper.entries.iter().map(|&(row, _)| row).collect();
    let upper_pattern = SymbolicSparseColMatRef::new_checked(n, n, &upper.start, None, &rows);
    let mut buffer = memory(StackReq::any_of(&[
        simplicial::prefactorize_symbolic_cholesky_scratch::<u32>(n, rows.len()),
        supernodal::factorize_supernodal_symbolic_cholesky_scratch::<u32>(n),
    ]))?;
    let stack = MemStack::new(&mut buffer);
    let (mut tree, mut counts) = (vec![0i32; n], vec![0u32; n]);
    let tree = simplicial::prefactorize_symbolic_cholesky(&mut tree, &mut counts, upper_pattern, stack);
    supernodal::factorize_supernodal_symbolic_cholesky(upper_pattern, tree, &counts, stack, Default::default())
        .map_err(|e| inner(e.to_string()))
}

/// Both sweeps through a factor, compiled for the processor at hand by whoever dispatches it.
struct Sweeps<'a> {
    factor: &'a Factor<'a>,
    blocks: &'a mut [Vec<Lanes>],
}

impl WithSimd for Sweeps<'_> {
    type Output = ();

    #[inline(always)]
    fn with_simd<S: Simd>(self, _: S) {
        let Self { factor, blocks } = self;
        let mut work = Vec::new();
        let place = |i: u32| if factor.inverse.is_empty() { i as usize } else { factor.inverse[i as usize] as usize };
        // All blocks pass a supernode while its numbers are in the cache: reading the factor is what takes the time.
        for s in 0..factor.analysis.symbolic.n_supernodes() {
            let node = factor.supernode(s);
            for block in blocks.iter_mut() {
                node.forward(block, &mut work, place);
            }
        }
        if factor.kind == Factorisation::Indefinite {
            for block in blocks.iter_mut() {
                factor.solve_pivots(block);
            }
        }
        for s in (0..factor.analysis.symbolic.n_supernodes()).rev() {
            let node = factor.supernode(s);
            for block in blocks.iter_mut() {
                node.backward(block, &mut work, place);
            }
        }
    }
}

impl Drop for Factor<'_> {
    fn drop(&mut self) {
        if let Ok(mut spare) = self.analysis.spare.lock() {
            *spare = std::mem::take(&mut self.values);
        }
    }
}

impl Factor<'_> {
    /// Solves (K − σM) x = b in place for every column.
    pub(super) fn solve(&self, mut x: MatMut<'_, f64>) {
        let source = |i: usize| if self.forward.is_empty() { i } else { self.forward[i] as usize };
        let count = x.ncols();
        let mut blocks: Vec<Vec<Lanes>> = (0..count.div_ceil(4))
            .map(|b| {
                let column = |i: usize, c: usize| if c < count { x[(source(i), c)] } else { 0.0 };
                (0..x.nrows()).map(|i| [0, 1, 2, 3].map(|c| column(i, 4 * b + c))).collect()
            })
            .collect();
        Arch::new().dispatch(Sweeps { factor: self, blocks: &mut blocks });
        for c in 0..count {
            for (i, lanes) in blocks[c / 4].iter().enumerate() {
                x[(source(i), c)] = lanes[c % 4];
            }
        }
    }

    fn supernode(&self, s: usize) -> Supernode<'_> {
        let (begin, end) = (self.analysis.symbolic.supernode_begin(), self.analysis.symbolic.supernode_end());
        let place = self.analysis.symbolic.col_ptr_for_val();
        let rows = self.analysis.symbolic.col_ptr_for_row_idx()[s] as usize;
        let count = self.analysis.symbolic.nnz_per_super()[s] as usize;
        Supernode {
            first: begin[s] as usize,
            columns: (end[s] - begin[s]) as usize,
            below: &self.analysis.symbolic.row_idx()[rows..rows + count],
            values: &self.values[place[s] as usize..place[s + 1] as usize],
            unit: self.kind == Factorisation::Indefinite,
        }
    }

    /// x ← B⁻¹ x, block by block.
    fn solve_pivots(&self, x: &mut [Lanes]) {
        for s in 0..self.analysis.symbolic.n_supernodes() {
            let node = self.supernode(s);
            let stride = node.columns + node.below.len() + 1;
            let mut j = 0;
            while j < node.columns {
                let (i, below) = (node.first + j, self.subdiagonal[node.first + j]);
                let a = node.values[j * stride];
                if below == 0.0 || j + 1 == node.columns {
                    x[i] = x[i].map(|v| v / a);
                    j += 1;
                } else {
                    // Scaled by the off-diagonal, which is the largest of the block.
                    let (a, d) = (a / below, node.values[(j + 1) * stride] / below);
                    let determinant = (a * d - 1.0) * below;
                    let (p, q) = (x[i], x[i + 1]);
                    x[i] = [0, 1, 2, 3].map(|c| (d * p[c] - q[c]) / determinant);
                    x[i + 1] = [0, 1, 2, 3].map(|c| (a * q[c] - p[c]) / determinant);
                    j += 2;
                }
            }
        }
    }

    /// Reads the block diagonal: 1 × 1 pivots, and 2 × 2 blocks where the subdiagonal is not zero.
    fn read_pivots(&self) -> Pivots {
        let (begin, end) = (self.analysis.symbolic.supernode_begin(), self.analysis.symbolic.supernode_end());
        let place = self.analysis.symbolic.col_ptr_for_val();
        let (mut negatives, mut smallest, mut largest, mut bad) = (0, f64::INFINITY, 0.0_f64, false);
        let mut take = |pivot: f64| {
            bad |= !pivot.is_finite();
            smallest = smallest.min(pivot.abs());
            largest = largest.max(pivot.abs());
            usize::from(pivot < 0.0)
        };
        for s in 0..self.analysis.symbolic.n_supernodes() {
            let (first, columns) = (begin[s] as usize, (end[s] - begin[s]) as usize);
            let rows = (place[s + 1] - place[s]) as usize / columns;
            let diagonal = |j: usize| self.values[place[s] as usize + j * rows + j];
            let mut j = 0;
            while j < columns {
                let below = if self.kind == Factorisation::Indefinite { self.subdiagonal[first + j] } else { 0.0 };
                if below == 0.0 || j + 1 == columns {
                    // A Cholesky factor holds the root of the pivot.
                    let d = diagonal(j);
                    let d = if below == 0.0 { d } else { f64::NAN };
                    negatives += take(if self.kind == Factorisation::Definite { d * d } else { d });
                    j += 1;
                } else {
                    let (a, d) = (diagonal(j), diagonal(j + 1));
                    let (mean, half) = (0.5 * (a + d), 0.5 * (a - d));
                    let far = mean + half.hypot(below).copysign(mean);
                    negatives += take(far) + take((a * d - below * below) / far);
                    j += 2;
                }
            }
        }
        Pivots { negatives, ratio: if bad { f64::NAN } else { smallest / largest } }
    }
}
