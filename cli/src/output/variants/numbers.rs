//! Figures of a batch: mean, deviation and ends of a column, yield against limits, shares of variance.

use super::Batch;
use crate::plan::sampling::Method;
use modalith_solver::process::first_order_share;
use statrs::statistics::Statistics;

/// Figures of one column.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Figures {
    /// How many values.
    pub count: usize,
    /// Mean.
    pub mean: f64,
    /// Standard deviation: of n − 1 for a sample, of n for a grid, whose points are all that there is.
    pub deviation: f64,
    /// Smallest.
    pub low: f64,
    /// Largest.
    pub high: f64,
}

/// Figures of values taken by a method, in their unit; `None` where there are none. The sums run in the order of the values.
pub fn figures(values: &[f64], method: Method) -> Option<Figures> {
    let count = values.len();
    let (low, high) = values.iter().fold((f64::INFINITY, f64::NEG_INFINITY), |(l, h), &v| (l.min(v), h.max(v)));
    if count == 0 {
        return None;
    }
    let deviation = match (count, method) {
        (1, _) => 0.0,
        (_, Method::Grid) => values.population_std_dev(),
        _ => values.std_dev(),
    };
    Some(Figures { count, mean: values.mean(), deviation, low, high })
}

/// Whether a value keeps limits; both ends are within.
pub fn within(value: f64, [low, high]: [Option<f64>; 2]) -> bool {
    low.is_none_or(|l| value >= l) && high.is_none_or(|h| value <= h)
}

impl Batch<'_> {
    /// Figures of a kept result.
    pub fn figures(&self, kept: usize) -> Option<Figures> {
        figures(&self.column(kept), self.plan.sampling.method)
    }

    /// Points whose kept result keeps its limits; `None` where it has none.
    pub fn kept_within(&self, kept: usize) -> Option<usize> {
        let limits = self.plan.kept[kept].limits?;
        Some(self.rows.iter().filter(|r| r.kept[kept].is_some_and(|v| within(v, limits))).count())
    }

    /// Points that keep all limits; `None` where none are stated. A point without a result does not.
    pub fn all_within(&self) -> Option<usize> {
        let limited: Vec<(usize, [Option<f64>; 2])> =
            self.plan.kept.iter().enumerate().filter_map(|(k, kept)| Some((k, kept.limits?))).collect();
        let good = |kept: &[Option<f64>]| limited.iter().all(|(k, l)| kept[*k].is_some_and(|v| within(v, *l)));
        (!limited.is_empty()).then(|| self.rows.iter().filter(|r| good(&r.kept)).count())
    }

    /// Variables by the share of a kept result's variance that they cause, the largest first.
    pub fn ranking(&self, kept: usize) -> Vec<(usize, f64)> {
        let share = |v: usize| {
            let (x, y) = self.pairs(v, kept);
            Some((v, first_order_share(&x, &y)?))
        };
        let mut all: Vec<(usize, f64)> = (0..self.plan.variables.len()).filter_map(share).collect();
        all.sort_by(|a, b| b.1.total_cmp(&a.1));
        all
    }
}
