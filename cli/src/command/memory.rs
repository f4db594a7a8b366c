//! Memory that a run may take, and whoever waits for its search. In: what the command line allows, what the system tells. Out: a budget for
//! the solver, and a listener to it.

use super::progress::Reached;
use crate::exit::tell;
use crate::output::units::bytes;
use modalith_solver::model::Budget;
use modalith_solver::spectrum::Progress;
use std::sync::Arc;

/// From so many bytes on, what a run needs is said before it starts.
const WORTH_SAYING: usize = 1 << 30;

/// So many bytes, and no more than are free when it comes to it.
pub fn budget(limit: u64) -> Budget {
    Budget { limit, free: available }
}

/// Takes note of how far a search has come, and says on stderr what it needs unless it is to be `quiet`.
pub fn listener(reached: Reached, quiet: bool) -> Arc<dyn Fn(Progress) + Send + Sync> {
    Arc::new(move |said| {
        reached.hear(said);
        if let Progress::Planned { bytes: needed } = said
            && !quiet
            && needed >= WORTH_SAYING
        {
            tell("note", &format!("the search for modes will hold up to {}", bytes(needed as u64)));
        }
    })
}

/// Memory that is free, bytes, from `MemAvailable` in `/proc/meminfo`; `None` where the system does not tell.
fn available() -> Option<u64> {
    let text = std::fs::read_to_string("/proc/meminfo").ok()?;
    let line = text.lines().find_map(|l| l.strip_prefix("MemAvailable:"))?;
    let kib: u64 = line.trim().strip_suffix("kB")?.trim().parse().ok()?;
    Some(kib * 1024)
}
