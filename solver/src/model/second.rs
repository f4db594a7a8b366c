//! A second model of the same layout beside the first: by how much the two differ is what is known of the first one's error.

use super::beam_shell::beam_shell_model;
use super::caution::without_mirror;
use super::context::SolveContext;
use super::error::ModelError;
use super::input::{Model, ModelInput};
use super::solution::{ModalSolution, Purpose};
use super::solve::solve;
use super::task::Task;
use crate::modal::Wanted;
use std::sync::Arc;

/// Modes beyond those of the first model, so that one which the other places higher is still found.
const MORE: usize = 4;

/// The model to hold the first one against.
fn other(model: Model) -> Option<Model> {
    match model {
        Model::Solid => None,
        Model::Shell | Model::Lumped => Some(Model::BeamShell),
        Model::BeamShell => Some(Model::Shell),
    }
}

/// The other model, laid out and not yet solved.
pub struct SecondModel {
    model: Model,
    context: SolveContext,
    wanted: Wanted,
}

impl SecondModel {
    /// Lays out the model to hold the first one against, for a few modes more than that one has; none where it needs no other. The cells
    /// of beams are solved here, on all processors; the few modes after that leave room for other work beside them.
    ///
    /// # Errors
    /// A layout that the other model does not fit.
    pub fn new(first: &ModalSolution, input: &ModelInput, context: &SolveContext) -> Option<Result<Self, ModelError>> {
        let model = other(first.model)?;
        if let Some(why) = without_mirror(&input.law) {
            // Both would leave it out: nothing is solved for a difference that does not show it.
            return Some(Err(ModelError::NoMirror(why)));
        }
        let wanted = Wanted::Lowest(first.modes.len() + MORE);
        let mut own = SolveContext { budget: context.budget, ..SolveContext::on(Arc::clone(&context.mesh)) };
        let made = Task { input, wanted }.fits(model, &own).and_then(|()| {
            if model == Model::BeamShell {
                own.beam_shell = Some(Arc::new(beam_shell_model(input, &own)?));
            }
            Ok(Self { model, context: own, wanted })
        });
        Some(made)
    }

    /// Solves it.
    ///
    /// # Errors
    /// What the other model meets on the way.
    pub fn solve(&self, input: &ModelInput) -> Result<ModalSolution, ModelError> {
        solve(self.model, input, &self.context, self.wanted, Purpose::Comparison)
    }
}
