//! A comb: per gap C = ε₀ t (overlap + a)/(g − b), with a the motion along the fingers and b the motion across that closes the
//! gap. So ∂C/∂a = ε₀ t/g for a gap, twice that for a finger with a gap on both sides (W. C. Tang, T.-C. H. Nguyen, R. T. Howe,
//! Sensors and Actuators 20 (1989) 25), and −½ V² ∂²C/∂b² = −ε₀ V² t overlap/g³ is the softening across.

use super::{Local, VACUUM_PERMITTIVITY};
use modalith_mesher::comb::DrawnGap;
use std::collections::BTreeMap;

/// One gap of a comb, or several alike.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct FingerGap {
    /// Gap at rest, m.
    pub gap_m: f64,
    /// Overlap at rest, m.
    pub overlap_m: f64,
    /// Whether motion to the left of the pull closes it (else to the right).
    pub on_left: bool,
    /// How many are alike, a number.
    pub count: f64,
}

/// The gaps between moving and fixed fingers.
#[derive(Clone, Debug, PartialEq)]
pub struct Comb {
    /// Unit vector of the motion that raises the overlap.
    pub along: [f64; 2],
    /// Height of the fingers, m.
    pub thickness_m: f64,
    /// The gaps.
    pub gaps: Vec<FingerGap>,
    /// Travel along the pull at which a fingertip meets something, m; `None` where that is not known.
    pub tip_gap_m: Option<f64>,
}

impl Comb {
    /// A comb of `fingers` moving fingers, each with the same gap on both sides; what lies ahead of their tips is not known.
    pub fn even(along: [f64; 2], thickness_m: f64, fingers: f64, gap_m: f64, overlap_m: f64) -> Self {
        let gap = |on_left: bool| FingerGap { gap_m, overlap_m, on_left, count: fingers };
        Self { along, thickness_m, gaps: vec![gap(true), gap(false)], tip_gap_m: None }
    }

    /// A comb as its gaps are drawn, at least one; those alike to a tenth of a nanometre are counted together.
    pub fn drawn(along: [f64; 2], thickness_m: f64, drawn: &[DrawnGap]) -> Self {
        let mut counted: BTreeMap<(i64, i64, bool), f64> = BTreeMap::new();
        for gap in drawn {
            let tenths = |um: f64| (um * 1e4).round() as i64;
            *counted.entry((tenths(gap.gap_um), tenths(gap.overlap_um), gap.on_left)).or_default() += 1.0;
        }
        let gap = |((gap, overlap, on_left), count)| FingerGap {
            gap_m: gap as f64 * 1e-10,
            overlap_m: overlap as f64 * 1e-10,
            on_left,
            count,
        };
        let tip_gap_um = drawn.iter().map(|g| g.tip_gap_um).fold(f64::INFINITY, f64::min);
        Self { along, thickness_m, gaps: counted.into_iter().map(gap).collect(), tip_gap_m: Some(tip_gap_um * 1e-6) }
    }

    /// Capacitance and its derivatives at a displacement, m; `None` where a gap is closed. Fingers that have left each other add
    /// nothing; what a fingertip meets is [`Self::reach`]'s matter.
    pub fn at(&self, u: [f64; 3]) -> Option<Local> {
        let [x, y] = self.along;
        let (along, left) = ([x, y, 0.0], [-y, x, 0.0]);
        let dot = |d: [f64; 3]| d[0] * u[0] + d[1] * u[1];
        let mut local = Local::default();
        for gap in &self.gaps {
            let side = if gap.on_left { 1.0 } else { -1.0 };
            let across = left.map(|v| side * v);
            let open = gap.gap_m - dot(across);
            if open <= 0.0 {
                return None;
            }
            let overlap = gap.overlap_m + dot(along);
            if overlap <= 0.0 {
                continue;
            }
            let per_length = VACUUM_PERMITTIVITY * self.thickness_m * gap.count / open;
            let value = per_length * overlap;
            local.add_along([value, value / open, 2.0 * value / (open * open)], across);
            local.add_along([0.0, per_length, 0.0], along);
            let mixed = per_length / open;
            for i in 0..3 {
                for j in 0..3 {
                    local.curvature[i][j] += mixed * (along[i] * across[j] + across[i] * along[j]);
                }
            }
        }
        Some(local)
    }

    /// How far a displacement, m, goes along the pull, as a share of the way to what a fingertip meets; 0 where that is not known.
    pub fn reach(&self, u: [f64; 3]) -> f64 {
        self.tip_gap_m.map_or(0.0, |free| (self.along[0] * u[0] + self.along[1] * u[1]) / free)
    }

    /// Share of its narrowest gap that a displacement, m, takes across.
    pub fn reach_across(&self, u: [f64; 3]) -> f64 {
        let left = self.along[0] * u[1] - self.along[1] * u[0];
        let of_gap = |gap: &FingerGap| if gap.on_left { left } else { -left } / gap.gap_m;
        self.gaps.iter().map(of_gap).fold(0.0, f64::max)
    }

    /// Bias above which fingers snap sideways on a lateral stiffness, V: V² ε₀ t Σ overlap/g³ = k, at rest, for gaps alike on
    /// both sides; `None` where nothing pulls across. Springs of the whole device: [`crate::state::pull_in()`].
    pub fn side_instability_v(&self, lateral_stiffness_n_per_m: f64) -> Option<f64> {
        let sum: f64 = self.gaps.iter().map(|g| g.count * g.overlap_m / g.gap_m.powi(3)).sum();
        let per_square_volt = VACUUM_PERMITTIVITY * self.thickness_m * sum;
        (per_square_volt > 0.0).then(|| (lateral_stiffness_n_per_m / per_square_volt).sqrt())
    }
}
