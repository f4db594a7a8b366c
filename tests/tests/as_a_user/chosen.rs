//! `auto` as a user meets it: an answer for every layout, and a word on every model that was passed over.

// A helper that cannot go on fails its test.
#![allow(clippy::unwrap_used)]

use modalith_tests::modalith;
use serde_json::Value;
use std::path::Path;

/// Runs a command on a device of this folder: its result and the screen.
fn run(device: &str, args: &[&str]) -> (Option<i32>, Value, String, String) {
    let folder = tempfile::tempdir().unwrap();
    let path =
        Path::new(env!("CARGO_MANIFEST_DIR")).join("../tests/tests/as_a_user").join(device).canonicalize().unwrap();
    let all = [&args[..1], &[path.to_str().unwrap(), "--out", "out"], &args[1..]].concat();
    let run = modalith(folder.path(), &all).unwrap();
    let file = folder.path().join(format!("out/{}.json", args[0]));
    let json = std::fs::read_to_string(file).map_or(Value::Null, |text| serde_json::from_str(&text).unwrap());
    (run.code, json, run.stdout, run.stderr)
}

fn statements(result: &Value, kind: &str) -> Vec<String> {
    let all = result["used"].as_array().unwrap().iter().filter(|u| u["kind"] == kind);
    all.map(|u| u["what"].as_str().unwrap().to_owned()).collect()
}

#[test]
fn tall_flexures_are_solids_however_long() {
    for device in ["legs_all_short.json", "one_leg_short.json"] {
        let (code, result, screen, stderr) = run(device, &["modes"]);
        assert_eq!(code, Some(0), "{stderr}");
        assert!(result["model"] == "solid" && statements(&result, "fallback").is_empty(), "{result}");
        assert!(screen.contains("solid (roots and twist of flexures)"), "{screen}");
    }
}

#[test]
fn who_asks_for_a_model_gets_it_or_its_fault() {
    let (code, _, _, stderr) = run("legs_all_short.json", &["modes", "--model", "beam-shell"]);
    assert_eq!(code, Some(2), "{stderr}");
    assert!(
        stderr.contains("too short for a beam") && stderr.contains("the shell or the solid model serves"),
        "{stderr}"
    );
}

#[test]
fn a_leg_that_is_no_beam_is_left_to_shells_and_said() {
    let (code, result, _, stderr) = run("one_leg_short.json", &["modes", "--model", "beam-shell"]);
    assert_eq!(code, Some(0), "{stderr}");
    assert_eq!(result["model"], "beam-shell");
    let said = statements(&result, "fallback");
    assert!(said.len() == 1 && said[0].ends_with("left to the shells: flexure 1"), "{said:?}");
    assert!(statements(&result, "replacement")[0].starts_with("flexure 2 to 4 as Timoshenko beams"), "{result}");
}

/// The plan's model is settled once, on the device as drawn.
#[test]
fn variants_of_such_a_layout_have_results() {
    let folder = tempfile::tempdir().unwrap();
    let device = Path::new(env!("CARGO_MANIFEST_DIR")).join("../tests/tests/as_a_user/legs_all_short.json");
    std::fs::copy(device, folder.path().join("device.json")).unwrap();
    let plan = r#"{"format": "modalith.plan/1", "device": "device.json", "command": "modes",
        "vary": {"/process/thickness_um": {"list": [5, 5.1]}}, "sampling": {"method": "grid"},
        "keep": {"first": "/modes/0/frequency_hz"}}"#;
    std::fs::write(folder.path().join("plan.json"), plan).unwrap();
    let run = modalith(folder.path(), &["variants", "plan.json", "--out", "out"]).unwrap();
    assert_eq!(run.code, Some(0), "{run:?}");
    let csv = std::fs::read_to_string(folder.path().join("out/results.csv")).unwrap();
    let first: Vec<f64> = csv.lines().skip(1).map(|l| l.split(',').nth(2).unwrap().parse().unwrap()).collect();
    assert!(first.len() == 2 && first[0] < first[1], "{csv}");
    let told: Value =
        serde_json::from_str(&std::fs::read_to_string(folder.path().join("out/variants.json")).unwrap()).unwrap();
    assert_eq!(told["model"], "solid", "{told}");
}

/// Two rails joined by rungs are no rigid body between short springs: shells have the mass sway at a fifth of what that would say.
#[test]
fn a_ladder_has_no_closed_form() {
    let (code, _, _, stderr) = run("ladder.json", &["modes", "--model", "lumped"]);
    assert_eq!(code, Some(2), "{stderr}");
    assert!(stderr.contains("flexure 1 ends near") && stderr.contains("cross-linked beams"), "{stderr}");
}
