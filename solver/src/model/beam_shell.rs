//! Beams on shells: the model of a layout, and how it follows edges that move.

use super::context::{SolveContext, reach_um};
use super::error::ModelError;
use super::input::ModelInput;
use crate::beam_shell::{BeamShell, Cells, Wishes};
use modalith_mesher::mesh::Mesh;

/// The beam-shell model of a layout.
///
/// # Errors
/// [`ModelError::Beams`] for a layout without slender parts, or one that the model cannot be made of.
pub fn beam_shell_model(input: &ModelInput, context: &SolveContext) -> Result<BeamShell, ModelError> {
    let cells = context.cells.as_deref().map_or(Cells::Own, |table| Cells::Table(table, &input.constants));
    let wishes = Wishes {
        size: &input.mesh_size,
        holes_below_um: input.holes_below_um,
        cells,
        mesh: context.wide.clone(),
        beams: context.beams.as_deref(),
    };
    BeamShell::new(input.outline, &input.law, input.thickness_um, wishes).map_err(|e| ModelError::Beams(e.to_string()))
}

/// The mesh of a model's wide parts moved to a layout whose edges lie `step_um` farther out; `None` where it needs one of its own.
pub fn wide_moved_to(model: &BeamShell, input: &ModelInput, step_um: f64) -> Option<Mesh> {
    let reach = reach_um(input.outline, input.thickness_um);
    model.mesh_moved_to(input.outline, input.holes_below_um, step_um, reach)
}
