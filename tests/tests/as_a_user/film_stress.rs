//! Film stress from the device file to the screen: what relaxes, what stays, what buckles, and what is refused with a place.

// A helper that cannot go on fails its test.
#![allow(clippy::unwrap_used)]

use modalith_tests::{Run, modalith};
use serde_json::{Value, json};
use tempfile::TempDir;

fn rect(a: [f64; 2], b: [f64; 2]) -> Value {
    json!({"rect": [a, b]})
}

/// A strip between two anchors (invented), 200 times as long as thick.
fn bridge() -> Value {
    json!({
        "format": "modalith.device/1", "name": "bridge (invented)",
        "layout": {"unit": "um", "structure": [rect([-200.0, -5.0], [200.0, 5.0])],
                   "anchors": [rect([-230.0, -15.0], [-200.0, 15.0]), rect([200.0, -15.0], [230.0, 15.0])]},
        "process": {"thickness_um": 2},
        "material": {"density_kg_m3": 2330, "youngs_modulus_gpa": 160, "poissons_ratio": 0.22},
        "modes": {"count": 4}
    })
}

/// A mass on four folded flexures (invented): every one ends on the anchor beside the one it starts from, so that the film's stress has
/// nothing to pull at.
fn folded() -> Value {
    let mirrored = |shape: Value| {
        let mut shape = shape;
        shape["mirror_about"] = json!({"x": 0, "y": 0});
        shape
    };
    json!({
        "format": "modalith.device/1", "name": "folded (invented)",
        "layout": {"unit": "um",
                   "structure": [rect([-100.0, -60.0], [100.0, 60.0]),
                                 mirrored(rect([80.0, 60.0], [84.0, 260.0])), mirrored(rect([56.0, 60.0], [60.0, 260.0])),
                                 mirrored(rect([50.0, 260.0], [90.0, 276.0]))],
                   "holes": [mirrored(rect([50.0, 40.0], [66.0, 60.0]))],
                   "anchors": [mirrored(rect([54.0, 44.0], [62.0, 60.0]))]},
        "process": {"thickness_um": 4},
        "material": {"density_kg_m3": 2330, "youngs_modulus_gpa": 160, "poissons_ratio": 0.22},
        "masses": {"m": [rect([-100.0, -60.0], [100.0, 60.0])]},
        "modes": {"count": 3}
    })
}

fn run(device: &Value, args: &[&str]) -> (TempDir, Run) {
    let folder = tempfile::tempdir().unwrap();
    std::fs::write(folder.path().join("d.json"), serde_json::to_string_pretty(device).unwrap()).unwrap();
    let run = modalith(folder.path(), &[&["modes", "d.json", "--out", "out"], args].concat()).unwrap();
    (folder, run)
}

fn modes(device: &Value, args: &[&str]) -> Value {
    let (folder, run) = run(device, args);
    assert_eq!(run.code, Some(0), "{run:?}");
    let mut found: Value =
        serde_json::from_slice(&std::fs::read(folder.path().join("out/modes.json")).unwrap()).unwrap();
    found["screen"] = run.stdout.into();
    found
}

fn with(device: &Value, process: &[(&str, Value)]) -> Value {
    let mut device = device.clone();
    process.iter().for_each(|(key, value)| device["process"][*key] = value.clone());
    device
}

fn first_hz(found: &Value) -> f64 {
    found["modes"][0]["frequency_hz"].as_f64().unwrap()
}

/// Clamped ends, stress along the strip: at its own buckling load ω² has doubled (1.39669 times ω of a slender beam, exact).
#[test]
fn a_bridge_stiffens_buckles_and_says_so() {
    let stress = |mpa: f64| with(&bridge(), &[("film_stress_mpa", json!({"xx": mpa}))]);
    let plain = modes(&bridge(), &["--model", "solid"]);
    assert!(plain.get("state").is_none() && !plain["screen"].as_str().unwrap().contains("State"), "{plain}");
    let found = modes(&stress(-1.0), &["--model", "solid"]);
    let state = &found["state"];
    assert_eq!(state["film_stress_mpa"], json!({"xx": -1.0, "yy": 0.0, "xy": 0.0}));
    let critical = state["buckling_factors"][0].as_f64().unwrap();
    // Euler's load of a clamped beam, 4π²EI/L² over its section, less a little for shear and more for its width: within 3 %.
    let euler = std::f64::consts::PI.powi(2) * 160e3 * (2.0_f64 / 400.0).powi(2) / 3.0;
    assert!((critical / euler - 1.0).abs() < 0.03, "{critical} {euler}");
    assert!(found["screen"].as_str().unwrap().contains("the part buckles at"), "{found}");
    for model in ["shell", "solid"] {
        let own = first_hz(&modes(&bridge(), &["--model", model]));
        let stiffer = first_hz(&modes(&stress(critical), &["--model", model])) / own;
        assert!((stiffer / 1.39669 - 1.0).abs() < 3e-3, "{model}: {stiffer}");
    }
    let (folder, refused) = run(&stress(-1.05 * critical), &[]);
    assert_eq!(refused.code, Some(2), "{refused:?}");
    let said = |what: &str| refused.stderr.contains(what);
    assert!(said("d.json:") && said("/process/film_stress_mpa") && said("buckles: it does at 0.95"), "{refused:?}");
    assert!(!folder.path().join("out").exists());
}

/// Every beam of a folded flexure relaxes: −50 to 100 MPa move the frequency by less than 0.05 %; put into the stiffness as it was grown,
/// 20 MPa would raise it by half.
#[test]
fn folded_flexures_do_not_feel_it() {
    for model in ["shell", "solid"] {
        let own = first_hz(&modes(&folded(), &["--model", model]));
        for mpa in [-50.0_f64, 100.0] {
            let found = modes(&with(&folded(), &[("film_stress_mpa", json!(mpa))]), &["--model", model]);
            let moved = first_hz(&found) / own - 1.0;
            assert!(moved.abs() < 5e-4, "{model}, {mpa} MPa: {moved:.2e}");
            let relaxed = found["state"]["largest_deflection_um"]["in_plane"].as_f64().unwrap();
            // A free length of ½ · 276 µm shrinks or grows by σ(1 − ν)/E at the least.
            assert!(relaxed > 0.5 * mpa.abs() * 0.78 / 160e3 * 100.0, "{relaxed}");
        }
    }
}

/// A layout that is folded along its mirrors and the same with one too small to be seen by mechanics, solved as a whole.
#[test]
fn mirrors_do_not_change_the_answer() {
    let mut whole = with(&bridge(), &[("film_stress_mpa", json!({"xx": 40.0, "yy": 10.0}))]);
    let folded = modes(&whole, &["--model", "solid"]);
    // A shear too small to matter has no mirror: everything is solved in one.
    whole["process"]["film_stress_mpa"]["xy"] = json!(1e-6);
    let whole = modes(&whole, &["--model", "solid"]);
    for i in 0..4 {
        let hz = |found: &Value| found["modes"][i]["frequency_hz"].as_f64().unwrap();
        assert!((hz(&folded) / hz(&whole) - 1.0).abs() < 1e-7, "mode {}: {} {}", i + 1, hz(&folded), hz(&whole));
    }
    let factor = |found: &Value| found["state"]["buckling_factors"][0].as_f64().unwrap();
    assert!((factor(&folded) / factor(&whole) - 1.0).abs() < 1e-3, "{} {}", factor(&folded), factor(&whole));
}

/// A gradient curls a cantilever; more than a hundredth of the thickness is refused, with the place of the key.
#[test]
fn curl_is_told_and_refused() {
    let mut device = bridge();
    device["layout"]["anchors"] = json!([rect([-230.0, -15.0], [-200.0, 15.0])]);
    let found = modes(&with(&device, &[("stress_gradient_mpa_per_um", json!(0.04))]), &["--model", "shell"]);
    let curl = found["state"]["largest_deflection_um"]["out_of_plane"].as_f64().unwrap();
    // κL²/2, κ = g(1 − ν)/E, 0.5 % more at 40 times as long as wide.
    let plate = 0.04e12 * 0.78 / 160e9 * (400e-6_f64).powi(2) / 2.0 * 1e6;
    assert!((curl / plate - 1.005).abs() < 5e-3, "{curl} {plate}");
    let (_, refused) = run(&with(&device, &[("stress_gradient_mpa_per_um", json!(0.08))]), &["--model", "shell"]);
    assert_eq!(refused.code, Some(2), "{refused:?}");
    assert!(
        refused.stderr.contains("/process/stress_gradient_mpa_per_um") && refused.stderr.contains("curls by 0.031")
    );
}

/// Models without the load refuse, `auto` does not choose them, an audit leaves them out; nothing pretends that it was not there.
#[test]
fn models_without_it_say_so() {
    let device = with(&folded(), &[("film_stress_mpa", json!(20.0))]);
    for model in ["lumped", "beam-shell"] {
        let (_, refused) = run(&device, &["--model", model]);
        assert_eq!(refused.code, Some(2), "{refused:?}");
        assert!(refused.stderr.contains(&format!("the {model} model knows no film stress")), "{refused:?}");
    }
    let auto = modes(&device, &[]);
    assert_eq!(auto["model"], "solid");
    assert!(auto["modes"][0].get("first_order").is_none(), "terms that do not know the stress");
    assert!(auto["used"].to_string().contains("no first-order terms are given"), "{}", auto["used"]);
    let (folder, _) = run(&device, &["--model", "shell"]);
    let audit = modalith(folder.path(), &["audit", "d.json", "--out", "audit"]).unwrap();
    assert_eq!(audit.code, Some(0), "{audit:?}");
    assert!(
        ["lumped", "beam-shell"].iter().all(|m| audit.stdout.contains(&format!("the {m} model knows no film stress"))),
        "{}",
        audit.stdout
    );
    let wrong = with(&folded(), &[("film_stress_mpa", json!(2e7))]);
    let (_, refused) = run(&wrong, &[]);
    assert!(refused.code == Some(2) && refused.stderr.contains("/process/film_stress_mpa"), "{refused:?}");
}

/// Electrodes are read where the part rests: over a gap g a cantilever curled by w at its tip has C/C₀ = atan(√a)/√a, a = w/g (the
/// integral of 1/(1 + a x²/L²)); and stoppers are met from there.
#[test]
fn electrodes_and_stoppers_see_the_curl() {
    let mut device = with(&bridge(), &[("stress_gradient_mpa_per_um", json!(0.04))]);
    device["layout"]["anchors"] = json!([rect([-230.0, -15.0], [-200.0, 15.0])]);
    device["masses"] = json!({"tip": [rect([150.0, -5.0], [200.0, 5.0])]});
    device["electrodes"] = json!({"under": {"kind": "plate", "side": "below", "gap_um": 1, "shapes": [rect([-200.0, -5.0], [200.0, 5.0])]}});
    let found = modes(&device, &["--model", "shell"]);
    let a = found["state"]["largest_deflection_um"]["out_of_plane"].as_f64().unwrap();
    let flat = 8.8541878128e-12 * 400e-6 * 10e-6 / 1e-6;
    let share = found["electrodes"][0]["capacitance_f"].as_f64().unwrap() / flat;
    assert!((share / (a.sqrt().atan() / a.sqrt()) - 1.0).abs() < 2e-4, "{share} {a}");
    device["intent"] = json!({"drive": {"tip": "+y"}, "sense": [{"rate_axis": "x", "tip": "+z"}]});
    device["operation"] =
        json!({"drive_amplitude_um": 0.5, "shock": {"peak_g": 10, "duration_ms": 1, "direction": "z"}});
    device["stoppers"] =
        json!([{"at": [200, 0], "direction": "+z", "gap_um": 0.5}, {"at": [200, 0], "direction": "-z", "gap_um": 0.5}]);
    let folder = tempfile::tempdir().unwrap();
    std::fs::write(folder.path().join("d.json"), device.to_string()).unwrap();
    let run = modalith(folder.path(), &["rate", "d.json", "--model", "shell", "--out", "out"]).unwrap();
    assert_eq!(run.code, Some(0), "{run:?}");
    let report: Value = serde_json::from_slice(&std::fs::read(folder.path().join("out/rate.json")).unwrap()).unwrap();
    let text = report["shock"].to_string();
    assert!(text.contains(&format!("\"static_um\":{:.3}", a)[..16]), "{a}: {text}");
}

/// A mass on two bent legs (invented) that tension pulls flat: seen with +0.2 % for what is −4.7 %, met. Now it is refused, with the mode.
#[test]
fn an_arch_that_is_pulled_flat_is_refused() {
    let right = json!({"polygon": [[20, -1], [120, 7], [120, 9], [20, 1]]});
    let left = json!({"polygon": [[-20, -1], [-20, 1], [-120, 9], [-120, 7]]});
    let mut device = bridge();
    device["layout"]["structure"] = json!([rect([-25.0, -25.0], [25.0, 25.0]), right, left]);
    device["layout"]["anchors"] = json!([rect([120.0, -10.0], [140.0, 26.0]), rect([-140.0, -10.0], [-120.0, 26.0])]);
    device["process"] = json!({"thickness_um": 3, "film_stress_mpa": 60});
    let (_, refused) = run(&device, &[]);
    assert_eq!(refused.code, Some(2), "{refused:?}");
    assert!(refused.stderr.contains("moves so far in its plane that mode"), "{refused:?}");
}
