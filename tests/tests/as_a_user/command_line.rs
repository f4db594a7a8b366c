//! The command line itself: usage errors, help, schemas, result folders.

// A helper that cannot go on fails its test.
#![allow(clippy::unwrap_used)]

use modalith_tests::{SEE_SAW, binary, modalith};
use serde_json::Value;
use std::process::{Command, Stdio};

#[test]
fn usage_errors_end_with_2_and_help_with_0() {
    let folder = tempfile::tempdir().unwrap();
    std::fs::write(folder.path().join("d.json"), SEE_SAW).unwrap();
    let wrong: [&[&str]; 9] = [
        &[],
        &["frobnicate"],
        &["modes", "d.json"],
        &["modes", "d.json", "--out", "out", "--count", "0"],
        &["modes", "d.json", "--out", "out", "--near", "-5"],
        &["modes", "d.json", "--out", "out", "--near", "5", "--up-to", "6"],
        &["audit", "d.json"],
        &["modes", "d.json", "--out", "out", "--model", "rubber"],
        &["check", "d.json", "--threads", "0"],
    ];
    for args in wrong {
        let run = modalith(folder.path(), args).unwrap();
        assert_eq!(run.code, Some(2), "{args:?}: {run:?}");
        assert!(run.stdout.is_empty() && !run.stderr.is_empty(), "{args:?}: {run:?}");
        assert!(!folder.path().join("out").exists(), "{args:?}");
    }
    for args in [
        &["--help"][..],
        &["--version"],
        &["modes", "--help"],
        &["audit", "--help"],
        &["check", "--help"],
        &["mesh", "--help"],
        &["schema", "--help"],
    ] {
        let run = modalith(folder.path(), args).unwrap();
        assert_eq!(run.code, Some(0), "{args:?}: {run:?}");
        assert!(run.stderr.is_empty() && !run.stdout.is_empty(), "{args:?}: {run:?}");
    }
}

#[test]
fn a_result_folder_that_is_a_file_is_refused() {
    let folder = tempfile::tempdir().unwrap();
    std::fs::write(folder.path().join("d.json"), SEE_SAW).unwrap();
    std::fs::write(folder.path().join("out"), "precious").unwrap();
    for command in ["modes", "mesh", "check"] {
        let run = modalith(folder.path(), &[command, "d.json", "--out", "out"]).unwrap();
        assert_eq!(run.code, Some(2), "{run:?}");
        assert!(run.stderr.contains("not a folder") && run.stderr.contains("hint: "), "{run:?}");
    }
    assert_eq!(std::fs::read_to_string(folder.path().join("out")).unwrap(), "precious");
}

#[test]
fn schemas_are_printed_as_json() {
    let folder = tempfile::tempdir().unwrap();
    for name in ["device", "results"] {
        let run = modalith(folder.path(), &["schema", name]).unwrap();
        assert_eq!((run.code, run.stderr.as_str()), (Some(0), ""));
        let schema: Value = serde_json::from_str(&run.stdout).unwrap();
        assert_eq!(schema["$schema"], "https://json-schema.org/draft/2020-12/schema");
    }
}

/// `modalith schema device | head -1` must not complain about the closed pipe.
#[test]
fn a_closed_pipe_is_quiet() {
    let mut child = Command::new(binary().unwrap())
        .args(["schema", "device"])
        .stdout(Stdio::piped())
        .stderr(Stdio::piped())
        .spawn()
        .unwrap();
    drop(child.stdout.take());
    let output = child.wait_with_output().unwrap();
    assert_eq!(String::from_utf8_lossy(&output.stderr), "");
    assert_eq!(output.status.code(), Some(0));
}
