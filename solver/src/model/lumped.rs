//! The lumped model of a layout: rigid masses on springs.

use super::caution::lumped_cautions;
use super::error::ModelError;
use super::input::{Model, ModelInput};
use super::solution::{ModalSolution, SolvedSystem};
use super::used::{Used, numbers};
use crate::lumped::{Lumped, Pieces};
use crate::modal::Wanted;
use modalith_mesher::mesh::Mesh;

/// Modes of rigid masses on springs, sampled on a mesh of the whole layout.
///
/// # Errors
/// A layout that the model does not describe, and a spectrum that is not found.
pub(super) fn lumped(input: &ModelInput, mesh: &Mesh, wanted: Wanted) -> Result<ModalSolution, ModelError> {
    let outline = input.outline;
    let model = Lumped::new(Pieces::of(outline)?, &input.law, input.thickness_um, true)?;
    let found = model.modes(&model.named(&outline.masses, input.law.density_kg_m3), wanted)?;
    let sampled = model.sample(mesh, &found.modes);
    let all: Vec<usize> = (0..outline.flexures.len()).collect();
    let replaced = Used::replacement(format!("flexure {} as springs, everything else as rigid masses", numbers(&all)));
    let (cautions, unknowns) = (lumped_cautions(&model), model.degrees_of_freedom());
    let system = SolvedSystem::Lumped(Box::new(model));
    let modes = (found.modes, sampled);
    let solved = ModalSolution::bare(Model::Lumped, modes, found.search, unknowns, found.coriolis, system);
    Ok(ModalSolution { cautions, used: vec![replaced], ..solved })
}
