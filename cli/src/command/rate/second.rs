//! A second model of the same layout beside the one that a rate report rests on: by how much the two differ is what is known
//! of the model's error. In: what was solved. Out: for every mode the other model's frequency, and its coupling by rotation.

use crate::args::Model;
use crate::command::audit::{ALIKE, CLUSTER};
use crate::command::beams::beam_shell_model;
use crate::command::memory::Task;
use crate::command::solved::{ModalSolution, Purpose, SolveContext, solve};
use crate::device::Device;
use crate::exit::CommandError;
use modalith_mesher::outline::Outline;
use modalith_solver::electrode::{Electrode, any_biased};
use modalith_solver::modal::Wanted;
use modalith_solver::mode::{Model as Compared, PointWeights, matching};
use modalith_solver::rate::requirements::Because;
use modalith_solver::rotation::Coriolis;
use nalgebra::{DMatrix, DVector};
use std::sync::Arc;

/// Modes beyond those of the first model, so that one which the other places higher is still found.
const MORE: usize = 4;

/// The model with beams, by name.
const BEAM_SHELL: &str = "beam-shell";

/// What another model says of the modes.
pub struct Comparison {
    /// The other model; none where the first is the full law, so that its mesh alone is in error.
    pub against: Option<&'static str>,
    /// For every mode its number under the other model, from 0; none where that has no such mode.
    pub which: Vec<Option<usize>>,
    /// For every mode the other model's frequency, Hz, likewise.
    pub frequency_hz: Vec<Option<f64>>,
    /// The other model's coupling by rotation, its modes turned as the first's are.
    pub coriolis: Option<Coriolis>,
    /// For every mode how far its λ may lie above both models, a share: what shells that stand in both lack in twist.
    pub shared_softness: Vec<f64>,
}

impl Comparison {
    fn full_law(modes: usize) -> Self {
        Self {
            against: None,
            which: vec![None; modes],
            frequency_hz: vec![None; modes],
            coriolis: None,
            shared_softness: vec![0.0; modes],
        }
    }
}

/// The model to hold the first one against.
fn other(model: &str) -> Option<Model> {
    match model {
        "solid" => None,
        "shell" | "lumped" => Some(Model::BeamShell),
        _ => Some(Model::Shell),
    }
}

/// The other model, laid out and not yet solved.
pub struct Second {
    model: Model,
    context: SolveContext,
}

impl Second {
    /// Lays out the model to hold the first one against, for as many modes as that one has; none where it needs no other. The cells
    /// of beams are solved here, on all processors; the few modes after that leave room for other work beside them.
    ///
    /// # Errors
    /// A layout that the other model does not fit.
    pub fn new(
        first: &ModalSolution,
        device: &Device,
        outline: &Outline,
        context: &SolveContext,
        electrodes: &[Electrode],
    ) -> Option<Result<Self, CommandError>> {
        let model = other(first.model)?;
        let mut own = SolveContext { memory: context.memory, ..SolveContext::on(context.mesh.clone()) };
        let task = Task { device, outline, wanted: wanted(first), biased: any_biased(electrodes) };
        let made = task.fits(model, &own).and_then(|()| {
            if model == Model::BeamShell {
                own.beam_shell = Some(Arc::new(beam_shell_model(device, outline, &own)?));
            }
            Ok(Self { model, context: own })
        });
        Some(made)
    }

    /// Solves it.
    ///
    /// # Errors
    /// What the other model meets on the way.
    pub fn solve(
        &self,
        first: &ModalSolution,
        device: &Device,
        outline: &Outline,
        electrodes: &[Electrode],
    ) -> Result<ModalSolution, CommandError> {
        solve(self.model, device, outline, &self.context, wanted(first), Purpose::Comparison, electrodes)
    }
}

fn wanted(first: &ModalSolution) -> Wanted {
    Wanted::Lowest(first.modes.len() + MORE)
}

/// Pairs off the modes of both models.
///
/// # Errors
/// Why there is nothing to compare with, as the reason for which the error of every figure is not known.
pub fn compared(
    solved: &ModalSolution,
    other: Option<Result<ModalSolution, CommandError>>,
    device: &Device,
) -> Result<Comparison, Because> {
    let other = match other {
        None => return Ok(Comparison::full_law(solved.modes.len())),
        Some(Err(error)) => {
            let why = format!("no second model serves this layout ({error}); the solid model has the full law");
            return Err(Because::ErrorUnknown(why));
        }
        Some(Ok(other)) => other,
    };
    if solved.sampled.points.len() != other.sampled.points.len() {
        return Err(Because::ErrorUnknown("the shapes of the two models are not known at the same points".into()));
    }
    let thickness_m = device.thickness_um * 1e-6;
    let weights = PointWeights::of_cells(&solved.sampled, device.law.density_kg_m3 * thickness_m, thickness_m);
    let (first_hz, second_hz) = (solved.frequencies_hz(), other.frequencies_hz());
    let (first, second) = (solved.shapes(), other.shapes());
    let pairs = matching(
        &Compared { frequency_hz: &first_hz, shapes: &first },
        &Compared { frequency_hz: &second_hz, shapes: &second },
        &weights,
        CLUSTER,
    );
    let mut which = vec![None; solved.modes.len()];
    // The other model's modes, turned as the first's are: what couples two of them has a sign.
    let mut signs = DVector::from_element(other.modes.len(), 1.0);
    for pair in pairs.into_iter().filter(|p| p.mac >= ALIKE) {
        which[pair.first] = Some(pair.second);
        if weights.product(&first[pair.first], &second[pair.second]) < 0.0 {
            signs[pair.second] = -1.0;
        }
    }
    let turn = DMatrix::from_diagonal(&signs);
    let coriolis = other.coriolis.map(|c| c.between(&turn));
    let frequency_hz = which.iter().map(|k| k.map(|k| second_hz[k])).collect();
    // Of the two the one with beams has shells where no difference shows what they lack: what it has for beams the other has for shells.
    let shared = |(i, k): (usize, &Option<usize>)| match (solved.model, k) {
        (BEAM_SHELL, _) => solved.modes[i].shell_twist_share,
        (_, Some(k)) => other.modes[*k].shell_twist_share,
        (_, None) => 0.0,
    };
    let shared_softness = which.iter().enumerate().map(shared).collect();
    Ok(Comparison { against: Some(other.model), which, frequency_hz, coriolis, shared_softness })
}
