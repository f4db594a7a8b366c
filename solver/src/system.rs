//! From mesh and layer to the system: unknowns, stiffness K and mass M. SI units; the mesh is in micrometres.

mod assemble;
mod attachments;
mod beams;
mod element_matrices;
mod fold;
mod hierarchic_estimator;
mod layer;
mod matrices;
mod motion;
mod places;
mod pre_stress;
mod region;
mod structure;
mod supports;
mod unknowns;

pub use assemble::System;
pub use attachments::{Attachments, Chain, End, RigidAppendage};
pub use beams::Beams;
pub use element_matrices::ElementMatrices;
pub use fold::{Fold, Mirrored, Parity};
pub(crate) use hierarchic_estimator::{EnergyFall, Weight, hierarchic_estimator};
pub use layer::Layer;
pub use motion::Motion;
pub use places::{Places, PointSpring};
pub use pre_stress::{FilmStress, PreStress};
pub use region::Regions;
pub use structure::Structure;
pub(crate) use supports::common;
pub use supports::{AddedMass, Supports};
pub use unknowns::Unknowns;

/// Why a mesh and a layer do not make a system.
#[derive(Clone, Debug, PartialEq, thiserror::Error)]
pub enum SystemError {
    /// A curved triangle folds over.
    #[error("triangle {triangle} of the mesh, near ({:.3}, {:.3}) µm, folds over; make the mesh finer there", .at_um[0], .at_um[1])]
    Folded {
        /// Number of the triangle.
        triangle: usize,
        /// Where, µm.
        at_um: [f64; 2],
    },
    /// A thickness that is not positive and finite.
    #[error("thickness {0} µm must be positive")]
    Thickness(f64),
    /// An error bar without an answer: the richer stiffness it is weighed by has a direction without stiffness.
    #[error("no error bar can be given: near ({:.3}, {:.3}) µm the stiffness of a richer element is not positive definite; make the mesh finer there", .at_um[0], .at_um[1])]
    NotDefinite {
        /// Where, µm.
        at_um: [f64; 2],
    },
    /// Nothing left to move.
    #[error("no unknown is left: every point of the mesh is held, or there is no mesh")]
    NothingMoves,
    /// An added mass at a corner that does not exist, or that is not a mass.
    #[error("added mass {kilograms} kg at mesh corner {corner}: the corner must exist and the mass be positive")]
    AddedMass {
        /// Number of the mesh corner.
        corner: u32,
        /// The mass, kg.
        kilograms: f64,
    },
}
