//! What to take of a cell, and how much of it.

use super::layer::LayerSpec;
use crate::geometry::Point;
use std::collections::BTreeSet;

/// How much a cell may unfold into.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Limits {
    /// Most placements of cells, those outside a window included unless a whole branch lies there.
    pub placements: usize,
    /// Most points of polygons that are kept, with [`POLYGON_COST`] more for each polygon: 16 bytes each.
    pub points: usize,
}

impl Default for Limits {
    /// Ten million placements, and twenty million points (320 MB).
    fn default() -> Self {
        Self { placements: 10_000_000, points: 20_000_000 }
    }
}

/// What a polygon costs beside its points, in points.
pub const POLYGON_COST: usize = 4;

/// What to take of a cell.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Selection<'a> {
    /// Lower-left and upper-right corner, µm: polygons whose bounding box shares area with it are taken whole, texts that
    /// stand in it or on its border are taken. `None` takes everything.
    pub window: Option<[Point; 2]>,
    /// The layers to take; `None` takes all.
    pub layers: Option<&'a BTreeSet<LayerSpec>>,
    /// Largest distance of a round path end from its facets, µm (their corners lie on the circle).
    pub chord_error_um: f64,
    /// How much is unfolded before it is an error.
    pub limits: Limits,
}

impl Default for Selection<'_> {
    fn default() -> Self {
        Self { window: None, layers: None, chord_error_um: 0.005, limits: Limits::default() }
    }
}
