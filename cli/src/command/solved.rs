//! One layout under one model: chosen, built, solved, and sampled on the mesh of the whole layout. In: device, outline, mesh,
//! what is wanted. Out: modes, shapes and coupling alike for all models.

use super::beams::beam_shell;
use super::biased;
use super::memory::Memory;
use super::modes::mesh_size;
use super::progress::Reached;
use super::stated::stated;
use crate::args::Model;
use crate::device::{AnchorsHeld, Device};
use crate::exit::CommandError;
use crate::output::used::{Used, numbers};
use crate::output::{table, units};
use modalith_mesher::mesh::Mesh;
use modalith_mesher::motion::MeshMotion;
use modalith_mesher::outline::Outline;
use modalith_mesher::triangulate::{TriangulateError, triangulate, triangulate_clamped_below};
use modalith_solver::beam_shell::BeamShell;
use modalith_solver::completed::CompletedSearch;
use modalith_solver::electrode::{Bias, Electrode};
use modalith_solver::joint::table::CellTable;
use modalith_solver::lumped::{Lumped, LumpedError, Pieces, Spring};
use modalith_solver::modal::{Asked, Modal, ModalError, Seconds, Wanted, base_acceleration, modes};
use modalith_solver::mode::label::{self, Words};
use modalith_solver::mode::{MassMotion, MeshError, Mode, ModeShape, Sampled, mesh_errors};
use modalith_solver::process::{self, FlexureTerms, ProcessError, ProcessTerms, process_terms};
use modalith_solver::rate::comparison::SolvedModel;
use modalith_solver::rotation::{Coriolis, coriolis};
use modalith_solver::spectrum::{Progress as Said, SpectrumError};
use modalith_solver::system::{Layer, Mirrored, Structure, Supports};
use nalgebra::{DMatrix, DVector};
use std::sync::Arc;
use std::time::Instant;

/// A flexure shorter than this many times its width or the layer's thickness shears, and its roots give.
pub(super) const LONG: f64 = 10.0;

/// What shells leave out in a crystal whose law lacks the mirror z → −z, a sentence: bending couples to shear through the thickness there.
pub(super) fn without_mirror(device: &Device) -> Option<String> {
    let z = 2;
    (!device.law.has_mirror(z)).then(|| {
        "this cut of the crystal has no mirror plane along the layer, and shells, unlike solids, leave out how shear through the \
         thickness relieves bending there: plates bend too stiffly, by how much is not measured here"
            .to_owned()
    })
}

/// Modes of a layout under one model.
pub struct ModalSolution {
    /// The model: `lumped`, `beam-shell`, `shell` or `solid`.
    pub model: &'static str,
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
}

/// What modes are of.
pub enum SolvedSystem {
    /// Rigid masses and springs.
    Lumped(Box<Lumped>),
    /// A layer on a mesh, with what is attached to it and the softening of biased electrodes.
    Structure(Box<Structure>),
}

impl ModalSolution {
    /// The rigid masses and springs, of the lumped model.
    pub fn lumped(&self) -> Option<&Lumped> {
        match &self.system {
            SolvedSystem::Lumped(lumped) => Some(lumped),
            SolvedSystem::Structure(_) => None,
        }
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
        SolvedModel { name: model, modes, sampled, coriolis: coriolis.as_ref() }
    }

    /// Shapes of the modes at the sampled points.
    pub fn shapes(&self) -> Vec<ModeShape<'_>> {
        (0..self.modes.len()).map(|i| ModeShape::sampled(&self.sampled, i)).collect()
    }
}

/// What a layout is solved for.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Purpose {
    /// The modes themselves, with first-order terms.
    Modes,
    /// A comparison between models: shells and solids are sampled at corners and mid-sides only, as the other models are, and
    /// error bars and first-order terms are left out.
    Comparison,
    /// The rate report: with terms of every flexure and static deflections too.
    Rate,
}

/// The key to change where there is no mesh.
fn mesh_key(device: &Device, error: &TriangulateError) -> &'static str {
    let too_fine = matches!(error, TriangulateError::TooFine { .. });
    if too_fine && device.mesh.largest_um.is_some() { "/mesh/largest_um" } else { "/layout" }
}

/// A mesh of the whole layout, and which of its triangles lie on anchors that hold them from below.
pub struct SolveContext {
    /// The mesh.
    pub mesh: Arc<Mesh>,
    /// Triangles held at their lower faces; none where anchors hold the side faces.
    pub held_below: Vec<u32>,
    /// Root cells of the device and all its variants, of the beam-shell model: what differs between variants is then physics and
    /// not noise of the cells' meshes. Without them every model solves its own.
    pub cells: Option<Arc<CellTable>>,
    /// The mesh of the beam-shell model's wide parts, where it follows that of another variant.
    pub wide: Option<Mesh>,
    /// The flexures that the beam-shell model takes for beams, where they are those of another variant.
    pub beams: Option<Vec<usize>>,
    /// The beam-shell model of this device on it, where it was made before.
    pub beam_shell: Option<Arc<BeamShell>>,
    /// How many orders above the default the elements are.
    pub orders_more: usize,
    /// What solving on it may take.
    pub memory: Memory,
    /// Where the search for modes tells how far it has come.
    pub reached: Reached,
}

impl SolveContext {
    /// The mesh that a model of this device needs; only a solid knows anchors held from below.
    ///
    /// # Errors
    /// A layout that cannot be meshed is a fault of the input.
    pub fn of(model: Model, device: &Device, outline: &Outline) -> Result<Self, CommandError> {
        let size = mesh_size(device);
        let found = if model == Model::Solid && device.anchors_held == AnchorsHeld::Below {
            triangulate_clamped_below(outline, &size)
        } else {
            triangulate(outline, &size).map(|mesh| (mesh, Vec::new()))
        };
        let (mesh, held_below) = found.map_err(|e| device.fault(mesh_key(device, &e), &e.to_string()))?;
        let cells = if model == Model::BeamShell {
            let constants = device.material.constants().map_err(|e| device.fault("/material", &e.to_string()))?;
            let widths_um = outline.flexures.iter().map(|f| f.width_um);
            Some(Arc::new(CellTable::new(constants, device.thickness_um, widths_um)))
        } else {
            None
        };
        Ok(Self { held_below, cells, ..Self::on(mesh) })
    }

    /// A mesh whose anchors hold its side faces.
    pub fn on(mesh: impl Into<Arc<Mesh>>) -> Self {
        Self {
            mesh: mesh.into(),
            held_below: Vec::new(),
            cells: None,
            wide: None,
            beams: None,
            beam_shell: None,
            orders_more: 0,
            memory: Memory::default(),
            reached: Reached::default(),
        }
    }

    /// The modes wanted, in the memory that is left.
    pub(super) fn asked(&self, wanted: Wanted) -> Asked {
        Asked { wanted, room_bytes: self.memory.room() }
    }

    /// Passes on what the solver says.
    pub(super) fn hear(&self, said: Said) {
        self.memory.hear(said);
        self.reached.hear(said);
    }

    /// The structure of the models that mesh everything.
    pub fn structure(&self, solid: bool, device: &Device) -> Structure {
        let layer = if solid {
            Layer::solid_held_below(&device.law, device.thickness_um, &self.mesh, &self.held_below)
        } else {
            Layer::shell(&device.law, device.thickness_um)
        };
        let layer = (0..self.orders_more).fold(layer, |layer, _| layer.enriched());
        let mut supports = Supports::anchors(&self.mesh);
        supports.hold_below(self.held_below.iter().copied());
        Structure::new(Arc::clone(&self.mesh), layer, supports)
    }

    /// Mass of the material that no anchor lies under, kg.
    pub fn moving_mass_kg(&self, device: &Device) -> f64 {
        let whole: f64 = (0..self.mesh.triangles.len()).map(|t| self.mesh.area(t)).sum();
        let clamped_below: f64 = self.held_below.iter().map(|&t| self.mesh.area(t as usize)).sum();
        (whole - clamped_below) * 1e-18 * device.thickness_um * device.law.density_kg_m3
    }
}

/// Solves a layout under a model.
///
/// # Errors
/// A layout that the model does not fit is a fault of the input; a spectrum that is not found is not.
pub fn solve(
    model: Model,
    device: &Device,
    outline: &Outline,
    context: &SolveContext,
    wanted: Wanted,
    purpose: Purpose,
    electrodes: &[Electrode],
) -> Result<ModalSolution, CommandError> {
    let clock = Instant::now();
    let mut solved = match model {
        Model::Lumped => lumped(device, outline, &context.mesh, wanted)?,
        Model::BeamShell => beam_shell(purpose, device, outline, context, wanted, electrodes)?,
        Model::Auto | Model::Shell | Model::Solid => {
            whole((model == Model::Solid, purpose), device, outline, context, wanted, electrodes)?
        }
    };
    solved.moving_mass_kg = context.moving_mass_kg(device);
    solved.used.extend(stated(device, (outline, context), &solved, purpose, electrodes));
    solved.total_s = clock.elapsed().as_secs_f64();
    Ok(solved)
}

fn whole(
    (solid, purpose): (bool, Purpose),
    device: &Device,
    outline: &Outline,
    context: &SolveContext,
    wanted: Wanted,
    electrodes: &[Electrode],
) -> Result<ModalSolution, CommandError> {
    let unbiased = context.structure(solid, device);
    let (structure, at_rest) = biased::softened_for(purpose, device, &unbiased, electrodes)?;
    let modal = modes(&structure, context.asked(wanted), &|p| context.hear(p)).map_err(|e| no_modes(device, &e))?;
    let (mesh_errors, bars_s) = bars(device, &modal, purpose)?;
    let sample = |modal: &Modal| if purpose == Purpose::Modes { modal.sample() } else { modal.sample_coarse() };
    let sampled = sample(&modal);
    let bias = at_rest.map(|rest| rest.sampled(&modal, |m| Ok::<_, CommandError>(sample(m)))).transpose()?;
    let mut cautions =
        if solid { Vec::new() } else { table::shell_cautions(outline, device.thickness_um, &modal.modes) };
    cautions.extend(without_mirror(device).filter(|_| !solid));
    let clock = Instant::now();
    let all: Vec<usize> = (0..modal.modes.len()).collect();
    let terms = if purpose == Purpose::Comparison || !context.held_below.is_empty() {
        None
    } else {
        let motion = MeshMotion::edges(&context.mesh, reach_um(outline, device.thickness_um));
        let constants = device.material.constants().map_err(|e| device.fault("/material", &e.to_string()))?;
        Some(process_terms(&modal, &constants, &motion, &all).map_err(|e| no_terms(device, &e))?)
    };
    let (mut flexure_terms, mut statics) = (Vec::new(), None);
    if purpose == Purpose::Rate {
        if terms.is_some() {
            let reach = reach_um(outline, device.thickness_um);
            flexure_terms =
                process::flexure_terms(&modal, &outline.flexures, reach, &all).map_err(|e| no_terms(device, &e))?;
        }
        if !outline.anchors.is_empty() {
            statics = Some(base_acceleration(&structure).map_err(|e| no_modes(device, &e))?);
        }
    }
    let terms_s = clock.elapsed().as_secs_f64();
    let solved = finish(if solid { "solid" } else { "shell" }, device, modal, sampled, cautions)?;
    Ok(ModalSolution { bias, terms, terms_s, flexure_terms, statics, mesh_errors, bars_s, ..solved })
}

/// Error bars of all modes and the seconds they took; none in a comparison.
fn bars(device: &Device, modal: &Modal, purpose: Purpose) -> Result<(Vec<MeshError>, f64), CommandError> {
    if purpose == Purpose::Comparison {
        return Ok((Vec::new(), 0.0));
    }
    let clock = Instant::now();
    let errors = mesh_errors(modal).map_err(|e| no_modes(device, &e.into()))?;
    Ok((errors, clock.elapsed().as_secs_f64()))
}

pub(super) fn finish(
    model: &'static str,
    device: &Device,
    modal: Modal,
    sampled: Sampled,
    cautions: Vec<String>,
) -> Result<ModalSolution, CommandError> {
    let all: Vec<usize> = (0..modal.modes.len()).collect();
    let coupling = coriolis(&modal, &all).map_err(|e| no_modes(device, &e.into()))?;
    Ok(ModalSolution {
        model,
        degrees_of_freedom: modal.degrees_of_freedom(),
        search: modal.search,
        mesh_errors: Vec::new(),
        seconds: modal.seconds,
        predicted_bytes: modal.predicted_bytes,
        bars_s: 0.0,
        modes: modal.modes,
        mirrored: modal.mirrored,
        sampled,
        coriolis: Some(coupling),
        terms: None,
        terms_s: 0.0,
        flexure_terms: Vec::new(),
        statics: None,
        moving_mass_kg: 0.0,
        total_s: 0.0,
        cautions,
        used: Vec::new(),
        system: SolvedSystem::Structure(Box::new(modal.structure)),
        bias: None,
    })
}

fn lumped(device: &Device, outline: &Outline, mesh: &Mesh, wanted: Wanted) -> Result<ModalSolution, CommandError> {
    let fault = |e: LumpedError| -> CommandError {
        match e {
            LumpedError::Spectrum(e) => CommandError::Other { what: e.to_string(), hint: "nothing was written".into() },
            e => CommandError::unfit(device.fault("/layout", &e.to_string())),
        }
    };
    let model = Pieces::of(outline)
        .and_then(|pieces| Lumped::new(pieces, &device.law, device.thickness_um, true))
        .map_err(fault)?;
    let found = model.modes(&model.named(&outline.masses, device.law.density_kg_m3), wanted).map_err(fault)?;
    let sampled = model.sample(mesh, &found.modes);
    let all: Vec<usize> = (0..outline.flexures.len()).collect();
    let replaced = Used::replacement(format!("flexure {} as springs, everything else as rigid masses", numbers(&all)));
    Ok(ModalSolution {
        model: "lumped",
        degrees_of_freedom: model.degrees_of_freedom(),
        search: found.search,
        mesh_errors: Vec::new(),
        seconds: Seconds::default(),
        predicted_bytes: 0,
        bars_s: 0.0,
        sampled,
        modes: found.modes,
        mirrored: Vec::new(),
        coriolis: Some(found.coriolis),
        terms: None,
        terms_s: 0.0,
        flexure_terms: Vec::new(),
        statics: None,
        moving_mass_kg: 0.0,
        total_s: 0.0,
        cautions: lumped_cautions(&model),
        used: vec![replaced],
        system: SolvedSystem::Lumped(Box::new(model)),
        bias: None,
    })
}

/// Where the lumped model's assumptions do not hold, as far as the layout shows.
fn lumped_cautions(lumped: &Lumped) -> Vec<String> {
    let mut said = vec![
        "bodies, roots and trusses are rigid here and flexures do not shear: frequencies are too high, by how much \
         `modalith audit` tells"
            .to_owned(),
    ];
    let widest = |s: &Spring| s.stretches.iter().flat_map(|s| s.widths_m).fold(s.thickness_m, f64::max);
    let short: Vec<String> = lumped
        .springs
        .iter()
        .enumerate()
        .filter(|(_, s)| s.length_m() < LONG * widest(s))
        .map(|(f, _)| (f + 1).to_string())
        .collect();
    if !short.is_empty() {
        said.push(format!("shorter than ten times the larger of width and thickness: flexure {}", short.join(", ")));
    }
    said
}

/// How deep a motion of edges reaches into the material, µm: the width of a middling flexure.
pub fn reach_um(outline: &Outline, thickness_um: f64) -> f64 {
    let mut widths: Vec<f64> = outline.flexures.iter().map(|f| f.width_um).collect();
    widths.sort_by(f64::total_cmp);
    widths.get(widths.len() / 2).copied().unwrap_or(thickness_um)
}

/// How far the ends of a flexure may lie from where they were, µm, when etched edges move by a step.
pub fn moved_by_um(step_um: f64) -> f64 {
    2.0 * step_um.abs() + 1e-3
}

pub(super) fn no_terms(device: &Device, error: &ProcessError) -> CommandError {
    match error {
        ProcessError::System(e) => device.fault("/layout", &e.to_string()).into(),
        ProcessError::Material(e) => device.fault("/material", &e.to_string()).into(),
    }
}

/// A layout without a system is a fault of the input; a spectrum that is not found is not.
pub fn no_modes(device: &Device, error: &ModalError) -> CommandError {
    match error {
        ModalError::System(e) => device.fault("/layout", &e.to_string()).into(),
        ModalError::Spectrum(e @ SpectrumError::TooMany { most, .. }) => {
            let hint = format!(
                "nothing was written; ask for no more than {most} modes or for a narrower band; smaller triangles \
                 (mesh/largest_um) carry more"
            );
            CommandError::Usage { what: e.to_string(), hint }
        }
        ModalError::Spectrum(e) => {
            let hint = "nothing was written; a coarser or finer mesh (mesh/largest_um) may help".into();
            CommandError::Other { what: e.to_string(), hint }
        }
        ModalError::Memory { needed, room } => {
            let what = format!(
                "the modes need {} of memory, {} are allowed",
                units::bytes(*needed as u64),
                units::bytes(*room as u64)
            );
            // Unknowns grow as the inverse square of the triangles' size, memory a little faster.
            let coarser = (*needed as f64 / (*room).max(1) as f64).sqrt();
            let hint = format!(
                "nothing was written; raise --memory-limit, ask for fewer modes, take the beam-shell model, or make the \
                 triangles {coarser:.1} times as large (mesh/largest_um)"
            );
            CommandError::Memory { what, needed: *needed as u64, hint }
        }
    }
}
