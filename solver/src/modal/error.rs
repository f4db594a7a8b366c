//! Why there are no modes.

use crate::spectrum::SpectrumError;
use crate::system::SystemError;

/// Why there are no modes.
#[derive(Debug, thiserror::Error)]
pub enum ModalError {
    /// No system.
    #[error(transparent)]
    System(#[from] SystemError),
    /// No spectrum.
    #[error(transparent)]
    Spectrum(#[from] SpectrumError),
    /// The search would not fit; it was not begun.
    #[error("the search for modes needs {needed} bytes, {room} are left")]
    Memory {
        /// Bytes needed, predicted from the pattern of the factors.
        needed: usize,
        /// Bytes allowed.
        room: usize,
    },
}

impl ModalError {
    /// How many times as large triangles would have to be for the search to fit; none where memory is not what lacks. Unknowns grow as
    /// the inverse square of the triangles' size, memory a little faster.
    pub fn coarser(&self) -> Option<f64> {
        match self {
            Self::Memory { needed, room } => Some((*needed as f64 / (*room).max(1) as f64).sqrt()),
            Self::System(_) | Self::Spectrum(_) => None,
        }
    }
}
