//! Terms of what hangs on a mesh, whose matrices are not differentiated: they are made anew a small step to either side and taken
//! between the modes as drawn.
//!
//! A frequency to first order needs no modes but those of the device as drawn (Rayleigh; see [`super`]), so that a step costs a
//! few small matrices and no search. What a central difference leaves falls with the square of the step.

use super::sensitivity::{Elements, ModalSensitivity, Parameter};
use crate::modal::Modal;
use crate::system::{AddedMass, Beams, Structure, SystemError};

/// ΦᵀKΦ and ΦᵀMΦ of beams, rigid appendages and springs alone, s⁻² and 1, for modes of a structure with the same unknowns; `None`
/// where the unknowns differ.
pub fn of_attachments(structure: &Structure, modal: &Modal) -> Option<ModalSensitivity> {
    let parts = structure.uncoupled();
    if parts.len() != modal.motions.len() {
        return None;
    }
    let mut sum = ModalSensitivity::zeros(modal.modes.len());
    for (number, part) in parts.iter().enumerate() {
        if !modal.motion_of.contains(&number) {
            continue;
        }
        let unknowns = part.unknowns();
        let beams = Beams::new(part, &unknowns);
        let places: Vec<usize> = (0..modal.modes.len()).filter(|&i| modal.motion_of[i] == number).collect();
        let shapes: Vec<&[f64]> = places.iter().map(|&i| modal.modes[i].shape.as_slice()).collect();
        if shapes.iter().any(|s| s.len() != unknowns.len() + beams.unknowns()) {
            return None;
        }
        let [stiffness, mass] = beams.between(part.mesh(), part.layer(), &unknowns, &shapes);
        sum.place(&ModalSensitivity { stiffness, mass }, &places);
    }
    Some(sum)
}

/// What small openings that are filled change between modes when their sizes go from the first to the second, both spread over
/// the modes' own mesh: δK and δM, s⁻² and 1.
///
/// # Errors
/// A curved triangle that folds over.
pub fn of_openings(modal: &Modal, [from, to]: [&AddedMass; 2]) -> Result<ModalSensitivity, SystemError> {
    let which: Vec<usize> = (0..modal.modes.len()).collect();
    let all: Vec<usize> = (0..modal.structure.mesh().triangles.len()).collect();
    let mut sensitivities = Elements::new(modal, &which).sensitivities(&all, &[Parameter::Openings([to, from])])?;
    Ok(sensitivities.pop().unwrap_or_else(|| ModalSensitivity::zeros(which.len())))
}

/// The derivative by a parameter from sensitivities a step to either side that lie `apart` in its unit; per that unit.
pub fn central_difference(low: &ModalSensitivity, high: ModalSensitivity, apart: f64) -> ModalSensitivity {
    let mut difference = high;
    difference.stiffness -= &low.stiffness;
    difference.mass -= &low.mass;
    difference *= 1.0 / apart;
    difference
}
