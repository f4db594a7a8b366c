//! The lumped model of every demo with flexures, as a user runs it: what it writes, and that no mass is lost.

// A helper that cannot go on fails its test.
#![allow(clippy::unwrap_used)]

use modalith_tests::modalith;
use serde_json::Value;
use std::path::Path;

/// `lumped.json` and `modes.json` of a demo.
fn solved(name: &str) -> (Value, Value) {
    let folder = tempfile::tempdir().unwrap();
    let device = Path::new(env!("CARGO_MANIFEST_DIR")).join("../meshes").join(name).join("device.json");
    let device = device.canonicalize().unwrap();
    let args = ["modes", device.to_str().unwrap(), "--model", "lumped", "--out", "out", "--quiet"];
    let run = modalith(folder.path(), &args).unwrap();
    assert_eq!(run.code, Some(0), "{name}: {run:?}");
    let read = |file: &str| std::fs::read_to_string(folder.path().join("out").join(file)).unwrap();
    assert!(read("lumped.txt").contains("\n        = "), "{name}");
    (serde_json::from_str(&read("lumped.json")).unwrap(), serde_json::from_str(&read("modes.json")).unwrap())
}

/// Mass of the free layer from the outline alone, kg.
fn layer_mass(name: &str) -> f64 {
    let path = Path::new(env!("CARGO_MANIFEST_DIR")).join("../meshes").join(name).join("device.json");
    let device = modalith::device::Device::read(&path).unwrap();
    let outline = device.outline(&device.drawing().unwrap().0).unwrap();
    outline.areas().free_um2 * device.thickness_um * 1e-18 * device.law.density_kg_m3
}

/// Bodies, with their fingers and holes, and flexures together are the layer, to 1e-6.
#[test]
fn no_mass_is_lost() {
    for name in ["platform", "comb-resonator", "gimbal", "ring"] {
        let (lumped, modes) = solved(name);
        let sum =
            |key: &str| lumped[key].as_array().unwrap().iter().map(|b| b["mass_kg"].as_f64().unwrap()).sum::<f64>();
        let error = (sum("bodies") + sum("flexures")) / layer_mass(name) - 1.0;
        assert!(error.abs() < 1e-6, "{name}: {error:e}");
        for formula in lumped["formulas"].as_array().unwrap() {
            let ratio = formula["value"].as_f64().unwrap() / formula["extracted"].as_f64().unwrap();
            assert!((ratio - 1.0).abs() < 1e-6, "{name}: {formula}");
        }
        assert_eq!(modes["model"], "lumped", "{name}");
        assert_eq!(modes["count_verified"], true, "{name}");
    }
}

#[test]
fn a_layout_without_flexures_has_nothing_to_lump() {
    let folder = tempfile::tempdir().unwrap();
    let device = Path::new(env!("CARGO_MANIFEST_DIR")).join("../meshes/diaphragm/device.json").canonicalize().unwrap();
    let run =
        modalith(folder.path(), &["modes", device.to_str().unwrap(), "--model", "lumped", "--out", "out"]).unwrap();
    assert_eq!(run.code, Some(2), "{run:?}");
    assert!(run.stderr.contains("no slender part: nothing to lump"), "{run:?}");
    assert!(!folder.path().join("out").exists());
}
