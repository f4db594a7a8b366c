//! What all requirements together come to. In: verdicts. Out: how many are met, missed, open.

use super::requirements::Verdict;

/// How many of some requirements came to what.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub struct Tally {
    /// All of them.
    pub all: usize,
    /// Not met.
    pub failed: usize,
    /// Without a verdict.
    pub open: usize,
}

impl Tally {
    /// Of verdicts.
    pub fn of<'a>(verdicts: impl IntoIterator<Item = &'a Verdict>) -> Self {
        verdicts.into_iter().fold(Self::default(), |sum, verdict| Self {
            all: sum.all + 1,
            failed: sum.failed + usize::from(verdict.met() == Some(false)),
            open: sum.open + usize::from(verdict.met().is_none()),
        })
    }

    /// Whether all are met, of which there is one at least.
    pub fn is_yes(self) -> bool {
        self.all > 0 && self.failed == 0 && self.open == 0
    }
}
