//! One way into every model.

use super::beams::beam_shell;
use super::context::SolveContext;
use super::error::ModelError;
use super::input::{Model, ModelInput};
use super::lumped::lumped;
use super::meshed::meshed;
use super::solution::{ModalSolution, Purpose};
use crate::modal::Wanted;
use std::time::Instant;

/// Solves a layout under a model.
///
/// # Errors
/// A layout that the model does not describe, and what every step on the way to its modes meets.
pub fn solve(
    model: Model,
    input: &ModelInput,
    context: &SolveContext,
    wanted: Wanted,
    purpose: Purpose,
) -> Result<ModalSolution, ModelError> {
    lacks_no_load(model, input)?;
    let clock = Instant::now();
    let mut solved = match model {
        Model::Lumped => lumped(input, &context.mesh, wanted)?,
        Model::BeamShell => beam_shell(input, context, wanted, purpose)?,
        Model::Shell | Model::Solid => meshed(model, input, context, wanted, purpose)?,
    };
    solved.moving_mass_kg = context.moving_mass_kg(input);
    solved.total_s = clock.elapsed().as_secs_f64();
    Ok(solved)
}

/// Refuses a model that has no term for a load that acts: the next one may have it.
///
/// # Errors
/// [`ModelError::Load`].
pub(super) fn lacks_no_load(model: Model, input: &ModelInput) -> Result<(), ModelError> {
    let knows_stress = matches!(model, Model::Shell | Model::Solid);
    match input.loads.film_stress() {
        Some(_) if !knows_stress => Err(ModelError::Load { model, load: "film stress" }),
        _ => Ok(()),
    }
}
