//! Where on the axis of λ all eigenvalues of a pencil are known, and what shows it.
//!
//! In: counts from factors, and what was found between them. Out: a value that only agreement of both can make.

use super::count::ShiftReport;
use super::error::SpectrumError;

/// What shows that all eigenvalues of an interval are known.
#[derive(Clone, Debug, PartialEq)]
pub enum Proof {
    /// Sylvester's law: the signs of the pivots of K − σM, at both ends, say how many eigenvalues lie between.
    Inertia {
        /// Below the interval; `None` where everything down to the lowest eigenvalue was found.
        below: Option<ShiftReport>,
        /// Above it.
        above: ShiftReport,
    },
    /// Every eigenvalue of the pencil was found: as many as there are unknowns.
    AllKnown {
        /// Unknowns.
        unknowns: usize,
    },
}

/// An interval of λ in which every eigenvalue is among those found.
///
/// It can only be made where a count agreed with what was found, and only be narrowed afterwards.
#[derive(Clone, Debug, PartialEq)]
pub struct Covered {
    low: f64,
    high: f64,
    proof: Proof,
}

impl Covered {
    /// All between two counts (`below`: none for all down to the lowest), if they say that there are `found`.
    pub(super) fn counted(below: Option<ShiftReport>, above: ShiftReport, found: usize) -> Result<Self, SpectrumError> {
        let counted = above.negatives.saturating_sub(below.map_or(0, |b| b.negatives));
        if counted != found {
            return Err(SpectrumError::Incomplete { found, counted, lambda: above.used });
        }
        // Nothing lies below a place under which none is counted.
        let low = below.filter(|b| b.negatives > 0).map_or(f64::NEG_INFINITY, |b| b.used);
        Ok(Self { low, high: above.used, proof: Proof::Inertia { below, above } })
    }

    /// The whole axis: all eigenvalues of so many unknowns were found.
    pub(super) fn everything(unknowns: usize) -> Self {
        Self { low: f64::NEG_INFINITY, high: f64::INFINITY, proof: Proof::AllKnown { unknowns } }
    }

    /// What of it lies between two places.
    #[must_use]
    pub(super) fn within(mut self, low: f64, high: f64) -> Self {
        self.low = self.low.max(low);
        self.high = self.high.min(high);
        self
    }

    /// Lower end, λ = ω², rad²/s²; −∞ where nothing lies below.
    pub fn low(&self) -> f64 {
        self.low
    }

    /// Upper end, λ = ω², rad²/s²; ∞ where every eigenvalue is known.
    pub fn high(&self) -> f64 {
        self.high
    }

    /// What shows it.
    pub fn proof(&self) -> &Proof {
        &self.proof
    }
}
