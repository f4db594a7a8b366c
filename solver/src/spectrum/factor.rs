//! Shift and factor: K − σM = L Lᵀ or L B Lᵀ.
//!
//! In: a pencil, shifts. Out: solves with blocks of vectors, and what the pivots say (how many are negative).
//! The pattern is analysed once, on the union of K and M, and refilled for every shift.
//! Cholesky where K − σM should be positive definite; otherwise Bunch–Kaufman pivoting (Bunch & Kaufman 1977) inside
//! every supernode, so that by Sylvester's law the negative eigenvalues of B count the λ below σ.

use super::error::SpectrumError;
use super::order::{Order, order};
use super::pencil::Pencil;
use super::problem::Problem;
use faer::dyn_stack::{MemBuffer, MemStack, StackReq};
use faer::perm::PermRef;
use faer::sparse::linalg::cholesky::{simplicial, supernodal};
use faer::sparse::{SparseColMatRef, SymbolicSparseColMatRef};
use faer::{Conj, MatMut, Par};

/// The pencil in the order of its factor, and the pattern of the factor.
pub(super) struct Analysis {
    pub(super) pencil: Pencil,
    pub(super) order: Order,
    symbolic: supernodal::SymbolicSupernodalCholesky<u32>,
}

/// How a factor was made.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) enum Kind {
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
    symbolic: &'a supernodal::SymbolicSupernodalCholesky<u32>,
    pub(super) shift: f64,
    pub(super) pivots: Pivots,
    kind: Kind,
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
        let order = order(&problem.pencil, problem.groups.as_deref())?;
        let pencil = problem.pencil.permuted(&order.inverse);
        let symbolic = analyse(&pencil)?;
        Ok(Self { pencil, order, symbolic })
    }

    /// Entries of one factor as stored, zeros of merged supernodes included; eight bytes each.
    pub(super) fn factor_entries(&self) -> usize {
        self.symbolic.len_val()
    }

    /// Factors K − σM; `None` if a Cholesky factor does not exist.
    pub(super) fn factor(&self, shift: f64, kind: Kind) -> Result<Option<Factor<'_>>, SpectrumError> {
        let n = self.pencil.len();
        let shifted: Vec<f64> = self.pencil.k.iter().zip(&self.pencil.m).map(|(k, m)| k - shift * m).collect();
        let pattern = SymbolicSparseColMatRef::new_checked(n, n, &self.pencil.col_ptr, None, &self.pencil.row_idx);
        let matrix = SparseColMatRef::new(pattern, &shifted);
        let mut factor = Factor {
            symbolic: &self.symbolic,
            shift,
            pivots: Pivots { negatives: 0, ratio: 0.0 },
            kind,
            values: vec![0.0; self.symbolic.len_val()],
            subdiagonal: Vec::new(),
            forward: Vec::new(),
            inverse: Vec::new(),
        };
        match kind {
            Kind::Definite => {
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
            Kind::Indefinite => {
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
fn analyse(pencil: &Pencil) -> Result<supernodal::SymbolicSupernodalCholesky<u32>, SpectrumError> {
    let n = pencil.len();
    let inner = |reason: String| SpectrumError::Inner { stage: "symbolic factorization", reason };
    let identity: Vec<u32> = (0..n as u32).collect();
    let upper = pencil.upper_entries(&identity);
    let rows: Vec<u32> = upper.entries.iter().map(|&(row, _)| row).collect();
    let pattern = SymbolicSparseColMatRef::new_checked(n, n, &upper.start, None, &rows);
    let mut buffer = memory(StackReq::any_of(&[
        simplicial::prefactorize_symbolic_cholesky_scratch::<u32>(n, rows.len()),
        supernodal::factorize_supernodal_symbolic_cholesky_scratch::<u32>(n),
    ]))?;
    let stack = MemStack::new(&mut buffer);
    let (mut tree, mut counts) = (vec![0i32; n], vec![0u32; n]);
    let tree = simplicial::prefactorize_symbolic_cholesky(&mut tree, &mut counts, pattern, stack);
    supernodal::factorize_supernodal_symbolic_cholesky(pattern, tree, &counts, stack, Default::default())
        .map_err(|e| inner(e.to_string()))
}

impl Factor<'_> {
    /// Solves (K − σM) x = b in place for every column.
    pub(super) fn solve(&self, mut x: MatMut<'_, f64>) -> Result<(), SpectrumError> {
        let mut buffer = memory(self.symbolic.solve_in_place_scratch::<f64>(x.ncols(), Par::Seq))?;
        let stack = MemStack::new(&mut buffer);
        match self.kind {
            Kind::Definite => supernodal::SupernodalLltRef::new(self.symbolic, &self.values).solve_in_place_with_conj(
                Conj::No,
                x,
                Par::Seq,
                stack,
            ),
            Kind::Indefinite => {
                let perm = PermRef::new_checked(&self.forward, &self.inverse, self.forward.len());
                let factor =
                    supernodal::SupernodalIntranodeLbltRef::new(self.symbolic, &self.values, &self.subdiagonal, perm);
                let mut moved = faer::Mat::zeros(x.nrows(), x.ncols());
                for c in 0..x.ncols() {
                    for (new, &old) in self.forward.iter().enumerate() {
                        moved[(new, c)] = x[(old as usize, c)];
                    }
                }
                factor.solve_in_place_no_numeric_permute_with_conj(Conj::No, moved.as_mut(), Par::Seq, stack);
                for c in 0..x.ncols() {
                    for (new, &old) in self.forward.iter().enumerate() {
                        x[(old as usize, c)] = moved[(new, c)];
                    }
                }
            }
        }
        Ok(())
    }

    /// Reads the block diagonal: 1 × 1 pivots, and 2 × 2 blocks where the subdiagonal is not zero.
    fn read_pivots(&self) -> Pivots {
        let (begin, end) = (self.symbolic.supernode_begin(), self.symbolic.supernode_end());
        let place = self.symbolic.col_ptr_for_val();
        let (mut negatives, mut smallest, mut largest, mut bad) = (0, f64::INFINITY, 0.0_f64, false);
        let mut take = |pivot: f64| {
            bad |= !pivot.is_finite();
            smallest = smallest.min(pivot.abs());
            largest = largest.max(pivot.abs());
            usize::from(pivot < 0.0)
        };
        for s in 0..self.symbolic.n_supernodes() {
            let (first, columns) = (begin[s] as usize, (end[s] - begin[s]) as usize);
            let rows = (place[s + 1] - place[s]) as usize / columns;
            let diagonal = |j: usize| self.values[place[s] as usize + j * rows + j];
            let mut j = 0;
            while j < columns {
                let below = if self.kind == Kind::Indefinite { self.subdiagonal[first + j] } else { 0.0 };
                if below == 0.0 || j + 1 == columns {
                    // A Cholesky factor holds the root of the pivot.
                    let d = diagonal(j);
                    let d = if below == 0.0 { d } else { f64::NAN };
                    negatives += take(if self.kind == Kind::Definite { d * d } else { d });
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
