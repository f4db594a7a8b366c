//! What a search for modes is asked for. In: frequencies in Hz, numbers of modes, bytes.

/// Which modes are wanted.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum Wanted {
    /// The lowest so many; a multiple at the end is never cut.
    Lowest(usize),
    /// All up to a frequency.
    UpTo {
        /// The frequency, Hz.
        hz: f64,
        /// No more than so many, the lowest first.
        most: Option<usize>,
    },
    /// The so many nearest to a frequency, Hz.
    Near {
        /// The frequency, Hz.
        hz: f64,
        /// How many.
        count: usize,
    },
}

impl Wanted {
    /// How many modes are looked for, where that is known.
    pub(super) fn count(self) -> Option<usize> {
        match self {
            Self::Lowest(count) | Self::Near { count, .. } => Some(count),
            Self::UpTo { most, .. } => most,
        }
    }
}

/// What is asked: which modes, and in how much memory.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Asked {
    /// The modes.
    pub wanted: Wanted,
    /// Bytes that systems and search may take beyond what is held already; `None` for any.
    pub room_bytes: Option<usize>,
}

impl From<Wanted> for Asked {
    fn from(wanted: Wanted) -> Self {
        Self { wanted, room_bytes: None }
    }
}

/// Modes of the mesh so near above the end of a band that is asked for, as a share of it, leave open whether they are in it.
pub(crate) const NEXT_TO_END: f64 = 0.01;
