//! The commands, one file each, and what they share.

pub mod audit;
pub mod check;
mod fault;
pub mod folder;
mod memory;
pub mod mesh;
pub mod modes;
pub mod opened;
pub mod progress;
pub mod rate;
mod reading;
pub mod schema;
pub mod solved;
mod stated;
mod threads;
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
