//! A second model of the same layout beside the one that a rate report rests on: by how much the two differ is what is known
//! of the model's error. In: what was solved. Out: the comparison of both.

use crate::command::fault;
use crate::device::Device;
use modalith_solver::model::{ModalSolution, ModelError, ModelInput, SecondModel, root_stiffness};
use modalith_solver::rate::comparison::Comparison;
use modalith_solver::rate::requirements::Because;

/// Solves the second model and pairs off the modes of both.
///
/// # Errors
/// Why there is nothing to compare with, as the reason for which the error of every figure is not known.
pub fn compared(
    solved: &ModalSolution,
    second: Option<Result<SecondModel, ModelError>>,
    (device, input): (&Device, &ModelInput),
) -> Result<Comparison, Because> {
    let Some(second) = second else { return Ok(Comparison::full_law(solved.modes.len())) };
    let other = second.and_then(|second| second.solve(input)).map_err(|error| {
        let error = fault::of_model(device, &error);
        let why = format!("no second model serves this layout ({error}); the solid model has the full law");
        Because::ErrorUnknown(why)
    })?;
    let thickness_m = device.thickness_um * 1e-6;
    let per_area = device.law.density_kg_m3 * thickness_m;
    let mut found = Comparison::new(&solved.seen(), &other.seen(), (per_area, thickness_m))?;
    found.stiffen(&solved.modes, &root_stiffness(input));
    Ok(found)
}
