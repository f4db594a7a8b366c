//! What a run leaves behind: which files, on which stream, and the same bytes every time.

// A helper that cannot go on fails its test.
#![allow(clippy::unwrap_used)]

use modalith_tests::{SEE_SAW, modalith};
use serde_json::Value;
use std::collections::BTreeMap;
use std::path::Path;

fn files(folder: &Path) -> BTreeMap<String, Vec<u8>> {
    let entries = std::fs::read_dir(folder).unwrap().map(|e| e.unwrap().path());
    entries.map(|p| (p.file_name().unwrap().to_str().unwrap().to_owned(), std::fs::read(&p).unwrap())).collect()
}

fn see_saw() -> tempfile::TempDir {
    let folder = tempfile::tempdir().unwrap();
    std::fs::write(folder.path().join("d.json"), SEE_SAW).unwrap();
    folder
}

#[test]
fn the_same_input_gives_the_same_bytes_on_any_number_of_threads() {
    let folder = see_saw();
    let run = |out: &str, threads: &str| {
        let args = ["modes", "d.json", "--out", out, "--count", "4", "--threads", threads, "--quiet", "--animate", "1"];
        let run = modalith(folder.path(), &args).unwrap();
        assert_eq!((run.code, run.stdout.as_str(), run.stderr.as_str()), (Some(0), "", ""), "{run:?}");
        let mut files = files(&folder.path().join(out));
        assert!(files.remove("run.json").is_some());
        files
    };
    let (one, two) = (run("one", "1"), run("two", "2"));
    assert!(one.contains_key("modes.json") && one.contains_key("modes.vtu") && one.len() > 10, "{:?}", one.keys());
    assert_eq!(one.keys().collect::<Vec<_>>(), two.keys().collect::<Vec<_>>());
    for (name, bytes) in &one {
        assert!(*bytes == two[name], "{name} differs");
    }
}

#[test]
fn json_on_stdout_is_the_file_and_nothing_else() {
    let folder = see_saw();
    let run = modalith(folder.path(), &["modes", "d.json", "--out", "out", "--json", "--count", "3"]).unwrap();
    assert_eq!(run.code, Some(0), "{run:?}");
    let file = std::fs::read_to_string(folder.path().join("out/modes.json")).unwrap();
    assert_eq!(run.stdout, file);
    let schema: Value = serde_json::from_str(modalith::command::schema::RESULTS).unwrap();
    let validator = jsonschema::draft202012::new(&schema).unwrap();
    let result: Value = serde_json::from_str(&file).unwrap();
    let faults: Vec<String> = validator.iter_errors(&result).map(|e| format!("{}: {e}", e.instance_path)).collect();
    assert!(faults.is_empty(), "{faults:#?}");
    assert_eq!(result["modes"].as_array().unwrap().len(), 3);
}

#[test]
fn intended_motions_and_coupling_by_rotation() {
    let folder = see_saw();
    let masses = r#"{"plate": [{"rect": [[-150, -80], [150, 80]]}]}"#;
    let intent = r#"{"drive": {"plate": "about +y"}, "sense": [{"rate_axis": "z", "plate": "about +x"}]}"#;
    let device = format!(r#"{{"based_on": "d.json", "masses": {masses}, "intent": {intent}}}"#);
    std::fs::write(folder.path().join("meant.json"), device).unwrap();
    let args = ["modes", "meant.json", "--out", "out", "--count", "6"];
    let run = modalith(folder.path(), &args).unwrap();
    assert_eq!(run.code, Some(0), "{run:?}");
    let file = std::fs::read_to_string(folder.path().join("out/modes.json")).unwrap();
    let result: Value = serde_json::from_str(&file).unwrap();
    let schema: Value = serde_json::from_str(modalith::command::schema::RESULTS).unwrap();
    let validator = jsonschema::draft202012::new(&schema).unwrap();
    let faults: Vec<String> = validator.iter_errors(&result).map(|e| format!("{}: {e}", e.instance_path)).collect();
    assert!(faults.is_empty(), "{faults:#?}");
    let number = |pointer: &str| result.pointer(pointer).and_then(Value::as_f64).unwrap();
    let [drive, sense] = ["/intent/drive/index", "/intent/sense/0/index"].map(|p| number(p) as usize - 1);
    for (mode, label, role) in [(drive, "tilt about y", "drive"), (sense, "tilt about x", "sense")] {
        assert_eq!(result["modes"][mode]["label"], label, "{role}");
        assert!(run.stdout.lines().any(|l| l.contains(label) && l.contains(role)), "{}", run.stdout);
    }
    let mac = |mode: usize, role: &str| number(&format!("/modes/{mode}/intent/{role}/mac"));
    assert!(mac(drive, "drive") > 0.99 && mac(drive, "sense/0") < 1e-9 && mac(sense, "sense/0") > 0.9, "{file}");
    // Both tilts move material in the plane only off mid-layer: about z they hardly couple, about x and y not at all.
    let g = |axis: &str, i: usize, j: usize| number(&format!("/coriolis/{axis}/{i}/{j}"));
    let coupled = g("z", drive, sense).abs();
    assert!((1e-3..0.1).contains(&coupled) && g("x", drive, sense).abs() < 1e-9, "{coupled}");
    for axis in ["x", "y", "z"] {
        assert!((0..6).all(|i| (0..6).all(|j| g(axis, i, j) == -g(axis, j, i))), "{axis}");
    }
    assert_eq!(result["coriolis"]["modes"], serde_json::json!([1, 2, 3, 4, 5, 6]));
}

#[test]
fn matrices_are_symmetric_and_of_one_size() {
    let folder = see_saw();
    let args = ["modes", "d.json", "--out", "out", "--count", "2", "--quiet", "--export-matrices", "matrices"];
    assert_eq!(modalith(folder.path(), &args).unwrap().code, Some(0));
    let result: Value = serde_json::from_slice(&std::fs::read(folder.path().join("out/modes.json")).unwrap()).unwrap();
    let unknowns = result["degrees_of_freedom"].to_string();
    for name in ["K.mtx", "M.mtx"] {
        let text = std::fs::read_to_string(folder.path().join("matrices").join(name)).unwrap();
        assert!(text.starts_with("%%MatrixMarket matrix coordinate real symmetric\n"), "{name}");
        let size = text.lines().find(|l| !l.starts_with('%')).unwrap();
        assert_eq!(size.split_whitespace().take(2).collect::<Vec<_>>(), [unknowns.as_str(); 2], "{name}");
    }
}

#[test]
fn check_says_areas_and_masses_and_solves_nothing() {
    let folder = see_saw();
    let run = modalith(folder.path(), &["check", "d.json", "--json"]).unwrap();
    assert_eq!((run.code, run.stderr.as_str()), (Some(0), ""), "{run:?}");
    let said: Value = serde_json::from_str(&run.stdout).unwrap();
    let part = &said["parts"][0];
    // Plate and two flexures less the round hole, to the chord error of the hole: 1 nm on a radius of 5 µm.
    let area = 300.0 * 160.0 + 2.0 * 8.0 * 60.0 - std::f64::consts::PI * 25.0;
    assert!((part["area_um2"].as_f64().unwrap() - area).abs() < 2.0 * std::f64::consts::PI * 5.0 * 1e-3, "{part}");
    assert!((part["mass_kg"].as_f64().unwrap() / (area * 12e-18 * 2330.0) - 1.0).abs() < 1e-6, "{part}");
    assert_eq!(said["anchors"].as_array().unwrap().len(), 2);
    let flexures = said["flexures"].as_array().unwrap();
    assert_eq!(flexures.len(), 2, "{flexures:?}");
    for flexure in flexures {
        assert!((flexure["width_um"].as_f64().unwrap() - 8.0).abs() < 0.01, "{flexure}");
        assert!((flexure["length_um"].as_f64().unwrap() - 60.0).abs() < 0.06, "{flexure}");
    }
    let angles: Vec<f64> =
        said["mirrors"].as_array().unwrap().iter().map(|m| m["angle_deg"].as_f64().unwrap()).collect();
    assert!(angles.contains(&0.0) && angles.contains(&90.0), "{angles:?}");
    assert_eq!(files(folder.path()).keys().collect::<Vec<_>>(), ["d.json"]);
    let table = modalith(folder.path(), &["check", "d.json"]).unwrap().stdout;
    for words in ["see-saw plate", "12 µm thick", "2 hold the device", "2 flexures", "anchor"] {
        assert!(table.contains(words), "{words}: {table}");
    }
    let quiet = modalith(folder.path(), &["check", "d.json", "--quiet"]).unwrap();
    assert_eq!((quiet.code, quiet.stdout.as_str()), (Some(0), ""));
}

#[test]
fn mesh_writes_its_file_and_its_quality() {
    let folder = see_saw();
    let run = modalith(folder.path(), &["mesh", "d.json", "--out", "out", "--json"]).unwrap();
    assert_eq!(run.code, Some(0), "{run:?}");
    let said: Value = serde_json::from_str(&run.stdout).unwrap();
    assert!(said["smallest_angle_deg"].as_f64().unwrap() >= 25.0, "{said}");
    assert_eq!(files(&folder.path().join("out")).keys().collect::<Vec<_>>(), ["mesh.vtu"]);
}

/// Beams on shells and shells say the same of the process: the first-order terms of a thin device, weighed as shifts by 20 nm of
/// edge bias, 2 % of thickness and 1 % of each constant, within 3 % of the largest of the mode. The models themselves differ
/// by up to 0.7 % in frequency there.
#[test]
fn first_order_terms_of_beams_and_of_shells() {
    let folder = tempfile::tempdir().unwrap();
    let gimbal = Path::new(env!("CARGO_MANIFEST_DIR")).join("../meshes/gimbal/device.json").canonicalize().unwrap();
    let terms = |model: &str| -> Vec<Vec<f64>> {
        let args = ["modes", gimbal.to_str().unwrap(), "--out", model, "--json", "--model", model, "--count", "6"];
        let run = modalith(folder.path(), &args).unwrap();
        assert_eq!(run.code, Some(0), "{run:?}");
        let result: Value = serde_json::from_str(&run.stdout).unwrap();
        let shape_of = |mode: &Value| {
            let own = &mode["first_order"];
            let mut all = vec![
                20.0 * own["hz_per_nm_edge_bias"].as_f64().unwrap(),
                0.1 * own["hz_per_um_thickness"].as_f64().unwrap(),
            ];
            all.extend(own["hz_per_percent"].as_object().unwrap().values().map(|v| v.as_f64().unwrap()));
            all
        };
        result["modes"].as_array().unwrap().iter().map(shape_of).collect()
    };
    for (mode, (beams, shells)) in terms("beam-shell").iter().zip(terms("shell")).enumerate() {
        let largest = shells.iter().map(|s| s.abs()).fold(0.0, f64::max);
        for (a, b) in beams.iter().zip(&shells) {
            assert!((a - b).abs() < 0.03 * largest, "mode {}: {beams:?} against {shells:?}", mode + 1);
        }
    }
}
