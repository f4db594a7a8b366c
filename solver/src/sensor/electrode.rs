//! What an electrode sees of the modes, with its words.

use nalgebra::DMatrix;

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
    /// Capacitance at rest under bias, F, without fringing.
    pub capacitance_f: f64,
    /// The same where nothing deflects, F.
    pub undeflected_f: f64,
    /// ∂C/∂q for every mode, F·m⁻¹·kg^-½.
    pub gradient: Vec<f64>,
    /// ∂²C/∂q∂q between modes, F·m⁻²·kg⁻¹.
    pub curvature: DMatrix<f64>,
    /// Area of the moving part that it covers or pulls on, µm².
    pub covered_um2: f64,
    /// Squares of its local gradient by triangle of the mesh, F²/m⁴.
    pub gradient_squares: Vec<(u32, f64)>,
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
        (self.capacitance_f / self.undeflected_f - 1.0).abs()
    }

    /// What its bias takes off ω² of a mode, s⁻².
    pub fn softening(&self, mode: usize) -> f64 {
        0.5 * self.bias_v * self.bias_v * self.curvature[(mode, mode)]
    }
}
