//! What a run needs is told before the work, models are chosen within a stated budget, and the answer says so.

// A helper that cannot go on fails its test.
#![allow(clippy::unwrap_used)]

use modalith_tests::{Run, modalith};
use serde_json::{Value, json};
use std::path::Path;

/// A plate with 36 release holes and 40 comb fingers on four legs, too tall and short for beams alone (invented).
fn plate() -> Value {
    let finger = |x: f64| json!({"rect": [[x, -75], [x + 30.0, -73]], "array": {"rows": 20, "step": [0, 7.5]}});
    json!({
        "format": "modalith.device/1", "name": "plate with combs (invented)",
        "layout": {"unit": "um",
            "structure": [{"rect": [[-80, -80], [80, 80]]}, finger(80.0), finger(-110.0),
                {"rect": [[60, 80], [63, 170]], "mirror_about": {"x": 0, "y": 0}}],
            "holes": [{"circle": [-62.5, -62.5], "radius": 4,
                       "array": {"rows": 6, "columns": 6, "step": [25, 25]}}],
            "anchors": [{"rect": [[50, 170], [75, 190]], "mirror_about": {"x": 0, "y": 0}}]},
        "process": {"thickness_um": 20},
        "material": {"density_kg_m3": 2330, "youngs_modulus_gpa": 160, "poissons_ratio": 0.22},
        "modes": {"count": 3}
    })
}

fn run(folder: &Path, args: &[&str]) -> Run {
    std::fs::write(folder.join("device.json"), plate().to_string()).unwrap();
    modalith(folder, args).unwrap()
}

fn read(path: &Path) -> Value {
    serde_json::from_str(&std::fs::read_to_string(path).unwrap()).unwrap()
}

#[test]
fn auto_chooses_within_the_budget_and_says_so() {
    let folder = tempfile::tempdir().unwrap();
    let made = run(folder.path(), &["modes", "device.json", "--out", "out", "--memory-limit", "500MB"]);
    assert_eq!(made.code, Some(0), "{made:?}");
    let result = read(&folder.path().join("out/modes.json"));
    assert_eq!(result["model"], "beam-shell", "{made:?}");
    let said = result["used"].as_array().unwrap().iter().find(|u| u["kind"] == "fallback").unwrap();
    let said = said["what"].as_str().unwrap();
    assert!(said.starts_with("the solid model needs") && said.contains("500 MB are allowed"), "{said}");
    assert!(said.ends_with("beam-shell was taken instead"), "{said}");
}

#[test]
fn a_refusal_names_the_model_what_it_needs_and_what_would_fit() {
    let folder = tempfile::tempdir().unwrap();
    let args = ["modes", "device.json", "--out", "out", "--model", "solid", "--memory-limit", "500MB"];
    let refused = run(folder.path(), &args);
    assert_eq!(refused.code, Some(1), "{refused:?}");
    assert!(refused.stderr.contains("the solid model needs") && refused.stderr.contains("MB of memory"), "{refused:?}");
    assert!(refused.stderr.contains("the shell or the beam-shell model would fit"), "{refused:?}");
    assert!(!folder.path().join("out").exists());
}

/// Where no model fits, what each needs is said, and the least of them is what the advice is about.
#[test]
fn where_no_model_fits_the_smallest_is_named() {
    let folder = tempfile::tempdir().unwrap();
    let refused = run(folder.path(), &["modes", "device.json", "--out", "out", "--memory-limit", "260MB"]);
    assert_eq!(refused.code, Some(1), "{refused:?}");
    let said = &refused.stderr;
    for model in ["solid needs", "shell needs", "beam-shell needs"] {
        assert!(said.contains(model), "{said}");
    }
    assert!(said.contains("for beam-shell, or take larger triangles"), "{said}");
}

#[test]
fn an_audit_without_its_reference_has_no_verdict() {
    let folder = tempfile::tempdir().unwrap();
    let made = run(folder.path(), &["audit", "device.json", "--out", "out", "--memory-limit", "500MB"]);
    assert_eq!(made.code, Some(0), "{made:?}");
    let audit = read(&folder.path().join("out/audit.json"));
    assert!(audit["cheapest_model"].is_null() && audit["reference"] == "shell", "{audit}");
    assert!(audit["left_out_models"].to_string().contains("the solid model needs"), "{audit}");
    assert!(made.stdout.contains("no verdict: the solid is left out"), "{made:?}");
    let thin = audit["assumptions"].as_array().unwrap().iter().find(|a| a["name"] == "the layer is thin").unwrap();
    assert!(thin["holds"].is_null(), "{thin}");
}
