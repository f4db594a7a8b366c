//! What the program says of a list of modes: no more than was counted.

// A helper that cannot go on fails its test.
#![allow(clippy::unwrap_used)]

use modalith_tests::modalith;
use serde_json::{Value, json};
use std::path::Path;

/// Runs `modes` on a demo or a device of this folder: modes.json and the screen.
fn solved(device: &str, more: &[&str]) -> (Value, String) {
    let folder = tempfile::tempdir().unwrap();
    let root = Path::new(env!("CARGO_MANIFEST_DIR"));
    let demo = root.join("../meshes").join(device).join("device.json");
    let path = if demo.exists() { demo } else { root.join("../tests/tests/as_a_user").join(device) };
    let path = path.canonicalize().unwrap();
    let args = [&["modes", path.to_str().unwrap(), "--out", "out"], more].concat();
    let run = modalith(folder.path(), &args).unwrap();
    assert_eq!(run.code, Some(0), "{run:?}");
    let json = std::fs::read_to_string(folder.path().join("out/modes.json")).unwrap();
    (serde_json::from_str(&json).unwrap(), run.stdout)
}

fn frequencies(result: &Value) -> Vec<f64> {
    result["modes"].as_array().unwrap().iter().map(|m| m["frequency_hz"].as_f64().unwrap()).collect()
}

fn hz(search: &Value, key: &str) -> f64 {
    search[key].as_f64().unwrap()
}

/// Six modes lie below 1.7 MHz.
#[test]
fn a_list_cut_short_is_not_called_complete_up_to_what_was_asked() {
    let (result, screen) = solved("diaphragm", &["--up-to", "1700000", "--count", "2"]);
    let search = &result["search"];
    assert_eq!((&search["found"], &search["counted"]), (&3.into(), &3.into()), "{search}");
    assert!(hz(search, "to_hz") < 1.3e6 && search["asked_to_hz"] == 1.7e6, "{search}");
    let line = screen.lines().find(|l| l.starts_with("Complete")).unwrap();
    assert!(line.contains("nothing is said up to 1.7 MHz") && !line.contains("below 1.7 MHz"), "{line}");
    let (result, _) = solved("diaphragm", &["--up-to", "1700000"]);
    let search = &result["search"];
    assert_eq!((&search["found"], &search["counted"], hz(search, "to_hz")), (&6.into(), &6.into(), 1.7e6), "{search}");
}

#[test]
fn a_mode_farther_in_hertz_does_not_win() {
    let (result, screen) = solved("nearest_in_hertz.json", &["--near", "94535.87", "--count", "3"]);
    let found = frequencies(&result);
    let (all, _) = solved("nearest_in_hertz.json", &["--count", "8"]);
    let mut nearest = frequencies(&all);
    nearest.sort_by(|a, b| (a - 94_535.87).abs().total_cmp(&(b - 94_535.87).abs()));
    nearest.truncate(3);
    nearest.sort_by(f64::total_cmp);
    assert!(
        found.len() == 3 && found.iter().zip(&nearest).all(|(a, b)| (a / b - 1.0).abs() < 1e-9),
        "{found:?} {nearest:?}"
    );
    let search = &result["search"];
    let inside = |f: &f64| (hz(search, "from_hz")..hz(search, "to_hz")).contains(f);
    assert_eq!(frequencies(&all).iter().filter(|f| inside(f)).count(), 3, "{search}");
    assert!(screen.contains("Complete 3 modes found from "), "{screen}");
}

#[test]
fn a_place_on_a_mode_is_as_good_as_any() {
    let count = 4;
    let (all, _) = solved("ring", &["--count", "8", "--model", "shell"]);
    let all = frequencies(&all);
    for place in &all[..5] {
        let (result, _) = solved("ring", &["--near", &format!("{place}"), "--count", "4", "--model", "shell"]);
        let found = frequencies(&result);
        // Rounding of the stiffness alone moves the lowest eigenvalue of this mesh by up to 6e-7 of itself (the floor that a backward
        // error of 4e-17 leaves); two searches were seen to differ by 2e-9 of the frequency.
        assert!(found.len() >= count && found.iter().any(|f| (f / place - 1.0).abs() < 1e-8), "{place}: {found:?}");
        assert_eq!(result["count_verified"], true);
        let search = &result["search"];
        let inside = |f: &&f64| (hz(search, "from_hz")..=hz(search, "to_hz")).contains(*f);
        let known = all.iter().filter(inside).count();
        assert!(known <= found.len() && search["found"] == search["counted"], "{place}: {search}");
        let counts = search["counts"].as_array().unwrap();
        let moved = |c: &Value| {
            c["asked_hz"] == *place || hz(c, "asked_hz") / place - 1.0 < 1e-12 && c["asked_hz"] != c["taken_hz"]
        };
        assert!(counts.iter().any(moved), "{place}: {search}");
    }
}

#[test]
fn modes_that_the_mesh_does_not_carry_are_not_called_complete() {
    let (result, screen) = solved("diaphragm", &["--near", "1e9", "--count", "3"]);
    let search = &result["search"];
    assert_eq!((&search["complete"], &search["of"]), (&false.into(), &"the equations on this mesh".into()), "{search}");
    assert!(search["because"].as_str().unwrap().contains("error bars"), "{search}");
    assert!(!screen.contains("Complete"), "{screen}");
}

#[test]
fn beams_and_springs_are_whole_of_their_own_equations_only() {
    let (result, screen) = solved("comb-resonator", &["--model", "lumped", "--count", "100"]);
    let search = &result["search"];
    assert_eq!((&search["complete"], &search["of"]), (&true.into(), &"the model's equations".into()), "{search}");
    assert!(screen.contains("counted in this model's equations, all that they have"), "{screen}");
}

/// A free plate, asked up to just below a mode of its mesh and just above the same mode without a mesh: seven are listed, eight there are.
#[test]
fn a_mode_of_the_mesh_next_to_the_end_leaves_the_list_open() {
    let device = json!({
        "format": "modalith.device/1", "support": "free",
        "layout": {"unit": "um", "structure": [{"rect": [[-500, -300], [500, 300]]}]},
        "process": {"thickness_um": 5},
        "material": {"density_kg_m3": 2330, "youngs_modulus_gpa": 160, "poissons_ratio": 0.22},
    });
    let folder = tempfile::tempdir().unwrap();
    std::fs::write(folder.path().join("d.json"), device.to_string()).unwrap();
    let up_to = |hz: f64, more: &[&str]| -> Value {
        let place = hz.to_string();
        let args =
            [&["modes", "d.json", "--out", "out", "--model", "shell", "--json", "--up-to", &place], more].concat();
        let run = modalith(folder.path(), &args).unwrap();
        assert_eq!(run.code, Some(0), "{run:?}");
        serde_json::from_str(&run.stdout).unwrap()
    };
    let mesh_hz = frequencies(&up_to(46_000.0, &[]))[7];
    let asked = (1.0 - 2e-4) * mesh_hz;
    let open = up_to(asked, &[]);
    assert_eq!((frequencies(&open).len(), &open["search"]["complete"]), (7, &false.into()), "{}", open["search"]);
    // There and back through λ = (2πf)² costs a bit of rounding.
    assert!((hz(&open["search"], "to_hz") / asked - 1.0).abs() < 1e-14, "{}", open["search"]);
    assert_eq!(frequencies(&up_to(asked, &["--accuracy", "0.001%"])).len(), 8);
}

/// A free H with two mirror axes: its rigid motions lie in several parts that are solved apart, each at a zero of its own rounding.
#[test]
fn rigid_motions_of_a_free_body_are_listed_all_or_not_at_all() {
    let rect = |x: [f64; 2], y: [f64; 2]| json!({"rect": [[x[0], y[0]], [x[1], y[1]]]});
    let device = json!({
        "format": "modalith.device/1", "support": "free",
        "layout": {"unit": "um", "structure": [
            rect([-46.0, 46.0], [-5.665, 5.665]), rect([-57.329, -34.67], [-69.431, 69.431]),
            rect([34.67, 57.329], [-69.431, 69.431])]},
        "process": {"thickness_um": 9.064, "edge_bias_um": 0.05},
        "material": {"density_kg_m3": 2330, "youngs_modulus_gpa": 160, "poissons_ratio": 0.22},
    });
    for count in ["1", "4", "6"] {
        let folder = tempfile::tempdir().unwrap();
        std::fs::write(folder.path().join("d.json"), device.to_string()).unwrap();
        let run = modalith(folder.path(), &["modes", "d.json", "--out", "out", "--model", "shell", "--count", count])
            .unwrap();
        assert_eq!(run.code, Some(0), "{run:?}");
        let json = std::fs::read_to_string(folder.path().join("out/modes.json")).unwrap();
        let result: Value = serde_json::from_str(&json).unwrap();
        assert!(frequencies(&result).len() == 6 && frequencies(&result).iter().all(|f| *f < 1.0), "{result}");
        // The first elastic mode lies at 0.74 MHz.
        let search = &result["search"];
        assert!(search["counted"] == 6 && (1e5..7.4e5).contains(&hz(search, "to_hz")), "{search}");
    }
}

/// Of a free plate with one mirror axis the six rigid motions are the nearest to any place below half of the first elastic mode;
/// rounding spreads them by hertz, and none is nearer than another.
#[test]
fn near_rest_the_rigid_motions_of_a_free_body_are_listed_together() {
    let device = json!({
        "format": "modalith.device/1", "support": "free",
        "layout": {"unit": "um", "structure": [
            {"rect": [[-150, -80], [150, 80]]}, {"rect": [[-4, 80], [4, 140]]}]},
        "process": {"thickness_um": 12},
        "material": {"density_kg_m3": 2330, "youngs_modulus_gpa": 160, "poissons_ratio": 0.22},
    });
    let folder = tempfile::tempdir().unwrap();
    std::fs::write(folder.path().join("d.json"), device.to_string()).unwrap();
    let at = |place: &str, count: &str, found: usize| {
        let args = ["modes", "d.json", "--out", "out", "--model", "shell", "--near", place, "--count", count];
        let run = modalith(folder.path(), &args).unwrap();
        assert_eq!(run.code, Some(0), "{place} {run:?}");
        let json = std::fs::read_to_string(folder.path().join("out/modes.json")).unwrap();
        let result: Value = serde_json::from_str(&json).unwrap();
        let (hz, search) = (frequencies(&result), &result["search"]);
        assert!(hz.len() == found && hz.iter().filter(|f| **f == 0.0).count() == 6, "{place}: {hz:?}");
        assert!(search["counted"] == found && search["complete"] == true, "{place}: {search}");
        assert!(run.stdout.contains("Complete") && !run.stdout.contains("NOT whole"), "{place}: {}", run.stdout);
    };
    for place in ["0.01", "1", "10", "100", "1000", "1e4", "3e4", "1e5", "5e5"] {
        at(place, "1", 6);
        at(place, "3", 6);
    }
    // The first elastic mode, at 1.12 MHz, and then rest.
    at("6e5", "2", 7);
    at("1e4", "7", 7);
}
