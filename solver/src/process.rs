//! What the process does to the modes, to first order: edges, thickness, material, and the width of single flexures.
//!
//! In: modes and the structure they were found on. Out: δK and δM between modes per unit of each parameter, and from them
//! shifts of frequencies and couplings, Hz and rad²/s².
//!
//! To first order δ(ω²)ᵢ = φᵢᵀ (δK − ωᵢ² δM) φᵢ for modes of unit modal mass (Rayleigh; Fox & Kapoor, AIAA J. 6 (1968) 2426). Element
//! matrices are differentiated along a motion of the mesh, so each term is the exact derivative of the discrete eigenvalue.
//!
//! Limits: linear; members of an exact multiple split by the eigenvalues of their block of [`ModalSensitivity::matrix`], of which the
//! diagonal is the mean; what depends on the process in other ways (stress, wall tilt) is not here.

mod distribution;
mod figures;
mod flexure;
mod motion;
mod sampling;
mod sensitivity;
mod sobol;
mod spread;
mod stepped;
mod steps;
mod terms;
mod variance;

pub use distribution::{Distribution, evenly_spaced, listed};
pub use figures::{Departure, Figures, Values, within};
pub use flexure::{FlexureTerms, flexure_terms};
pub use motion::shifts_by_motion;
pub use sampling::{Correlation, Draw, METHODS, Method, Sampling, combination};
pub use sensitivity::ModalSensitivity;
pub use sobol::MOST as MOST_SOBOL_DIMENSIONS;
pub use spread::{Range, Spread, down_by, up_by};
pub use stepped::{central_difference, of_attachments, of_openings};
pub use steps::Steps;
pub use terms::{FirstOrder, ProcessTerms, process_terms};
pub use variance::{LinearTerm, first_order_share, first_order_shares, linear_moments};

use crate::material::MaterialError;
use crate::system::SystemError;

/// Why there are no first-order terms.
#[derive(Debug, thiserror::Error)]
pub enum ProcessError {
    /// The structure.
    #[error(transparent)]
    System(#[from] SystemError),
    /// A constant that cannot be varied.
    #[error(transparent)]
    Material(#[from] MaterialError),
}

#[cfg(test)]
mod tests;
