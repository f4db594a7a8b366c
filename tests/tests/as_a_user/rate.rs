//! `modalith rate` as a user runs it: the flagship with its two flaws, a device with little stated, and wrong inputs.

// A helper that cannot go on fails its test.
#![allow(clippy::unwrap_used)]

use modalith_tests::modalith;
use serde_json::{Value, json};
use std::path::Path;

fn demo(name: &str) -> String {
    let path = Path::new(env!("CARGO_MANIFEST_DIR")).join("../meshes").join(name).join("device.json");
    path.canonicalize().unwrap().to_str().unwrap().to_owned()
}

/// The flagship fails by one near mode and by its shock, on purpose, and by nothing else; a symmetric drawing shows only the
/// numerical floor: quadrature under 0.1 °/s, the antiphase drive's effective mass along its motion under 1e-7 of one mass.
#[test]
fn the_flagship_and_its_two_flaws() {
    let folder = tempfile::tempdir().unwrap();
    let run = modalith(folder.path(), &["rate", &demo("platform"), "--out", "out", "--json", "--enforce"]).unwrap();
    assert_eq!(run.code, Some(3), "{run:?}");
    let rate: Value = serde_json::from_str(&run.stdout).unwrap();
    let pair = &rate["pair"];
    assert_eq!(pair["drive"]["label"], "antiphase x");
    assert_eq!(pair["sense"]["label"], "antiphase z");
    assert_eq!(pair["rate_axis"], "y");
    let number = |v: &Value| v.as_f64().unwrap();
    assert!(number(&pair["drive"]["mac"]) > 0.99 && number(&pair["sense"]["mac"]) > 0.9);
    let split = number(&pair["sense"]["frequency_hz"]) - number(&pair["drive"]["frequency_hz"]);
    assert!((number(&pair["mode_split_hz"]) - split).abs() < 1e-6);
    assert!((0.5..1.0).contains(&number(&pair["coriolis_coupling"])));
    assert!(number(&rate["zero_rate"]["quadrature_drawn_deg_per_s"]).abs() < 0.1);
    assert_eq!(rate["zero_rate"]["quadrature_drawn_is_numerical_floor"], true);
    assert!(number(&rate["balance"]["anchor_force_ratio"]).powi(2) < 1e-7);
    let near = rate["near_modes"].as_array().unwrap();
    assert!(near.iter().any(|n| number(&n["widening_these_flexures"]["mode_hz_per_um"]) > 0.0), "{near:?}");
    let failing: Vec<&str> = rate["requirements"]
        .as_array()
        .unwrap()
        .iter()
        .filter(|r| r["met"] != true)
        .map(|r| r["name"].as_str().unwrap())
        .collect();
    assert_eq!(failing, ["guard_hz", "shock_travel_um"]);
    assert!(rate["requirements"].as_array().unwrap().iter().all(|r| r["met"].is_boolean()), "{}", rate["requirements"]);
    assert!(rate["model_error"]["why"].as_str().unwrap().contains("full law"), "{}", rate["model_error"]);
    assert!(number(&rate["shock_stress"]["nominal_peak_mpa"]) > 1.0, "{}", rate["shock_stress"]);
    // Other widths left and right do unbalance it.
    assert!(number(&rate["balance"]["drive_as_made"]["anchor_force_ratio"]) > 1e-3, "{}", rate["balance"]);
    // One-sided density over 60 √2 is the angle random walk.
    let (noise, walk) =
        (&rate["noise"]["rate_noise_deg_per_h_per_rthz"], &rate["noise"]["angle_random_walk_deg_per_rth"]);
    assert!((number(noise) / (60.0 * 2f64.sqrt()) / number(walk) - 1.0).abs() < 1e-12);
    let file = std::fs::read_to_string(folder.path().join("out/rate.json")).unwrap();
    assert_eq!(file, run.stdout);
    let page = std::fs::read_to_string(folder.path().join("out/report.html")).unwrap();
    assert!(
        page.contains("class=\"moment\"")
            && page.contains("prefers-reduced-motion")
            && !page.contains("http://www.w3.org/1999")
    );
}

/// Two masses on guided flexures between anchors, joined by a coupler; invented.
pub(super) fn two_masses() -> Value {
    let mut structure = vec![json!({"rect": [[-30, -3], [30, 3]]})];
    let mut anchors = Vec::new();
    for side in [-1.0, 1.0] {
        let x = |a: f64| side * a;
        structure.push(json!({"rect": [[x(30.0), -60], [x(150.0), 60]]}));
        for y in [-50.0, 46.0] {
            structure.push(json!({"rect": [[x(150.0), y], [x(210.0), y + 4.0]]}));
        }
        anchors.push(json!({"rect": [[x(210.0), -60], [x(240.0), 60]]}));
    }
    json!({
        "format": "modalith.device/1", "name": "two <script>alert(1)</script> masses",
        "layout": {"unit": "um", "structure": structure, "anchors": anchors},
        "process": {"thickness_um": 4.0}, "material": {"name": "polysilicon"},
        "masses": {"left": [{"rect": [[-150, -60], [-30, 60]]}], "right": [{"rect": [[30, -60], [150, 60]]}]},
        "intent": {
            "drive": {"left": "+y", "right": "-y"}, "sense": [{"rate_axis": "x", "left": "+z", "right": "-z"}]
        },
    })
}

fn run(device: &Value, more: &[&str]) -> (modalith_tests::Run, tempfile::TempDir) {
    let folder = tempfile::tempdir().unwrap();
    std::fs::write(folder.path().join("d.json"), device.to_string()).unwrap();
    let args = [&["rate", "d.json", "--out", "out"], more].concat();
    (modalith(folder.path(), &args).unwrap(), folder)
}

#[test]
fn what_is_not_given_is_left_out_and_named() {
    let (done, folder) = run(&two_masses(), &[]);
    assert_eq!(done.code, Some(0), "{done:?}");
    for text in ["NO VERDICT", "Missing  operation/drive_amplitude_um", "Missing  spread_3sigma", "Coriolis"] {
        assert!(done.stdout.contains(text), "{text}: {}", done.stdout);
    }
    let rate: Value = serde_json::from_slice(&std::fs::read(folder.path().join("out/rate.json")).unwrap()).unwrap();
    assert!(rate.get("noise").is_none() && rate.get("scale_factor").is_none(), "{rate:#}");
    assert_eq!(rate["requirements"], json!([]));
    let page = std::fs::read_to_string(folder.path().join("out/report.html")).unwrap();
    assert!(!page.contains("<script>alert") && page.contains("&lt;script&gt;alert(1)"));
}

/// Requirements as weighed for a device.
fn weighed(device: &Value) -> Vec<Value> {
    let (done, folder) = run(device, &["--count", "20", "--model", "shell"]);
    assert_eq!(done.code, Some(0), "{done:?}");
    let rate: Value = serde_json::from_slice(&std::fs::read(folder.path().join("out/rate.json")).unwrap()).unwrap();
    rate["requirements"].as_array().unwrap().clone()
}

/// A device that states every input, and asks for what is easily met.
fn with_every_input() -> Value {
    let mut device = two_masses();
    device["operation"] = json!({
        "drive_amplitude_um": 2.0, "quality_drive": 5000, "quality_sense": 1000, "readout_noise_m_per_rthz": 1e-13,
        "output_bandwidth_hz": 50, "shock": {"peak_g": 100, "duration_ms": 0.5, "direction": "z"},
        "temperature_k": 300, "vibration_band_hz": [20, 2000]
    });
    device["imperfections"] = json!({
        "left_right_width_um": 0.0, "sidewall_tilt_deg": 0.001, "electrode_mismatch": 0.01, "drive_force_leak": 0.0001,
        "phase_error_deg": 0.1
    });
    device["spread_3sigma"] =
        json!({"edge_bias_um": 0.01, "thickness_um": 0.02, "youngs_modulus_percent": 0.5, "density_percent": 0.1});
    device["stoppers"] = json!([
        {"at": "left", "direction": "+z", "gap_um": 30.0}, {"at": "right", "direction": "+z", "gap_um": 30.0}
    ]);
    device["requirements"] = json!({
        "mode_split_hz": [-1e6, 1e6], "drive_frequency_hz": [1, 1e7], "quadrature_deg_per_s": 1e9,
        "zero_rate_deg_per_s": 1e9, "vibration_deg_per_s_per_g": 1e9, "angle_random_walk_deg_per_rth": 1e9,
        "shock_travel_um": 1e4, "shock_first_touch_g": 1e-3, "coupling": 1e-12, "cross_axis": 1e3, "guard_hz": 0
    });
    device
}

/// Each input taken away from a device that states all of them: what was met is met or open, never failed to met, and no margin that
/// is printed grows.
#[test]
fn an_input_less_never_looks_better() {
    let device = with_every_input();
    let all = weighed(&device);
    let met = |r: &Value| r["met"].as_bool();
    let open: Vec<&Value> = all.iter().filter(|r| met(r) != Some(true)).collect();
    assert!(open.is_empty(), "with every input stated nothing is open: {open:#?}");
    let keys = [
        ("operation", "drive_amplitude_um", "vibration_deg_per_s_per_g"),
        ("operation", "quality_drive", "zero_rate_deg_per_s"),
        ("operation", "quality_sense", "angle_random_walk_deg_per_rth"),
        ("operation", "readout_noise_m_per_rthz", "angle_random_walk_deg_per_rth"),
        ("operation", "temperature_k", "angle_random_walk_deg_per_rth"),
        ("operation", "vibration_band_hz", "vibration_deg_per_s_per_g"),
        ("operation", "shock", "shock_travel_um"),
        ("imperfections", "left_right_width_um", "quadrature_deg_per_s"),
        ("imperfections", "left_right_width_um", "coupling"),
        ("imperfections", "left_right_width_um", "angle_random_walk_deg_per_rth"),
        ("imperfections", "sidewall_tilt_deg", "zero_rate_deg_per_s"),
        ("imperfections", "electrode_mismatch", "vibration_deg_per_s_per_g"),
        ("imperfections", "drive_force_leak", "zero_rate_deg_per_s"),
        ("imperfections", "phase_error_deg", "zero_rate_deg_per_s"),
        ("spread_3sigma", "edge_bias_um", "mode_split_hz"),
        ("spread_3sigma", "thickness_um", "drive_frequency_hz"),
        ("spread_3sigma", "youngs_modulus_percent", "guard_hz"),
        ("spread_3sigma", "density_percent", "shock_first_touch_g"),
        ("spread_3sigma", "thickness_um", "quadrature_deg_per_s"),
        ("spread_3sigma", "edge_bias_um", "coupling"),
    ];
    // Without stoppers the farthest travel is that of a mass, and is known as made too.
    let mut free = device.clone();
    free.as_object_mut().unwrap().remove("stoppers");
    free["requirements"] = json!({"shock_travel_um": 1e4});
    let found = weighed(&free);
    let made = [0, 1].map(|k| found[0]["as_made"][k].as_f64().unwrap());
    assert!(found[0]["met"] == true && made[0] < made[1], "{found:?}");
    let mut done = std::collections::BTreeMap::new();
    for (group, key, touched) in keys {
        let without = || {
            let mut less = device.clone();
            less[group].as_object_mut().unwrap().remove(key);
            weighed(&less)
        };
        let found = done.entry((group, key)).or_insert_with(without);
        for (before, after) in all.iter().zip(found.iter()) {
            assert!(met(after) != Some(true) || before["met"] == true, "{group}/{key}: {before} {after}");
            if let (Some(a), Some(b)) = (before["margin"].as_f64(), after["margin"].as_f64()) {
                assert!(b <= a + 1e-6 * a.abs(), "{group}/{key}: the margin grew: {before} {after}");
            }
        }
        let row = found.iter().find(|r| r["name"] == touched).unwrap();
        let said = row["because"].as_str().unwrap_or_default();
        assert!(row["met"].is_null() && said.contains(&format!("{group}/{key}")), "{group}/{key}: {row}");
    }
}

/// A sum that fails with a term less fails by less: it has no margin and no range, and says what it lacks.
#[test]
fn what_fails_by_fewer_terms_has_no_margin() {
    let mut device = with_every_input();
    device["requirements"] = json!({"angle_random_walk_deg_per_rth": 1e-9, "zero_rate_deg_per_s": 1e-12});
    let all = weighed(&device);
    let terms = [
        ("angle_random_walk_deg_per_rth", "operation", "quality_sense"),
        ("zero_rate_deg_per_s", "imperfections", "drive_force_leak"),
    ];
    for (figure, group, key) in terms {
        let whole = all.iter().find(|r| r["name"] == figure).unwrap();
        assert!(whole["met"] == false && whole["known_terms"].is_null(), "{whole}");
        let mut less = device.clone();
        less[group].as_object_mut().unwrap().remove(key);
        let (done, folder) = run(&less, &["--count", "20", "--model", "shell"]);
        let rate: Value = serde_json::from_slice(&std::fs::read(folder.path().join("out/rate.json")).unwrap()).unwrap();
        let row = rate["requirements"].as_array().unwrap().iter().find(|r| r["name"] == figure).unwrap();
        assert!(row["met"] == false && row["margin"].is_null() && row["as_made"].is_null(), "{row}");
        let known = &row["known_terms"];
        let (at_most, margin) = (known["margin_at_most"].as_f64().unwrap(), whole["margin"].as_f64().unwrap());
        assert!(margin < at_most && at_most < 0.0, "{row} {whole}");
        assert!(known["missing"].as_str().unwrap().contains(&format!("{group}/{key}")), "{row}");
        assert!(done.stdout.contains("Lacks") && done.stdout.contains('≥'), "{}", done.stdout);
    }
}

#[test]
fn wrong_inputs_are_named_and_nothing_is_written() {
    let wrong = |pointer: &str, value: Value, said: &str| {
        let mut device = two_masses();
        let (parent, key) = pointer.rsplit_once('/').unwrap();
        device.pointer_mut(parent).unwrap().as_object_mut().unwrap().insert(key.to_owned(), value);
        let (done, folder) = run(&device, &[]);
        assert_eq!(done.code, Some(2), "{pointer}: {done:?}");
        assert!(done.stderr.contains("d.json") && done.stderr.contains(said), "{pointer}: {}", done.stderr);
        assert!(!folder.path().join("out").exists(), "{pointer}");
    };
    wrong("/intent", json!({"drive": {"middle": "+y"}}), "middle");
    wrong("/intent", json!({"sense": []}), "no drive motion");
    wrong("/operation", json!({"quality_drive": 0.1}), "quality");
    wrong("/requirements", json!({"mode_splt_hz": [1, 2]}), "mode_split_hz");
    wrong("/guards", json!([{"name": "clock", "frequency_hz": -5}]), "frequency");
    wrong(
        "/electrodes",
        json!({"far": {"kind": "plate", "gap_um": 2, "side": "below", "shapes": [{"rect": [[900, 900], [950, 950]]}]}}),
        "far",
    );
    let mut device = two_masses();
    device["operation"] = json!({"drive_amplitude_um": 4.0});
    device["stoppers"] = json!([{"at": "left", "direction": "+y", "gap_um": 3.0}]);
    let (done, _) = run(&device, &[]);
    assert_eq!(done.code, Some(2), "{done:?}");
}
