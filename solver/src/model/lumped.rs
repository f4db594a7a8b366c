//! The lumped model of a layout: rigid masses on springs.

use super::caution::lumped_cautions;
use super::error::ModelError;
use super::input::{Model, ModelInput};
use super::solution::{ModalSolution, SolvedSystem};
use super::used::{Used, numbers};
use crate::lumped::{Lumped, Pieces};
use crate::modal::{Seconds, Wanted};
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
    Ok(ModalSolution {
        model: Model::Lumped,
        degrees_of_freedom: model.degrees_of_freedom(),
        search: found.search,
        mesh_errors: Vec::new(),
        seconds: Seconds::default(),
        predicted_bytes: 0,
        bars_s: 0.0,
        sampled,
        modes: found.modes,
        mirrored: Vec::new(),
        coriolis: Some(found.coriolis),
        terms: None,
        terms_s: 0.0,
        flexure_terms: Vec::new(),
        statics: None,
        moving_mass_kg: 0.0,
        total_s: 0.0,
        cautions: lumped_cautions(&model),
        used: vec![replaced],
        system: SolvedSystem::Lumped(Box::new(model)),
        bias: None,
    })
}
