//! Terms of a model whose elements are not differentiated, from solves of the device a step away.

use super::forms::Forms;
use super::terms::ProcessTerms;
use std::f64::consts::TAU;

/// Shifts of every mode, Hz per unit, in the order of the modes.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Differences {
    /// Per µm of edge bias.
    pub edge_bias: Vec<f64>,
    /// Per µm of thickness.
    pub thickness: Vec<f64>,
    /// By name of the constant, per percent of its value; the density last.
    pub constants: Vec<(&'static str, Vec<f64>)>,
}

impl Differences {
    /// As terms of modes at these frequencies, Hz. Between different modes they say nothing: those entries are zero.
    ///
    /// ```
    /// use modalith_solver::process::Differences;
    /// let found = Differences { edge_bias: vec![3e6], thickness: vec![400.0], constants: vec![("density", vec![-50.0])] };
    /// let terms = found.terms(vec![10e3]).of(0);
    /// assert!((terms.hz_per_nm_edge_bias / 3e3 - 1.0).abs() < 1e-12);
    /// assert!((terms.hz_per_percent[0].1 / -50.0 - 1.0).abs() < 1e-12);
    /// ```
    pub fn terms(self, frequency_hz: Vec<f64>) -> ProcessTerms {
        let forms = |shifts: &[f64]| {
            let mut forms = Forms::zeros(frequency_hz.len());
            for (i, (hz, shift)) in frequency_hz.iter().zip(shifts).enumerate() {
                forms.stiffness[(i, i)] = 2.0 * TAU * TAU * hz * shift;
            }
            forms
        };
        ProcessTerms {
            modes: (0..frequency_hz.len()).collect(),
            edge_bias: forms(&self.edge_bias),
            thickness: forms(&self.thickness),
            constants: self.constants.iter().map(|(name, shifts)| (*name, forms(shifts))).collect(),
            frequency_hz,
        }
    }
}
