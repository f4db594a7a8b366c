//! First-order terms of beams on shells: the shells' exactly, those of beams and rigid appendages from the layout a small step to
//! either side; sections, root cells, averaged root lines and softening by a bias follow the process. In: the layout, the
//! modes as drawn. Out: terms of every mode.
//!
//! Steps to either side: 0.25 % of the narrowest flexure's width for its edges, 0.2 % of thickness and constants. Mesh and root cells move
//! with the step, so that no noise of theirs is in a term.

use super::beam_shell::{beam_shell_model, wide_moved_to};
use super::context::{SolveContext, moved_by_um};
use super::error::ModelError;
use super::input::ModelInput;
use crate::beam_shell::BeamShell;
use crate::material::Constants;
use crate::modal::Modal;
use crate::process::{
    ModalSensitivity, ProcessError, ProcessTerms, central_difference, of_attachments, of_openings, process_terms,
};
use crate::state::Sought;
use crate::system::Structure;
use modalith_mesher::mesh::Mesh;
use modalith_mesher::motion::MeshMotion;
use modalith_mesher::outline::{Flexure, Outline};

/// Share of the narrowest flexure's width by which each of its edges moves.
const EDGE: f64 = 0.0025;
/// Relative step of thickness and constants.
const STEP: f64 = 0.002;

/// What is changed.
enum Step {
    Edges(f64),
    Thickness(f64),
    Constant(Constants),
}

/// A changed layout: its structure, and what is attached to that between the modes as drawn.
struct Changed {
    structure: Structure,
    hanging: ModalSensitivity,
}

/// The layout as drawn, whose terms are sought.
pub(super) struct Drawn<'a> {
    pub input: &'a ModelInput<'a>,
    pub context: &'a SolveContext,
    pub model: &'a BeamShell,
    pub modal: &'a Modal,
}

impl Drawn<'_> {
    /// Terms of all modes; none where the mesh of the wide parts cannot follow the edges.
    ///
    /// # Errors
    /// What making the model of a changed layout meets.
    pub(super) fn terms(&self) -> Result<Option<ProcessTerms>, ModelError> {
        let constants = self.input.constants;
        let narrowest = self.input.outline.flexures.iter().map(Flexure::narrowest_um).fold(f64::INFINITY, f64::min);
        let edge_um = EDGE * narrowest;
        let Some([narrower, wider]) = self.both(Step::Edges, edge_um)? else { return Ok(None) };
        let motion = MeshMotion::between(narrower.structure.mesh(), wider.structure.mesh(), 2.0 * edge_um);
        let all: Vec<usize> = (0..self.modal.modes.len()).collect();
        let mut terms = process_terms(self.modal, &constants, &motion, &all)?;
        if self.model.filled() > 0 {
            // Openings shrink with their edges though the mesh does not have them.
            let mut opened = of_openings(self.modal, [&narrower, &wider].map(|c| c.structure.added_mass()))
                .map_err(ProcessError::from)?;
            opened *= 1.0 / (2.0 * edge_um);
            terms.edge_bias += &opened;
        }
        terms.edge_bias += &central_difference(&narrower.hanging, wider.hanging, 2.0 * edge_um);
        let thicker_um = STEP * self.input.thickness_um;
        let Some([low, high]) = self.both(Step::Thickness, thicker_um)? else { return Ok(None) };
        terms.thickness += &central_difference(&low.hanging, high.hanging, 2.0 * thicker_um);
        for (k, (_, term)) in terms.constants.iter_mut().enumerate() {
            let step = constants.stable_step(k, STEP)?;
            let scaled = |share: f64| Step::Constant(constants.scaled(k, 1.0 + share));
            let Some([low, high]) = self.both(scaled, step)? else { return Ok(None) };
            *term += &central_difference(&low.hanging, high.hanging, 200.0 * step);
        }
        Ok(Some(terms))
    }

    /// The layout a step to either side.
    fn both(&self, step: impl Fn(f64) -> Step, size: f64) -> Result<Option<[Changed; 2]>, ModelError> {
        // A table of cells waits for cells that others solve: two steps on one worker would wait for each other.
        let Some(low) = self.changed(&step(-size))? else { return Ok(None) };
        Ok(self.changed(&step(size))?.map(|high| [low, high]))
    }

    fn changed(&self, step: &Step) -> Result<Option<Changed>, ModelError> {
        let next;
        let mut changed = self.input.clone();
        let mut wide = Some(self.model.structure.mesh().clone());
        match step {
            Step::Edges(um) => {
                changed.etch.edge_bias_um += um;
                // A gap that only this step closes is none of the user's.
                let Ok(mut moved) = Outline::build(changed.drawing, &changed.etch) else { return Ok(None) };
                moved.number_like(self.input.outline, moved_by_um(*um));
                next = moved;
                changed.outline = &next;
                wide = wide_moved_to(self.model, &changed, *um);
            }
            Step::Thickness(um) => changed.thickness_um += um,
            Step::Constant(constants) => (changed.law, changed.constants) = (constants.law()?, *constants),
        }
        if wide.is_none() {
            return Ok(None);
        }
        // A flexure that is a beam stays one.
        let beams = Some(self.model.beams().to_vec());
        let context =
            SolveContext { cells: self.context.cells.clone(), wide, beams, ..SolveContext::on(Mesh::default()) };
        let model = beam_shell_model(&changed, &context)?;
        let structure = self.input.loads.state(&model.structure, Sought::Rest)?.structure;
        let hanging = of_attachments(&structure, self.modal);
        Ok(hanging.map(|hanging| Changed { hanging, structure }))
    }
}
