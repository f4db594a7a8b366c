//! Figures of values that a batch found: mean, deviation and ends; whether values keep limits. In: values in one unit, in any order. Out:
//! figures in that unit.

use statrs::statistics::Statistics;

/// Figures of a column of values, in their unit.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Figures {
    /// How many values.
    pub count: usize,
    /// Mean.
    pub mean: f64,
    /// Standard deviation.
    pub deviation: f64,
    /// Smallest.
    pub low: f64,
    /// Largest.
    pub high: f64,
}

/// What values are of all that there could be.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Values {
    /// All: the deviation is of n.
    Population,
    /// A sample: the deviation is of n − 1.
    Sample,
}

impl Figures {
    /// Of values; `None` where there are none. The sums run in the order of the values.
    pub fn of(values: &[f64], which: Values) -> Option<Self> {
        let count = values.len();
        let (low, high) = values.iter().fold((f64::INFINITY, f64::NEG_INFINITY), |(l, h), &v| (l.min(v), h.max(v)));
        if count == 0 {
            return None;
        }
        let deviation = match (count, which) {
            (1, _) => 0.0,
            (_, Values::Population) => values.population_std_dev(),
            (_, Values::Sample) => values.std_dev(),
        };
        Some(Self { count, mean: values.mean(), deviation, low, high })
    }

    /// Standard error of the mean, in the values' unit; none of all that there could be.
    pub fn standard_error(&self, which: Values) -> Option<f64> {
        let error = self.deviation / (self.count as f64).sqrt();
        (which == Values::Sample && error > 0.0).then_some(error)
    }
}

/// How far the figures of points lie from what first-order terms expect, in their unit.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Departure {
    /// Mean less the one expected.
    pub mean: f64,
    /// The same over the standard error of the mean; none of all that there could be.
    pub standard_errors: Option<f64>,
    /// Deviation over the one expected, where slopes make one.
    pub deviation_ratio: Option<f64>,
}

/// Share of the deviation found below which the one expected is what rounding left of slopes that are zero.
const NO_SLOPE: f64 = 1e-6;

impl Departure {
    /// Of figures from an expected mean and deviation.
    pub fn of(figures: &Figures, [mean, deviation]: [f64; 2], which: Values) -> Self {
        let off = figures.mean - mean;
        Self {
            mean: off,
            standard_errors: figures.standard_error(which).map(|error| off / error),
            deviation_ratio: (deviation > NO_SLOPE * figures.deviation).then(|| figures.deviation / deviation),
        }
    }
}

/// Whether a value keeps limits in its unit; both ends are within.
pub fn within(value: f64, [low, high]: [Option<f64>; 2]) -> bool {
    low.is_none_or(|l| value >= l) && high.is_none_or(|h| value <= h)
}
