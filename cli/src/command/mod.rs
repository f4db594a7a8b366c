//! The commands, one file each, and what they share.

pub mod accuracy;
pub mod audit;
mod beams;
mod biased;
pub mod check;
pub mod chosen;
pub mod folder;
mod memory;
pub mod mesh;
pub mod modes;
pub mod opened;
pub mod progress;
pub mod rate;
pub mod schema;
pub mod solved;
mod stated;
mod stepped;
pub mod variants;

use crate::args::{Cli, Command};
use crate::exit::CommandError;

/// Runs the command of a command line.
///
/// # Errors
/// Why it stopped.
pub fn run(cli: &Cli) -> Result<(), CommandError> {
    use Command::{Audit, Modes, Rate, Variants};
    crate::memory::has_limit(matches!(cli.command, Modes(_) | Rate(_) | Audit(_) | Variants(_)));
    match &cli.command {
        Command::Check(args) => check::run(args),
        Command::Modes(args) => modes::run(args),
        Command::Rate(args) => rate::run(args),
        Command::Audit(args) => audit::run(args),
        Command::Mesh(args) => mesh::run(args),
        Command::Variants(args) => variants::run(args),
        Command::Schema(args) => schema::run(args),
    }
}

/// Sets the number of threads of everything that runs in parallel.
///
/// # Errors
/// When the threads cannot be started.
pub fn threads(wanted: Option<u16>) -> Result<(), CommandError> {
    let Some(n) = wanted else { return Ok(()) };
    rayon::ThreadPoolBuilder::new().num_threads(n.into()).build_global().map_err(|e| CommandError::Other {
        what: format!("{n} threads could not be started: {e}"),
        hint: "ask for fewer with --threads".into(),
    })
}
