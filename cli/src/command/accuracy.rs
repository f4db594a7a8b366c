//! `--accuracy`: solves, looks at the error bars, makes the mesh finer where they come from, and solves again. Where singular
//! corners lead, the triangles around them are cut in geometric progression; else every element gets one order more.
//!
//! In: the accuracy asked, a share of every frequency. Out: the last solution and the mesh it was found on.

use super::solved::{self, ModalSolution, Purpose, SolveContext};
use crate::args::Model;
use crate::device::Device;
use crate::exit::{CommandError, tell};
use modalith_mesher::outline::Outline;
use modalith_mesher::refine::graded;
use modalith_solver::electrode::Electrode;
use modalith_solver::modal::Wanted;
use modalith_solver::mode::singular_corners;
use std::collections::HashSet;
use std::sync::Arc;

/// Rounds of making it finer.
const ROUNDS: usize = 4;
/// Share of an error from which on singular corners lead.
const LED: f64 = 0.5;

/// The mode farthest from its goal: its error as a share of the frequency, and the share of that from singular corners.
fn worst(solved: &ModalSolution) -> Option<(f64, f64)> {
    let modes = solved.mesh_errors.iter().zip(&solved.modes).filter(|(_, m)| m.frequency_hz > 0.0);
    modes.map(|(e, m)| (e.hz / m.frequency_hz, e.at_corners)).max_by(|a, b| a.0.total_cmp(&b.0))
}

/// Solves until all bars are inside `goal`; says on stderr what it does unless `quiet`, and in the cautions where it falls short.
///
/// # Errors
/// As [`solved::solve`].
pub fn solve(
    goal: f64,
    model: Model,
    (device, outline, electrodes): (&Device, &Outline, &[Electrode]),
    context: &mut SolveContext,
    wanted: Wanted,
    quiet: bool,
) -> Result<ModalSolution, CommandError> {
    let mut rounds = 0;
    loop {
        let mut solved = solved::solve(model, device, outline, context, wanted, Purpose::Modes, electrodes)?;
        if solved.mesh_errors.is_empty() {
            let why = if solved.modes.is_empty() { "no mode was found" } else { "this model has no error bars" };
            solved.cautions.push(format!("{why}: the accuracy asked for was not checked"));
            return Ok(solved);
        }
        let Some((share, at_corners)) = worst(&solved).filter(|w| w.0 > goal) else { return Ok(solved) };
        let widest = format!("widest error bar {:.2e} % of its frequency, {} % asked", 100.0 * share, 100.0 * goal);
        if rounds == ROUNDS {
            solved.cautions.push(format!("accuracy not reached: {widest}"));
            return Ok(solved);
        }
        rounds += 1;
        let step = finer(device, context, at_corners)?;
        if !quiet {
            tell("note", &format!("{widest}: {step}"));
        }
    }
}

/// Makes the mesh or the elements finer, and says how.
fn finer(device: &Device, context: &mut SolveContext, at_corners: f64) -> Result<&'static str, CommandError> {
    if at_corners < LED {
        context.orders_more += 1;
        return Ok("one order more");
    }
    let corners = singular_corners(&context.mesh);
    let (mesh, from) = graded(&context.mesh, &corners, 1).map_err(|e| device.fault("/layout", &e.to_string()))?;
    let held: HashSet<usize> = context.held_below.iter().map(|&t| t as usize).collect();
    context.held_below = (0..from.len()).filter(|&t| held.contains(&from[t])).map(|t| t as u32).collect();
    context.mesh = Arc::new(mesh);
    Ok("finer at corners")
}
