//! What a mask draws for one device, in µm, sorted by purpose: the common result of written-out shapes and of GDSII,
//! and all that [`crate::outline`] needs to know.

use crate::geometry::{NamedArea, Point, Polygon};

/// Where the material of the structural layer is, before etch bias.
#[derive(Clone, Debug, PartialEq)]
pub enum Film {
    /// The mask draws the structure: the polygons are united, then the holes are cut out.
    Drawn {
        /// Structure polygons, possibly overlapping.
        structure: Vec<Polygon>,
        /// Openings cut from the structure, possibly overlapping.
        holes: Vec<Polygon>,
    },
    /// The mask draws what is etched away inside a window; the rest of the window is film. The window's own border is
    /// no etched edge.
    Trenches {
        /// Etched polygons, possibly overlapping.
        trenches: Vec<Polygon>,
        /// Lower-left and upper-right corner, µm.
        window: [Point; 2],
    },
}

/// What holds the device.
#[derive(Clone, Debug, PartialEq)]
pub enum Anchoring {
    /// Footprints bonded to the substrate; each adds itself to the structure where it touches it.
    Drawn(Vec<Polygon>),
    /// What lies farther than this from every etched edge stays bonded, µm.
    LeftByRelease {
        /// Reach of the release etch under the film, µm.
        undercut_um: f64,
    },
    /// Nothing: a part meant to float.
    Free,
}

/// One device as drawn, µm.
#[derive(Clone, Debug, PartialEq)]
pub struct Drawing {
    /// The structural layer.
    pub film: Film,
    /// What holds it.
    pub anchoring: Anchoring,
    /// Named parts whose motion is reported.
    pub masses: Vec<NamedArea>,
    /// Named electrodes; carried along, no part of the structure.
    pub electrodes: Vec<NamedArea>,
}
