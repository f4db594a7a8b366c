//! The `modalith` binary.

use clap::Parser;
use modalith::{args::Cli, command, exit};
use std::process::ExitCode;

/// Assembly, factorization and elements take and give back large arrays all the time; the system's allocator returns each to
/// the system at once, which has to clear it again: a sixth of a rate report's time.
#[global_allocator]
static ALLOCATOR: mimalloc::MiMalloc = mimalloc::MiMalloc;

/// For how long freed memory is kept, ms: longer saves no more time and costs peak memory.
const KEPT_MS: std::ffi::c_long = 10;
/// `mi_option_purge_delay` of mimalloc.h, which the bindings leave out.
const PURGE_DELAY: libmimalloc_sys::mi_option_t = 15;

fn main() -> ExitCode {
    keep_freed_memory();
    exit::end(command::run(&Cli::parse()))
}

#[allow(unsafe_code, reason = "mi_option_set has no safe wrapper")]
fn keep_freed_memory() {
    // SAFETY: stores a number that the allocator reads whenever it purges.
    unsafe { libmimalloc_sys::mi_option_set(PURGE_DELAY, KEPT_MS) }
}
