//! Terms of the whole device: uniform edge bias, thickness, every constant of the material.

use super::ProcessError;
use super::sensitivity::{Elements, ModalSensitivity, Parameter};
use crate::material::Constants;
use crate::modal::Modal;
use modalith_mesher::motion::MeshMotion;
use nalgebra::DMatrix;

/// Relative step of the constants: laws are smooth in them, and the error falls with its square.
pub(super) const STEP: f64 = 1e-4;

/// Sensitivities to the process's parameters between some modes.
#[derive(Clone, Debug, PartialEq)]
pub struct ProcessTerms {
    /// The modes, from 0, in the order of rows and columns.
    pub modes: Vec<usize>,
    /// Their frequencies, Hz.
    pub frequency_hz: Vec<f64>,
    /// Per µm of edge bias: every etched edge 1 µm outward.
    pub edge_bias: ModalSensitivity,
    /// Per µm of thickness.
    pub thickness: ModalSensitivity,
    /// By name of the constant, per percent of its value; the density last.
    pub constants: Vec<(&'static str, ModalSensitivity)>,
}

/// First-order shifts of one mode.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct FirstOrder {
    /// Hz per nm of uniform edge bias.
    pub hz_per_nm_edge_bias: f64,
    /// Hz per µm of thickness.
    pub hz_per_um_thickness: f64,
    /// Hz per percent of every constant of the material, by name; the density last.
    pub hz_per_percent: Vec<(&'static str, f64)>,
}

impl FirstOrder {
    /// Shift, Hz, by an edge bias, µm.
    pub fn edge_shift_hz(&self, edge_um: f64) -> f64 {
        self.hz_per_nm_edge_bias * 1e3 * edge_um
    }

    /// Shift, Hz, by a change of thickness, µm.
    pub fn thickness_shift_hz(&self, thickness_um: f64) -> f64 {
        self.hz_per_um_thickness * thickness_um
    }

    /// Hz per unit of a constant of the material, whose value stands in that unit; `None` where it has no term or is zero.
    pub fn hz_per_constant(&self, name: &str, value: f64) -> Option<f64> {
        let (_, per_percent) = self.hz_per_percent.iter().find(|(own, _)| *own == name)?;
        // Hz per percent of the value is a hundred times that per value.
        Some(100.0 * per_percent / value).filter(|hz| hz.is_finite())
    }
}

impl ProcessTerms {
    /// The same of combinations of these modes, one a column of `of`, that swing at these frequencies, Hz.
    pub fn between(&self, of: &DMatrix<f64>, frequency_hz: Vec<f64>) -> Self {
        Self {
            modes: (0..of.ncols()).collect(),
            frequency_hz,
            edge_bias: self.edge_bias.between(of),
            thickness: self.thickness.between(of),
            constants: self.constants.iter().map(|(name, sensitivities)| (*name, sensitivities.between(of))).collect(),
        }
    }

    /// The shifts of a mode, by its place in [`Self::modes`].
    pub fn of(&self, place: usize) -> FirstOrder {
        let hz = |change: &ModalSensitivity| change.hz(place, self.frequency_hz[place]);
        FirstOrder {
            hz_per_nm_edge_bias: hz(&self.edge_bias) * 1e-3,
            hz_per_um_thickness: hz(&self.thickness),
            hz_per_percent: self.constants.iter().map(|(name, change)| (*name, hz(change))).collect(),
        }
    }
}

/// Terms of the modes numbered `which` (from 0) of a layer on a mesh. `motion` moves all etched edges
/// ([`MeshMotion::edges`]); added mass does not change with the process.
///
/// # Errors
/// See [`ProcessError`].
///
/// ```
/// use modalith_mesher::{mesh::Mesh, motion::MeshMotion};
/// use modalith_solver::{material::Constants, modal::{Wanted, modes}, process::process_terms};
/// use modalith_solver::system::{Layer, Structure};
/// // The first out-of-plane frequency of a thin cantilever goes with its thickness and the root of its modulus.
/// let mut strip = Mesh::rectangle(200.0, 10.0, 16, 1)?;
/// strip.hold(|middle| middle[0] == 0.0);
/// let film = Constants::Isotropic { density_kg_m3: 2330.0, youngs_modulus_pa: 160e9, poissons_ratio: 0.0 };
/// let layer = Layer::shell(&film.law()?, 2.0);
/// let edges = MeshMotion::edges(&strip, 10.0);
/// let modal = modes(&Structure::anchored(strip, layer), Wanted::Lowest(1), &|_| {})?;
/// let terms = process_terms(&modal, &film, &edges, &[0])?.of(0);
/// let frequency = modal.modes[0].frequency_hz;
/// assert!((terms.hz_per_um_thickness * 2.0 / frequency - 1.0).abs() < 1e-3);
/// assert!((terms.hz_per_percent[0].1 * 100.0 / frequency - 0.5).abs() < 1e-6);
/// # Ok::<(), Box<dyn std::error::Error>>(())
/// ```
pub fn process_terms(
    modal: &Modal,
    constants: &Constants,
    motion: &MeshMotion,
    which: &[usize],
) -> Result<ProcessTerms, ProcessError> {
    let names = constants.names();
    let steps = (0..names.len()).map(|k| constants.stable_step(k, STEP)).collect::<Result<Vec<f64>, _>>()?;
    let laws = (0..names.len())
        .map(|k| Ok([constants.scaled(k, 1.0 + steps[k]).law()?, constants.scaled(k, 1.0 - steps[k]).law()?]))
        .collect::<Result<Vec<_>, ProcessError>>()?;
    let mut parameters = vec![Parameter::Edges(motion), Parameter::Thickness];
    parameters.extend(laws.iter().map(|[plus, minus]| Parameter::Law([plus, minus])));
    let all: Vec<usize> = (0..modal.structure.mesh().triangles.len()).collect();
    let mut sensitivities = Elements::new(modal, which).sensitivities(&all, &parameters)?;
    let mut constants: Vec<(&'static str, ModalSensitivity)> =
        names.iter().copied().zip(sensitivities.split_off(2)).collect();
    constants.iter_mut().zip(&steps).for_each(|((_, sensitivities), step)| *sensitivities *= 0.01 / (2.0 * step));
    let thickness = sensitivities.pop().unwrap_or_else(|| ModalSensitivity::zeros(which.len()));
    let edge_bias = sensitivities.pop().unwrap_or_else(|| ModalSensitivity::zeros(which.len()));
    let frequency_hz = which.iter().map(|&i| modal.modes[i].frequency_hz).collect();
    Ok(ProcessTerms { modes: which.to_vec(), frequency_hz, edge_bias, thickness, constants })
}
