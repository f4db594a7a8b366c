//! The lumped model of every demo with flexures, as a user runs it: what it writes, and that no mass is lost.

// A helper that cannot go on fails its test.
#![allow(clippy::unwrap_used)]

use modalith_tests::modalith;
use serde_json::{Value, json};
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

/// A mass on bent flexures, each of two bars that overlap at the knee by another length, half of them mirror images (invented).
fn bent(deg: f64) -> Value {
    let (s, c) = (0.5 * deg).to_radians().sin_cos();
    let bar = |knee: [f64; 2], toward: f64, overlap: f64| {
        let p = |l: f64, h: f64| [knee[0] + l * s - h * c * toward, knee[1] + toward * (l * c) + h * s];
        serde_json::json!({"polygon": [p(-overlap, -2.5), p(82.0, -2.5), p(82.0, 2.5), p(-overlap, 2.5)]})
    };
    let mirrored = |bar: &Value, x: f64, y: f64| {
        let ring: Vec<[f64; 2]> = serde_json::from_value(bar["polygon"].clone()).unwrap();
        let ring: Vec<[f64; 2]> = ring.iter().map(|p| [x * p[0], y * p[1]]).collect();
        serde_json::json!({"polygon": ring})
    };
    let mut structure = vec![serde_json::json!({"rect": [[-150, -60], [150, 60]]})];
    for (x, y, overlap) in [(1.0, 1.0, 0.3), (-1.0, 1.0, 0.3), (1.0, -1.0, 2.0), (-1.0, -1.0, 4.0)] {
        let knee = [100.0, 60.0 + 80.0 * c];
        structure.extend([1.0, -1.0].map(|toward| mirrored(&bar(knee, toward, overlap), x, y)));
    }
    let end = 60.0 + 160.0 * c;
    let anchors = [[-150.0, end, 150.0, end + 30.0], [-150.0, -end - 30.0, 150.0, -end]];
    let anchors = anchors.map(|a| serde_json::json!({"rect": [[a[0], a[1]], [a[2], a[3]]]}));
    serde_json::json!({
        "format": "modalith.device/1", "name": "bent", "layout": {"unit": "um", "structure": structure, "anchors": anchors},
        "process": {"thickness_um": 10},
        "material": {"density_kg_m3": 2330, "youngs_modulus_gpa": 160, "poissons_ratio": 0.22}
    })
}

/// Whether a bent flexure is found depends on neither its angle, its mirror image nor the overlap of its bars; what the lumped model
/// makes of it is near the shells.
#[test]
fn bent_flexures_are_lumped_as_one_each() {
    let hz = |device: &Value, model: &str| -> f64 {
        let folder = tempfile::tempdir().unwrap();
        std::fs::write(folder.path().join("d.json"), device.to_string()).unwrap();
        let run = modalith(folder.path(), &["modes", "d.json", "--model", model, "--out", "out"]).unwrap();
        assert!(
            run.code == Some(0) && run.stdout.contains("4 flexures") && !run.stdout.contains("not recognised"),
            "{run:?}"
        );
        let text = std::fs::read_to_string(folder.path().join("out/modes.json")).unwrap();
        serde_json::from_str::<Value>(&text).unwrap()["modes"][0]["frequency_hz"].as_f64().unwrap()
    };
    for deg in [2.0, 16.0] {
        let device = bent(deg);
        let (lumped, shell) = (hz(&device, "lumped"), hz(&device, "shell"));
        assert!(lumped > shell && lumped < 1.1 * shell, "{deg}°: lumped {lumped}, shell {shell}");
    }
}

/// A mass drawn to the middle of four bars that are images of each other makes four flexures of them, or none.
#[test]
fn a_mass_that_ends_halfway_decides_alike_for_images() {
    let folder = tempfile::tempdir().unwrap();
    let four = json!({"x": 0, "y": 0});
    for (half, flexures) in
        [(150.0, "4 flexures"), (149.0, "4 flexures"), (160.0, "4 slender strips to anchors under named masses")]
    {
        let device = json!({
            "format": "modalith.device/1",
            "layout": {"unit": "um",
                "structure": [{"rect": [[-100, -100], [100, 100]]}, {"rect": [[76, 100], [80, 200]], "mirror_about": four}],
                "anchors": [{"rect": [[50, 200], [100, 230]], "mirror_about": four}]},
            "process": {"thickness_um": 5}, "masses": {"m": [{"rect": [[-100, -half], [100, half]]}]},
            "material": {"density_kg_m3": 2330, "youngs_modulus_gpa": 160, "poissons_ratio": 0.22}
        });
        std::fs::write(folder.path().join("d.json"), device.to_string()).unwrap();
        let check = modalith(folder.path(), &["check", "d.json"]).unwrap();
        assert!(check.stdout.contains(flexures), "{half}: {check:?}");
    }
}

/// Beams on shells follow slight bends and tapers: bound 1 % of each of the first five frequencies of solids on the same layout, none
/// missing (a bend of 5 µm in 200 that is taken for straight loses a mode; sections averaged over another width than a root's are 10 %
/// off).
#[test]
fn beams_follow_bends_and_tapers() {
    let folder = tempfile::tempdir().unwrap();
    let bent = [[-2.0, 100.0], [2.0, 100.0], [7.0, 200.0], [2.0, 300.0], [-2.0, 300.0], [3.0, 200.0]];
    let taper = [[-1.5, 100.0], [1.5, 100.0], [4.0, 500.0], [-4.0, 500.0]];
    for (flexure, end, thickness_um) in [(&bent[..], 300, 16), (&taper[..], 500, 8)] {
        let other: Vec<[f64; 2]> = flexure.iter().map(|p| [-p[0], -p[1]]).collect();
        let device = json!({
            "format": "modalith.device/1",
            "layout": {"unit": "um",
                "structure": [{"rect": [[-100, -100], [100, 100]]}, {"polygon": flexure}, {"polygon": other}],
                "anchors": [{"rect": [[-40, end], [40, end + 40]]}, {"rect": [[-40, -end - 40], [40, -end]]}]},
            "process": {"thickness_um": thickness_um}, "modes": {"count": 5},
            "material": {"density_kg_m3": 2330, "youngs_modulus_gpa": 160, "poissons_ratio": 0.22}
        });
        std::fs::write(folder.path().join("d.json"), device.to_string()).unwrap();
        let found = |model: &str| -> Vec<f64> {
            let run =
                modalith(folder.path(), &["modes", "d.json", "--model", model, "--json", "--out", "out"]).unwrap();
            assert_eq!(run.code, Some(0), "{run:?}");
            let result: Value = serde_json::from_str(&run.stdout).unwrap();
            result["modes"].as_array().unwrap().iter().map(|m| m["frequency_hz"].as_f64().unwrap()).collect()
        };
        let (beams, solids) = (found("beam-shell"), found("solid"));
        assert!(beams.iter().zip(&solids).take(5).all(|(b, s)| (b / s - 1.0).abs() < 0.01), "{beams:?} {solids:?}");
    }
}
