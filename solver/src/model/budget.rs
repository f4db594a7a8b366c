//! How much memory a run may take: the budget asked for, within which models are chosen, so that answers do not depend on the machine;
//! what the machine has free can only refuse.

/// The budget where nobody asks for another, bytes.
pub const BUDGET: u64 = 8_000_000_000;
/// What a run may take.
#[derive(Clone, Copy, Debug)]
pub struct Budget {
    /// Bytes that are allowed.
    pub limit: u64,
    /// Tells how many bytes are free at the moment; `None` where the machine does not say.
    pub free: fn() -> Option<u64>,
}

impl Default for Budget {
    fn default() -> Self {
        Self { limit: BUDGET, free: || None }
    }
}

impl Budget {
    /// Bytes that a search may take.
    pub fn room(self) -> Option<usize> {
        usize::try_from(self.limit).ok()
    }
}
