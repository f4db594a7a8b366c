//! Why a layout has no beam-shell model.

use crate::element::beam::BeamError;
use crate::joint::cell::CellError;
use crate::section::SectionError;
use modalith_mesher::geometry::Point;
use modalith_mesher::triangulate::TriangulateError;

/// Least clear length of a beam, in units of the larger of width and thickness.
pub const SLENDER: f64 = 4.0;

/// Why there is no beam-shell model.
#[derive(Debug, thiserror::Error)]
pub enum BeamShellError {
    /// No flexure is long enough and without openings.
    #[error(
        "no flexure without openings was found that is {SLENDER} times as long as it is wide and thick: there is nothing to model as a beam"
    )]
    NoBeams,
    /// A flexure that is to be a beam is not there: the layout is another one.
    #[error("flexure {number}, a beam in the model that this one is compared with, was not found")]
    NoFlexure {
        /// Number of the flexure, from 1.
        number: usize,
    },
    /// The wide parts cannot be meshed.
    #[error(transparent)]
    Mesh(#[from] TriangulateError),
    /// A section.
    #[error(transparent)]
    Section(#[from] SectionError),
    /// A root cell.
    #[error(transparent)]
    Cell(#[from] CellError),
    /// A beam that its joints use up.
    #[error("flexure {number}: {source}")]
    TooShort {
        /// Number of the flexure, from 1.
        number: usize,
        /// What is wrong.
        source: BeamError,
    },
    /// A joint that nobody solved: it is not rigid.
    #[error("flexure {number}: the flexibility of its root or corner near ({:.3}, {:.3}) µm is missing", .at[0], .at[1])]
    Joint {
        /// Number of the flexure, from 1.
        number: usize,
        /// Where, µm.
        at: Point,
    },
    /// The mesh does not follow a root line.
    #[error("the mesh of the wide parts does not follow the root of flexure {number} near ({:.3}, {:.3}) µm", .at[0], .at[1])]
    Root {
        /// Number of the flexure, from 1.
        number: usize,
        /// Middle of the root line, µm.
        at: Point,
    },
}
