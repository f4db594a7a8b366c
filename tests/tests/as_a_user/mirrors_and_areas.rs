//! A layout whose corners mirror about its diagonals though its bars do not: no command may take it for another one.

#![allow(clippy::unwrap_used)]

use modalith_tests::modalith;
use serde_json::{Value, json};

/// Three uprights across one bar, held in the middle, all turned by an angle about the middle; 2700 µm² but for the anchor.
fn bars(deg: f64) -> Value {
    let (s, c) = deg.to_radians().sin_cos();
    let turned = |x: f64, y: f64| [30.0 + c * (x - 30.0) - s * (y - 30.0), 30.0 + s * (x - 30.0) + c * (y - 30.0)];
    let rect = |[a, b, c, d]: [f64; 4]| json!({"polygon": [turned(a, b), turned(c, b), turned(c, d), turned(a, d)]});
    let structure = [[0.0, 0.0, 10.0, 60.0], [20.0, 0.0, 40.0, 60.0], [50.0, 0.0, 60.0, 60.0], [0.0, 20.0, 60.0, 40.0]];
    json!({
        "format": "modalith.device/1", "name": "three bars",
        "layout": {"unit": "um", "structure": structure.map(rect), "anchors": [rect([25.0, 25.0, 35.0, 35.0])]},
        "process": {"thickness_um": 5},
        "material": {"density_kg_m3": 2330, "youngs_modulus_gpa": 160, "poissons_ratio": 0.22},
        "modes": {"count": 3}
    })
}

#[test]
fn bars_whose_corners_mirror_about_diagonals_keep_their_area_and_frequency() {
    let folder = tempfile::tempdir().unwrap();
    let run = |command: &str, device: &Value| -> Value {
        std::fs::write(folder.path().join("d.json"), device.to_string()).unwrap();
        let all = [command, "d.json", "--json", "--out", "out", "--model", "shell"];
        let args = match command {
            "check" => &all[..3],
            "mesh" => &all[..5],
            _ => &all[..],
        };
        let run = modalith(folder.path(), args).unwrap();
        assert_eq!(run.code, Some(0), "{run:?}");
        serde_json::from_str(&run.stdout).unwrap()
    };
    let straight = bars(0.0);
    let checked = run("check", &straight);
    let area = |v: &Value| v["area_um2"].as_f64().unwrap();
    let (drawn, meshed) = (area(&checked["parts"][0]), area(&run("mesh", &straight)));
    assert!((drawn - 2700.0).abs() < 1e-9 && (meshed / drawn - 1.0).abs() < 1e-9, "{drawn} {meshed}");
    assert_eq!(checked["mirrors"].as_array().unwrap().len(), 2, "{}", checked["mirrors"]);
    // Turned by 10° its mirrors lie along no axis of the layout: another mesh and another way to solve.
    let first = |v: Value| v["modes"][0]["frequency_hz"].as_f64().unwrap();
    let (straight, turned) = (first(run("modes", &straight)), first(run("modes", &bars(10.0))));
    assert!((turned / straight - 1.0).abs() < 1e-3, "{straight} {turned}");
}
