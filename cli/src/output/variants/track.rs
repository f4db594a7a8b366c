//! A mode of the device as drawn in one point of a batch.

use modalith_solver::mode::FoundAgain;
use serde::{Deserialize, Serialize};

/// A mode of the device as drawn, found again in a point.
#[derive(Clone, Copy, Debug, Deserialize, PartialEq, Serialize)]
pub struct Track {
    /// Its number in the point, from 1.
    pub index: usize,
    /// Its frequency there, Hz.
    pub frequency_hz: f64,
    /// MAC with the mode as drawn.
    pub mac: f64,
}

impl From<FoundAgain> for Track {
    fn from(found: FoundAgain) -> Self {
        Self { index: found.mode + 1, frequency_hz: found.frequency_hz, mac: found.mac }
    }
}
