//! `modes.json`, SI units: the modes for programs. The same input gives the same bytes.

use super::findings::Findings;
use super::{OutputError, label::label};
use modalith_solver::mode::Mode;
use serde_json::{Map, Value, json};

/// The document of `modes.json`.
///
/// # Errors
/// [`OutputError::NotFinite`] instead of a file with holes in it.
pub fn document(findings: &Findings, modes: &[Mode]) -> Result<Value, OutputError> {
    let rows = modes.iter().enumerate().map(|(i, mode)| row(findings, i, mode)).collect::<Result<Vec<_>, _>>()?;
    Ok(json!({
        "format": "modalith.modes/1",
        "device": findings.device,
        "model": findings.model,
        "degrees_of_freedom": findings.degrees_of_freedom,
        "input_sha256": findings.input_sha256,
        "count_verified": findings.count_verified,
        "thickness_um": findings.thickness_um,
        "material": findings.material,
        "moving_mass_kg": findings.moving_mass_kg,
        "cautions": findings.cautions,
        "left_out": findings.left_out,
        "modes": rows,
    }))
}

fn row(findings: &Findings, i: usize, mode: &Mode) -> Result<Value, OutputError> {
    let numbers = [mode.frequency_hz, mode.backward_error].into_iter().chain(mode.kinetic_share);
    if numbers.chain(mode.effective_mass_kg).any(|x| !x.is_finite()) {
        return Err(OutputError::NotFinite { what: "a result", mode: i + 1 });
    }
    let axes = |v: [f64; 3]| json!({"x": v[0], "y": v[1], "z": v[2]});
    let mut object = Map::new();
    let mut put = |key: &str, value: Value| object.insert(key.to_owned(), value);
    put("index", json!(i + 1));
    put("label", json!(label(mode, findings.moving_mass_kg)));
    put("frequency_hz", json!(mode.frequency_hz));
    put("backward_error", json!(mode.backward_error));
    put("kinetic_energy_fraction", axes(mode.kinetic_share));
    put("effective_mass_kg", axes(mode.effective_mass_kg));
    put("twist_strain_energy_fraction", json!(mode.twist_strain_share));
    put("flexure_strain_energy_fraction", json!(mode.flexure_strain_share));
    let masses: Vec<Value> = mode
        .masses
        .iter()
        .zip(&mode.mass_strain_share)
        .map(|(m, strain)| {
            json!({
                "name": m.name,
                "mass_kg": m.mass_kg,
                "centre_um": m.centre_um,
                "translation_per_root_kg": axes(m.translation),
                "turn_rad_per_m_per_root_kg": axes(m.turn),
                "kinetic_energy_fraction": m.kinetic_share,
                "rigid_fraction": m.rigid_share,
                "strain_energy_fraction": strain,
            })
        })
        .collect();
    put("masses", json!(masses));
    Ok(Value::Object(object))
}
