//! Why there is no rest under film stress.

use crate::spectrum::SpectrumError;
use crate::system::SystemError;

/// Why there is no rest under film stress.
#[derive(Clone, Debug, PartialEq, thiserror::Error)]
pub enum FilmError {
    /// It buckles.
    #[error("under its film stress the part buckles: it does at {:.3} times the stress stated", .factor)]
    Buckled {
        /// The multiple of what is stated at which it does.
        factor: f64,
    },
    /// It curls farther than modes of the flat part hold for.
    #[error("under its film stress the part curls by {:.3} µm, more than a hundredth of its thickness of {:.3} µm: modes of the flat part would be wrong", .curl_m * 1e6, .thickness_m * 1e6)]
    Curled {
        /// Largest motion out of the plane, m.
        curl_m: f64,
        /// Thickness, m.
        thickness_m: f64,
    },
    /// It moves so far in its plane that its modes are others: the number of a mode, from 0, and by what share it would change.
    #[error("under its film stress the part moves so far in its plane that mode {} would change by {:.2} % to first order: modes of the layout as drawn would be wrong", .mode + 1, 100.0 * .share)]
    Reshaped {
        /// Number of the mode, from 0.
        mode: usize,
        /// By how much, a share of its frequency.
        share: f64,
    },
    /// The equilibrium was not found.
    #[error("the equilibrium under film stress had not settled after {} passes: it still changed by {:.1e}", .passes, .change)]
    NotSettled {
        /// Passes made.
        passes: usize,
        /// The last change, a share.
        change: f64,
    },
    /// The system.
    #[error(transparent)]
    System(#[from] SystemError),
    /// Its solution.
    #[error(transparent)]
    Spectrum(#[from] SpectrumError),
}
