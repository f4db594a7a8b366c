//! A mode of the device as drawn in one point of a batch.

use serde::{Deserialize, Serialize};

/// Neighbours this near, as a share of the frequency, count as one multiple: its basis is a matter of choice, and the order of its
/// members is none.
pub const MULTIPLE: f64 = 1e-4;

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
