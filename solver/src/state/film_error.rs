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
    #[error("under its film stress the part curls by {:.3} µm, more than a tenth of its thickness of {:.3} µm: modes of the flat part would be wrong", .curl_m * 1e6, .thickness_m * 1e6)]
    Curled {
        /// Largest motion out of the plane, m.
        curl_m: f64,
        /// Thickness, m.
        thickness_m: f64,
    },
    /// The system.
    #[error(transparent)]
    System(#[from] SystemError),
    /// Its solution.
    #[error(transparent)]
    Spectrum(#[from] SpectrumError),
}
