//! What a layout is solved on: its mesh, and what may be shared between variants of it.

use super::budget::Budget;
use super::error::ModelError;
use super::input::{AnchorsHeld, Model, ModelInput};
use crate::beam_shell::BeamShell;
use crate::joint::table::CellTable;
use crate::modal::{Asked, Wanted};
use crate::spectrum::Progress;
use crate::system::{Layer, Structure, Supports};
use modalith_mesher::mesh::Mesh;
use modalith_mesher::outline::Outline;
use modalith_mesher::triangulate::{triangulate, triangulate_clamped_below};
use std::sync::Arc;

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
    /// Memory that solving on it may take.
    pub budget: Budget,
    /// Whoever is told how far the search for modes has come.
    pub listener: Option<Arc<dyn Fn(Progress) + Send + Sync>>,
}

impl SolveContext {
    /// The mesh that a model of this layout needs; only a solid knows anchors held from below.
    ///
    /// # Errors
    /// A layout that cannot be meshed.
    pub fn of(model: Model, input: &ModelInput) -> Result<Self, ModelError> {
        let (mesh, held_below) = if model == Model::Solid && input.anchors_held == AnchorsHeld::Below {
            triangulate_clamped_below(input.outline, &input.mesh_size)?
        } else {
            (triangulate(input.outline, &input.mesh_size)?, Vec::new())
        };
        let widths_um = input.outline.flexures.iter().map(|f| f.width_um);
        let table = || Arc::new(CellTable::new(input.constants, input.thickness_um, widths_um));
        let cells = (model == Model::BeamShell).then(table);
        Ok(Self { held_below, cells, ..Self::on(mesh) })
    }

    /// A mesh (µm) whose anchors hold its side faces, no budget and nothing shared.
    pub fn on(mesh: impl Into<Arc<Mesh>>) -> Self {
        Self {
            mesh: mesh.into(),
            held_below: Vec::new(),
            cells: None,
            wide: None,
            beams: None,
            beam_shell: None,
            orders_more: 0,
            budget: Budget::default(),
            listener: None,
        }
    }

    /// The modes wanted, in the memory that is left.
    pub(super) fn asked(&self, wanted: Wanted) -> Asked {
        Asked { wanted, room_bytes: self.budget.room() }
    }

    /// Passes on what the search says.
    pub(super) fn hear(&self, said: Progress) {
        if let Some(listener) = &self.listener {
            listener(said);
        }
    }

    /// The structure of the models that mesh everything.
    pub fn structure(&self, solid: bool, input: &ModelInput) -> Structure {
        let layer = if solid {
            Layer::solid_held_below(&input.law, input.thickness_um, &self.mesh, &self.held_below)
        } else {
            Layer::shell(&input.law, input.thickness_um)
        };
        let layer = (0..self.orders_more).fold(layer, |layer, _| layer.enriched());
        let mut supports = Supports::anchors(&self.mesh);
        supports.hold_below(self.held_below.iter().copied());
        Structure::new(Arc::clone(&self.mesh), layer, supports)
    }

    /// Mass of the material that no anchor lies under, kg.
    pub fn moving_mass_kg(&self, input: &ModelInput) -> f64 {
        let whole: f64 = (0..self.mesh.triangles.len()).map(|t| self.mesh.area(t)).sum();
        let clamped_below: f64 = self.held_below.iter().map(|&t| self.mesh.area(t as usize)).sum();
        (whole - clamped_below) * 1e-18 * input.thickness_um * input.law.density_kg_m3
    }
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
