//! A solution as accurate as asked: solves, looks at the error bars, makes the mesh finer where they come from, and solves again. Where singular
//! corners lead, the triangles around them are cut in geometric progression; else every element gets one order more.
//!
//! In: the accuracy asked, a share of every frequency. Out: the last solution and the mesh it was found on.

use super::context::SolveContext;
use super::error::ModelError;
use super::input::{Model, ModelInput};
use super::solution::{ModalSolution, Purpose};
use super::solve::solve;
use super::task::Task;
use crate::modal::Wanted;
use modalith_mesher::mesh::Mesh;
use modalith_mesher::refine::graded;
use modalith_mesher::singular::singular_corners;
use std::collections::HashSet;
use std::sync::Arc;

/// Rounds of making it finer.
const ROUNDS: usize = 4;
/// Share of an error from which on singular corners lead.
const LED: f64 = 0.5;

/// What is made finer of what is solved.
struct Meshed {
    mesh: Arc<Mesh>,
    held_below: Vec<u32>,
    orders_more: usize,
}

impl Meshed {
    fn of(context: &SolveContext) -> Self {
        let (mesh, held_below) = (Arc::clone(&context.mesh), context.held_below.clone());
        Self { mesh, held_below, orders_more: context.orders_more }
    }

    fn give_back(self, context: &mut SolveContext) {
        (context.mesh, context.held_below, context.orders_more) = (self.mesh, self.held_below, self.orders_more);
    }
}

/// The mode farthest from its goal: its error as a share of the frequency, and the share of that from singular corners.
fn worst(solved: &ModalSolution) -> Option<(f64, f64)> {
    let modes = solved.mesh_errors.iter().zip(&solved.modes).filter(|(_, m)| m.frequency_hz > 0.0);
    modes.map(|(e, m)| (e.hz / m.frequency_hz, e.at_corners)).max_by(|a, b| a.0.total_cmp(&b.0))
}

/// Solves until all bars are inside `goal`, a share of every frequency; says what it does, and in the cautions where it falls short.
///
/// # Errors
/// As [`solve`].
pub fn solve_to_accuracy(
    goal: f64,
    (model, input): (Model, &ModelInput),
    context: &mut SolveContext,
    wanted: Wanted,
    say: &dyn Fn(&str),
) -> Result<ModalSolution, ModelError> {
    let mut rounds = 0;
    let mut before: Option<(ModalSolution, Meshed, String)> = None;
    loop {
        // What finer ones need is told before it is taken.
        let fits = if before.is_some() { Task { input, wanted }.fits(model, context) } else { Ok(()) };
        let tried = fits.and_then(|()| solve(model, input, context, wanted, Purpose::Modes));
        let lacks = tried.as_ref().err().and_then(ModelError::memory);
        let mut solved = match (tried, before.take(), lacks) {
            (Err(_), Some((mut reached, own, widest)), Some(bytes)) => {
                let [needed, room] = bytes.map(|b| b as f64 * 1e-9);
                let why = format!("the next finer ones need {needed:.2} GB of memory, {room:.2} are there");
                reached.cautions.push(format!("accuracy not reached: {widest}; {why}"));
                own.give_back(context);
                return Ok(reached);
            }
            (tried, ..) => tried?,
        };
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
        let own = Meshed::of(context);
        let step = finer(context, at_corners)?;
        say(&format!("{widest}: {step}"));
        before = Some((solved, own, widest));
    }
}

/// Makes the mesh or the elements finer, and says how.
fn finer(context: &mut SolveContext, at_corners: f64) -> Result<&'static str, ModelError> {
    if at_corners < LED {
        context.orders_more += 1;
        return Ok("one order more");
    }
    let corners = singular_corners(&context.mesh);
    let (mesh, from) = graded(&context.mesh, &corners, 1)?;
    let held: HashSet<usize> = context.held_below.iter().map(|&t| t as usize).collect();
    context.held_below = (0..from.len()).filter(|&t| held.contains(&from[t])).map(|t| t as u32).collect();
    context.mesh = Arc::new(mesh);
    Ok("finer at corners")
}
