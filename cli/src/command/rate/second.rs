//! A second model of the same layout beside the one that a rate report rests on: by how much the two differ is what is known
//! of the model's error. In: what was solved. Out: the comparison of both.

use crate::args::Model;
use crate::command::beams::beam_shell_model;
use crate::command::memory::Task;
use crate::command::solved::{ModalSolution, Purpose, SolveContext, solve, without_mirror};
use crate::device::Device;
use crate::exit::CommandError;
use modalith_mesher::outline::Outline;
use modalith_solver::electrode::{Electrode, any_biased};
use modalith_solver::modal::Wanted;
use modalith_solver::rate::comparison::Comparison;
use modalith_solver::rate::requirements::Because;
use std::sync::Arc;

/// Modes beyond those of the first model, so that one which the other places higher is still found.
const MORE: usize = 4;

/// The model to hold the first one against.
fn other(model: &str) -> Option<Model> {
    match model {
        "solid" => None,
        "shell" | "lumped" => Some(Model::BeamShell),
        _ => Some(Model::Shell),
    }
}

/// The other model, laid out and not yet solved.
pub struct Second {
    model: Model,
    context: SolveContext,
}

impl Second {
    /// Lays out the model to hold the first one against, for as many modes as that one has; none where it needs no other. The cells
    /// of beams are solved here, on all processors; the few modes after that leave room for other work beside them.
    ///
    /// # Errors
    /// A layout that the other model does not fit.
    pub fn new(
        first: &ModalSolution,
        device: &Device,
        outline: &Outline,
        context: &SolveContext,
        electrodes: &[Electrode],
    ) -> Option<Result<Self, CommandError>> {
        let model = other(first.model)?;
        if let Some(why) = without_mirror(device) {
            // Both would leave it out: nothing is solved for a difference that does not show it.
            return Some(Err(CommandError::unfit(device.error("/material", why, "take the solid model"))));
        }
        let mut own = SolveContext { memory: context.memory, ..SolveContext::on(context.mesh.clone()) };
        let task = Task { device, outline, wanted: wanted(first), biased: any_biased(electrodes) };
        let made = task.fits(model, &own).and_then(|()| {
            if model == Model::BeamShell {
                own.beam_shell = Some(Arc::new(beam_shell_model(device, outline, &own)?));
            }
            Ok(Self { model, context: own })
        });
        Some(made)
    }

    /// Solves it.
    ///
    /// # Errors
    /// What the other model meets on the way.
    pub fn solve(
        &self,
        first: &ModalSolution,
        device: &Device,
        outline: &Outline,
        electrodes: &[Electrode],
    ) -> Result<ModalSolution, CommandError> {
        solve(self.model, device, outline, &self.context, wanted(first), Purpose::Comparison, electrodes)
    }
}

fn wanted(first: &ModalSolution) -> Wanted {
    Wanted::Lowest(first.modes.len() + MORE)
}

/// Pairs off the modes of both models.
///
/// # Errors
/// Why there is nothing to compare with, as the reason for which the error of every figure is not known.
pub fn compared(
    solved: &ModalSolution,
    other: Option<Result<ModalSolution, CommandError>>,
    device: &Device,
) -> Result<Comparison, Because> {
    let other = match other {
        None => return Ok(Comparison::full_law(solved.modes.len())),
        Some(Err(error)) => {
            let why = format!("no second model serves this layout ({error}); the solid model has the full law");
            return Err(Because::ErrorUnknown(why));
        }
        Some(Ok(other)) => other,
    };
    let thickness_m = device.thickness_um * 1e-6;
    Comparison::new(&solved.seen(), &other.seen(), (device.law.density_kg_m3 * thickness_m, thickness_m))
}
