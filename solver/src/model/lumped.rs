//! The lumped model of a layout: rigid masses on springs.

use super::caution::lumped_cautions;
use super::error::ModelError;
use super::input::{Model, ModelInput};
use super::solution::{ModalSolution, SolvedSystem};
use super::used::{Used, numbers};
use crate::lumped::{Lumped, Pieces};
use crate::material::Law;
use crate::modal::Wanted;
use modalith_mesher::mesh::Mesh;
use modalith_mesher::outline::Flexure;

/// A share of stiffness below this is rounding.
const COUPLED: f64 = 1e-9;

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
    let mut used = vec![replaced];
    if let Some(f) = outline.flexures.iter().position(|f| couples_stretch_and_shear(&input.law, f)) {
        used.push(Used::neglected(format!(
            "what the crystal couples of stretching and shear in flexures that do not lie along its axes, such as {}: quadrature that \
             comes from it is missing",
            f + 1
        )));
    }
    let (cautions, unknowns) = (lumped_cautions(&model), model.degrees_of_freedom());
    let system = SolvedSystem::Lumped(Box::new(model));
    let modes = (found.modes, sampled);
    let solved = ModalSolution::bare(Model::Lumped, modes, found.search, unknowns, found.coriolis, system);
    Ok(ModalSolution { cautions, used, ..solved })
}

/// Whether stretching a straight stretch of a flexure shears it.
fn couples_stretch_and_shear(law: &Law, flexure: &Flexure) -> bool {
    flexure.centre_line.windows(2).any(|p| {
        let along = (p[1][1] - p[0][1]).atan2(p[1][0] - p[0][0]).to_degrees();
        let c = law.turned_with_layout(-along).stiffness_pa;
        c[(0, 5)].abs() > COUPLED * c[(0, 0)]
    })
}
