//! What is wanted of a problem, how to go about it, and what it cost. In λ = ω².

use super::error::SpectrumError;
use super::window::Nearest;

/// Which modes are wanted. All limits are in λ = ω².
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum Wanted {
    /// The `count` lowest; more if the last one belongs to a multiple, which is never cut.
    Lowest {
        /// How many.
        count: usize,
    },
    /// The `count` nearest to `lambda` in frequency, √λ; more if the last one belongs to a multiple.
    Near {
        /// Where.
        lambda: f64,
        /// How many.
        count: usize,
    },
    /// All with low ≤ λ ≤ high. A `low` of zero or less means from the lowest mode on.
    Band {
        /// Lower end.
        low: f64,
        /// Upper end.
        high: f64,
    },
}

impl Wanted {
    /// Modes that memory is counted for in one of so many parts.
    pub(super) fn count_in(self, parts: usize, guessed: usize) -> usize {
        match self {
            Self::Lowest { count } if parts > 1 => (3 * count).div_ceil(2 * parts) + 1,
            Self::Lowest { count } | Self::Near { count, .. } => count,
            Self::Band { .. } => guessed.div_ceil(parts.max(1)),
        }
    }
}

/// How to go about it.
#[derive(Clone, Debug, PartialEq)]
pub struct Options {
    /// A λ, in the unit of K over M (s⁻² in SI), of the order of the first elastic modes, used to shift a free body's K. `None`: estimated.
    pub scale_hint: Option<f64>,
    /// Vectors in a block.
    pub block: usize,
    /// Residual of the shifted and inverted problem at which a Ritz pair counts as converged, relative to θ. One more
    /// step of inverse iteration follows.
    pub tolerance: f64,
}

impl Default for Options {
    fn default() -> Self {
        Self { scale_hint: None, block: 4, tolerance: 1e-12 }
    }
}

/// What the run cost, seconds of wall clock.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub struct Timings {
    /// Ordering and symbolic analysis, s.
    pub ordering: f64,
    /// All numeric factorizations.
    pub factorization: f64,
    /// Iteration, refinement and output.
    pub eigen: f64,
    /// Numeric factorizations.
    pub factors: usize,
    /// Solves with one block of vectors.
    pub solves: usize,
    /// Restarts of the iteration.
    pub restarts: usize,
}

/// Refuses ends that are no numbers and bands that hold nothing.
pub(super) fn check(wanted: Wanted) -> Result<(), SpectrumError> {
    let reason = match wanted {
        Wanted::Lowest { count } => return Nearest { to: None, count }.check(),
        Wanted::Near { lambda, count } => return Nearest { to: Some(lambda), count }.check(),
        Wanted::Band { low, high } if !(low.is_finite() && high.is_finite()) => "an end of the band is not finite",
        Wanted::Band { low, high } if low >= high => "the band's lower end is not below its upper end",
        Wanted::Band { .. } => return Ok(()),
    };
    Err(SpectrumError::Wanted { reason })
}
