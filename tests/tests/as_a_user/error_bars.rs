//! Error bars of the mesh, the accuracy asked for, and the memory that may be taken, as a user sees them.

// A helper that cannot go on fails its test.
#![allow(clippy::unwrap_used)]

use modalith_tests::{Run, SEE_SAW, modalith};
use serde_json::Value;
use std::path::Path;

fn run(folder: &Path, out: &str, more: &[&str]) -> Run {
    std::fs::write(folder.join("d.json"), SEE_SAW).unwrap();
    let args = [&["modes", "d.json", "--out", out, "--count", "5", "--model", "shell"], more].concat();
    modalith(folder, &args).unwrap()
}

/// Frequency and bar of every mode, Hz.
fn bars(folder: &Path, out: &str) -> Vec<[f64; 2]> {
    let text = std::fs::read_to_string(folder.join(out).join("modes.json")).unwrap();
    let result: Value = serde_json::from_str(&text).unwrap();
    let with_bar = |m: &Value| ["frequency_hz", "mesh_error_hz"].map(|key| m[key].as_f64().unwrap());
    result["modes"].as_array().unwrap().iter().map(with_bar).collect()
}

#[test]
fn a_mesh_made_finer_lies_inside_the_bars_and_reaches_the_accuracy_asked() {
    let folder = tempfile::tempdir().unwrap();
    let plain = run(folder.path(), "plain", &[]);
    assert_eq!(plain.code, Some(0), "{plain:?}");
    assert!(plain.stdout.contains("± mesh"), "{}", plain.stdout);
    let before = bars(folder.path(), "plain");
    let widest = before.iter().map(|[hz, bar]| bar / hz).fold(0.0, f64::max);
    let goal = 0.2 * widest;
    let finer = run(folder.path(), "finer", &["--accuracy", &format!("{:.6}%", 100.0 * goal)]);
    assert_eq!(finer.code, Some(0), "{finer:?}");
    assert!(finer.stderr.contains("widest error bar") && !finer.stdout.contains("not reached"), "{finer:?}");
    for ([hz, bar], [finer_hz, finer_bar]) in before.iter().zip(bars(folder.path(), "finer")) {
        assert!(finer_bar <= goal * finer_hz * (1.0 + 1e-6), "{finer_bar} of {finer_hz}");
        // Plain displacements, nested meshes: from above, and no farther than the bar says.
        let fall = hz - finer_hz;
        assert!(fall > 0.0 && fall <= *bar, "{fall} {bar}");
    }
}

#[test]
fn what_would_not_fit_is_refused_before_the_work_and_what_fits_was_predicted() {
    let folder = tempfile::tempdir().unwrap();
    let small = run(folder.path(), "small", &["--memory-limit", "20MB"]);
    assert_eq!(small.code, Some(1), "{small:?}");
    assert!(small.stderr.contains("of memory") && small.stderr.contains("--memory-limit"), "{}", small.stderr);
    assert!(!folder.path().join("small/modes.json").exists());
    let large = run(folder.path(), "large", &["--memory-limit", "2GB", "--quiet"]);
    assert_eq!((large.code, large.stderr.as_str()), (Some(0), ""), "{large:?}");
    let text = std::fs::read_to_string(folder.path().join("large/run.json")).unwrap();
    let told: Value = serde_json::from_str(&text).unwrap();
    let [predicted, peak] = ["predicted_memory_bytes", "peak_memory_bytes"].map(|k| told[k].as_f64().unwrap());
    assert!(predicted > 1e6 && predicted < 1.5 * peak, "{predicted} {peak}");
    let wrong = run(folder.path(), "wrong", &["--memory-limit", "lots"]);
    assert_eq!(wrong.code, Some(2), "{wrong:?}");
}
