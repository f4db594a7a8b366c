//! Large inputs and large wishes end: in time about linear in the input, or with a sentence.

// A helper that cannot go on fails its test.
#![allow(clippy::unwrap_used)]

use modalith_tests::{binary, modalith};
use serde_json::{Value, json};
use std::process::Command;

/// A comb drawn rectangle by rectangle (invented).
fn comb(rectangles: usize) -> Value {
    let mut structure = vec![json!({"rect": [[0, 0], [0.5 * rectangles as f64, 20]]})];
    structure.extend((1..rectangles).map(|i| {
        let x = 0.5 * i as f64;
        json!({"rect": [[x, 20], [x + 0.25, 25]]})
    }));
    json!({
        "format": "modalith.device/1", "name": "comb (invented)",
        "layout": {"unit": "um", "structure": structure, "anchors": [{"rect": [[-20, 0], [0, 20]]}]},
        "process": {"thickness_um": 12},
        "material": {"density_kg_m3": 2330, "youngs_modulus_gpa": 160, "poissons_ratio": 0.22}
    })
}

/// Reading 40 000 written shapes once took time as the square of their number: a minute. The limit of processor time is a guard
/// against that, no measure of speed.
#[test]
#[cfg(target_os = "linux")]
fn many_written_shapes_are_read_in_time_about_linear() {
    let folder = tempfile::tempdir().unwrap();
    let mut device = comb(1);
    let place = |i: usize| [10 * (i / 200), 10 * (i % 200)];
    let tile = |[x, y]: [usize; 2]| json!({"rect": [[x, y], [x + 10, y + 10]]});
    device["layout"]["structure"] = (0..40_000).map(|i| tile(place(i))).collect();
    std::fs::write(folder.path().join("device.json"), device.to_string()).unwrap();
    let script = "ulimit -t 20; exec \"$0\" check device.json";
    let mut run = Command::new("bash");
    let run = run.args(["-c", script]).arg(binary().unwrap()).current_dir(folder.path()).output().unwrap();
    assert_eq!(run.status.code(), Some(0), "{run:?}");
}

/// The system refuses memory: one sentence, one hint that fits the command, exit code 1, and nothing half written.
#[test]
#[cfg(target_os = "linux")]
fn a_refused_allocation_ends_with_a_sentence() {
    let folder = tempfile::tempdir().unwrap();
    std::fs::write(folder.path().join("device.json"), comb(40_000).to_string()).unwrap();
    let within = |kib: usize, rest: &str| {
        let script = format!("ulimit -v {kib}; exec \"$0\" {rest}");
        let mut run = Command::new("bash");
        run.args(["-c", &script]).arg(binary().unwrap()).current_dir(folder.path());
        let done = run.output().unwrap();
        (done.status.code(), String::from_utf8_lossy(&done.stderr).into_owned())
    };
    for (command, limited) in [("check device.json", false), ("modes device.json --threads 1 --out out", true)] {
        let (code, said) = within(200_000, command);
        assert_eq!(code, Some(1), "{said}");
        let lines: Vec<&str> = said.lines().collect();
        assert!(lines.len() == 2 && lines[0].starts_with("error: memory ran out: "), "{said}");
        assert!(lines[1].starts_with("hint: ") && lines[1].contains("--memory-limit") == limited, "{said}");
        assert!(!folder.path().join("out").exists());
    }
}

/// A cantilever of 200 µm by 5 µm (invented): ten thousand modes of it never came.
#[test]
fn more_modes_than_a_mesh_carries_are_refused_with_what_would_do() {
    let folder = tempfile::tempdir().unwrap();
    let mut device = comb(1);
    device["layout"]["structure"] = json!([{"rect": [[0, 0], [200, 5]]}]);
    std::fs::write(folder.path().join("device.json"), device.to_string()).unwrap();
    let with = |more: &[&str]| {
        let args = [&["modes", "device.json", "--model", "shell", "--out", "out"], more].concat();
        modalith(folder.path(), &args).unwrap()
    };
    for asked in [&["--count", "10000"], &["--near", "1e6", "--count", "10000"][..], &["--up-to", "1e12"]] {
        let refused = with(asked);
        assert_eq!(refused.code, Some(2), "{refused:?}");
        assert!(refused.stderr.contains("modes are too many for"), "{refused:?}");
        assert!(!folder.path().join("out").exists());
    }
    let said = with(&["--count", "10000"]).stderr;
    let most = said.split("no more than ").nth(2).unwrap().split(' ').next().unwrap().to_owned();
    let found = with(&["--count", &most, "--quiet"]);
    assert_eq!(found.code, Some(0), "{found:?}");
}
