//! Why an outline has no mesh, each with the place in µm.

use crate::geometry::Point;
use crate::mesh::MeshError;

/// Why an outline has no mesh.
#[derive(Clone, Debug, PartialEq, thiserror::Error)]
pub enum TriangulateError {
    /// No part, or parts without area.
    #[error("the outline has no free material to mesh")]
    NoMaterial,
    /// A wish that cannot be met.
    #[error("{name} is {value}: it must be positive and finite")]
    Size {
        /// Which wish.
        name: &'static str,
        /// Its value.
        value: f64,
    },
    /// A coordinate that is not finite or too small or large for the triangulation.
    #[error("point {point} of a ring is ({:.3e}, {:.3e}) µm, which cannot be meshed", .at[0], .at[1])]
    Coordinate {
        /// Number of the point within its ring.
        point: usize,
        /// The point, µm.
        at: Point,
    },
    /// Boundaries that cross or touch between their vertices.
    #[error("boundaries cross or touch near ({:.3}, {:.3}) µm", .at[0], .at[1])]
    Crossing {
        /// Near where, µm.
        at: Point,
    },
    /// A boundary with material on its wrong side.
    #[error("the boundary near ({:.3}, {:.3}) µm has material on both sides: a ring is open or runs the wrong way", .at[0], .at[1])]
    Open {
        /// Near where, µm.
        at: Point,
    },
    /// Edges so short everywhere that there would be too many.
    #[error(
        "the mesh would need about {needed} triangles with edges of at most {largest_um} µm; {limit} are allowed. Allow edges of {enough_um} µm"
    )]
    TooFine {
        /// Triangles that it would need.
        needed: usize,
        /// The limit.
        limit: usize,
        /// The size asked for, µm.
        largest_um: f64,
        /// A size that would do, µm.
        enough_um: f64,
    },
    /// More triangles than allowed, for small features.
    #[error("the mesh would need more than {limit} triangles, the smallest of {smallest_um:.4} µm near ({:.3}, {:.3}) µm; draw coarser there, or take features out that do not matter", .at[0], .at[1])]
    TooMany {
        /// The limit.
        limit: usize,
        /// Size of the smallest, µm.
        smallest_um: f64,
        /// Where they are, µm.
        at: Point,
    },
    /// A curved triangle that stays folded.
    #[error("a triangle on a curved wall near ({:.3}, {:.3}) µm is folded over; make the mesh finer there", .at[0], .at[1])]
    Folded {
        /// Near where, µm.
        at: Point,
    },
    /// A mesh that is not the outline; a fault of the mesher.
    #[error("{what} of the mesh near ({:.3}, {:.3}) µm is {mesh:.9e} µm or µm², the outline's {outline:.9e}; no result from it can be trusted, so there is none: please report the layout", .at[0], .at[1])]
    Misfit {
        /// What differs.
        what: &'static str,
        /// Of the mesh, µm or µm².
        mesh: f64,
        /// Of the outline, µm or µm².
        outline: f64,
        /// Near where, µm.
        at: Point,
    },
    /// The pieces do not make a mesh; a fault of the mesher.
    #[error("the triangles do not fit together: {0}")]
    Topology(#[from] MeshError),
}

impl TriangulateError {
    /// Near where it is, µm, where it is somewhere.
    pub fn near(&self) -> Option<Point> {
        match self {
            Self::Coordinate { at, .. }
            | Self::Crossing { at }
            | Self::Open { at }
            | Self::TooMany { at, .. }
            | Self::Folded { at }
            | Self::Misfit { at, .. } => Some(*at),
            Self::NoMaterial | Self::Size { .. } | Self::TooFine { .. } | Self::Topology(_) => None,
        }
    }
}
