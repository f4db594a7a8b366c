//! What an electrode sees of the modes, with its words.

use crate::electrode::Reading;

/// An electrode and what it sees of the modes.
#[derive(Clone, Debug, PartialEq)]
pub struct ElectrodeFound {
    /// The user's name.
    pub name: String,
    /// `plate`, `comb` or `side plate`.
    pub kind: &'static str,
    /// `drive`, `sense` or `tuning`, where stated.
    pub role: Option<&'static str>,
    /// Bias against the part, V.
    pub bias_v: f64,
    /// What it sees at rest under bias.
    pub reading: Reading,
    /// Of a comb, the travel at which a fingertip meets something, m, where that is known.
    pub tip_gap_m: Option<f64>,
    /// Narrowest gap to walls of the part that are as tall as its layer, µm; none of a plate.
    pub side_gap_um: Option<f64>,
    /// By how many µm² the area that a plate covers grows for a µm of motion along x and y, which its gradients leave out; none where it
    /// stays as it is.
    pub overlap_change: Option<[f64; 2]>,
    /// Largest static motion of what it covers under bias, m, where the model has it.
    pub static_motion_m: Option<f64>,
}

impl ElectrodeFound {
    /// By what share of itself its capacitance changes as the part deflects under all biases.
    pub fn change_at_rest(&self) -> f64 {
        (self.reading.capacitance_f / self.reading.undeflected_f - 1.0).abs()
    }

    /// What its bias takes off ω² of a mode, s⁻².
    pub fn softening(&self, mode: usize) -> f64 {
        0.5 * self.bias_v * self.bias_v * self.reading.curvature[(mode, mode)]
    }
}
