//! Beams on shells: modes of a layout, and what a purpose asks for beside them.

use super::beam_shell::beam_shell_model;
use super::bias::Bias;
use super::caution::{LONG, over_beams, without_mirror};
use super::context::SolveContext;
use super::error::ModelError;
use super::input::{Model, ModelInput};
use super::solution::{ModalSolution, Purpose};
use super::stepped::Drawn;
use super::used::{Used, numbers};
use crate::beam_shell::BeamShell;
use crate::modal::{Modal, ModalError, Wanted, base_acceleration, modes};
use crate::state::State;
use modalith_mesher::outline::Finger;
use std::f64::consts::TAU;
use std::sync::Arc;
use std::time::Instant;

/// λ₁² of a clamped-free bar (Blevins, *Formulas for Natural Frequency and Mode Shape*, 1979, table 8-1).
const CLAMPED_FREE: f64 = 1.875_104_07 * 1.875_104_07;

/// The lowest frequency at which a finger would ring on a rigid root, Hz: a clamped-free bar. None without fingers.
fn fingers_ring_hz(input: &ModelInput) -> Option<f64> {
    let of = |finger: &Finger| {
        let [a, b] = finger.root;
        // The finger leaves across its root line.
        let along = (b[0] - a[0]).atan2(a[1] - b[1]).to_degrees();
        let young = input.law.turned_with_layout(-along).youngs_modulus_x_pa();
        let thin = finger.width_um.min(input.thickness_um) * 1e-6;
        let bar = (young / (12.0 * input.law.density_kg_m3)).sqrt() * thin / (finger.length_um * 1e-6).powi(2);
        CLAMPED_FREE / TAU * bar
    };
    input.outline.fingers.iter().map(of).reduce(f64::min)
}

/// What stands in the place of parts of the layout, and where beams are in doubt.
fn statements(input: &ModelInput, model: &BeamShell) -> (Vec<Used>, Vec<String>) {
    let outline = input.outline;
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
    let beams = model.beams();
    let mut used = vec![Used::replacement(format!("flexure {} as Timoshenko beams with root cells", numbers(beams)))];
    if let Some(hz) = fingers_ring_hz(input) {
        used.push(Used::replacement(format!(
            "{} fingers as rigid mass on their root lines: modes in which they bend are not in the list; the lowest of them, clamped, \
             would ring at {:.3} kHz",
            outline.fingers.len(),
            hz * 1e-3
        )));
    }
    if model.filled() > 0 {
        used.push(Used::replacement(format!(
            "{} openings filled and their mass taken off, as holes_below_um asks; what that does to the stiffness is not measured",
            model.filled()
        )));
    }
    let perforated = which(&|i| !is_beam(i) && outline.flexures[i].is_perforated());
    let told = |i: usize| [&perforated, &model.too_short, &model.crowded].iter().any(|list| list.contains(&i));
    let left = which(&|i| !is_beam(i) && !told(i));
    let to_shells = [
        ("has openings", &perforated),
        ("too short for a beam", &left),
        ("a stretch is shorter than what its joints give", &model.too_short),
        ("a corner lies so near to a wall at the root that no mesh takes both", &model.crowded),
    ];
    for (why, flexures) in to_shells.into_iter().filter(|(_, flexures)| !flexures.is_empty()) {
        used.push(Used::fallback(format!("{why}, left to the shells: flexure {}", numbers(flexures))));
    }
    (used, cautions)
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
    let State { structure, bias: at_rest, .. } = input.loads.state(&model.structure, purpose.sought())?;
    let modal = modes(&structure, context.asked(wanted), &|p| context.hear(p))?;
    let sample = |modal: &Modal| {
        let found = model.sample(outline, &context.mesh, modal);
        found.map_err(|e| ModelError::Beams(format!("the beam-shell model does not cover the layout: {e}")))
    };
    let sampled = sample(&modal)?;
    let bias = at_rest.map(|rest| Bias::sampled(rest, &modal, sample)).transpose()?;
    let (used, mut cautions) = statements(input, &model);
    if bias.is_some() {
        cautions.extend(over_beams(outline, &input.loads.electrodes, |i| model.chain_of[i].is_some()));
    }
    let statics = if purpose == Purpose::Rate && !outline.anchors.is_empty() {
        Some(base_acceleration(&structure)?)
    } else {
        None
    };
    let clock = Instant::now();
    let drawn = Drawn { input, context, model: &model, modal: &modal };
    let terms = if purpose.compares() { None } else { drawn.terms()? };
    let terms_s = clock.elapsed().as_secs_f64();
    let solved = ModalSolution::of_structure(Model::BeamShell, modal, sampled).map_err(ModalError::from)?;
    let fingers_ring_hz = fingers_ring_hz(input);
    Ok(ModalSolution { bias, cautions, statics, used, terms, terms_s, fingers_ring_hz, ..solved })
}
