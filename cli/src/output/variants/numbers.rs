//! Figures of a batch: mean, deviation and ends of a column, yield against limits, shares of variance.

use super::Batch;
use modalith_solver::process::{Correlation, Figures, first_order_share, first_order_shares, within};

impl Batch<'_> {
    /// Figures of a kept result.
    pub fn figures(&self, kept: usize) -> Option<Figures> {
        Figures::of(&self.column(kept), self.plan.sampling.method.values())
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
        let count = self.plan.variables.len();
        let shares = match self.all_numbers(kept) {
            Some((variables, y)) if self.plan.correlation == Correlation::none(count) => {
                first_order_shares(&variables, &y)
            }
            _ => (0..count).map(|v| self.pairs(v, kept)).map(|(x, y)| first_order_share(&x, &y)).collect(),
        };
        let mut all: Vec<(usize, f64)> = shares.into_iter().enumerate().filter_map(|(v, s)| Some((v, s?))).collect();
        all.sort_by(|a, b| b.1.total_cmp(&a.1));
        all
    }
}
