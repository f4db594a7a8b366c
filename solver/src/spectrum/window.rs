//! Which interval of λ holds the modes nearest to a frequency. In: what was found so far. Out: an interval that all modes must be
//! known of before anybody can say which are the nearest.

use super::error::SpectrumError;

/// So many modes nearest to a place, in frequency.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Nearest {
    /// The place, in λ = ω², rad²/s²; `None` for the lowest.
    pub to: Option<f64>,
    /// How many; more where the last one belongs to a multiple.
    pub count: usize,
}

/// An interval of λ; a lower end of −∞ means from the lowest on.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(super) struct Window {
    pub(super) low: f64,
    pub(super) high: f64,
}

impl Nearest {
    pub(super) fn check(&self) -> Result<(), SpectrumError> {
        let reason = match self {
            Self { count: 0, .. } => "no mode asked for",
            Self { to: Some(lambda), .. } if !lambda.is_finite() => "the place is not a finite number",
            _ => return Ok(()),
        };
        Err(SpectrumError::Wanted { reason })
    }

    /// Distance of an eigenvalue in ω, rad/s, from the place or from rest.
    pub fn distance(&self, lambda: f64) -> f64 {
        (lambda.max(0.0).sqrt() - self.to.unwrap_or(0.0).max(0.0).sqrt()).abs()
    }

    /// The interval as far as the last wanted one of those found: in ω it reaches equally far on both sides, in λ farther up than
    /// down. Without an end where fewer were found than wanted.
    pub(super) fn window(&self, found: impl Iterator<Item = f64>) -> Window {
        let everything = Window { low: f64::NEG_INFINITY, high: f64::INFINITY };
        let last = |values: Vec<f64>| {
            let mut values = values;
            values.sort_by(f64::total_cmp);
            values.get(self.count - 1).copied()
        };
        match self.to {
            None => last(found.collect()).map_or(everything, |high| Window { high, ..everything }),
            Some(lambda) => {
                let middle = lambda.max(0.0).sqrt();
                let Some(half) = last(found.map(|l| self.distance(l)).collect()) else { return everything };
                let low = if half < middle { (middle - half).powi(2) } else { f64::NEG_INFINITY };
                Window { low, high: (middle + half).powi(2) }
            }
        }
    }
}
