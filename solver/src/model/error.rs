//! Why a model gives no answer.

use super::input::Model;
use crate::electrode::ElectrodeError;
use crate::lumped::LumpedError;
use crate::material::MaterialError;
use crate::modal::ModalError;
use crate::process::ProcessError;
use crate::state::{FilmError, StateError};
use modalith_mesher::mesh::MeshError;
use modalith_mesher::triangulate::TriangulateError;

/// Why a layout has no solution under a model.
#[derive(Debug, thiserror::Error)]
pub enum ModelError {
    /// The layout cannot be meshed.
    #[error(transparent)]
    Triangulate(#[from] TriangulateError),
    /// The mesh cannot be made finer.
    #[error(transparent)]
    Mesh(#[from] MeshError),
    /// The material's constants make no law, or cannot be varied.
    #[error(transparent)]
    Material(#[from] MaterialError),
    /// Beams on shells do not describe the layout.
    #[error("{0}")]
    Beams(String),
    /// Masses on springs do not describe the layout.
    #[error(transparent)]
    Lumped(#[from] LumpedError),
    /// A crystal cut without a mirror plane along the layer, where only models that need one are left, a sentence.
    #[error("{0}")]
    NoMirror(String),
    /// An electrode, or the state under bias.
    #[error(transparent)]
    Electrode(#[from] ElectrodeError),
    /// The state under film stress.
    #[error(transparent)]
    Film(#[from] FilmError),
    /// A load that the model does not know: its name.
    #[error("the {} model knows no {load}", .model.name())]
    Load {
        /// The model.
        model: Model,
        /// The load, as the trade calls it.
        load: &'static str,
    },
    /// The modes.
    #[error(transparent)]
    Modal(#[from] ModalError),
    /// First-order terms.
    #[error(transparent)]
    Process(#[from] ProcessError),
    /// The model needs more memory than is allowed.
    #[error("the {} model needs {needed} bytes of memory, {limit} are allowed", .model.name())]
    TooLarge {
        /// The model.
        model: Model,
        /// Bytes that it needs.
        needed: u64,
        /// Bytes that are allowed.
        limit: u64,
        /// Models that would fit.
        fitting: Vec<Model>,
    },
    /// No model fits into the memory that is allowed: each that was refused for that and the bytes that it needs, at least one.
    #[error("no model fits into the memory that is allowed")]
    NoneFits(Vec<(Model, u64)>),
    /// The model fits into what is allowed and not into what is free.
    #[error("the {} model needs {needed} bytes of memory, {free} are free", .model.name())]
    NotFree {
        /// The model.
        model: Model,
        /// Bytes that it needs.
        needed: u64,
        /// Bytes that are free.
        free: u64,
    },
}

impl ModelError {
    /// Bytes needed and bytes there are, where memory is what lacks.
    pub fn memory(&self) -> Option<[u64; 2]> {
        match self {
            Self::TooLarge { needed, limit, .. } => Some([*needed, *limit]),
            Self::NotFree { needed, free, .. } => Some([*needed, *free]),
            Self::Modal(ModalError::Memory { needed, room }) => Some([*needed as u64, *room as u64]),
            _ => None,
        }
    }

    /// Whether the model does not describe the layout, so that another may.
    pub fn is_unfit(&self) -> bool {
        match self {
            Self::Beams(_) | Self::NoMirror(_) | Self::Load { .. } => true,
            Self::Lumped(e) => !matches!(e, LumpedError::Spectrum(_)),
            _ => false,
        }
    }
}

impl From<StateError> for ModelError {
    fn from(error: StateError) -> Self {
        match error {
            StateError::Film(e) => Self::Film(e),
            StateError::Electrode(e) => Self::Electrode(e),
        }
    }
}
