//! `modes.json`, SI units: the modes for programs. The same input gives the same bytes.

use super::OutputError;
use super::findings::{Findings, Rotation};
use super::search;
use super::state;
use super::used;
use modalith_solver::mode::Mode;
use modalith_solver::process::FirstOrder;
use modalith_solver::sensor::{ElectrodeFound, Intended};
use serde_json::{Map, Value, json};

/// The document of `modes.json`.
///
/// # Errors
/// [`OutputError::NotFinite`] instead of a file with holes in it.
pub fn document(findings: &Findings, modes: &[Mode]) -> Result<Value, OutputError> {
    let rows = modes.iter().enumerate().map(|(i, mode)| row(findings, i, mode)).collect::<Result<Vec<_>, _>>()?;
    let mut document = json!({
        "format": "modalith.modes/1",
        "device": findings.device,
        "model": findings.model,
        "degrees_of_freedom": findings.degrees_of_freedom,
        "input_sha256": findings.input_sha256,
        "count_verified": findings.search.is_counted(),
        "search": search::document(&findings.search),
        "thickness_um": findings.thickness_um,
        "material": findings.material,
        "moving_mass_kg": findings.moving_mass_kg,
        "cautions": findings.cautions,
        "used": used::document(&findings.used),
        "left_out": findings.left_out,
        "modes": rows,
    });
    let mut put = |key: &str, value: Value| document[key] = value;
    let is_mode = |m: &Intended| {
        m.mode
            .zip(m.mode.and_then(|i| m.mac.get(i)))
            .map_or_else(|| json!({}), |(i, mac)| json!({"index": i + 1, "mac": mac}))
    };
    if let Some(intent) = intent(&findings.intended, is_mode) {
        put("intent", intent);
    }
    if let Some(split) = findings.split {
        put("mode_split_hz", json!(split.hz));
        put("mode_split_mesh_error_hz", json!(split.mesh_error_hz));
    }
    if !findings.electrodes.is_empty() {
        put("electrodes", electrodes(findings)?);
    }
    if let Some(Some(pull_in)) = &findings.pull_in {
        put("pull_in_bias_ratio", json!(pull_in.ratio));
    }
    if let Some(film) = &findings.film {
        put("state", state::document(film));
    }
    if let Some(rotation) = &findings.rotation {
        put("coriolis", coriolis(rotation)?);
    }
    Ok(document)
}

const AXES: [&str; 3] = ["x", "y", "z"];

/// The intended motions with something about each: the drive, and the answers to rotation in the user's order.
fn intent(intended: &[Intended], about: impl Fn(&Intended) -> Value) -> Option<Value> {
    let (mut object, mut senses) = (Map::new(), Vec::new());
    for motion in intended {
        let mut value = about(motion);
        match motion.rate_axis {
            None => {
                object.insert("drive".to_owned(), value);
            }
            Some(axis) => {
                value["rate_axis"] = json!(AXES[axis]);
                senses.push(value);
            }
        }
    }
    if !senses.is_empty() {
        object.insert("sense".to_owned(), json!(senses));
    }
    (!object.is_empty()).then_some(Value::Object(object))
}

/// What every electrode sees of the modes.
///
/// # Errors
/// A gradient that is not a finite number.
pub fn electrodes(findings: &Findings) -> Result<Value, OutputError> {
    let one = |e: &ElectrodeFound| {
        if let Some(mode) = e.reading.gradient.iter().position(|g| !g.is_finite()) {
            return Err(OutputError::NotFinite { what: "the gradient of a capacitance", mode: mode + 1 });
        }
        let mut value = json!({
            "name": e.name,
            "kind": e.kind,
            "bias_v": e.bias_v,
            "capacitance_f": e.reading.capacitance_f,
            "gradient_f_per_m_per_root_kg": e.reading.gradient,
            "covered_um2": e.reading.covered_um2,
        });
        if let Some(role) = e.role {
            value["role"] = json!(role);
        }
        if let Some(motion) = e.static_motion_m {
            value["static_motion_m"] = json!(motion);
        }
        Ok(value)
    };
    findings.electrodes.iter().map(one).collect()
}

fn coriolis(rotation: &Rotation) -> Result<Value, OutputError> {
    let mut object = json!({"modes": rotation.modes.iter().map(|i| i + 1).collect::<Vec<_>>()});
    for (k, axis) in AXES.into_iter().enumerate() {
        let g = rotation.coriolis.about(k);
        if let Some(at) = g.iter().position(|x| !x.is_finite()) {
            let mode = rotation.modes[at % g.nrows()] + 1;
            return Err(OutputError::NotFinite { what: "a Coriolis coupling", mode });
        }
        object[axis] = json!(g.row_iter().map(|row| row.iter().copied().collect()).collect::<Vec<Vec<f64>>>());
    }
    Ok(object)
}

fn shifts_object(shifts: &FirstOrder) -> Value {
    let percent: Map<String, Value> =
        shifts.hz_per_percent.iter().map(|(name, hz)| ((*name).to_owned(), json!(hz))).collect();
    json!({
        "hz_per_nm_edge_bias": shifts.hz_per_nm_edge_bias,
        "hz_per_um_thickness": shifts.hz_per_um_thickness,
        "hz_per_percent": percent,
    })
}

// One object, its keys in the order of the file.
fn row(findings: &Findings, i: usize, mode: &Mode) -> Result<Value, OutputError> {
    let extra = findings.extra(i);
    let mesh_error = extra.and_then(|e| e.mesh_error_hz);
    let first_order = extra.and_then(|e| e.first_order.as_ref());
    let shifts = first_order.iter().flat_map(|f| {
        let percent = f.hz_per_percent.iter().map(|(_, hz)| *hz);
        [f.hz_per_nm_edge_bias, f.hz_per_um_thickness].into_iter().chain(percent)
    });
    let mac = |m: &Intended| m.mac.get(i).copied().unwrap_or(0.0);
    let of_masses = mode.masses.iter().flat_map(|m| {
        let own = [m.mass_kg, m.kinetic_share, m.rigid_share];
        own.into_iter().chain(m.centre_um).chain(m.inertia_kg_m2.concat()).chain(m.translation).chain(m.turn)
    });
    let shares = mode.flexure_strain_share.iter().chain(&mode.mass_strain_share).copied();
    let numbers = [mode.frequency_hz, mode.backward_error, mode.twist_strain_share].into_iter();
    let numbers = numbers.chain(mode.kinetic_share).chain(mode.effective_mass_kg()).chain(shares).chain(of_masses);
    if numbers.chain(mesh_error).chain(shifts).chain(findings.intended.iter().map(mac)).any(|x| !x.is_finite()) {
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
    if let Some(shifts) = first_order {
        put("first_order", shifts_object(shifts));
    }
    if let Some(extra) = extra.filter(|e| !e.mirrored.is_empty()) {
        let images = extra.mirrored.iter().map(|image| (image.axis().to_owned(), json!(image.parity())));
        put("parity", Value::Object(images.collect()));
    }
    put("backward_error", json!(mode.backward_error));
    put("kinetic_energy_fraction", axes(mode.kinetic_share));
    put("effective_mass_kg", axes(mode.effective_mass_kg()));
    if let Some(intent) = intent(&findings.intended, |m| json!({"mac": mac(m)})) {
        put("intent", intent);
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
                "inertia_kg_m2": m.inertia_kg_m2,
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
    use super::super::OutputError;
    use super::super::specimen::{findings, sensor};
    use super::*;
    use modalith_solver::mode::label;
    use modalith_solver::rotation::Coriolis;
    use nalgebra::DMatrix;

    #[test]
    fn fixed_keys_hold_and_numbers_read_back() {
        let (_, _, mut sampled, mut modes) = sensor();
        modes[0].frequency_hz = 8904.1 + 1e-11;
        modes[0].participation = [2e-162, 1e-150, 0.5, 0.0, 0.0, 0.0];
        let found = Findings { words: label::orient(&mut modes, &mut sampled), ..findings() };
        let text = document(&found, &modes).unwrap().to_string();
        let v: Value = serde_json::from_str(&text).unwrap();
        assert_eq!((&v["format"], &v["count_verified"]), (&json!("modalith.modes/1"), &json!(true)));
        let m = &v["modes"][0];
        assert_eq!((&m["index"], &m["label"]), (&json!(1), &json!("antiphase x")));
        assert_eq!(m["frequency_hz"].as_f64().unwrap().to_bits(), (8904.1f64 + 1e-11).to_bits());
        let e = &m["effective_mass_kg"];
        assert_eq!([&e["x"], &e["y"], &e["z"]].map(Value::as_f64), [5e-324, 1e-300, 0.25].map(Some));
        // The words and the numbers of a mass have the same sign.
        assert_eq!(m["masses"][0]["motion"], "+x");
        assert!(m["masses"][0]["translation_per_root_kg"]["x"].as_f64().unwrap() > 0.0);
        assert_eq!(m["mesh_error_hz"], json!(2.6));
        let percent = json!({"youngs_modulus": 74.06, "poissons_ratio": 0.1, "density": -74.06});
        let shifts = json!({"hz_per_nm_edge_bias": 10.9, "hz_per_um_thickness": -4.0, "hz_per_percent": percent});
        assert_eq!(m["first_order"], shifts);
        assert_eq!(m["intent"], json!({"drive": {"mac": 0.998}, "sense": [{"mac": 0.0, "rate_axis": "y"}]}));
        let sense = json!([{"index": 2, "mac": 0.991, "rate_axis": "y"}]);
        assert_eq!(v["intent"], json!({"drive": {"index": 1, "mac": 0.998}, "sense": sense}));
        // What does not exist is left out, never faked.
        assert!(v.get("coriolis").is_none() && v["modes"][1].get("mesh_error_hz").is_none());
    }

    #[test]
    fn coupling_by_rotation_in_the_order_of_its_modes() {
        let (.., modes) = sensor();
        let momenta = |scale: f64| {
            let mut cross = DMatrix::zeros(2, 2);
            cross[(0, 1)] = scale;
            [DMatrix::zeros(2, 2), cross, DMatrix::zeros(2, 2)]
        };
        let with = |scale: f64| {
            let coriolis = Coriolis::from_momenta(momenta(0.0), momenta(scale));
            document(&Findings { rotation: Some(Rotation { modes: vec![1, 2], coriolis }), ..findings() }, &modes)
        };
        let zero = json!([[0.0, 0.0], [0.0, 0.0]]);
        let y = json!([[0.0, -1.5], [1.5, 0.0]]);
        assert_eq!(with(0.75).unwrap()["coriolis"], json!({"modes": [2, 3], "x": zero, "y": y, "z": zero}));
        assert!(matches!(with(f64::NAN), Err(OutputError::NotFinite { .. })));
    }

    #[test]
    fn what_is_not_a_number_is_refused() {
        let (.., mut modes) = sensor();
        modes[2].masses[1].turn[0] = f64::NAN;
        assert!(matches!(document(&findings(), &modes), Err(OutputError::NotFinite { mode: 3, .. })));
    }
}
