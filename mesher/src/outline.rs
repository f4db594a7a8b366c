//! From a drawing to the outline: what is left of the film after union, holes, anchors and edge bias.

use crate::geometry::{NamedArea, Polygon};
use crate::mesh::MirrorAxis;

/// A connected piece of material that is free to move, µm.
#[derive(Clone, Debug, PartialEq)]
pub struct Part {
    /// Its outline after edge bias; anchor footprints are cut away.
    pub polygon: Polygon,
    /// For every ring of the polygon (outer first) and every segment of it (from point `i` to the next): whether the
    /// segment lies along an anchor.
    pub held: Vec<Vec<bool>>,
}

/// A mirror axis of the outline and how far the outline is from having it exactly.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Mirror {
    /// The axis.
    pub axis: MirrorAxis,
    /// Largest distance between the outline and its mirror image, µm.
    pub deviation_um: f64,
}

/// A slender piece of the outline that may be a flexure.
#[derive(Clone, Debug, PartialEq)]
pub struct Flexure {
    /// Its area, µm.
    pub area: Polygon,
    /// Points along its middle, µm.
    pub centre_line: Vec<[f64; 2]>,
    /// Length along the centre-line, µm.
    pub length_um: f64,
    /// Narrowest width, µm.
    pub width_um: f64,
}

/// The outline of a device: everything the mesher needs, µm.
#[derive(Clone, Debug, PartialEq)]
pub struct Outline {
    /// Connected pieces of free material.
    pub parts: Vec<Part>,
    /// Anchors that hold a part.
    pub anchors: Vec<Polygon>,
    /// Drawn anchors that touch nothing.
    pub idle_anchors: Vec<Polygon>,
    /// Pieces held over their whole area (stators, pads), set aside.
    pub islands: Vec<Polygon>,
    /// Named masses, cut to the parts.
    pub masses: Vec<NamedArea>,
    /// Mirror axes, best first.
    pub mirrors: Vec<Mirror>,
    /// Flexure candidates, numbered from the lower left.
    pub flexures: Vec<Flexure>,
}
