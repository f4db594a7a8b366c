//! Two models of one layout held against each other: by how much they differ is what is known of the first one's error. In: modes,
//! shapes at common points and couplings of both. Out: for every mode of the first the other's frequency, coupling, and what
//! both may lack alike.

use super::requirements::Because;
use crate::mode::{MassMotion, Mode, ModeShape, ModelModes, PointWeights, Sampled, matching};
use crate::model::Model;
use crate::rotation::Coriolis;
use nalgebra::{DMatrix, DVector};

/// Frequencies closer than this share are one cluster in the matching.
pub const CLUSTER: f64 = 1e-6;
/// Less alike than this, by MAC, two modes are not the same.
pub const ALIKE: f64 = 0.5;

/// A model's modes.
#[derive(Clone, Copy)]
pub struct SolvedModel<'a> {
    /// Which it is.
    pub model: Model,
    /// The modes by rising frequency.
    pub modes: &'a [Mode],
    /// Their shapes.
    pub sampled: &'a Sampled,
    /// How rotation couples them, where the model has it.
    pub coriolis: Option<&'a Coriolis>,
}

/// What another model says of the modes.
#[derive(Clone, Debug)]
pub struct Comparison {
    /// The other model; none where the first is the full law, so that its mesh alone is in error.
    pub against: Option<Model>,
    /// For every mode its number under the other model, from 0; none where that has no such mode.
    pub which: Vec<Option<usize>>,
    /// For every mode the other model's frequency, Hz, likewise.
    pub frequency_hz: Vec<Option<f64>>,
    /// For every mode the motion of the masses in the other model's, turned as this one is, likewise.
    pub masses: Vec<Option<Vec<MassMotion>>>,
    /// Frequencies of the other model's modes that are none of the first's, Hz.
    pub others_hz: Vec<f64>,
    /// The other model's coupling by rotation, its modes turned as the first's are.
    pub coriolis: Option<Coriolis>,
    /// For every mode how far its λ may lie above both models, a share: what shells that stand in both lack in twist
    /// ([`Mode::shell_twist_share`]), and what tall flexures may gain at their roots ([`Self::stiffen`]).
    pub shared_softness: Vec<f64>,
}

impl Comparison {
    /// Of so many modes of the full law, which needs no other model.
    pub fn full_law(modes: usize) -> Self {
        Self {
            against: None,
            which: vec![None; modes],
            frequency_hz: vec![None; modes],
            masses: vec![None; modes],
            others_hz: Vec::new(),
            coriolis: None,
            shared_softness: vec![0.0; modes],
        }
    }

    /// Takes into what both models may lack alike the share of stiffness that every flexure of the first may gain
    /// ([`crate::model::root_stiffness`]), as it holds strain energy.
    pub fn stiffen(&mut self, modes: &[Mode], gains: &[f64]) {
        for (lacks, mode) in self.shared_softness.iter_mut().zip(modes) {
            *lacks += mode.flexure_strain_share.iter().zip(gains).map(|(share, gain)| share * gain).sum::<f64>();
        }
    }

    /// Pairs off the modes of two models of a layer of so many kg/m² and of a thickness in m.
    ///
    /// # Errors
    /// Shapes that are not known at the same points, as the reason for which no figure's error is known.
    pub fn new(
        first: &SolvedModel,
        other: &SolvedModel,
        (kg_per_m2, thickness_m): (f64, f64),
    ) -> Result<Self, Because> {
        if first.sampled.points.len() != other.sampled.points.len() {
            return Err(Because::ErrorUnknown("the shapes of the two models are not known at the same points".into()));
        }
        let weights = PointWeights::of_cells(first.sampled, kg_per_m2, thickness_m);
        let hz = |model: &SolvedModel| model.modes.iter().map(|m| m.frequency_hz).collect::<Vec<_>>();
        let (first_hz, other_hz) = (hz(first), hz(other));
        let (first_shapes, other_shapes) = (shapes(first), shapes(other));
        let pairs = matching(
            &ModelModes { frequency_hz: &first_hz, shapes: &first_shapes },
            &ModelModes { frequency_hz: &other_hz, shapes: &other_shapes },
            &weights,
            CLUSTER,
        );
        let mut which = vec![None; first.modes.len()];
        // The other model's modes, turned as the first's are: what couples two of them has a sign.
        let mut signs = DVector::from_element(other.modes.len(), 1.0);
        for pair in pairs.into_iter().filter(|p| p.mac >= ALIKE) {
            which[pair.first] = Some(pair.second);
            if weights.product(&first_shapes[pair.first], &other_shapes[pair.second]) < 0.0 {
                signs[pair.second] = -1.0;
            }
        }
        let turn = DMatrix::from_diagonal(&signs);
        // Of the two the one with beams has shells where no difference shows what they lack: what it has for beams the other has for
        // shells.
        let shared = |(i, k): (usize, &Option<usize>)| match (first.model, k) {
            (Model::BeamShell, _) => first.modes[i].shell_twist_share,
            (_, Some(k)) => other.modes[*k].shell_twist_share,
            (_, None) => 0.0,
        };
        let turned = |k: usize| -> Vec<MassMotion> {
            let own = other.modes[k].masses.iter();
            own.map(|m| MassMotion {
                translation: m.translation.map(|x| signs[k] * x),
                turn: m.turn.map(|x| signs[k] * x),
                ..m.clone()
            })
            .collect()
        };
        let alone = |k: &usize| !which.contains(&Some(*k));
        Ok(Self {
            against: Some(other.model),
            masses: which.iter().map(|k| k.map(turned)).collect(),
            others_hz: (0..other.modes.len()).filter(alone).map(|k| other_hz[k]).collect(),
            frequency_hz: which.iter().map(|k| k.map(|k| other_hz[k])).collect(),
            coriolis: other.coriolis.map(|c| c.clone().between(&turn)),
            shared_softness: which.iter().enumerate().map(shared).collect(),
            which,
        })
    }
}

fn shapes<'a>(model: &SolvedModel<'a>) -> Vec<ModeShape<'a>> {
    (0..model.modes.len()).map(|i| ModeShape::sampled(model.sampled, i)).collect()
}
