//! Distributions of what the process varies, with their inverses. In: their parameters, in the unit of what varies. Out: values from
//! quantiles u in (0, 1) and normal scores z, means and standard deviations (closed forms: N. L. Johnson, S. Kotz, N. Balakrishnan,
//! Continuous Univariate Distributions, 2nd ed., Wiley 1994/1995).

use statrs::distribution::{ContinuousCDF, Normal};

/// How a number varies.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum Distribution {
    /// Normal.
    Normal {
        /// Mean.
        mean: f64,
        /// Standard deviation.
        deviation: f64,
    },
    /// The logarithm is normal.
    Lognormal {
        /// Median.
        median: f64,
        /// Standard deviation of the natural logarithm.
        log_deviation: f64,
    },
    /// Even between two ends.
    Uniform {
        /// Lower end.
        low: f64,
        /// Upper end.
        high: f64,
    },
    /// Rises linearly from the lower end to a peak and falls linearly to the upper end.
    Triangular {
        /// Lower end.
        low: f64,
        /// Most likely value.
        peak: f64,
        /// Upper end.
        high: f64,
    },
}

/// The normal score of a quantile: the inverse of the standard normal distribution.
pub fn score(u: f64) -> f64 {
    standard().map_or(0.0, |n| n.inverse_cdf(u))
}

/// The quantile of a normal score.
pub fn quantile(z: f64) -> f64 {
    standard().map_or(0.5, |n| n.cdf(z))
}

/// Which of `values` equally likely values a quantile in (0, 1) takes.
pub fn listed(quantile: f64, values: usize) -> usize {
    ((quantile * values as f64) as usize).min(values.saturating_sub(1))
}

/// So many values from one end to the other, both among them; at least two.
pub fn evenly_spaced([from, to]: [f64; 2], count: usize) -> Vec<f64> {
    let step = (to - from) / (count - 1) as f64;
    (0..count).map(|i| if i + 1 == count { to } else { from + step * i as f64 }).collect()
}

fn standard() -> Option<Normal> {
    Normal::new(0.0, 1.0).ok()
}

impl Distribution {
    /// The value at a quantile u, whose normal score is z.
    pub fn at(&self, u: f64, z: f64) -> f64 {
        match *self {
            Self::Normal { mean, deviation } => mean + deviation * z,
            Self::Lognormal { median, log_deviation } => median * (log_deviation * z).exp(),
            Self::Uniform { low, high } => low + (high - low) * u,
            Self::Triangular { low, peak, high } => {
                let (whole, left) = (high - low, peak - low);
                if u * whole < left {
                    low + (u * whole * left).sqrt()
                } else {
                    high - ((1.0 - u) * whole * (high - peak)).sqrt()
                }
            }
        }
    }

    /// Mean and standard deviation.
    pub fn moments(&self) -> (f64, f64) {
        match *self {
            Self::Normal { mean, deviation } => (mean, deviation),
            Self::Lognormal { median, log_deviation: s } => {
                let mean = median * (0.5 * s * s).exp();
                (mean, mean * (s * s).exp_m1().sqrt())
            }
            Self::Uniform { low, high } => (0.5 * (low + high), (high - low) / 12f64.sqrt()),
            Self::Triangular { low: a, peak: c, high: b } => {
                ((a + b + c) / 3.0, ((a * a + b * b + c * c - a * b - a * c - b * c) / 18.0).sqrt())
            }
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Means and deviations over a fine set of quantiles against the closed forms.
    #[test]
    fn the_inverses_have_the_stated_moments() {
        let all = [
            Distribution::Normal { mean: 20.0, deviation: 0.2 },
            Distribution::Lognormal { median: 3.0, log_deviation: 0.2 },
            Distribution::Uniform { low: -1.0, high: 2.0 },
            Distribution::Triangular { low: 0.0, peak: 0.25, high: 2.0 },
        ];
        let n = 300_000;
        for v in all {
            let quantiles = (0..n).map(|i| (f64::from(i) + 0.5) / f64::from(n));
            let values: Vec<f64> = quantiles.map(|u| v.at(u, score(u))).collect();
            let mean = values.iter().sum::<f64>() / f64::from(n);
            let deviation = (values.iter().map(|x| (x - mean) * (x - mean)).sum::<f64>() / f64::from(n)).sqrt();
            let (m, d) = v.moments();
            assert!((mean - m).abs() < 1e-4 * d && (deviation / d - 1.0).abs() < 1e-4, "{v:?}: {mean} {deviation}");
        }
    }

    /// Abramowitz and Stegun 1964, table 26.1: P(1.96) = 0.975 002 104 851 8.
    #[test]
    fn normal_scores() {
        assert!((score(0.975_002_104_851_8) - 1.96).abs() < 1e-9);
        assert!((quantile(1.96) - 0.975_002_104_851_8).abs() < 1e-10);
    }
}
