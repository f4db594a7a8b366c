//! How much memory a run may take: the budget asked for, within which models are chosen, so that answers do not depend on the machine;
//! what the machine has free can only refuse. In: the budget, what the system tells, forecasts. Out: what fits, or why it does not.

use super::beams::beam_shell_model;
use super::chosen;
use super::solved::{SolveContext, no_modes};
use crate::args::Model;
use crate::device::Device;
use crate::exit::{CommandError, tell};
use crate::output::units::bytes;
use modalith_mesher::outline::Outline;
use modalith_solver::modal::{Wanted, forecast};
use modalith_solver::spectrum::Progress;

/// The budget where nobody asks for another, bytes.
pub const BUDGET: u64 = 8_000_000_000;
/// From so many bytes on, what a run needs is said before it starts.
const WORTH_SAYING: usize = 1 << 30;
/// Bytes a triangle of shells and of solids that no mesh was seen to need: three times what perforated plates of 50 000 triangles
/// need. What fits in spite of them needs no forecast.
const MOST_OF_A_SHELL: usize = 300_000;
const MOST_OF_A_SOLID: usize = 3_000_000;
/// Bytes beside systems and search: outline, cells of beams, drawings, freed memory that is kept. No small run was seen to need more.
const ASIDE: u64 = 250_000_000;

/// What a run may take.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Memory {
    /// The budget, bytes.
    pub limit: u64,
    /// Whether what is needed is said on stderr.
    pub said: bool,
}

impl Default for Memory {
    fn default() -> Self {
        Self { limit: BUDGET, said: false }
    }
}

impl Memory {
    /// Bytes that a search may take.
    pub fn room(self) -> Option<usize> {
        usize::try_from(self.limit).ok()
    }

    /// Says what is needed.
    pub fn hear(self, progress: Progress) {
        if let Progress::Planned { bytes: needed } = progress
            && self.said
            && needed >= WORTH_SAYING
        {
            tell("note", &format!("the search for modes will hold up to {}", bytes(needed as u64)));
        }
    }
}

/// A device on the mesh of a model, and what is wanted of it.
#[derive(Clone, Copy)]
pub struct Task<'a> {
    /// The device.
    pub device: &'a Device,
    /// Its outline.
    pub outline: &'a Outline,
    /// The modes.
    pub wanted: Wanted,
    /// Whether electrodes have a bias, so that the whole is solved in one.
    pub biased: bool,
}

impl Task<'_> {
    /// Bytes that the model will need on this context, forecast in seconds; 0 where it surely fits.
    ///
    /// # Errors
    /// A layout that the model does not describe.
    pub fn needed(&self, model: Model, context: &SolveContext) -> Result<u64, CommandError> {
        let Self { device, outline, wanted, biased } = *self;
        let most = if model == Model::Solid { MOST_OF_A_SOLID } else { MOST_OF_A_SHELL };
        let surely = (context.mesh.triangles.len() * most) as u64 + ASIDE <= context.memory.limit;
        if model == Model::Lumped || surely {
            return Ok(0);
        }
        let found = if model == Model::BeamShell {
            let beams = beam_shell_model(device, outline, context)?;
            forecast(&beams.structure, biased, wanted)
        } else {
            forecast(&context.structure(model == Model::Solid, device), biased, wanted)
        };
        Ok(found.map_err(|e| no_modes(device, &e))?.bytes as u64 + ASIDE)
    }

    /// Whether the model fits into the budget, and into what is free.
    ///
    /// # Errors
    /// [`CommandError::Memory`] where it does not fit the budget, and what [`Self::needed`] meets.
    pub fn fits(&self, model: Model, context: &SolveContext) -> Result<(), CommandError> {
        let needed = self.needed(model, context)?;
        let limit = context.memory.limit;
        if needed > limit {
            let what = format!(
                "the {} model needs {} of memory, {} are allowed",
                chosen::name(model),
                bytes(needed),
                bytes(limit)
            );
            return Err(CommandError::Memory { what, needed, hint: self.would_fit(model, context, needed) });
        }
        match available().filter(|free| needed > *free) {
            Some(free) => {
                let (name, needed, free) = (chosen::name(model), bytes(needed), bytes(free));
                let what = format!("the {name} model needs {needed} of memory, {free} are free on this machine");
                Err(CommandError::Other {
                    what,
                    hint: "nothing was written; end other programs, or lower --memory-limit".into(),
                })
            }
            None => Ok(()),
        }
    }

    /// What would fit, a sentence.
    fn would_fit(&self, model: Model, context: &SolveContext, needed: u64) -> String {
        let others = [Model::Solid, Model::Shell, Model::BeamShell].into_iter().filter(|m| *m != model);
        let fit = |m: &Model| {
            let describes = || *m != Model::BeamShell || beam_shell_model(self.device, self.outline, context).is_ok();
            self.needed(*m, context).is_ok_and(|n| n <= context.memory.limit) && describes()
        };
        let names: Vec<String> = others.filter(fit).map(chosen::name).collect();
        let raised = format!("raise --memory-limit to {}", bytes(needed + needed / 20));
        match names.as_slice() {
            [] => format!("nothing was written; {raised}, or take larger triangles (mesh/largest_um)"),
            names => format!("nothing was written; the {} model would fit; or {raised}", names.join(" or the ")),
        }
    }
}

/// Memory that is free, bytes, from `MemAvailable` in `/proc/meminfo`; `None` where the system does not tell.
fn available() -> Option<u64> {
    let text = std::fs::read_to_string("/proc/meminfo").ok()?;
    let line = text.lines().find_map(|l| l.strip_prefix("MemAvailable:"))?;
    let kib: u64 = line.trim().strip_suffix("kB")?.trim().parse().ok()?;
    Some(kib * 1024)
}
