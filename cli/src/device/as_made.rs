//! How the device as made departs from the drawing: stated imperfections, and the spread of the process.

use super::keys;
use super::node::{Node, Object, Read};
use modalith_solver::sensor::{Imperfections, ThreeSigma};

/// Reads `imperfections`.
///
/// # Errors
/// For malformed or unphysical values.
pub fn imperfections(node: &Node) -> Read<Imperfections> {
    let o = node.object(&keys::IMPERFECTIONS)?;
    Ok(Imperfections {
        left_right_width_um: o.get("left_right_width_um").map(|n| n.number("a length in µm")).transpose()?,
        sidewall_tilt_deg: within(&o, "sidewall_tilt_deg", [-20.0, 20.0], "an angle in degrees")?,
        electrode_mismatch: within(&o, "electrode_mismatch", [-1.0, 1.0], "a share")?,
        drive_force_leak: within(&o, "drive_force_leak", [-1.0, 1.0], "a share")?,
        phase_error_deg: within(&o, "phase_error_deg", [-90.0, 90.0], "an angle in degrees")?,
    })
}

/// Reads `spread_3sigma`.
///
/// # Errors
/// For malformed values and values below zero.
pub fn spread(node: &Node) -> Read<ThreeSigma> {
    let o = node.object(&keys::SPREAD)?;
    let lengths = [0.0, 1e4];
    Ok(ThreeSigma {
        edge_bias_um: within(&o, "edge_bias_um", lengths, "three sigma in µm")?,
        thickness_um: within(&o, "thickness_um", lengths, "three sigma in µm")?,
        youngs_modulus_percent: within(&o, "youngs_modulus_percent", [0.0, 100.0], "three sigma in percent")?,
        density_percent: within(&o, "density_percent", [0.0, 100.0], "three sigma in percent")?,
    })
}

fn within(o: &Object, key: &str, [low, high]: [f64; 2], what: &str) -> Read<Option<f64>> {
    let Some(n) = o.get(key) else { return Ok(None) };
    let x = n.number(what)?;
    if !(low..=high).contains(&x) {
        return Err(n.error(format!("must be {what} from {low} to {high}, not {x}"), "give a value in this range"));
    }
    Ok(Some(x))
}
