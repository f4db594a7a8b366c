//! Error bars: how far a mode's frequency may lie above that of the same model without a mesh. In: mesh, modes, supports. Out: Hz.

use crate::element::prism::SHEAR_CORRECTION;
use crate::modal::Modal;
use crate::system::{EnergyFall, Motion, SystemError, Weight, hierarchic_estimator};
use modalith_mesher::mesh::{EdgeKind, Mesh};
use modalith_mesher::singular::singular_corners;
use std::f64::consts::TAU;

/// What the blocks of the estimate miss: a richer system takes off up to so many times as much (measured,
/// validation/examples/bars.rs: at order 4 they find 0.31 to 0.37 of what is missing at singular corners, where the next order
/// holds 0.36 to 0.39).
const BLOCKS: f64 = 1.3;
/// What is missing away from singular corners over what the next order brings: with it and the former, twice what the blocks
/// find, which is 0.6 to 0.9 of what is missing (measured, likewise).
const SMOOTH: f64 = 1.65;

/// What solids miss beyond that, where flexures five times as tall as wide are short: the next degree through the thickness finds less of
/// what is missing at their roots (measured: bars 0.92 to 1.0 of the error there, 1.2 to 2.2 on generated layouts; likewise).
const THROUGH: f64 = 1.25;
/// The same in flexures twelve times as tall as wide and more (measured: with the former 0.99 to 1.2 of the error where they are sixteen times,
/// against references whose own bars are up to 0.016 %).
const THROUGH_TALLEST: f64 = 1.6;

/// What a mesh leaves of a mode's frequency.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub struct MeshError {
    /// The true frequency of the model lies at most so far below the one found, Hz; zero for a rigid motion.
    pub hz: f64,
    /// Share of it that comes from triangles at singular corners, 0 to 1.
    pub at_corners: f64,
}

/// Error bars of all modes. Away from singular corners the next order holds nearly all that is missing; at them, where the
/// error of ω² falls as the order to the power −4a, where displacements rise from the corner with the power a, at least ½
/// (I. Babuška, M. Suri, SIAM Review 36 (1994) 578, from memory), it holds 1 − (p/(p + 1))² of it. Along free edges of plates the
/// twist dies out within ε = t/√(12κ) (D. N. Arnold, R. S. Falk, SIAM J. Math. Anal. 21 (1990) 281, from memory), of which order p
/// sees p²ε/h on triangles of height h: where what is missed falls as exp(−p²ε/h), the next order holds 2pε/h of it.
///
/// Limits: none at all where beams or appendages hang on the mesh.
///
/// # Errors
/// A curved triangle that folds over.
pub fn mesh_errors(modal: &Modal) -> Result<Vec<MeshError>, SystemError> {
    if modal.motions.iter().any(|m| m.beams.hang()) {
        return Ok(Vec::new());
    }
    let energy_falls = energy_falls(modal)?;
    let error_of = |(i, fall): (usize, &EnergyFall)| MeshError {
        hz: hz(modal.modes[i].frequency_hz, fall.all),
        at_corners: if fall.all > 0.0 { fall.singular / fall.all } else { 0.0 },
    };
    Ok(energy_falls.iter().enumerate().map(error_of).collect())
}

/// What a richer system would take off ω² of every mode.
fn energy_falls(modal: &Modal) -> Result<Vec<EnergyFall>, SystemError> {
    let mesh = modal.structure.mesh();
    let singular = singular_corners(mesh);
    let mut all = vec![EnergyFall::default(); modal.modes.len()];
    for (m, motion) in modal.motions.iter().enumerate() {
        let own: Vec<usize> = (0..all.len()).filter(|&i| modal.motion_of[i] == m).collect();
        let modes: Vec<(f64, &[f64])> =
            own.iter().map(|&i| (modal.modes[i].omega().powi(2), modal.modes[i].shape.as_slice())).collect();
        let weights = weights(mesh, motion, &singular);
        for (i, found) in own.iter().zip(hierarchic_estimator(&modal.structure, motion, &weights, &modes)?) {
            all[*i] = found;
        }
    }
    Ok(all)
}

/// What is missing over what one order more brings, by triangle.
fn weights(mesh: &Mesh, motion: &Motion, singular: &[bool]) -> Vec<Weight> {
    let bends = motion.layer.fields.iter().any(|f| !f.is_in_plane());
    let through = |t: usize| match motion.layer.shear_correction() {
        Some(_) => 1.0,
        None if motion.layer.regions.is_tallest(t) => THROUGH_TALLEST,
        None => THROUGH,
    };
    let layer_um = 1e6 * motion.layer.thickness_m / (12.0 * SHEAR_CORRECTION).sqrt();
    let weight_of = |t: usize| {
        let order = motion.layer.order_of(t).degree() as f64;
        let at_corner = mesh.triangles[t].iter().any(|&c| singular[c as usize]);
        let mut missing = if at_corner { 1.0 / (1.0 - (order / (order + 1.0)).powi(2)) } else { SMOOTH };
        for edge in mesh.triangle_edges[t].map(|e| &mesh.edges[e as usize]) {
            if bends && edge.kind == EdgeKind::Free {
                let [a, b] = edge.ends.map(|c| mesh.points[c as usize]);
                let height_um = 2.0 * mesh.area(t) / (b[0] - a[0]).hypot(b[1] - a[1]);
                missing = missing.max(height_um / (2.0 * order * layer_um));
            }
        }
        Weight { factor: through(t) * BLOCKS * missing, singular: at_corner }
    };
    (0..mesh.triangles.len()).map(weight_of).collect()
}

/// Error of a frequency, Hz, from the fall of ω².
fn hz(frequency_hz: f64, fall: f64) -> f64 {
    frequency_hz - (frequency_hz.powi(2) - fall / TAU.powi(2)).max(0.0).sqrt()
}
