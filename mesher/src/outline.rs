//! From a drawing to the outline: what is left of the film after union, holes, anchors and edge bias.

mod bodies;
mod build;
pub(crate) mod cut;
mod error;
mod film;
pub(crate) mod marked;
mod masses;
mod narrow;
mod numbered;
mod summary;
pub(crate) mod thin;
mod weld;

pub use bodies::Bodies;
pub(crate) use bodies::{LEVEL_UM, lowest};
pub use error::OutlineError;
pub use summary::Areas;

use crate::geometry::{MirrorAxis, NamedArea, Point, Polygon};

/// What etching does to the drawn edges.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Etch {
    /// How far every etched edge lies outside the drawn one, µm; negative where material is lost. Holes shrink as the
    /// structure grows; anchors do not move.
    pub edge_bias_um: f64,
    /// Material thinner than this, and a gap narrower than it, is an error, µm.
    pub smallest_feature_um: f64,
}

impl Default for Etch {
    fn default() -> Self {
        Self { edge_bias_um: 0.0, smallest_feature_um: 0.05 }
    }
}

/// A connected piece of material that is free to move, µm.
#[derive(Clone, Debug, PartialEq)]
pub struct Part {
    /// Its outline after edge bias; anchor footprints are cut away.
    pub polygon: Polygon,
    /// For every ring of the polygon (outer first) and every segment of it (from point `i` to the next): whether the
    /// segment lies along an anchor.
    pub held: Vec<Vec<bool>>,
}

impl Part {
    /// Openings: rings inside that no anchor fills.
    pub fn openings(&self) -> usize {
        let filled = |ring: usize| self.held.get(ring).is_some_and(|held| !held.is_empty() && held.iter().all(|h| *h));
        (1..=self.polygon.holes.len()).filter(|&ring| !filled(ring)).count()
    }
}

/// A mirror axis of the outline and how far the outline is from having it exactly.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Mirror {
    /// The axis.
    pub axis: MirrorAxis,
    /// Largest distance between the outline and its mirror image, µm.
    pub deviation_um: f64,
}

impl Mirror {
    /// Whether only rounding is left of the deviation: no mask has a grid of a tenth of a nanometre.
    pub fn is_exact(&self) -> bool {
        self.deviation_um < 1e-4
    }
}

/// A slender part of the outline with two ends on wider material, on anchors or on a junction with other flexures. A
/// serpentine or crab-leg is one flexure through its corners.
#[derive(Clone, Debug, PartialEq)]
pub struct Flexure {
    /// The material between its two root lines; areas of different flexures do not overlap.
    pub area: Polygon,
    /// From the middle of `ends[0].root` to the middle of `ends[1].root`, µm. At a corner the point where the middle lines of
    /// the neighbouring legs cross; curved pieces as chords that lie within a thousandth of the width.
    pub centre_line: Vec<Point>,
    /// Width at every point of the centre-line, across it, µm; linear in between.
    pub widths_um: Vec<f64>,
    /// Clear length between the root lines along the centre-line through the corners, µm.
    pub length_um: f64,
    /// Narrowest width between its outer walls, µm.
    pub width_um: f64,
    /// Of a perforated flexure, the narrowest material beside one of its openings, µm; none without openings. No section of a beam
    /// describes a perforated one.
    pub ligament_um: Option<f64>,
    /// Where it starts and where it ends.
    pub ends: [FlexureEnd; 2],
}

impl Flexure {
    /// The narrowest material in it, µm: its width or, where it is perforated, what openings leave of it.
    pub fn narrowest_um(&self) -> f64 {
        self.ligament_um.map_or(self.width_um, |ligament| ligament.min(self.width_um))
    }

    /// Its largest width, µm.
    pub fn widest_um(&self) -> f64 {
        self.widths_um.iter().fold(self.width_um, |widest, w| widest.max(*w))
    }

    /// Whether it has openings.
    pub fn is_perforated(&self) -> bool {
        self.ligament_um.is_some()
    }
}

/// One end of a flexure.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct FlexureEnd {
    /// The root line from corner to corner, µm; where only one side has a corner, square across from it. Going from the first
    /// point to the second, the flexure lies on the left.
    pub root: [Point; 2],
    /// What it is rooted in.
    pub joins: Joins,
}

/// What an end of a flexure is rooted in.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Joins {
    /// An anchor; the root line spans the held edge.
    Anchor,
    /// A named mass, by its number in [`Outline::masses`].
    Mass(usize),
    /// A body without a name.
    Frame,
    /// A junction with other flexures: the number of one of them.
    Flexure(usize),
}

/// A slender part with one free end, such as a comb's finger.
#[derive(Clone, Debug, PartialEq)]
pub struct Finger {
    /// The material from its root line to its tip.
    pub area: Polygon,
    /// Its root line, µm, the finger on the left.
    pub root: [Point; 2],
    /// From the root line to the tip, µm.
    pub length_um: f64,
    /// Narrowest width, µm.
    pub width_um: f64,
}

/// The outline of a device: everything the mesher needs, µm.
#[derive(Clone, Debug, Default, PartialEq)]
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
    /// Flexures, numbered from the lower left.
    pub flexures: Vec<Flexure>,
    /// Comb fingers and the like, from the lower left.
    pub fingers: Vec<Finger>,
    /// Middles of slender strips to anchors over which a named mass lies: they count as parts of it, not as flexures.
    pub covered: Vec<Point>,
    /// Middles of drawn openings that the edge bias fills.
    pub filled: Vec<Point>,
    /// Points in slender strips, no wider than flexures, of which nothing was made: bodies have them as if they were rigid.
    pub unrecognised: Vec<Point>,
}

#[cfg(test)]
mod tests;
