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
