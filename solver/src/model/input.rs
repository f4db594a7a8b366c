//! What every model is made of.

use crate::material::{Constants, Law};
use crate::state::Loads;
use modalith_mesher::drawing::Drawing;
use modalith_mesher::outline::{Etch, Outline};
use modalith_mesher::sizing::MeshSize;

/// A model of a layout, the cheapest first.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Model {
    /// Rigid masses on springs.
    Lumped,
    /// Flexures as beams on shells.
    BeamShell,
    /// Shells.
    Shell,
    /// Solids.
    Solid,
}

impl Model {
    /// Its name on screens and in files.
    pub fn name(self) -> &'static str {
        match self {
            Self::Lumped => "lumped",
            Self::BeamShell => "beam-shell",
            Self::Shell => "shell",
            Self::Solid => "solid",
        }
    }
}

impl std::fmt::Display for Model {
    fn fmt(&self, f: &mut std::fmt::Formatter) -> std::fmt::Result {
        f.write_str(self.name())
    }
}

/// Which faces of an anchor are held in all directions.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum AnchorsHeld {
    /// The side faces, where the film meets the anchor, through the whole thickness.
    Sides,
    /// The lower face of its footprint; the rest of the anchor moves.
    Below,
}

/// A layout in one layer of one material, with what loads it.
#[derive(Clone, Debug)]
pub struct ModelInput<'a> {
    /// The layout as drawn, µm.
    pub drawing: &'a Drawing,
    /// What etching does to it.
    pub etch: Etch,
    /// The layout as etched, µm.
    pub outline: &'a Outline,
    /// Thickness of the layer, µm.
    pub thickness_um: f64,
    /// The material as given.
    pub constants: Constants,
    /// Its stiffness and density in the layout's axes.
    pub law: Law,
    /// Which faces of its anchors are held.
    pub anchors_held: AnchorsHeld,
    /// Wishes for meshes.
    pub mesh_size: MeshSize,
    /// Openings whose largest extent, corner to corner, is below this are filled in the beam-shell model and their mass is taken
    /// away, µm.
    pub holes_below_um: Option<f64>,
    /// What loads it, SI.
    pub loads: &'a Loads,
}
