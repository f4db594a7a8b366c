//! Beams on shells: modes of a layout, and what a purpose asks for beside them.

use super::beam_shell::beam_shell_model;
use super::caution::{LONG, over_beams, without_mirror};
use super::context::SolveContext;
use super::error::ModelError;
use super::input::{Model, ModelInput};
use super::solution::{ModalSolution, Purpose};
use super::stepped::Drawn;
use super::used::{Used, numbers};
use crate::beam_shell::BeamShell;
use crate::electrode::softened;
use crate::modal::{Modal, ModalError, Wanted, base_acceleration, modes};
use modalith_mesher::outline::Outline;
use std::sync::Arc;
use std::time::Instant;

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
/// As [`super::solve()`].
pub(super) fn beam_shell(
    input: &ModelInput,
    context: &SolveContext,
    wanted: Wanted,
    purpose: Purpose,
) -> Result<ModalSolution, ModelError> {
    let outline = input.outline;
    let model = match &context.beam_shell {
        Some(made) => Arc::clone(made),
        None => Arc::new(beam_shell_model(input, context)?),
    };
    let (structure, at_rest) = softened(&model.structure, input.electrodes, purpose.sought())?;
    let modal = modes(&structure, context.asked(wanted), &|p| context.hear(p))?;
    let sample = |modal: &Modal| {
        let found = model.sample(outline, &context.mesh, modal);
        found.map_err(|e| ModelError::Beams(format!("the beam-shell model does not cover the layout: {e}")))
    };
    let sampled = sample(&modal)?;
    let bias = at_rest.map(|rest| rest.sampled(&modal, sample)).transpose()?;
    let size = |i: usize| outline.flexures[i].width_um.max(input.thickness_um);
    let which =
        |wanted: &dyn Fn(usize) -> bool| -> Vec<usize> { (0..outline.flexures.len()).filter(|&i| wanted(i)).collect() };
    let is_beam = |i: usize| model.chain_of[i].is_some();
    let mut cautions: Vec<String> = without_mirror(&input.law).into_iter().collect();
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
        cautions.extend(over_beams(outline, input.electrodes, is_beam));
    }
    let statics = if purpose == Purpose::Rate && !outline.anchors.is_empty() {
        Some(base_acceleration(&structure)?)
    } else {
        None
    };
    let clock = Instant::now();
    let drawn = Drawn { input, context, model: &model, modal: &modal };
    let terms = if purpose == Purpose::Comparison { None } else { drawn.terms()? };
    let terms_s = clock.elapsed().as_secs_f64();
    let solved = ModalSolution::of_structure(Model::BeamShell, modal, sampled).map_err(ModalError::from)?;
    Ok(ModalSolution { bias, cautions, statics, used, terms, terms_s, ..solved })
}
