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
    text(&Path::new(env!("CARGO_MANIFEST_DIR")).join("tests/as_a_user/windows.json"))
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
    device["imperfections"] = json!({"left_right_width_um": 0.02});
    let (beams, screen, _) = run(&device, "rate", BEAMS);
    let said = statements(&beams, "neglected");
    assert!(
        said.iter().any(|s| s.starts_with("left_right_width_um 0.02: the beam-shell model has no term")),
        "{said:?}"
    );
    assert!(screen.contains("neglected: left_right_width_um 0.02"), "{screen}");
}
