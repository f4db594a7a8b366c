//! Threads of everything that runs in parallel.

use crate::exit::CommandError;

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
