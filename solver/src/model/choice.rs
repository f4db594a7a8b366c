//! Which model is taken for a layout, and why; where a model does not describe it, the next one.

use super::budget::Budget;
use super::caution::without_mirror;
use super::context::SolveContext;
use super::error::ModelError;
use super::input::{AnchorsHeld, Model, ModelInput};
use super::solution::ModalSolution;
use super::task::Task;
use crate::modal::ModalError;
use modalith_mesher::geometry::{Polygon, Ring, distance};
use modalith_mesher::outline::Flexure;

/// Tall flexures of at least this many times the larger of width and thickness are long enough for beams.
const BEAM: f64 = 5.0;
/// Thickness over width up to which a shell's twist serves for a short flexure.
const TWICE: f64 = 2.0;
/// From this share of the frequency at which a clamped finger rings one on a root that gives may ring.
const RING: f64 = 0.8;
/// More mirror axes than this make a round part, whose pairs of modes are pairs only on a mesh with all its mirrors.
const ROUND: usize = 4;

/// Why a model was taken first.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Why {
    /// The user asked for it.
    Asked,
    /// The layout asks for it, a few words.
    Layout(&'static str),
}

/// Why the next model was gone on to.
#[derive(Clone, Debug, PartialEq, Eq)]
pub enum Refusal {
    /// A model does not describe the layout: why.
    Unfit(Model, String),
    /// A model needs more bytes than are allowed.
    TooLarge {
        /// The model.
        model: Model,
        /// Bytes that it needs.
        needed: u64,
        /// Bytes that are allowed.
        limit: u64,
        /// Whether that came out when its matrices were made, as the need of the search alone.
        at_search: bool,
    },
}

/// A model and why it was taken.
#[derive(Clone, Debug, PartialEq)]
pub struct Choice {
    /// The model.
    pub model: Model,
    /// Why the first one was.
    pub why: Why,
    /// Those that were refused on the way to it.
    pub refused: Vec<Refusal>,
    /// Those that come after it, the next first; none where the model was asked for.
    next: Vec<Model>,
}

impl Choice {
    /// The model that the user asks for, and no other.
    pub fn asked(model: Model) -> Self {
        Self { model, why: Why::Asked, refused: Vec::new(), next: Vec::new() }
    }

    /// The model that the layout asks for. Solids wherever there are flexures: shells and beams are tenths of a percent and more off in their
    /// roots and their twist, by how much no cheap model tells. Shells where nothing is slender and parts are wider than thick. Where solids do not fit, shells while no
    /// flexure is taller than wide, those that are are short and no more than twice as tall, or the part is round; else beams on shells.
    pub fn by_layout(input: &ModelInput) -> Self {
        let (model, why) = by_layout(input);
        let next = match model {
            Model::Solid if serves_shells(input) => vec![Model::Shell, Model::BeamShell],
            Model::Solid => vec![Model::BeamShell, Model::Shell],
            _ => vec![Model::BeamShell, Model::Solid],
        };
        Self { model, why: Why::Layout(why), refused: Vec::new(), next }
    }

    /// Goes on to the next model where `error` says that this one does not describe the layout or does not fit; gives the error
    /// back where there is none or it says something else.
    ///
    /// # Errors
    /// `error` itself, or what each model needs where several were too large.
    pub fn after(&mut self, error: ModelError) -> Result<(), ModelError> {
        let model = self.model;
        let refusal = match &error {
            e if e.is_unfit() => Refusal::Unfit(model, e.to_string()),
            ModelError::TooLarge { needed, limit, .. } => {
                Refusal::TooLarge { model, needed: *needed, limit: *limit, at_search: false }
            }
            ModelError::Modal(ModalError::Memory { needed, room }) => {
                Refusal::TooLarge { model, needed: *needed as u64, limit: *room as u64, at_search: true }
            }
            _ => return Err(error),
        };
        self.refused.push(refusal);
        if self.next.is_empty() {
            let need = |r: &Refusal| match r {
                Refusal::TooLarge { model, needed, .. } => Some((*model, *needed)),
                Refusal::Unfit(..) => None,
            };
            let needs: Vec<(Model, u64)> = self.refused.iter().filter_map(need).collect();
            return Err(if needs.len() < 2 { error } else { ModelError::NoneFits(needs) });
        }
        self.model = self.next.remove(0);
        Ok(())
    }

    /// What the model is solved in, or the next that describes the layout and fits into the budget.
    ///
    /// # Errors
    /// A layout that cannot be meshed, and why no model serves.
    pub fn context(&mut self, task: &Task, budget: Budget) -> Result<SolveContext, ModelError> {
        loop {
            let context = SolveContext { budget, ..SolveContext::of(self.model, task.input)? };
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
        mut solve: impl FnMut(Model) -> Result<ModalSolution, ModelError>,
    ) -> Result<ModalSolution, ModelError> {
        loop {
            match solve(self.model) {
                Ok(solved) if self.next.is_empty() => return Ok(solved),
                Ok(solved) => match ringing(&solved) {
                    None => return Ok(solved),
                    Some(error) => self.after(error)?,
                },
                Err(error) => self.after(error)?,
            }
        }
    }
}

/// That fingers which are rigid in a solution would ring where modes were looked for.
fn ringing(solved: &ModalSolution) -> Option<ModelError> {
    let (hz, to_hz) = (solved.fingers_ring_hz?, solved.search.to_hz());
    (to_hz >= RING * hz).then(|| {
        ModelError::Beams(format!(
            "fingers that are rigid in the beam-shell model ring from about {:.1} kHz, and modes up to {:.1} kHz are looked at",
            hz * 1e-3,
            to_hz * 1e-3
        ))
    })
}

fn is_tall(flexure: &Flexure, thickness_um: f64) -> bool {
    thickness_um > flexure.narrowest_um() * (1.0 + 1e-9)
}

/// Whether shells are nearer to the truth than beams on shells.
fn serves_shells(input: &ModelInput) -> bool {
    let short = |f: &&Flexure| f.length_um < BEAM * f.width_um.max(input.thickness_um) || f.is_perforated();
    let tall = input.outline.flexures.iter().filter(|f| is_tall(f, input.thickness_um)).filter(short);
    let tallest = tall.map(|f| input.thickness_um / f.narrowest_um()).reduce(f64::max);
    let none_tall = !input.outline.flexures.iter().any(|f| is_tall(f, input.thickness_um));
    none_tall || input.outline.mirrors.len() > ROUND || tallest.is_some_and(|t| t <= TWICE)
}

/// Whether a part is on average narrower than thick: its area lies within half that of its walls.
fn is_narrow(part: &Polygon, thickness_um: f64) -> bool {
    let walls = |ring: &Ring| -> f64 { (0..ring.len()).map(|i| distance(ring[i], ring[(i + 1) % ring.len()])).sum() };
    2.0 * part.area() < thickness_um * part.rings().map(walls).sum::<f64>()
}

fn by_layout(input: &ModelInput) -> (Model, &'static str) {
    let outline = input.outline;
    if input.anchors_held == AnchorsHeld::Below && !outline.anchors.is_empty() {
        (Model::Solid, "anchors held from below")
    } else if without_mirror(&input.law).is_some() {
        (Model::Solid, "a crystal cut without a mirror plane along the layer")
    } else if outline.flexures.is_empty() && !(outline.unrecognised.is_empty() && outline.covered.is_empty()) {
        // How tall they are against their width is not known.
        (Model::Solid, "slender strips that are not taken for flexures")
    } else if outline.flexures.is_empty() && outline.parts.iter().any(|p| is_narrow(&p.polygon, input.thickness_um)) {
        (Model::Solid, "a part narrower than thick")
    } else if outline.flexures.is_empty() {
        (Model::Shell, "no slender part")
    } else {
        (Model::Solid, "roots and twist of flexures")
    }
}
