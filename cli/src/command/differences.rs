//! First-order terms of beams on shells, by solving the device again a small step away: sections, root cells and averaged root lines
//! follow the process too. In: device, outline, the modes as drawn. Out: terms of every mode.
//!
//! Steps are one-sided: 0.5 % of the narrowest flexure's width, 0.2 % of thickness and constants. What they miss, the curve's
//! second order, is a few tenths of a percent of the term; mesh and root cells move with the step. Modes are told apart by their
//! shapes.

use super::audit::ALIKE;
use super::beams::{beam_shell, wide_moved_to};
use super::solved::{Ground, Purpose, Solved, moved_by_um};
use crate::device::Device;
use crate::exit::Stop;
use modalith_mesher::mesh::Mesh;
use modalith_mesher::outline::Outline;
use modalith_solver::beam_shell::BeamShell;
use modalith_solver::electrode::Electrode;
use modalith_solver::material::Constants;
use modalith_solver::modal::Wanted;
use modalith_solver::mode::{Model as Compared, PointWeights, matching};
use modalith_solver::process::{Differences, ProcessTerms};

/// Share of the narrowest flexure's width by which each of its edges moves.
const EDGE: f64 = 0.0025;
/// Relative step of thickness and constants.
const STEP: f64 = 0.002;
/// Modes this near to each other, relative, are a pair whose shapes turn within it at the least step; it shifts as a whole.
const PAIR: f64 = 1e-5;
/// Modes beyond those looked at, so that one which moves up is still found.
const MORE: usize = 2;

/// What is changed.
enum Step {
    Edges(f64),
    Thickness(f64),
    Constant(Constants),
}

/// Terms of `solved`, which `beam_shell` found; none where a mode is not found again.
///
/// # Errors
/// What solving a changed device meets.
pub fn terms(
    device: &Device,
    outline: &Outline,
    ground: &Ground,
    electrodes: &[Electrode],
    solved: &Solved,
    model: &BeamShell,
) -> Result<Option<ProcessTerms>, Stop> {
    let constants = device.material.constants().map_err(|e| device.fault("/material", &e.to_string()))?;
    let names = constants.names();
    let elastic = names.len() - 1;
    let narrowest = outline.flexures.iter().map(|f| f.width_um).fold(f64::INFINITY, f64::min);
    let edge_um = EDGE * narrowest;
    let thicker_um = STEP * device.thickness_um;
    let mut steps = vec![Step::Edges(edge_um), Step::Thickness(thicker_um)];
    // The last of them follows from the others: ω² is linear in the stiffness as a whole. An isotropic one needs its
    // Poisson's ratio alone.
    let isotropic = matches!(constants, Constants::Isotropic { .. });
    let differenced = if isotropic { 1..elastic } else { 0..elastic - 1 };
    // Upwards, but for a constant at the upper end of what is stable.
    let share = |k: usize| if constants.scaled(k, 1.0 + STEP).law().is_ok() { STEP } else { -STEP };
    steps.extend(differenced.clone().map(|k| Step::Constant(constants.scaled(k, 1.0 + share(k)))));
    let frequency_hz = solved.frequencies_hz();
    let of = |step: &Step| shifted(device, outline, ground, electrodes, solved, (step, model));
    // A table of cells waits for cells that others solve: two steps on one worker would wait for each other.
    let found: Vec<Option<Vec<f64>>> = steps.iter().map(of).collect::<Result<_, Stop>>()?;
    let Some(found) = found.into_iter().collect::<Option<Vec<Vec<f64>>>>() else { return Ok(None) };
    let per = |shifts: &[f64], unit: f64| shifts.iter().map(|s| s / unit).collect::<Vec<f64>>();
    let per_percent: Vec<Vec<f64>> =
        found[2..].iter().zip(differenced.clone()).map(|(shifts, k)| per(shifts, 100.0 * share(k))).collect();
    let mut by_name: Vec<(&'static str, Vec<f64>)> = Vec::new();
    for (k, name) in names.iter().enumerate().take(elastic) {
        let own = differenced.clone().position(|d| d == k);
        // One percent of all moduli is half a percent of every frequency.
        let rest = |i: usize| {
            let others: f64 = if isotropic { 0.0 } else { per_percent.iter().map(|f| f[i]).sum::<f64>() };
            frequency_hz[i] * 0.005 - others
        };
        let shifts = match own {
            Some(place) => per_percent[place].clone(),
            None => (0..frequency_hz.len()).map(rest).collect(),
        };
        by_name.push((name, shifts));
    }
    by_name.push((names[elastic], frequency_hz.iter().map(|f| -0.005 * f).collect()));
    let found =
        Differences { edge_bias: per(&found[0], edge_um), thickness: per(&found[1], thicker_um), constants: by_name };
    Ok(Some(found.terms(frequency_hz)))
}

/// By how much every mode of `solved` moves with a step, Hz.
fn shifted(
    device: &Device,
    outline: &Outline,
    ground: &Ground,
    electrodes: &[Electrode],
    solved: &Solved,
    (step, model): (&Step, &BeamShell),
) -> Result<Option<Vec<f64>>, Stop> {
    let mut changed = device.clone();
    let (mut moved, mut wide) = (None, Some(model.mesh.clone()));
    match step {
        Step::Edges(um) => {
            changed.edge_bias_um += um;
            let (drawing, _) = changed.drawing()?;
            let mut wider = changed.outline(&drawing)?;
            wider.number_like(outline, moved_by_um(*um));
            wide = wide_moved_to(model, &changed, &wider, *um);
            moved = Some(wider);
        }
        Step::Thickness(um) => changed.thickness_um += um,
        Step::Constant(constants) => {
            changed.law = constants.law().map_err(|e| device.fault("/material", &e.to_string()))?;
        }
    }
    let count = solved.modes.len();
    let (here, wanted) = (moved.as_ref().unwrap_or(outline), Wanted::Lowest(count + MORE));
    // A flexure that is a beam stays one.
    let beams = Some(model.beams().to_vec());
    let ground =
        Ground { mesh: ground.mesh.clone(), cells: ground.cells.clone(), wide, beams, ..Ground::on(Mesh::default()) };
    let made = beam_shell(Purpose::Comparison, &changed, here, &ground, wanted, electrodes)?;
    let thickness_m = device.thickness_um * 1e-6;
    let weights = PointWeights::of_cells(&solved.sampled, device.law.density_kg_m3 * thickness_m, thickness_m);
    let (before, after) = (solved.frequencies_hz(), made.frequencies_hz());
    let (first, second) = (solved.shapes(), made.shapes());
    let pairs = matching(
        &Compared { frequency_hz: &before, shapes: &first },
        &Compared { frequency_hz: &after, shapes: &second },
        &weights,
        PAIR,
    );
    let mut shifts = vec![None; count];
    for pair in pairs.into_iter().filter(|p| p.mac >= ALIKE) {
        shifts[pair.first] = Some(after[pair.second] - before[pair.first]);
    }
    Ok(shifts.into_iter().collect())
}
