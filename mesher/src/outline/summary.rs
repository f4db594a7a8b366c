//! Areas of an outline by purpose, for telling the user what was understood, and its middle.

use super::Outline;
use crate::geometry::{Point, Polygon, bounds};

/// Areas, µm².
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub struct Areas {
    /// Material free to move.
    pub free_um2: f64,
    /// Anchors that hold it.
    pub anchors_um2: f64,
    /// Anchors that touch nothing.
    pub idle_anchors_um2: f64,
    /// Pieces held altogether and set aside.
    pub islands_um2: f64,
    /// Named masses together.
    pub masses_um2: f64,
}

fn sum<'a>(polygons: impl IntoIterator<Item = &'a Polygon>) -> f64 {
    polygons.into_iter().map(Polygon::area).sum()
}

impl Outline {
    /// Areas by purpose, µm².
    pub fn areas(&self) -> Areas {
        Areas {
            free_um2: sum(self.parts.iter().map(|p| &p.polygon)),
            anchors_um2: sum(&self.anchors),
            idle_anchors_um2: sum(&self.idle_anchors),
            islands_um2: sum(&self.islands),
            masses_um2: sum(self.masses.iter().flat_map(|m| &m.polygons)),
        }
    }

    /// Whether a point, µm, lies on a part that moves; its edges do, to a nanometre.
    pub fn moves_at(&self, at: Point) -> bool {
        self.parts.iter().any(|p| p.polygon.touches(at))
    }

    /// Middle of the bounding box of all parts, µm.
    pub fn middle_um(&self) -> Point {
        let [low, high] = bounds(self.parts.iter().flat_map(|p| &p.polygon.outer)).unwrap_or_default();
        [0, 1].map(|k| 0.5 * (low[k] + high[k]))
    }
}
