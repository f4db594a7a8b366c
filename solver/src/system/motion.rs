//! An uncoupled motion of a layer, without its matrices.

use super::{Beams, Layer, Structure, System, Unknowns};

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
    /// The motion that one of a structure's [`Structure::uncoupled`] parts has.
    pub(crate) fn new(structure: &Structure) -> Self {
        let unknowns = structure.unknowns();
        let beams = Beams::new(structure, &unknowns);
        Self { unknowns, layer: structure.layer().clone(), beams }
    }
}

impl System {
    /// Gives up the matrices.
    pub fn into_motion(self, beams: Beams) -> Motion {
        Motion { unknowns: self.unknowns, layer: self.layer, beams }
    }
}
