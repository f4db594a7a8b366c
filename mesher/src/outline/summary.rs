//! Areas of an outline by purpose, for telling the user what was understood.

use super::Outline;
use crate::geometry::Polygon;

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
}
