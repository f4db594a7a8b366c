//! What is asked of a mesh's edges.

use crate::curve::Piece;
use crate::geometry::{Point, bounds, distance};

/// Wishes for the mesh.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct MeshSize {
    /// Longest edge allowed, µm; without it an eleventh of the diagonal of the bounding box, some eight elements along
    /// a square plate.
    pub largest_um: Option<f64>,
    /// Elements across a flexure or a web.
    pub across_flexure: u32,
    /// Growth of the size with distance from the wall that asks for it, µm a µm.
    pub grading: f64,
    /// Ratio of the geometric progression towards the corners at the roots of flexures: the edges at the corner are about
    /// this ratio squared times the flexure's width. 1 switches the grading off.
    pub corner_ratio: f64,
}

impl Default for MeshSize {
    fn default() -> Self {
        Self { largest_um: None, across_flexure: 1, grading: 0.75, corner_ratio: 0.2 }
    }
}

impl MeshSize {
    /// The largest size of a mesh within these rings, µm, and the one that it is where nothing is asked for.
    pub(super) fn largest(&self, rings: &[Vec<Piece>]) -> [f64; 2] {
        let corners = rings.iter().flatten().flat_map(|p| [p.at(0.0), p.at(0.25), p.at(0.5), p.at(0.75)]);
        let diagonal = bounds(&corners.collect::<Vec<Point>>()).map_or(1.0, |[a, b]| distance(a, b));
        let coarse = diagonal / 11.0;
        [self.largest_um.filter(|l| *l > 0.0).unwrap_or(coarse).min(diagonal), coarse]
    }
}
