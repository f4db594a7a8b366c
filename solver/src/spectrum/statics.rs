//! K x = f: the same scaling, order and factor as for the spectrum, for a few load cases.

use super::error::SpectrumError;
use super::factor::{Analysis, Factor, Factorisation};
use super::problem::Problem;
use faer::Mat;
use nalgebra::{DMatrix, DVector};
use nalgebra_sparse::CscMatrix;

/// A stiffness matrix, ordered and analysed.
pub struct Compliance {
    problem: Problem,
    analysis: Analysis,
}

/// Its factor: solves as many loads as one likes.
pub struct Factored<'a> {
    compliance: &'a Compliance,
    factor: Factor<'a>,
}

impl Compliance {
    /// Analyses K, n × n and symmetric (its lower triangle is taken), in any unit; `groups` as for [`Problem::new`].
    ///
    /// # Errors
    /// As [`Problem::symmetric`] and [`Self::of`].
    pub fn new(k: &CscMatrix<f64>, groups: Option<&[u32]>) -> Result<Self, SpectrumError> {
        Self::of(Problem::symmetric(k, k, groups)?)
    }

    /// Analyses the K of a problem.
    ///
    /// # Errors
    /// An order or a pattern that cannot be found.
    pub fn of(problem: Problem) -> Result<Self, SpectrumError> {
        let analysis = Analysis::new(&problem)?;
        Ok(Self { problem, analysis })
    }

    /// Factors K.
    ///
    /// # Errors
    /// [`SpectrumError::Singular`] where K is not positive definite: something is not held.
    pub fn factor(&self) -> Result<Factored<'_>, SpectrumError> {
        let factor =
            self.analysis.factor(0.0, Factorisation::Definite)?.ok_or(SpectrumError::Singular { shift: 0.0 })?;
        Ok(Factored { compliance: self, factor })
    }
}

impl Factored<'_> {
    /// Solves K x = f for one load.
    pub fn solve_one(&self, load: &DVector<f64>) -> DVector<f64> {
        self.solve(&DMatrix::from_column_slice(load.len(), 1, load.as_slice())).column(0).into_owned()
    }

    /// Solves K x = f for every column of `loads`.
    pub fn solve(&self, loads: &DMatrix<f64>) -> DMatrix<f64> {
        let Compliance { problem, analysis } = self.compliance;
        let forward = &analysis.order.forward;
        let scale = |new: usize| problem.scale[forward[new] as usize];
        let mut x = Mat::from_fn(loads.nrows(), loads.ncols(), |i, c| scale(i) * loads[(forward[i] as usize, c)]);
        self.factor.solve(x.as_mut());
        let mut out = DMatrix::zeros(loads.nrows(), loads.ncols());
        for c in 0..loads.ncols() {
            for (new, &old) in forward.iter().enumerate() {
                out[(old as usize, c)] = scale(new) * x[(new, c)];
            }
        }
        out
    }
}

/// Whether K is positive definite: the number of negative eigenvalues of K φ = λ M φ is 0. M positive definite.
///
/// # Errors
/// Matrices that are no pencil.
pub fn is_definite(k: &CscMatrix<f64>, m: &CscMatrix<f64>, groups: Option<&[u32]>) -> Result<bool, SpectrumError> {
    let problem = Problem::symmetric(k, m, groups)?;
    Ok(Analysis::new(&problem)?.factor(0.0, Factorisation::Definite)?.is_some())
}

/// Solves K x = f for every column of `loads`; K symmetric positive definite (its lower triangle is taken), `groups` as for
/// [`Problem::new`].
///
/// # Errors
/// As [`Problem::symmetric`], and [`SpectrumError::Singular`] where it is not positive definite: something is not
/// held.
///
/// ```
/// use modalith_solver::spectrum::statics;
/// use nalgebra::DMatrix;
/// use nalgebra_sparse::{CooMatrix, CscMatrix};
/// let mut spring = CooMatrix::new(2, 2);
/// [(0, 0, 3.0), (0, 1, -1.0), (1, 0, -1.0), (1, 1, 1.0)].map(|(i, j, v)| spring.push(i, j, v));
/// let x = statics(&CscMatrix::from(&spring), None, &DMatrix::from_column_slice(2, 1, &[0.0, 2.0]))?;
/// assert!((x[(1, 0)] - 3.0).abs() < 1e-12);
/// # Ok::<(), Box<dyn std::error::Error>>(())
/// ```
pub fn statics(
    k: &CscMatrix<f64>,
    groups: Option<&[u32]>,
    loads: &DMatrix<f64>,
) -> Result<DMatrix<f64>, SpectrumError> {
    Ok(Compliance::new(k, groups)?.factor()?.solve(loads))
}
