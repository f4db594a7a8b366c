//! Everything that is meshed in long triangles of its own: plain fingers, and stretches of flexures.

use super::finger::LongFinger;
use super::stretch::{Growing, LongStretch};
use crate::curve::Piece;
use crate::geometry::{Point, Polygon};
use crate::locate::Locator;
use crate::mesh::LongIn;

/// Plain fingers and stretches of flexures.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct LongParts {
    /// Fingers.
    pub fingers: Vec<LongFinger>,
    /// Stretches.
    pub stretches: Vec<LongStretch>,
}

/// How a line along a long part is cut.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum Parts {
    /// Into alike parts no longer than this, µm.
    Even(f64),
    /// Into parts that grow from the ends.
    Growing(Growing),
}

impl Parts {
    /// The line as it is.
    pub const ONE: Self = Self::Even(f64::INFINITY);

    /// Shares at which to cut a piece.
    pub fn shares(&self, piece: &Piece) -> Vec<f64> {
        match self {
            Self::Even(longest) => {
                let parts = (piece.length() / longest).ceil() as usize;
                (1..parts).map(|i| i as f64 / parts as f64).collect()
            }
            Self::Growing(growing) => growing.shares(piece),
        }
    }
}

impl LongParts {
    /// Which of them a point lies in, by number, fingers first.
    pub fn locator(&self) -> Locator {
        let areas = self.fingers.iter().map(|f| &f.area).chain(self.stretches.iter().map(|s| &s.area));
        Locator::new(areas.map(std::slice::from_ref::<Polygon>))
    }

    /// What one of them is.
    pub fn kind(&self, number: usize) -> LongIn {
        if number < self.fingers.len() { LongIn::Finger } else { LongIn::Flexure }
    }

    /// How lines along each of them are cut.
    pub fn parts(&self) -> Vec<Parts> {
        let fingers = self.fingers.iter().map(|f| Parts::Even(f.part_um()));
        fingers.chain(self.stretches.iter().map(|s| Parts::Growing(s.parts))).collect()
    }

    /// The pieces along them, by ring and number: how each is cut, and the width of what is meshed, µm.
    pub fn pieces(&self) -> Vec<([usize; 2], Parts, f64)> {
        let of_finger = |f: &LongFinger| {
            let wall = Parts::Even(f.part_um());
            f.pieces.into_iter().zip([wall, Parts::ONE, wall]).map(|(n, parts)| (n, parts, f.meshed_width)).collect()
        };
        let of_stretch =
            |s: &LongStretch| s.pieces.map(|n| (n, Parts::Growing(s.parts), s.parts.meshed_width)).to_vec();
        let fingers = self.fingers.iter().flat_map(|f| -> Vec<_> { of_finger(f) });
        fingers.chain(self.stretches.iter().flat_map(of_stretch)).collect()
    }

    /// Lines that close them off, and whether these may be cut.
    pub fn lines(&self) -> Vec<([Point; 2], Option<Parts>)> {
        let fingers = self.fingers.iter().flat_map(|f| [(f.root, None), (f.across, Some(Parts::ONE))]);
        let stretches = self.stretches.iter().flat_map(LongStretch::across).map(|line| (line, Some(Parts::ONE)));
        fingers.chain(stretches).collect()
    }

    /// Triangles that they are cut into.
    pub fn triangles(&self) -> usize {
        let fingers: usize = self.fingers.iter().map(LongFinger::triangles).sum();
        fingers + self.stretches.iter().map(LongStretch::triangles).sum::<usize>()
    }
}
