//! K x = f: the same scaling, order and factor as for the spectrum, for a few load cases.

use super::error::SpectrumError;
use super::factor::{Analysis, Kind};
use super::problem::Problem;
use faer::Mat;
use nalgebra::DMatrix;
use nalgebra_sparse::CscMatrix;

/// Solves K x = f for every column of `loads`; K symmetric positive definite, `groups` as for [`Problem::new`].
///
/// # Errors
/// A matrix that is not symmetric, and [`SpectrumError::Singular`] where it is not positive definite: something is not
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
    let problem = Problem::new(k, k, groups)?;
    let analysis = Analysis::new(&problem)?;
    let factor = analysis.factor(0.0, Kind::Definite)?.ok_or(SpectrumError::Singular { shift: 0.0 })?;
    let forward = &analysis.order.forward;
    let scale = |new: usize| problem.scale[forward[new] as usize];
    let mut x = Mat::from_fn(k.ncols(), loads.ncols(), |i, c| scale(i) * loads[(forward[i] as usize, c)]);
    factor.solve(x.as_mut());
    let mut out = DMatrix::zeros(k.ncols(), loads.ncols());
    for c in 0..loads.ncols() {
        for (new, &old) in forward.iter().enumerate() {
            out[(old as usize, c)] = scale(new) * x[(new, c)];
        }
    }
    Ok(out)
}
