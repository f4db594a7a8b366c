//! One limit for everything that a device draws, checked before anything is drawn.

use super::Device;
use super::electrodes::{CombSizes, ElectrodeKind, PlateArea};
use super::layout::{Held, Layout};
use super::node::Read;
use super::shapes::DrawnShape;
use modalith_mesher::layout::{CHORD_ERROR_UM, MOST_CORNERS};

impl Device {
    /// Corners of all shapes written out, with their copies and images, at most; those of a stream are not among them.
    pub fn written_corners(&self) -> u64 {
        self.written_shapes().map(|s| self.corners_of(s)).fold(0, u64::saturating_add)
    }

    /// Refuses a device of more corners than can be worked with.
    ///
    /// # Errors
    /// With the total, at the shape that has most of them.
    pub fn check_size(&self) -> Read<()> {
        let total = self.written_corners();
        let Some(largest) = self.written_shapes().max_by_key(|s| self.corners_of(s)) else { return Ok(()) };
        if total <= MOST_CORNERS {
            return Ok(());
        }
        let what = format!(
            "the shapes of this device have {total} corners with all copies and images, {} of them here; {MOST_CORNERS} is the most",
            self.corners_of(largest)
        );
        let hint = "draw fewer copies, or round shapes with a larger \"chord_error_um\" in \"layout\"";
        let key = if largest.array.is_some() { "/array" } else { "" };
        Err(self.error(&format!("{}{key}", largest.pointer), what, hint))
    }

    fn corners_of(&self, shape: &DrawnShape) -> u64 {
        shape.most_corners(self.chord_error_um.unwrap_or(CHORD_ERROR_UM))
    }

    /// Every shape of the device file, whatever it is for.
    fn written_shapes(&self) -> impl Iterator<Item = &DrawnShape> {
        let film = match &self.layout {
            Layout::Shapes { structure, holes, held } => {
                let anchors = if let Held::Drawn(anchors) = held { anchors.as_slice() } else { &[] };
                [structure.as_slice(), holes, anchors]
            }
            Layout::Gds(_) => [[].as_slice(); 3],
        };
        let of_electrode = |kind| match kind {
            &ElectrodeKind::Plate { area: PlateArea::Shapes(ref shapes), .. }
            | &ElectrodeKind::Comb { sizes: CombSizes::Drawn(ref shapes), .. } => shapes.as_slice(),
            _ => &[],
        };
        let masses = self.masses.iter().map(|(_, shapes)| shapes.as_slice());
        let electrodes = self.electrodes.iter().map(move |e| of_electrode(&e.kind));
        film.into_iter().chain(masses).chain(electrodes).flatten()
    }
}
