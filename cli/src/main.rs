//! The `modalith` binary.

use clap::Parser;
use modalith::{args::Cli, command, exit};
use std::process::ExitCode;

fn main() -> ExitCode {
    exit::end(command::run(&Cli::parse()))
}
