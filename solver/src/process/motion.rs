//! What a motion of the mesh's points in the plane does to frequencies, to first order. In: modes, where points go. Out: Hz.

use super::sensitivity::{Elements, Parameter};
use crate::modal::Modal;
use crate::system::SystemError;
use modalith_mesher::motion::MeshMotion;

/// By how much every mode's frequency changes, Hz, as the points of the mesh go where `motion` says, in µm, to first order; stress that is
/// in the structure stays as it is.
///
/// # Errors
/// A curved triangle that folds over.
pub fn shifts_by_motion(modal: &Modal, motion: &MeshMotion) -> Result<Vec<f64>, SystemError> {
    let all: Vec<usize> = (0..modal.modes.len()).collect();
    let triangles = motion.triangles(modal.structure.mesh());
    let found = Elements::new(modal, &all).sensitivities(&triangles, &[Parameter::Edges(motion)])?;
    Ok(modal.modes.iter().enumerate().map(|(i, mode)| found[0].hz(i, mode.frequency_hz)).collect())
}
