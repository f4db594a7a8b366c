//! Beams on shells: the model of a device, its modes, and what a purpose asks for beside them. In: device, outline, context. Out: as
//! [`super::solved`] has it for all models.

use super::biased;
use super::modes::mesh_size;
use super::solved::{LONG, ModalSolution, Purpose, SolveContext, finish, no_modes, reach_um, without_mirror};
use super::stepped::Drawn;
use crate::device::Device;
use crate::exit::CommandError;
use crate::output::used::{Used, numbers};
use modalith_mesher::mesh::Mesh;
use modalith_mesher::outline::Outline;
use modalith_solver::beam_shell::{BeamShell, Cells, Wishes};
use modalith_solver::electrode::Electrode;
use modalith_solver::modal::{Modal, Wanted, base_acceleration, modes};
use std::sync::Arc;
use std::time::Instant;

/// The beam-shell model of a device.
///
/// # Errors
/// A layout without slender parts, or one that the model cannot be made of.
pub fn beam_shell_model(device: &Device, outline: &Outline, context: &SolveContext) -> Result<BeamShell, CommandError> {
    let constants = device.material.constants().map_err(|e| device.fault("/material", &e.to_string()))?;
    let cells = context.cells.as_deref().map_or(Cells::Own, |table| Cells::Table(table, &constants));
    let wishes = Wishes {
        size: &mesh_size(device),
        holes_below_um: device.holes_below_um,
        cells,
        mesh: context.wide.clone(),
        beams: context.beams.as_deref(),
    };
    BeamShell::new(outline, &device.law, device.thickness_um, wishes).map_err(|e| unfit(device, &e.to_string()))
}

/// The model does not describe the layout.
fn unfit(device: &Device, what: &str) -> CommandError {
    CommandError::unfit(device.error("/layout", what, "the shell or the solid model serves such a layout"))
}

/// The mesh of a model's wide parts moved to the outline of a device whose edges lie `step_um` farther out; `None` where it needs
/// one of its own.
pub fn wide_moved_to(model: &BeamShell, device: &Device, outline: &Outline, step_um: f64) -> Option<Mesh> {
    model.mesh_moved_to(outline, device.holes_below_um, step_um, reach_um(outline, device.thickness_um))
}

/// What stands in the place of parts of the layout.
fn replaced(outline: &Outline, model: &BeamShell) -> Vec<Used> {
    let beams = model.beams();
    let mut used = vec![Used::replacement(format!("flexure {} as Timoshenko beams with root cells", numbers(beams)))];
    let fingers = outline.fingers.len();
    if fingers > 0 {
        used.push(Used::replacement(format!("{fingers} fingers as rigid mass on their root lines")));
    }
    if model.filled() > 0 {
        used.push(Used::replacement(format!(
            "{} openings filled and their mass taken off, as holes_below_um asks; what that does to the stiffness is not measured",
            model.filled()
        )));
    }
    used
}

/// Modes of beams on shells and what the purpose asks for beside them; no error bars, which nobody has judged on them.
///
/// # Errors
/// As [`super::solved::solve`].
pub fn beam_shell(
    purpose: Purpose,
    device: &Device,
    outline: &Outline,
    context: &SolveContext,
    wanted: Wanted,
    electrodes: &[Electrode],
) -> Result<ModalSolution, CommandError> {
    let model = match &context.beam_shell {
        Some(made) => Arc::clone(made),
        None => Arc::new(beam_shell_model(device, outline, context)?),
    };
    let (structure, at_rest) = biased::softened_for(purpose, device, &model.structure, electrodes)?;
    let modal = modes(&structure, context.asked(wanted), &|p| context.hear(p)).map_err(|e| no_modes(device, &e))?;
    let sample = |modal: &Modal| {
        let found = model.sample(outline, &context.mesh, modal);
        found.map_err(|e| unfit(device, &format!("the beam-shell model does not cover the layout: {e}")))
    };
    let sampled = sample(&modal)?;
    let bias = at_rest.map(|rest| rest.sampled(&modal, sample)).transpose()?;
    let size = |i: usize| outline.flexures[i].width_um.max(device.thickness_um);
    let which =
        |wanted: &dyn Fn(usize) -> bool| -> Vec<usize> { (0..outline.flexures.len()).filter(|&i| wanted(i)).collect() };
    let is_beam = |i: usize| model.chain_of[i].is_some();
    let mut cautions: Vec<String> = without_mirror(device).into_iter().collect();
    let short = which(&|i| is_beam(i) && outline.flexures[i].length_um < LONG * size(i));
    if !short.is_empty() {
        cautions.push(format!(
            "shorter than ten times the larger of width and thickness, so that beams are in doubt there: flexure {}; `modalith \
             audit` compares with the solid",
            numbers(&short)
        ));
    }
    let mut used = replaced(outline, &model);
    let perforated = which(&|i| !is_beam(i) && outline.flexures[i].is_perforated());
    if !perforated.is_empty() {
        used.push(Used::fallback(format!("has openings, left to the shells: flexure {}", numbers(&perforated))));
    }
    let told = |i: usize| [&perforated, &model.too_short, &model.crowded].iter().any(|list| list.contains(&i));
    let left = which(&|i| !is_beam(i) && !told(i));
    if !left.is_empty() {
        used.push(Used::fallback(format!("too short for a beam, left to the shells: flexure {}", numbers(&left))));
    }
    if !model.too_short.is_empty() {
        used.push(Used::fallback(format!(
            "a stretch is shorter than what its joints give, left to the shells: flexure {}",
            numbers(&model.too_short)
        )));
    }
    if !model.crowded.is_empty() {
        used.push(Used::fallback(format!(
            "a corner lies so near to a wall at the root that no mesh takes both, left to the shells: flexure {}",
            numbers(&model.crowded)
        )));
    }
    if bias.is_some() {
        cautions.extend(biased::over_beams(outline, electrodes, is_beam));
    }
    let statics = if purpose == Purpose::Rate && !outline.anchors.is_empty() {
        Some(base_acceleration(&structure).map_err(|e| no_modes(device, &e))?)
    } else {
        None
    };
    let clock = Instant::now();
    let drawn = Drawn { device, outline, context, electrodes, model: &model, modal: &modal };
    let terms = if purpose == Purpose::Comparison { None } else { drawn.terms()? };
    let terms_s = clock.elapsed().as_secs_f64();
    let solved = finish("beam-shell", device, modal, sampled, cautions)?;
    Ok(ModalSolution { bias, statics, used, terms, terms_s, ..solved })
}
