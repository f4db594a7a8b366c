//! `modes.json`, SI units: the modes for programs. The same input gives the same bytes.

use super::OutputError;
use super::findings::Findings;
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
    let extra = findings.extra(i);
    let mesh_error = extra.and_then(|e| e.mesh_error_hz);
    let intent = extra.and_then(|e| e.intent.as_ref());
    let of_masses = mode.masses.iter().flat_map(|m| {
        let own = [m.mass_kg, m.kinetic_share, m.rigid_share];
        own.into_iter().chain(m.centre_um).chain(m.translation).chain(m.turn)
    });
    let shares = mode.flexure_strain_share.iter().chain(&mode.mass_strain_share).copied();
    let numbers = [mode.frequency_hz, mode.backward_error, mode.twist_strain_share].into_iter();
    let numbers = numbers.chain(mode.kinetic_share).chain(mode.effective_mass_kg).chain(shares).chain(of_masses);
    if numbers.chain(mesh_error).chain(intent.map(|m| m.mac)).any(|x| !x.is_finite()) {
        return Err(OutputError::NotFinite { what: "a result", mode: i + 1 });
    }
    let axes = |v: [f64; 3]| json!({"x": v[0], "y": v[1], "z": v[2]});
    let mut object = Map::new();
    let mut put = |key: &str, value: Value| object.insert(key.to_owned(), value);
    put("index", json!(i + 1));
    put("label", json!(findings.label(i)));
    put("frequency_hz", json!(mode.frequency_hz));
    if let Some(error) = mesh_error {
        put("mesh_error_hz", json!(error));
    }
    put("backward_error", json!(mode.backward_error));
    put("kinetic_energy_fraction", axes(mode.kinetic_share));
    put("effective_mass_kg", axes(mode.effective_mass_kg));
    if let Some(intent) = intent {
        put("intent", json!({"role": intent.role, "modal_assurance_criterion": intent.mac}));
    }
    put("twist_strain_energy_fraction", json!(mode.twist_strain_share));
    put("flexure_strain_energy_fraction", json!(mode.flexure_strain_share));
    let masses: Vec<Value> = mode
        .masses
        .iter()
        .enumerate()
        .zip(&mode.mass_strain_share)
        .map(|((k, m), strain)| {
            json!({
                "name": m.name,
                "motion": findings.words.get(i).and_then(|w| w.masses.get(k)).map(|w| &w.motion),
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

#[cfg(test)]
mod tests {
    use super::super::specimen::{findings, sensor};
    use super::super::{OutputError, label};
    use super::*;

    #[test]
    fn fixed_keys_hold_and_numbers_read_back() {
        let (_, _, mut sampled, mut modes) = sensor();
        modes[0].frequency_hz = 8904.1 + 1e-11;
        modes[0].effective_mass_kg = [5e-324, 1e-300, 1.0 / 3.0];
        let found = Findings { words: label::orient(&mut modes, &mut sampled), ..findings() };
        let text = document(&found, &modes).unwrap().to_string();
        let v: Value = serde_json::from_str(&text).unwrap();
        assert_eq!((&v["format"], &v["count_verified"]), (&json!("modalith.modes/1"), &json!(true)));
        let m = &v["modes"][0];
        assert_eq!((&m["index"], &m["label"]), (&json!(1), &json!("antiphase x")));
        assert_eq!(m["frequency_hz"].as_f64().unwrap().to_bits(), (8904.1f64 + 1e-11).to_bits());
        let e = &m["effective_mass_kg"];
        assert_eq!([&e["x"], &e["y"], &e["z"]].map(Value::as_f64), [5e-324, 1e-300, 1.0 / 3.0].map(Some));
        // The words and the numbers of a mass have the same sign.
        assert_eq!(m["masses"][0]["motion"], "+x");
        assert!(m["masses"][0]["translation_per_root_kg"]["x"].as_f64().unwrap() > 0.0);
        assert_eq!((&m["intent"]["role"], &m["mesh_error_hz"]), (&json!("drive"), &json!(2.6)));
        // What does not exist is left out, never faked.
        assert!(v.get("coriolis").is_none() && v["modes"][1].get("mesh_error_hz").is_none());
    }

    #[test]
    fn what_is_not_a_number_is_refused() {
        let (.., mut modes) = sensor();
        modes[2].masses[1].turn[0] = f64::NAN;
        assert!(matches!(document(&findings(), &modes), Err(OutputError::NotFinite { mode: 3, .. })));
    }
}
