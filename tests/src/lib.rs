//! End-to-end tests live in `tests/tests`; this crate holds their shared helpers: the binary and devices to run it on.

pub mod stream;

use std::io::{Error, ErrorKind, Result};
use std::path::{Path, PathBuf};
use std::process::{Command, Output, Stdio};
use std::sync::OnceLock;

/// The binary. These tests belong to its package (`cli/Cargo.toml` names them), so cargo builds it with them.
///
/// # Errors
/// When it is not there, or the caller does not run from a target folder.
pub fn binary() -> Result<&'static Path> {
    static BINARY: OnceLock<PathBuf> = OnceLock::new();
    if let Some(path) = BINARY.get() {
        return Ok(path);
    }
    // target/<profile>/deps/<test>: the binary lies one folder up.
    let test = std::env::current_exe()?;
    let no_folder = || Error::new(ErrorKind::NotFound, "the tests do not run from a target folder");
    let profile = test.parent().and_then(Path::parent).ok_or_else(no_folder)?;
    let binary = profile.join(format!("modalith{}", std::env::consts::EXE_SUFFIX)).canonicalize()?;
    Ok(BINARY.get_or_init(|| binary))
}

/// What a run of the binary said.
#[derive(Debug)]
pub struct Run {
    /// Exit code.
    pub code: Option<i32>,
    /// Standard output.
    pub stdout: String,
    /// Standard error.
    pub stderr: String,
}

/// Columns that no sentence of the program fills, so that what it says is found whole.
const ROOM: u16 = 2000;

/// Runs the binary in a folder, with room for every table and sentence.
///
/// # Errors
/// When it cannot be built or started.
pub fn modalith(folder: &Path, args: &[&str]) -> Result<Run> {
    modalith_in(folder, args, Some(ROOM))
}

/// Runs the binary in a folder with so many columns in `COLUMNS`, or without a word about them.
///
/// # Errors
/// When it cannot be built or started.
pub fn modalith_in(folder: &Path, args: &[&str], columns: Option<u16>) -> Result<Run> {
    let mut command = Command::new(binary()?);
    match columns {
        Some(columns) => command.env("COLUMNS", columns.to_string()),
        None => command.env_remove("COLUMNS"),
    };
    let output: Output = command.args(args).current_dir(folder).stdin(Stdio::null()).output()?;
    Ok(Run {
        code: output.status.code(),
        stdout: String::from_utf8_lossy(&output.stdout).into_owned(),
        stderr: String::from_utf8_lossy(&output.stderr).into_owned(),
    })
}

/// A plate on two torsion flexures, as text: the device most tests start from (invented).
pub const SEE_SAW: &str = r#"{
  "format": "modalith.device/1",
  "name": "see-saw plate",
  "layout": {
    "unit": "um",
    "structure": [{"rect": [[-150, -80], [150, 80]]}, {"polygon": [[-4, 80], [4, 80], [4, 140], [-4, 140]]},
                  {"rect": [[-4, -140], [4, -80]]}],
    "holes":     [{"circle": [0, 0], "radius": 5}],
    "anchors":   [{"rect": [[-20, 140], [20, 170]]}, {"rect": [[-20, -170], [20, -140]]}]
  },
  "process":  {"thickness_um": 12.0, "edge_bias_um": 0.0},
  "material": {"density_kg_m3": 2330, "youngs_modulus_gpa": 160, "poissons_ratio": 0.22},
  "modes":    {"count": 12}
}
"#;
