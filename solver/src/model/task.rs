//! Whether a layout fits into its budget under a model, before the work. In: forecasts. Out: what fits, or why it does not.

use super::beam_shell::beam_shell_model;
use super::context::SolveContext;
use super::error::ModelError;
use super::input::{Model, ModelInput};
use crate::modal::{Wanted, forecast};

/// Bytes a triangle of shells and of solids that no mesh was seen to need: three times what perforated plates of 50 000 triangles
/// need. What fits in spite of them needs no forecast.
const MOST_OF_A_SHELL: usize = 300_000;
const MOST_OF_A_SOLID: usize = 3_000_000;
/// Bytes beside systems and search: outline, drawings, freed memory that is kept. No small run was seen to need more.
const ASIDE: u64 = 250_000_000;
/// The same where roots, corners and sections of beams are solved as small solids: a run with 250 MB aside was seen to need 126 MB more.
const ASIDE_OF_BEAMS: u64 = 400_000_000;

/// Bytes beside systems and search.
fn aside(model: Model) -> u64 {
    if model == Model::BeamShell { ASIDE_OF_BEAMS } else { ASIDE }
}

/// A layout and what is wanted of it.
#[derive(Clone, Copy, Debug)]
pub struct Task<'a> {
    /// The layout.
    pub input: &'a ModelInput<'a>,
    /// The modes.
    pub wanted: Wanted,
}

impl Task<'_> {
    /// Bytes that the model will need on this context, forecast in seconds; 0 where it surely fits.
    ///
    /// # Errors
    /// A layout that the model does not describe.
    pub fn needed(&self, model: Model, context: &SolveContext) -> Result<u64, ModelError> {
        let Self { input, wanted } = *self;
        let most = if model == Model::Solid { MOST_OF_A_SOLID } else { MOST_OF_A_SHELL };
        let surely = (context.mesh.triangles.len() * most) as u64 + aside(model) <= context.budget.limit;
        if model == Model::Lumped || (surely && context.orders_more == 0) {
            return Ok(0);
        }
        let structure = if model == Model::BeamShell {
            beam_shell_model(input, context)?.structure
        } else {
            context.structure(model == Model::Solid, input)
        };
        // A bias takes the whole in one.
        let (structure, biased) = (input.loads.laid_on(structure), input.loads.are_biased());
        Ok(forecast(&structure, biased, wanted)?.bytes as u64 + aside(model))
    }

    /// Whether the model fits into the budget, and into what is free.
    ///
    /// # Errors
    /// [`ModelError::TooLarge`], [`ModelError::NotFree`], and what [`Self::needed`] meets.
    pub fn fits(&self, model: Model, context: &SolveContext) -> Result<(), ModelError> {
        let needed = self.needed(model, context)?;
        let limit = context.budget.limit;
        if needed > limit {
            return Err(ModelError::TooLarge { model, needed, limit, fitting: self.fitting(model, context) });
        }
        match (context.budget.free)().filter(|free| needed > *free) {
            Some(free) => Err(ModelError::NotFree { model, needed, free }),
            None => Ok(()),
        }
    }

    /// Other models that would fit.
    fn fitting(&self, model: Model, context: &SolveContext) -> Vec<Model> {
        let others = [Model::Solid, Model::Shell, Model::BeamShell].into_iter().filter(|m| *m != model);
        let fit = |m: &Model| {
            let describes = || *m != Model::BeamShell || beam_shell_model(self.input, context).is_ok();
            self.needed(*m, context).is_ok_and(|n| n <= context.budget.limit) && describes()
        };
        others.filter(fit).collect()
    }
}
