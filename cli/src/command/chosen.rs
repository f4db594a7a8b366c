//! Which model is taken for a layout, and why; where a model does not describe it, the next one, which is said. In: what was asked,
//! device, outline. Out: a model and a reason, and what was fallen back on.

use super::memory::{Memory, Task};
use super::solved::{ModalSolution, SolveContext, without_mirror};
use crate::args::Model;
use crate::device::{AnchorsHeld, Device};
use crate::exit::CommandError;
use crate::output::units::bytes;
use crate::output::used::Used;
use clap::ValueEnum;
use modalith_mesher::outline::{Flexure, Outline};

/// Tall flexures of at least this many times the larger of width and thickness are beams to `auto`.
const BEAM: f64 = 5.0;
/// Thickness over width up to which a shell's twist serves for a short flexure.
const TWICE: f64 = 2.0;
/// More mirror axes than this make a round part, whose pairs of modes are pairs only on a mesh with all its mirrors.
const ROUND: usize = 4;

/// A model and why it was taken.
#[derive(Clone, Debug, PartialEq)]
pub struct Chosen {
    /// The model.
    pub model: Model,
    /// Why, a few words.
    pub reason: String,
    /// Those that come after it, the next first; none where the model was asked for.
    next: Vec<Model>,
    /// What was fallen back on so far.
    refused: Vec<String>,
    /// What was refused for its memory so far, and the bytes that it needs.
    too_large: Vec<(Model, u64)>,
}

/// The name of a model on the command line.
pub fn name(model: Model) -> String {
    model.to_possible_value().map_or_else(String::new, |v| v.get_name().to_owned())
}

impl Chosen {
    /// The model asked for or, for `auto`, the one that the layout asks for. Shells are right where flexures are not taller than
    /// wide, beams where the tall ones are long. Short tall ones, and those with openings, are left to shells
    /// while they are no more than twice as tall as wide; beyond that a shell is too soft in their twist, and only a solid is right.
    pub fn new(asked: Model, device: &Device, outline: &Outline) -> Self {
        if asked != Model::Auto {
            return Self {
                model: asked,
                reason: "asked for".into(),
                next: Vec::new(),
                refused: Vec::new(),
                too_large: Vec::new(),
            };
        }
        let (model, reason) = by_layout(device, outline);
        let all = match model {
            Model::BeamShell => vec![Model::Shell, Model::Solid],
            Model::Solid => vec![Model::BeamShell, Model::Shell],
            _ => vec![Model::BeamShell, Model::Solid],
        };
        Self { model, reason: reason.into(), next: all, refused: Vec::new(), too_large: Vec::new() }
    }

    /// Goes on to the next model where `error` says that this one does not describe the layout or does not fit; gives the error
    /// back where there is none or it says something else.
    ///
    /// # Errors
    /// `error` itself.
    pub fn after(&mut self, error: CommandError) -> Result<(), CommandError> {
        let reason = match &error {
            CommandError::Unfit(e) => format!("{} does not describe this layout: {}", name(self.model), e.what),
            CommandError::Memory { what, needed, .. } => {
                self.too_large.push((self.model, *needed));
                what.clone()
            }
            _ => return Err(error),
        };
        if self.next.is_empty() {
            return Err(self.none_fits().unwrap_or(error));
        }
        let next = self.next.remove(0);
        self.refused.push(reason.clone());
        self.reason = reason;
        self.model = next;
        Ok(())
    }

    /// Where several models were refused for their memory: what each needs, and which needs least.
    fn none_fits(&self) -> Option<CommandError> {
        let (least, needed) = *self.too_large.iter().min_by_key(|(_, needed)| *needed)?;
        if self.too_large.len() < 2 {
            return None;
        }
        let each = |(model, needed): &(Model, u64)| format!("{} needs {}", name(*model), bytes(*needed));
        let all: Vec<String> = self.too_large.iter().map(each).collect();
        let what = format!("no model fits into the memory that is allowed: {}", all.join(", "));
        let hint = format!(
            "nothing was written; raise --memory-limit to {} for {}, or take larger triangles (mesh/largest_um)",
            bytes(needed + needed / 20),
            name(least)
        );
        Some(CommandError::Memory { what, needed, hint })
    }

    /// What the model is solved in, or the next that describes the layout and fits into the budget.
    ///
    /// # Errors
    /// A layout that cannot be meshed, and why no model serves.
    pub fn context(&mut self, task: &Task, memory: Memory) -> Result<SolveContext, CommandError> {
        loop {
            let context = SolveContext { memory, ..SolveContext::of(self.model, task.device, task.outline)? };
            match task.fits(self.model, &context) {
                Ok(()) => return Ok(context),
                Err(error) => self.after(error)?,
            }
        }
    }

    /// The same without a way out: what is solved with it is this model or an error.
    #[must_use]
    pub fn settled(self) -> Self {
        Self { next: Vec::new(), ..self }
    }

    /// Solves under the model, or under the next that describes the layout.
    ///
    /// # Errors
    /// Those of `solve` that the next model does not mend.
    pub fn solve(
        &mut self,
        mut solve: impl FnMut(Model) -> Result<ModalSolution, CommandError>,
    ) -> Result<ModalSolution, CommandError> {
        loop {
            match solve(self.model) {
                Ok(mut solved) => {
                    let taken =
                        |reason: &String| Used::fallback(format!("{reason}; {} was taken instead", name(self.model)));
                    solved.used.splice(0..0, self.refused.iter().map(taken));
                    return Ok(solved);
                }
                Err(error) => self.after(error)?,
            }
        }
    }
}

fn by_layout(device: &Device, outline: &Outline) -> (Model, &'static str) {
    if device.anchors_held == AnchorsHeld::Below && !outline.anchors.is_empty() {
        return (Model::Solid, "anchors held from below");
    }
    if without_mirror(device).is_some() {
        return (Model::Solid, "a crystal cut without a mirror plane along the layer");
    }
    let thickness_um = device.thickness_um;
    let tall = |f: &&Flexure| thickness_um > f.narrowest_um() * (1.0 + 1e-9);
    let tallest = |f: &Flexure| thickness_um / f.narrowest_um();
    let short = |f: &&Flexure| f.length_um < BEAM * f.width_um.max(thickness_um) || f.is_perforated();
    let short_and_tall = outline.flexures.iter().filter(tall).filter(short).map(tallest).fold(0.0, f64::max);
    if outline.flexures.is_empty() && !(outline.unrecognised.is_empty() && outline.covered.is_empty()) {
        // How tall they are against their width is not known.
        (Model::Solid, "slender strips that are not taken for flexures")
    } else if outline.flexures.is_empty() {
        (Model::Shell, "no slender part")
    } else if !outline.flexures.iter().any(|f| tall(&f)) {
        (Model::Shell, "no flexure taller than wide")
    } else if outline.mirrors.len() > ROUND {
        (Model::Shell, "a round part: its pairs need its mirrors exactly")
    } else if short_and_tall == 0.0 {
        (Model::BeamShell, "flexures taller than wide")
    } else {
        let perforated = outline.flexures.iter().any(|f| tall(&f) && f.is_perforated());
        match (short_and_tall <= TWICE, perforated) {
            (true, false) => (Model::Shell, "flexures taller than wide, some too short for beams"),
            (true, true) => (Model::Shell, "flexures taller than wide, some with openings, which no beam has"),
            (false, false) => (Model::Solid, "flexures taller than wide and too short for beams"),
            (false, true) => (Model::Solid, "flexures taller than wide with openings, which no beam has"),
        }
    }
}
