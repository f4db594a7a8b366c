//! The JSON Schema of the device file and the reader agree: what is valid for one is valid for the other.

// A helper that cannot go on fails its test.
#![allow(clippy::unwrap_used)]

use modalith::command::schema::{DEVICE, PLAN};
use modalith::device::Device;
use modalith::device::document::Document;
use modalith::plan::Plan;
use modalith_tests::SEE_SAW;
use serde_json::{Value, json};
use std::path::{Path, PathBuf};

const RICH: &str = include_str!("rich_device.json");

fn validator() -> jsonschema::Validator {
    jsonschema::draft202012::new(&serde_json::from_str(DEVICE).unwrap()).unwrap()
}

fn readable(device: &Value) -> Result<(), modalith::device::InputError> {
    let text = serde_json::to_vec(device).unwrap();
    Device::from_document(Document::from_bytes(Path::new("device.json"), text)?).map(|_| ())
}

fn device_files(folder: &Path, found: &mut Vec<PathBuf>) {
    for entry in std::fs::read_dir(folder).unwrap() {
        let path = entry.unwrap().path();
        if path.is_dir() {
            device_files(&path, found);
        } else if path.extension().is_some_and(|e| e == "json") {
            found.push(path);
        }
    }
}

#[test]
fn the_schema_is_a_valid_schema() {
    jsonschema::draft202012::meta::validate(&serde_json::from_str(DEVICE).unwrap()).unwrap();
    jsonschema::draft202012::meta::validate(&serde_json::from_str(PLAN).unwrap()).unwrap();
    let results = serde_json::from_str(modalith::command::schema::RESULTS).unwrap();
    jsonschema::draft202012::meta::validate(&results).unwrap();
}

#[test]
fn every_device_of_demos_and_tests_is_valid() {
    let validator = validator();
    for text in [SEE_SAW, RICH] {
        let device: Value = serde_json::from_str(text).unwrap();
        readable(&device).unwrap();
        let faults: Vec<String> = validator.iter_errors(&device).map(|e| format!("{}: {e}", e.instance_path)).collect();
        assert!(faults.is_empty(), "{faults:#?}");
    }
    let meshes = Path::new(env!("CARGO_MANIFEST_DIR")).join("../meshes");
    let mut files = Vec::new();
    if meshes.is_dir() {
        device_files(&meshes, &mut files);
    }
    for file in files {
        let device: Value = serde_json::from_str(&std::fs::read_to_string(&file).unwrap()).unwrap();
        if device.get("$defs").is_some() {
            let stored: Value = serde_json::from_str(DEVICE).unwrap();
            assert_eq!(device, stored, "{} is not what `modalith schema device` prints", file.display());
            continue;
        }
        if device.get("format").is_some_and(|f| f != "modalith.device/1") {
            continue;
        }
        Device::read(&file).unwrap();
        let faults: Vec<String> = validator.iter_errors(&device).map(|e| format!("{}: {e}", e.instance_path)).collect();
        assert!(faults.is_empty(), "{}: {faults:#?}", file.display());
    }
}

/// A place, what is put there, and whether that is valid.
type Change = (&'static str, Value, bool);

/// Changes of layout, process and material.
fn of_layouts() -> Vec<Change> {
    vec![
        ("/process/thickness_um", json!(-1), false),
        ("/process/thickness_um", json!("12"), false),
        ("/process/thickness_um", json!(3), true),
        ("/process", json!({}), false),
        ("/process", json!({"thickness_um": 3, "notes": []}), true),
        ("/process", json!({"thickness_um": 3, "thicknes": 3}), false),
        ("/format", json!("modalith.device/2"), false),
        ("/layout", json!({"structure": []}), false),
        ("/layout/unit", json!("mm"), false),
        ("/layout/unit", json!(null), false),
        ("/layout/structure", json!([]), false),
        ("/layout/structure/0", json!({"rect": [[0, 0]]}), false),
        ("/layout/structure/0", json!({"rect": [[0, 0], [1]]}), false),
        ("/layout/structure/0", json!({"rect": [[0, 0], [1, 1]], "circle": [0, 0], "radius": 1}), false),
        ("/layout/structure/0", json!({"square": 1}), false),
        ("/layout/structure/0", json!({"circle": [0, 0]}), false),
        ("/layout/structure/0", json!({"circle": [0, 0], "radius": 0}), false),
        ("/layout/structure/0", json!({"path": [[0, 0], [9, 0]], "width": 1, "ends": "blunt"}), false),
        ("/layout/structure/0", json!({"path": [[0, 0], [9, 0]], "width": 1, "ends": "round"}), true),
        (
            "/layout/structure/0",
            json!({"ring": [0, 0], "inner_radius": 1, "outer_radius": 2, "mirror_about": {}}),
            false,
        ),
        ("/layout/structure/0", json!({"circle": [0, 0], "radius": 1, "array": {"columns": 2}}), false),
        ("/layout/structure/0", json!({"circle": [0, 0], "radius": 1, "array": {"columns": 2, "step": [4, 0]}}), true),
        ("/layout/structure/0", json!({"circle": [0, 0], "radius": 1, "array": {"columns": 0, "step": [4, 0]}}), false),
        ("/support", json!("loose"), false),
        ("/anchors_held", json!("below"), true),
        ("/anchors_held", json!("above"), false),
        ("/material", json!({"name": "polysilicon"}), true),
        ("/material", json!({"name": "silicon", "wafer": "100", "x_along": "1-10"}), true),
        ("/material", json!({"name": "silicon", "wafer": 100, "x_along": "110"}), false),
        ("/material", json!({"density_kg_m3": 2330}), false),
        ("/material", json!({"density_kg_m3": 2, "youngs_modulus_gpa": 160, "poissons_ratio": 0.2}), false),
        ("/material", json!({"density_kg_m3": 2330, "youngs_modulus_gpa": 160, "poissons_ratio": 0.5}), false),
        ("/material", json!({"density_kg_m3": 2330, "c11_gpa": 160, "c12_gpa": 60}), false),
        ("/masses", json!({"a": []}), false),
        ("/masses", json!({"a": [{"circle": [0, 0], "radius": 1}], "notes": 3}), true),
        ("/intent", json!({"drive": {"a": "+w"}}), false),
        ("/intent", json!({"sense": [{"a": "+x"}]}), false),
    ]
}

/// Changes of electrodes, modes and mesh.
fn of_electrodes_and_meshes() -> Vec<Change> {
    vec![
        ("/electrodes", json!({}), true),
        ("/electrodes", json!({"a": {}}), false),
        ("/electrodes", json!({"a": {"kind": "plate", "side": "below", "gap_um": 2, "layer_name": "a"}}), true),
        ("/electrodes", json!({"a": {"kind": "plate", "side": "below", "gap_um": 2}}), false),
        ("/electrodes", json!({"a": {"kind": "plate", "side": "below", "gap_um": 2, "shapes": []}}), false),
        ("/electrodes", json!({"a": {"kind": "plate", "side": "below", "gap_um": 0, "layer_name": "a"}}), false),
        ("/electrodes", json!({"a": {"kind": "comb", "direction": "+x", "mass": "m", "gap_um": 2}}), false),
        ("/electrodes", json!({"a": {"kind": "comb", "direction": "+x", "mass": "m", "measure": "drawn"}}), false),
        ("/electrodes", json!({"a": {"kind": "wall", "gap_um": 2}}), false),
        ("/modes", json!({"count": 0}), false),
        ("/modes", json!({"count": 3, "up_to_hz": -4}), false),
        ("/modes", json!({"up_to_hz": 4, "near_hz": 4}), false),
        ("/mesh", json!({"largest_um": 0}), false),
        ("/mesh", json!({"across_flexure": 1.5}), false),
        ("/mesh", json!({"across_flexure": 2}), true),
    ]
}

/// Changes of how it is run and what is asked of it.
fn of_operation() -> Vec<Change> {
    vec![
        ("/operation", json!({"drive_amplitude_um": 0}), false),
        ("/operation", json!({"drive_amplitude_um": 4, "drive_at": [1, 2]}), true),
        ("/operation", json!({"drive_at": [1, 2, 3]}), false),
        ("/operation", json!({"drive_at": 3}), false),
        ("/operation", json!({"quality_sense": 0.1}), false),
        ("/operation", json!({"temperature_k": -40}), false),
        ("/operation", json!({"readout_noise_m_per_rthz": 0.05}), false),
        ("/operation", json!({"readout_noise_m_per_rthz": 5e-14, "readout_noise_af_per_rthz": 1}), false),
        ("/operation", json!({"shock": {"peak_g": 1500, "duration_ms": 0.5}}), false),
        ("/operation", json!({"shock": {"peak_g": 1500, "duration_ms": 0.5, "direction": "+z"}}), false),
        ("/operation", json!({"vibration_band_hz": [-1, 2]}), false),
        ("/operation", json!({"vibration_band_hz": [1, 2, 3]}), false),
        ("/operation", json!({"strength": 900}), false),
        ("/guards", json!([{"name": "", "frequency_hz": 3}]), false),
        ("/guards", json!([{"name": "a"}]), false),
        ("/guards", json!([{"name": "a", "frequency_hz": 3}]), true),
        ("/stoppers", json!([{"at": [0, 0], "direction": "z", "gap_um": 1}]), false),
        ("/stoppers", json!([{"at": [0, 0], "direction": "-z", "gap_um": 0}]), false),
        ("/stoppers", json!([{"at": [0, 0], "direction": "-z", "gap_um": 1}]), true),
        ("/imperfections", json!({"phase_error_deg": 91}), false),
        ("/imperfections", json!({"drive_force_leak": 2}), false),
        ("/imperfections", json!({"left_right_width_um": -0.1}), true),
        ("/spread_3sigma", json!({"edge_bias_um": -0.1}), false),
        ("/spread_3sigma", json!({"density_percent": 0.1}), true),
        ("/requirements", json!({"mode_split_hz": 500}), false),
        ("/requirements", json!({"mode_split_hz": [500]}), false),
        ("/requirements", json!({"guard_hz": "200"}), false),
        ("/requirements", json!({"guard_hz": 200, "coupling": [0.8, 1]}), true),
    ]
}

/// One change at a time; each is judged the same way by schema and reader.
#[test]
fn schema_and_reader_judge_alike() {
    let validator = validator();
    for (pointer, value, valid) in [of_layouts(), of_electrodes_and_meshes(), of_operation()].concat() {
        let mut device: Value = serde_json::from_str(SEE_SAW).unwrap();
        let (parent, key) = pointer.rsplit_once('/').unwrap();
        match device.pointer_mut(parent).unwrap() {
            Value::Array(list) => list[key.parse::<usize>().unwrap()] = value.clone(),
            members => members[key] = value.clone(),
        }
        let read = readable(&device);
        assert_eq!(read.is_ok(), valid, "reader: {pointer} = {value}: {read:?}");
        assert_eq!(validator.is_valid(&device), valid, "schema: {pointer} = {value}");
    }
}

/// Changes of a plan.
fn of_plans() -> Vec<Change> {
    vec![
        ("", json!(null), true),
        ("/format", json!("modalith.device/1"), false),
        ("/command", json!("check"), false),
        ("/command", json!("rate"), true),
        ("/model", json!("beam-shell"), true),
        ("/model", json!("beam"), false),
        ("/vary", json!({"notes": 1}), false),
        ("/vary", json!({"thickness": {"list": [1]}}), false),
        ("/vary", json!({"/a~2": {"list": [1]}}), false),
        ("/vary", json!({"/a": {"list": []}}), false),
        ("/vary", json!({"/a": {"list": [1], "range": {"from": 1, "to": 2, "count": 2}}}), false),
        ("/vary", json!({"/a": {"list": [{}]}}), false),
        ("/vary", json!({"/a": {"list": ["100", [1, 2], 3, true]}}), true),
        ("/vary", json!({"/a": {"range": {"from": 1, "to": 2, "count": 1}}}), false),
        ("/vary", json!({"/a": {"range": {"from": 1, "to": 2, "count": 3}}}), true),
        ("/vary", json!({"/a": {"lognormal": {"median": 1, "log_deviation": 0.1}}}), true),
        ("/vary", json!({"/a": {"lognormal": {"median": -1, "log_deviation": 0.1}}}), false),
        ("/vary", json!({"/a": {"triangular": {"low": 1, "peak": 2, "high": 3}}}), true),
        (
            "/correlation",
            json!([{"between": ["/process/thickness_um", "/process/edge_bias_um"], "coefficient": 0.5}]),
            true,
        ),
        (
            "/correlation",
            json!([{"between": ["/process/thickness_um", "/process/edge_bias_um"], "coefficient": 1}]),
            false,
        ),
        ("/correlation", json!([{"between": ["/process/thickness_um"], "coefficient": 0.1}]), false),
        ("/sampling", json!({"method": "monte carlo", "points": 10}), false),
        ("/sampling", json!({"method": "sobol", "points": 10, "seed": 0}), true),
        ("/sampling", json!({"method": "sobol", "points": 0, "seed": 0}), false),
        ("/sampling", json!({"method": "grid", "points": 10}), false),
        ("/keep", json!({}), false),
        ("/keep", json!({"point": "/modes/0/frequency_hz"}), false),
        ("/keep", json!({"a": "modes"}), false),
        ("/limits", json!({"first_hz": [1, null]}), true),
        ("/limits", json!({"first_hz": [null, null]}), false),
        ("/limits", json!({"first_hz": [1]}), false),
    ]
}

/// The same for plans.
#[test]
fn the_plans_schema_and_its_reader_judge_alike() {
    let good = json!({
        "format": "modalith.plan/1", "device": "device.json", "command": "modes",
        "vary": {
            "/process/thickness_um": {"normal": {"mean": 20, "deviation": 0.2}},
            "/process/edge_bias_um": {"uniform": {"low": -0.1, "high": 0.1}, "notes": "wet"}
        },
        "sampling": {"method": "monte carlo", "points": 1000, "seed": 7},
        "keep": {"first_hz": "/modes/0/frequency_hz"}
    });
    let validator = jsonschema::draft202012::new(&serde_json::from_str(PLAN).unwrap()).unwrap();
    for (pointer, value, valid) in of_plans() {
        let mut plan = good.clone();
        if !pointer.is_empty() {
            plan[&pointer[1..]] = value.clone();
        }
        let document = Document::from_bytes(Path::new("plan.json"), plan.to_string().into_bytes()).unwrap();
        let read = Plan::from_document(document);
        assert_eq!(read.is_ok(), valid, "reader: {pointer} = {value}: {:?}", read.err());
        assert_eq!(validator.is_valid(&plan), valid, "schema: {pointer} = {value}");
    }
}
