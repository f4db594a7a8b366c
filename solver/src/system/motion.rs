//! An uncoupled motion of a layer, without its matrices.

use super::{Attachments, Beams, Layer, Supports, System, Unknowns};
use modalith_mesher::mesh::Mesh;
use std::sync::Arc;

/// An uncoupled motion of a layer: its fields and its free unknowns, without the matrices.
#[derive(Clone, Debug)]
pub struct Motion {
    /// Which unknown is which.
    pub unknowns: Unknowns,
    /// The layer with the fields of this motion.
    pub layer: Layer,
    /// Beams that hang on the mesh.
    pub beams: Beams,
}

impl Motion {
    /// The motion of a layer on a mesh.
    pub(crate) fn new(mesh: &Mesh, layer: &Layer, supports: &Supports, attachments: &Arc<Attachments>) -> Self {
        let unknowns = Unknowns::new(mesh, layer, supports);
        let beams = Beams::new(mesh, layer, &unknowns, attachments);
        Self { unknowns, layer: layer.clone(), beams }
    }
}

impl System {
    /// Gives up the matrices.
    pub fn into_motion(self, beams: Beams) -> Motion {
        Motion { unknowns: self.unknowns, layer: self.layer, beams }
    }
}
