//! The `modalith` binary.

use clap::Parser;
use modalith::{args::Cli, command, exit, memory};
use std::process::ExitCode;

/// Assembly, factorization and elements take and give back large arrays all the time; the system's allocator returns each to
/// the system at once, which has to clear it again: a sixth of a rate report's time.
#[global_allocator]
static ALLOCATOR: memory::Heap = memory::Heap;

fn main() -> ExitCode {
    memory::keep();
    exit::end(command::run(&Cli::parse()))
}
