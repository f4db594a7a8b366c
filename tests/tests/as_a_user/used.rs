//! What stands behind the figures is said with them: no default changes the structure, and what a model does not have is named.

// A helper that cannot go on fails its test.
#![allow(clippy::unwrap_used)]

use modalith_tests::modalith;
use serde_json::{Value, json};
use std::path::{Path, PathBuf};

const BEAMS: &[&str] = &["--model", "beam-shell"];

fn text(path: &Path) -> Value {
    serde_json::from_str(&std::fs::read_to_string(path).unwrap()).unwrap()
}

fn windows() -> Value {
    text(&Path::new(env!("CARGO_MANIFEST_DIR")).join("../tests/tests/as_a_user/windows.json"))
}

fn demo(name: &str) -> Value {
    let folder = Path::new(env!("CARGO_MANIFEST_DIR")).join("../meshes").join(name);
    let mut device = text(&folder.join("device.json"));
    let stream = folder.join(device["layout"]["gds"].as_str().unwrap()).canonicalize().unwrap();
    device["layout"]["gds"] = json!(stream);
    device
}

/// Runs a command on a device: its result, its screen and the folder with the rest.
fn run(device: &Value, command: &str, more: &[&str]) -> (Value, String, (tempfile::TempDir, PathBuf)) {
    let folder = tempfile::tempdir().unwrap();
    std::fs::write(folder.path().join("device.json"), device.to_string()).unwrap();
    let all = [&[command, "device.json", "--out", "out"], more].concat();
    let run = modalith(folder.path(), &all).unwrap();
    assert_eq!(run.code, Some(0), "{run:?}");
    let out = folder.path().join("out");
    (text(&out.join(format!("{command}.json"))), run.stdout, (folder, out))
}

fn first_hz(result: &Value) -> f64 {
    result["modes"][0]["frequency_hz"].as_f64().unwrap()
}

fn statements(result: &Value, kind: &str) -> Vec<String> {
    let all = result["used"].as_array().unwrap().iter().filter(|u| u["kind"] == kind);
    all.map(|u| u["what"].as_str().unwrap().to_owned()).collect()
}

/// Nineteen windows carry most of a frame's softness in shear: filled unasked it is far too stiff.
#[test]
fn openings_are_kept_unless_the_device_file_asks() {
    let plain = windows();
    let (kept, ..) = run(&plain, "modes", BEAMS);
    assert!(!statements(&kept, "replacement").iter().any(|s| s.contains("openings")), "{kept}");
    let mut asked = plain.clone();
    asked["layout"]["holes_below_um"] = json!(50);
    let (filled, screen, _) = run(&asked, "modes", BEAMS);
    assert!(statements(&filled, "replacement").iter().any(|s| s.starts_with("19 openings filled")), "{filled}");
    assert!(screen.contains("19 openings filled"), "{screen}");
    let (shell, ..) = run(&plain, "modes", &["--model", "shell"]);
    let last = |r: &Value| r["modes"][3]["frequency_hz"].as_f64().unwrap();
    let apart = |r: &Value| (last(r) / last(&shell) - 1.0).abs();
    assert!(4.0 * apart(&kept) < apart(&filled), "{} {} {}", last(&kept), last(&filled), last(&shell));
    assert!(statements(&run(&asked, "modes", &["--model", "shell"]).0, "neglected")[0].contains("keeps every opening"));
}

/// A bias that a model has is an input, one that it has not is neglected; both are said, on the page too.
#[test]
fn a_bias_is_in_the_figures_or_said_not_to_be() {
    let mut device = windows();
    device["electrodes"] = json!({"below": {"kind": "plate", "side": "below", "gap_um": 3, "bias_v": 2,
        "shapes": [{"rect": [[-150, -25], [150, 25]]}]}});
    let (shell, _, (_folder, out)) = run(&device, "modes", &["--model", "shell"]);
    assert!(statements(&shell, "input").iter().any(|s| s == "bias of electrodes \"below\" 2 V"), "{shell}");
    let page = std::fs::read_to_string(out.join("report.html")).unwrap();
    assert!(page.contains("<li>input: bias of electrodes &quot;below&quot; 2 V</li>"));
    let (lumped, screen, _) = run(&device, "modes", &["--model", "lumped"]);
    assert!(statements(&lumped, "neglected")[0].contains("not in the lumped model"), "{lumped}");
    assert!(screen.contains("neglected: bias of electrodes"), "{screen}");
    let mut plain = device;
    plain.as_object_mut().unwrap().remove("electrodes");
    let (plain, ..) = run(&plain, "modes", &["--model", "shell"]);
    assert!(statements(&plain, "input").is_empty() && first_hz(&plain) > 0.0, "{plain}");
}

/// A beam-shell model has no term for a difference of widths: the rate report says that it is not in there.
#[test]
fn an_imperfection_without_a_term_is_said_to_be_neglected() {
    let mut device = demo("platform");
    device["imperfections"] =
        json!({"left_right_width_um": 0.02, "sidewall_tilt_deg": 0.002, "drive_force_leak": 5e-4});
    let (beams, screen, _) = run(&device, "rate", BEAMS);
    let said = statements(&beams, "neglected");
    assert!(
        said.iter()
            .any(|s| s.starts_with("left_right_width_um 0.02, ") && s.contains("the beam-shell model has no term")),
        "{said:?}"
    );
    assert!(screen.contains("neglected: left_right_width_um 0.02"), "{screen}");
    // What leaning walls alone make is not what the stated imperfections make.
    assert!(!screen.contains("with the stated imperfections,") && !screen.contains("in phase, as made"), "{screen}");
    let text = beams.to_string();
    assert!(
        !text.contains("\"drive_as_made\"") && !text.contains("_as_made_hz") && !text.contains("\"vibration_as_made\""),
        "{text}"
    );
    for requirement in beams["requirements"].as_array().unwrap() {
        assert!(requirement["met"] != true && requirement["as_made"].is_null(), "{requirement}");
    }
}

/// Everything that departs from the drawing or belongs to the work of a sensor is named where modes do not depend on it.
#[test]
fn what_no_mode_depends_on_is_said_to_be_neglected() {
    let mut device = demo("platform");
    let made = json!({
        "imperfections": {"left_right_width_um": 0.02, "sidewall_tilt_deg": 0.1, "electrode_mismatch": 0.01,
                          "drive_force_leak": 0.001, "phase_error_deg": 0.2},
        "spread_3sigma": {"edge_bias_um": 0.1, "thickness_um": 0.2, "youngs_modulus_percent": 1, "density_percent": 1},
        "operation": {"quality_drive": 1000, "shock": {"peak_g": 100, "duration_ms": 1, "direction": "x"}},
        "guards": [{"name": "mains", "frequency_hz": 50}],
        "requirements": {"guard_hz": 1},
    });
    for (key, value) in made.as_object().unwrap() {
        device[key] = value.clone();
    }
    let named = |said: &[String]| {
        for (key, value) in made.as_object().unwrap() {
            let inner = value.as_object().filter(|_| key == "imperfections");
            let inner = inner.map(|o| o.keys().map(|k| format!("{key}/{k}")).collect());
            for key in inner.unwrap_or_else(|| vec![key.clone()]) {
                assert!(said.iter().any(|s| s.contains(&key)), "{key}: {said:?}");
            }
        }
    };
    for model in ["lumped", "beam-shell", "shell"] {
        let (result, screen, _) = run(&device, "modes", &["--model", model, "--count", "2"]);
        named(&statements(&result, "neglected"));
        assert!(screen.contains("neglected: imperfections/"), "{screen}");
        assert!(!result["left_out"].to_string().contains("wall tilt"), "{}", result["left_out"]);
    }
    let (rate, ..) = run(&device, "rate", &["--model", "shell"]);
    let said = statements(&rate, "neglected");
    assert!(!said.iter().any(|s| s.contains("modes are those of the drawing")), "{said:?}");
}

/// A comparison of models is one of the drawing too, and takes its modes from the lowest on.
#[test]
fn an_audit_names_what_it_leaves_out() {
    let meshes = Path::new(env!("CARGO_MANIFEST_DIR")).join("../meshes");
    let mut device = text(&meshes.join("comb-resonator/device.json"));
    device["imperfections"] = json!({"sidewall_tilt_deg": 0.1});
    device["modes"] = json!({"near_hz": 50_000, "count": 2});
    let (audit, screen, _) = run(&device, "audit", &[]);
    for model in audit["models"].as_array().unwrap() {
        let said = model["used"].to_string();
        assert!(said.contains("imperfections/sidewall_tilt_deg") && said.contains("modes/near_hz"), "{said}");
    }
    assert!(screen.contains("modes/near_hz: the lowest modes are taken here"), "{screen}");
}

/// The wall of a flexure 20 nm outside a plate's corner, or 5 nm beside it: where the plate goes on slanted below, that flexure stays with
/// the shells and the others are beams; where it goes straight on, the step is none and all are beams.
#[test]
fn a_flexure_whose_root_cannot_be_cut_is_left_to_the_shells() {
    let rect = |a: [f64; 2], b: [f64; 2]| json!({"rect": [a, b]});
    let slanted = json!({"polygon": [[-30, 0], [100, 0], [100, 50], [0, 50], [-30, 20]]});
    let straight = rect([0.0, 0.0], [100.0, 50.0]);
    for (off, plate) in [(-0.02, &slanted), (-0.005, &slanted), (0.005, &slanted), (-0.02, &straight)] {
        let device = json!({
            "format": "modalith.device/1",
            "layout": {"unit": "um",
                "structure": [plate, rect([off, 50.0], [4.0 + off, 150.0]), rect([80.0, 50.0], [84.0, 150.0]),
                    rect([40.0, -100.0], [44.0, 0.0])],
                "anchors": [rect([-20.0, 150.0], [120.0, 180.0]), rect([20.0, -120.0], [60.0, -100.0])]},
            "process": {"thickness_um": 4},
            "material": {"density_kg_m3": 2330, "youngs_modulus_gpa": 160, "poissons_ratio": 0.22},
            "modes": {"count": 2},
        });
        let (beams, screen, _) = run(&device, "modes", BEAMS);
        let (said, beam) = (statements(&beams, "fallback"), statements(&beams, "replacement"));
        let crowded = plate == &slanted;
        assert_eq!(said.iter().any(|s| s.ends_with("left to the shells: flexure 2")), crowded, "{off}: {said:?}");
        assert_eq!(screen.contains("a corner lies so near"), crowded, "{screen}");
        let which = if crowded { "flexure 1, 3 as" } else { "flexure 1 to 3 as" };
        assert!(beam.iter().any(|s| s.starts_with(&format!("{which} Timoshenko beams"))), "{beam:?}");
        let (shell, ..) = run(&device, "modes", &["--model", "shell"]);
        assert!((first_hz(&beams) / first_hz(&shell) - 1.0).abs() < 0.02, "{} {}", first_hz(&beams), first_hz(&shell));
    }
}

/// A drawn opening that the edge bias fills is said to be solid, by the check and beside the modes.
#[test]
fn openings_that_the_bias_fills_are_told() {
    let mut device = json!({
        "format": "modalith.device/1",
        "layout": {"unit": "um",
            "structure": [{"rect": [[-50, -50], [50, 50]]}, {"rect": [[-2, 50], [2, 150]]}],
            "holes": [{"circle": [10, 5], "radius": 0.4}, {"circle": [-20, 0], "radius": 3}],
            "anchors": [{"rect": [[-10, 150], [10, 170]]}]},
        "process": {"thickness_um": 5, "edge_bias_um": 0.5},
        "material": {"density_kg_m3": 2330, "youngs_modulus_gpa": 160, "poissons_ratio": 0.22}, "modes": {"count": 2}
    });
    let said = "drawn openings that the edge bias of 0.5 µm fills: 1, one at (10.0, 5.0) µm";
    let (result, screen, (folder, _)) = run(&device, "modes", &[]);
    assert!(result["used"].to_string().contains(said), "{screen}");
    let check = modalith(folder.path(), &["check", "device.json"]).unwrap();
    assert!(check.stdout.contains(said), "{check:?}");
    device["process"]["edge_bias_um"] = json!(0.1);
    let (result, ..) = run(&device, "modes", &[]);
    assert!(!result["used"].to_string().contains("fills"), "{result}");
}
