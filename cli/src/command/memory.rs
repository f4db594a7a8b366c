//! How much memory a run may take, and what is said of it before the work starts. In: the limit asked for, what the system tells.
//! Out: the room that is left, bytes.

use crate::exit::tell;
use crate::output::findings::peak_memory_bytes;
use crate::output::units::bytes;
use modalith_solver::spectrum::Progress;

/// From so many bytes on, what a run needs is said before it starts.
const WORTH_SAYING: usize = 1 << 30;

/// What a run may take.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub struct Memory {
    /// Asked for, bytes; without it, all that the machine has.
    pub limit: Option<u64>,
    /// Whether what is needed is said on stderr.
    pub said: bool,
}

impl Memory {
    /// Bytes that may still be taken; `None` where the system does not tell.
    pub fn room(self) -> Option<usize> {
        let limit = self.limit.or_else(installed)?;
        usize::try_from(limit.saturating_sub(peak_memory_bytes().unwrap_or(0))).ok()
    }

    /// Says what is needed.
    pub fn hear(self, progress: Progress) {
        if let Progress::Planned { bytes: needed } = progress
            && self.said
            && needed >= WORTH_SAYING
        {
            tell("note", &format!("the search for modes will hold up to {}", bytes(needed as u64)));
        }
    }
}

/// Memory of the machine, bytes, from `MemTotal` in `/proc/meminfo`.
fn installed() -> Option<u64> {
    let text = std::fs::read_to_string("/proc/meminfo").ok()?;
    let line = text.lines().find_map(|l| l.strip_prefix("MemTotal:"))?;
    let kib: u64 = line.trim().strip_suffix("kB")?.trim().parse().ok()?;
    Some(kib * 1024)
}
