//! What is attached to a mesh: flexures as chains of beams on root lines, rigid appendages, springs. SI.

use super::PointSpring;
use crate::joint::chain::{Element, Particle};
use crate::joint::line::{Axis, RootLine};
use crate::section::TractionMoments;
use std::sync::Arc;

/// What an end of a chain hangs on.
#[derive(Clone, Debug)]
pub enum End {
    /// A rigid wall.
    Held,
    /// A root line of the mesh; the section's tractions weigh it.
    On {
        /// The line.
        line: RootLine,
        /// The beam's axes there.
        axis: Axis,
        /// The tractions of the section there.
        tractions: Arc<TractionMoments>,
    },
}

/// A flexure as a chain of beams: element i joins nodes i and i + 1.
#[derive(Clone, Debug)]
pub struct Chain {
    /// Number of the flexure in the outline.
    pub flexure: usize,
    /// Its elements.
    pub elements: Vec<Element>,
    /// Its ends: nodes 0 and last.
    pub ends: [End; 2],
}

/// Something rigid on a root line of the mesh.
#[derive(Clone, Debug)]
pub struct RigidAppendage {
    /// Where it hangs.
    pub end: End,
    /// Its mass points.
    pub particles: Vec<Particle>,
}

/// All that hangs on a mesh.
#[derive(Clone, Debug, Default)]
pub struct Attachments {
    /// Flexures.
    pub chains: Vec<Chain>,
    /// Fingers.
    pub appendages: Vec<RigidAppendage>,
    /// Springs to the ground at places of the mesh; electrostatic ones are negative.
    pub springs: Vec<PointSpring>,
}

impl Attachments {
    /// Whether nothing hangs there.
    pub fn is_empty(&self) -> bool {
        self.chains.is_empty() && self.appendages.is_empty() && self.springs.is_empty()
    }
}
