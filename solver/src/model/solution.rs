//! What a model gives.

use super::bias::Bias;
use super::input::Model;
use super::used::Used;
use crate::completed::CompletedSearch;
use crate::lumped::Lumped;
use crate::modal::{Modal, Seconds};
use crate::mode::label::{self, Words};
use crate::mode::{MassMotion, MeshError, Mode, ModeShape, Sampled};
use crate::process::{FirstOrder, FlexureTerms, ProcessTerms};
use crate::rate::comparison::SolvedModel;
use crate::rotation::{Coriolis, coriolis};
use crate::state::{FilmRest, Sought};
use crate::system::{Mirrored, Structure, SystemError};
use nalgebra::{DMatrix, DVector};

/// What a layout is solved for.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Purpose {
    /// The modes themselves, with first-order terms.
    Modes,
    /// A comparison between models: shells and solids are sampled at corners and mid-sides only, as the other models are, and
    /// error bars and first-order terms are left out.
    Comparison,
    /// The same with error bars: what verdicts on the comparison have to wait for.
    Audit,
    /// The rate report: with terms of every flexure and static deflections too.
    Rate,
}

/// What is known of one mode beyond its shape.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct ModeExtra {
    /// Estimated error of the mesh, Hz.
    pub mesh_error_hz: Option<f64>,
    /// What edge bias, thickness and material do to it.
    pub first_order: Option<FirstOrder>,
    /// What its images in the layout's mirrors are, where it was sought with them.
    pub mirrored: Vec<Mirrored>,
}

/// Modes of a layout under one model.
pub struct ModalSolution {
    /// The model.
    pub model: Model,
    /// The modes.
    pub modes: Vec<Mode>,
    /// For each mode what its images in the layout's mirrors are, where it was sought with them.
    pub mirrored: Vec<Vec<Mirrored>>,
    /// Their shapes on the mesh of the whole layout.
    pub sampled: Sampled,
    /// How rotation couples them, where the model has it.
    pub coriolis: Option<Coriolis>,
    /// Unknowns.
    pub degrees_of_freedom: usize,
    /// In which band the list is whole, and how that was counted.
    pub search: CompletedSearch,
    /// What the mesh leaves of every frequency; empty where that is not known.
    pub mesh_errors: Vec<MeshError>,
    /// Seconds by stage of the solver.
    pub seconds: Seconds,
    /// Bytes that systems and search were predicted to need; 0 for the lumped model.
    pub predicted_bytes: usize,
    /// Seconds for the error bars.
    pub bars_s: f64,
    /// What the process does to the modes, to first order, where the model has it and no comparison leaves it out.
    pub terms: Option<ProcessTerms>,
    /// Seconds for that.
    pub terms_s: f64,
    /// The same for the width of every flexure, for the rate report.
    pub flexure_terms: Vec<FlexureTerms>,
    /// Motion of the named masses, m per m/s², while the base accelerates along x, y, z; for the rate report.
    pub statics: Option<[Vec<MassMotion>; 3]>,
    /// Mass of the material that moves, kg.
    pub moving_mass_kg: f64,
    /// Seconds altogether.
    pub total_s: f64,
    /// Where the model is not enough for this layout, sentences.
    pub cautions: Vec<String>,
    /// What stands behind the figures.
    pub used: Vec<Used>,
    /// What was solved.
    pub system: SolvedSystem,
    /// The state under bias, where electrodes have one and the model takes it.
    pub bias: Option<Bias>,
    /// The state under film stress, where some acts.
    pub film: Option<FilmRest>,
    /// What it has moved at every sampled point, m; empty where none acts.
    pub film_rest_m: Vec<[f64; 3]>,
    /// The lowest frequency at which a finger that is rigid in the model would ring, Hz; none where it has none.
    pub fingers_ring_hz: Option<f64>,
}

/// What modes are of.
pub enum SolvedSystem {
    /// Rigid masses and springs.
    Lumped(Box<Lumped>),
    /// A layer on a mesh, with what is attached to it and the softening of biased electrodes.
    Structure(Box<Structure>),
}

impl ModalSolution {
    /// Modes of a system by rising frequency with their shapes and couplings, and nothing beside them yet.
    pub(super) fn bare(
        model: Model,
        (modes, sampled): (Vec<Mode>, Sampled),
        search: CompletedSearch,
        degrees_of_freedom: usize,
        coriolis: Coriolis,
        system: SolvedSystem,
    ) -> Self {
        Self {
            model,
            modes,
            mirrored: Vec::new(),
            sampled,
            coriolis: Some(coriolis),
            degrees_of_freedom,
            search,
            mesh_errors: Vec::new(),
            seconds: Seconds::default(),
            predicted_bytes: 0,
            bars_s: 0.0,
            terms: None,
            terms_s: 0.0,
            flexure_terms: Vec::new(),
            statics: None,
            moving_mass_kg: 0.0,
            total_s: 0.0,
            cautions: Vec::new(),
            used: Vec::new(),
            system,
            bias: None,
            film: None,
            film_rest_m: Vec::new(),
            fingers_ring_hz: None,
        }
    }

    /// Modes of a structure with their couplings, and nothing beside them yet.
    ///
    /// # Errors
    /// What assembling the coupling meets.
    pub(super) fn of_structure(model: Model, modal: Modal, sampled: Sampled) -> Result<Self, SystemError> {
        let all: Vec<usize> = (0..modal.modes.len()).collect();
        let (coupling, unknowns) = (coriolis(&modal, &all)?, modal.degrees_of_freedom());
        let system = SolvedSystem::Structure(Box::new(modal.structure));
        Ok(Self {
            seconds: modal.seconds,
            predicted_bytes: modal.predicted_bytes,
            mirrored: modal.mirrored,
            ..Self::bare(model, (modal.modes, sampled), modal.search, unknowns, coupling, system)
        })
    }

    /// Where the part rests under its loads, m, at every sampled point; `None` where nothing that is known of moves it.
    pub fn rest_m(&self) -> Option<Vec<[f64; 3]>> {
        let bias = self.bias.as_ref().map(|b| b.rest_m.as_slice());
        match (bias, self.film_rest_m.as_slice()) {
            (None, []) => None,
            (None, film) => Some(film.to_vec()),
            (Some(bias), []) => Some(bias.to_vec()),
            (Some(bias), film) => Some(bias.iter().zip(film).map(|(a, b)| [0, 1, 2].map(|k| a[k] + b[k])).collect()),
        }
    }

    /// The rigid masses and springs, of the lumped model.
    pub fn lumped(&self) -> Option<&Lumped> {
        match &self.system {
            SolvedSystem::Lumped(lumped) => Some(lumped),
            SolvedSystem::Structure(_) => None,
        }
    }

    /// What is known of every mode beyond its shape.
    pub fn extras(&self) -> Vec<ModeExtra> {
        let extra = |i: usize| ModeExtra {
            mesh_error_hz: self.mesh_errors.get(i).map(|e| e.hz),
            first_order: self.terms.as_ref().map(|t| t.of(i)),
            mirrored: self.mirrored.get(i).cloned().unwrap_or_default(),
        };
        (0..self.modes.len()).map(extra).collect()
    }

    /// Frequencies of the modes, Hz.
    pub fn frequencies_hz(&self) -> Vec<f64> {
        self.modes.iter().map(|m| m.frequency_hz).collect()
    }

    /// Turns every mode so that it starts as its words say, and with it all that is known between modes.
    pub fn orient(&mut self) -> Vec<Words> {
        let words = label::orient(&mut self.modes, &mut self.sampled);
        let signs = DVector::from_iterator(words.len(), words.iter().map(|w| if w.turned { -1.0 } else { 1.0 }));
        let turn = DMatrix::from_diagonal(&signs);
        let hz = self.frequencies_hz();
        self.coriolis = self.coriolis.take().map(|c| c.between(&turn));
        self.terms = self.terms.take().map(|t| t.between(&turn, hz));
        self.flexure_terms = self.flexure_terms.iter().map(|t| t.between(&turn)).collect();
        words
    }

    /// What a comparison with another model needs.
    pub fn seen(&self) -> SolvedModel<'_> {
        let Self { model, modes, sampled, coriolis, .. } = self;
        SolvedModel { model: *model, modes, sampled, coriolis: coriolis.as_ref() }
    }

    /// Shapes of the modes at the sampled points.
    pub fn shapes(&self) -> Vec<ModeShape<'_>> {
        (0..self.modes.len()).map(|i| ModeShape::sampled(&self.sampled, i)).collect()
    }
}

impl Purpose {
    /// Whether models are held against each other, by their modes alone.
    pub(super) fn compares(self) -> bool {
        matches!(self, Self::Comparison | Self::Audit)
    }

    /// What results have of the state under bias: a comparison shows no bias at which the part pulls in.
    pub(super) fn sought(self) -> Sought {
        if self.compares() { Sought::Rest } else { Sought::PullIn }
    }
}
