//! Electrodes of a device file, as a user sees them: softening in the modes, capacitance and gradients in modes.json, and what
//! is refused.

// A helper that cannot go on fails its test.
#![allow(clippy::unwrap_used)]

use modalith_tests::{Run, SEE_SAW, modalith};
use serde_json::{Value, json};
use std::path::Path;

const PERMITTIVITY: f64 = 8.854_187_812_8e-12;

/// The see-saw with plates under its halves.
fn see_saw(left_v: f64, right_v: f64) -> Value {
    let mut device: Value = serde_json::from_str(SEE_SAW).unwrap();
    device["masses"] = json!({"plate": [{"rect": [[-150, -80], [150, 80]]}]});
    let plate = |x: f64, volts: f64| {
        json!({"kind": "plate", "role": "tuning", "side": "below", "gap_um": 2, "bias_v": volts,
               "shapes": [{"rect": [[x, -80], [x + 150.0, 80]]}]})
    };
    device["electrodes"] = json!({"left": plate(-150.0, left_v), "right": plate(0.0, right_v)});
    device
}

fn run(device: &Value, more: &[&str]) -> (Run, Option<Value>) {
    let folder = tempfile::tempdir().unwrap();
    std::fs::write(folder.path().join("d.json"), device.to_string()).unwrap();
    let args = [&["modes", "d.json", "--out", "out", "--count", "4"], more].concat();
    let run = modalith(folder.path(), &args).unwrap();
    let written = std::fs::read_to_string(folder.path().join("out/modes.json")).ok();
    if run.code != Some(0) {
        assert!(!Path::new(&folder.path().join("out")).exists(), "{run:?}");
    }
    (run, written.map(|t| serde_json::from_str(&t).unwrap()))
}

fn frequency(result: &Value, mode: usize) -> f64 {
    result["modes"][mode]["frequency_hz"].as_f64().unwrap()
}

#[test]
fn bias_softens_the_tilt_and_is_no_longer_left_out() {
    for model in ["shell", "solid"] {
        let (plain_run, plain) = run(&see_saw(0.0, 0.0), &["--model", model]);
        let (run, soft) = run(&see_saw(20.0, 20.0), &["--model", model]);
        assert_eq!((plain_run.code, run.code), (Some(0), Some(0)), "{plain_run:?} {run:?}");
        let (plain, soft) = (plain.unwrap(), soft.unwrap());
        // Without bias nothing changes but what is read.
        assert!(plain["left_out"].to_string().contains("electrode softening"));
        assert!(!soft["left_out"].to_string().contains("electrode softening"));
        assert!(run.stdout.contains("pulls in at"), "{}", run.stdout);
        assert!(soft["pull_in_bias_ratio"].as_f64().unwrap() > 1.0 && plain.get("pull_in_bias_ratio").is_none());
        let e = &plain["electrodes"][1];
        assert_eq!((&e["name"], &e["kind"], &e["role"]), (&json!("right"), &json!("plate"), &json!("tuning")));
        // Half the plate, less half the hole of 5 µm: parallel plates.
        let area = 150.0 * 160.0 - 0.5 * std::f64::consts::PI * 25.0;
        assert!((e["covered_um2"].as_f64().unwrap() / area - 1.0).abs() < 1e-4, "{e}");
        let parallel = PERMITTIVITY * area * 1e-12 / 2e-6;
        assert!((e["capacitance_f"].as_f64().unwrap() / parallel - 1.0).abs() < 1e-4, "{e}");
        // Tilt is the first mode: the two halves see it with opposite signs, and it falls by the bias' stiffness.
        let gradient = |k: usize| plain["electrodes"][k]["gradient_f_per_m_per_root_kg"][0].as_f64().unwrap();
        assert!((gradient(0) / gradient(1) + 1.0).abs() < 1e-6);
        assert!(frequency(&soft, 0) < frequency(&plain, 0) * 0.9999);
        // ω² falls by ε₀ V²/g³ ∫φ² dA; a rigid tilt of a slab has ∫φ² dA = 1/(ρ t) up to its rotary part and the flexures.
        let tau2 = std::f64::consts::TAU.powi(2);
        let fall = tau2 * (frequency(&plain, 0).powi(2) - frequency(&soft, 0).powi(2));
        let rough = PERMITTIVITY * 400.0 / 2e-6f64.powi(3) / (2330.0 * 12e-6);
        assert!((fall / rough - 1.0).abs() < 0.05, "{model} {fall} {rough}");
    }
}

#[test]
fn a_part_that_is_pulled_in_is_refused() {
    let (run, _) = run(&see_saw(0.0, 2000.0), &["--model", "shell"]);
    assert_eq!(run.code, Some(2), "{run:?}");
    assert!(run.stderr.contains("/electrodes") && run.stderr.contains("pulled in"), "{}", run.stderr);
}

/// The demo's combs, measured: 15 fingers with gaps of 2 µm on both sides, overlap 15 µm, layer as drawn.
#[test]
fn combs_are_measured_from_the_drawing_as_they_would_be_stated() {
    let folder = Path::new(env!("CARGO_MANIFEST_DIR")).join("../meshes/comb-resonator/device.json");
    let mut device: Value = serde_json::from_str(&std::fs::read_to_string(folder).unwrap()).unwrap();
    device.as_object_mut().unwrap().remove("$schema");
    let mass = device["masses"].as_object().unwrap().keys().next().unwrap().clone();
    let window = json!([{"rect": [[110, -65], [175, 65]]}]);
    device["electrodes"] = json!({
        "drawn": {"kind": "comb", "direction": "+x", "mass": mass, "measure": "drawn", "shapes": window},
        "stated": {"kind": "comb", "direction": "+x", "mass": mass, "gap_um": 2, "overlap_um": 15, "fingers": 15},
    });
    let (run, found) = run(&device, &["--model", "shell"]);
    assert_eq!(run.code, Some(0), "{run:?}");
    let found = found.unwrap();
    let (drawn, stated) = (&found["electrodes"][0], &found["electrodes"][1]);
    let number = |e: &Value, key: &str| e[key].as_f64().unwrap();
    assert!((number(drawn, "capacitance_f") / number(stated, "capacitance_f") - 1.0).abs() < 1e-6, "{drawn} {stated}");
    // In the mode that the comb pulls most: others hardly move along it.
    let gradient = |e: &Value, i: usize| e["gradient_f_per_m_per_root_kg"][i].as_f64().unwrap();
    let modes = 0..found["modes"].as_array().unwrap().len();
    let pulled = modes.max_by(|&a, &b| gradient(stated, a).abs().total_cmp(&gradient(stated, b).abs())).unwrap();
    assert!((gradient(drawn, pulled) / gradient(stated, pulled) - 1.0).abs() < 1e-6);
    let thickness = device["process"]["thickness_um"].as_f64().unwrap() * 1e-6;
    let per_gap = PERMITTIVITY * thickness * 15e-6 / 2e-6;
    assert!((number(stated, "capacitance_f") / (30.0 * per_gap) - 1.0).abs() < 1e-4);
}

#[test]
fn what_is_wrong_is_named_and_placed() {
    let cases: Vec<(&str, Value, &str)> = vec![
        ("/electrodes/left/shapes", json!([{"rect": [[400, 400], [500, 500]]}]), "is over nothing"),
        ("/electrodes/left/gap_um", json!(0), "over zero"),
        ("/electrodes/left/gap_um", json!(null), "must be"),
        ("/electrodes/left/side", json!("beneath"), "\"below\""),
        ("/electrodes/left/kind", json!("plates"), "did you mean \"plate\"?"),
        ("/electrodes/left/bias_v", json!("5"), "a voltage"),
        ("/electrodes/left/fingers", json!(5), "unknown key \"fingers\""),
        ("/electrodes/left", json!({"kind": "plate", "side": "below", "gap_um": 2}), "without an area"),
        ("/electrodes/left", json!({"kind": "plate", "gap_um": 2, "shapes": []}), "\"side\" is missing"),
        (
            "/electrodes/left",
            json!({"kind": "side plate", "direction": "+x", "mass": "plat", "gap_um": 2, "length_um": 9}),
            "there is no mass \"plat\"",
        ),
        (
            "/electrodes/left",
            json!({"kind": "comb", "direction": "+x", "mass": "plate", "measure": "drawn",
                   "shapes": [{"rect": [[0, 0], [9, 9]]}]}),
            "no finger in the window",
        ),
        (
            "/electrodes/left",
            json!({"kind": "comb", "direction": "x", "mass": "plate", "gap_um": 2, "overlap_um": 9, "fingers": 2}),
            "must be one of \"+x\"",
        ),
    ];
    for (pointer, value, said) in cases {
        let mut device = see_saw(0.0, 0.0);
        let (parent, key) = pointer.rsplit_once('/').unwrap();
        device.pointer_mut(parent).unwrap()[key] = value;
        let (run, _) = run(&device, &[]);
        assert_eq!(run.code, Some(2), "{pointer}: {run:?}");
        assert!(run.stderr.contains(said) && run.stderr.contains("/electrodes/left"), "{pointer}: {}", run.stderr);
    }
    // Both would be counted in full where they lie in one place.
    let mut device = see_saw(0.0, 0.0);
    device["electrodes"]["right"]["shapes"] = json!([{"rect": [[-10, -80], [150, 80]]}]);
    let (run, _) = run(&device, &[]);
    let said = "/electrodes/right: the plate shares 1600.0 µm² with plate \"left\" on the same side";
    assert!(run.code == Some(2) && run.stderr.contains(said), "{run:?}");
}

/// Near the bias where the fingers of a symmetric comb snap to one side, rounding moves the soft direction by more than the last step.
#[test]
fn a_comb_on_soft_flexures_finds_its_balance() {
    let path = json!([[0, 34.901], [0, 42.465], [14.729, 42.465], [14.729, 50.028], [0, 50.028], [0, 57.591]]);
    let plate = json!({"rect": [[-33.095, -34.901], [33.095, 34.901]]});
    let comb = |volts: f64| {
        let device = json!({
            "format": "modalith.device/1",
            "layout": {"unit": "um", "structure": [plate, {"path": path, "width": 2.472, "mirror_about": {"y": 0}}],
                       "anchors": [{"rect": [[-15, 57.591], [15, 69.591]]}, {"rect": [[-15, -69.591], [15, -57.591]]}]},
            "process": {"thickness_um": 6.18, "edge_bias_um": 0.05}, "masses": {"plate": [plate]},
            "material": {"name": "silicon", "wafer": "100", "x_along": "100"},
            "electrodes": {"comb": {"kind": "comb", "role": "drive", "direction": "+x", "mass": "plate", "gap_um": 2, "overlap_um": 10,
                                    "fingers": 6, "bias_v": volts}},
        });
        let (run, result) = run(&device, &["--model", "shell"]);
        assert_eq!(run.code, Some(0), "{run:?}");
        result.unwrap()["pull_in_bias_ratio"].as_f64().unwrap() * volts
    };
    // The bias of pull-in does not depend on the one that is stated.
    let (low, high) = (comb(3.0), comb(10.0));
    assert!((low / high - 1.0).abs() < 1e-5, "{low} V, {high} V");
}
