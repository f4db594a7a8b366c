//! Which points of a varied space are taken. In: how many variables, correlation, method, count, seed. Out: for every point a
//! quantile and a normal score a variable.
//!
//! Random numbers come from ChaCha20 (`rand_chacha`, whose streams keep their values from version to version), one stream for
//! each variable, so that the points do not depend on how many threads or shards use them. Latin hypercube: McKay, Beckman
//! and Conover, *Technometrics* 21 (1979) 239. Sobol points are shifted digit by digit by the seed. Correlation acts on
//! normal scores (a Gaussian copula): z = L z' with L Lᵀ the matrix of correlation.

use super::distribution::{quantile, score};
use super::figures::Values;
use super::sobol;
use nalgebra::{Cholesky, DMatrix};
use rand_chacha::ChaCha20Rng;
use rand_chacha::rand_core::{Rng, SeedableRng};

/// Ways to take points.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Method {
    /// Every combination of listed values, the last variable fastest.
    Grid,
    /// Independent random points.
    MonteCarlo,
    /// Random points, one in each of n equal slices of every variable.
    LatinHypercube,
    /// Sobol points.
    Sobol,
}

/// Names of the methods in the plan.
pub const METHODS: [(&str, Method); 4] = [
    ("grid", Method::Grid),
    ("monte carlo", Method::MonteCarlo),
    ("latin hypercube", Method::LatinHypercube),
    ("sobol", Method::Sobol),
];

/// Points to take.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Sampling {
    /// How.
    pub method: Method,
    /// How many.
    pub points: usize,
    /// Seed; 0 for a grid, which needs none.
    pub seed: u64,
}

impl Method {
    /// What its points are of all that there could be: those of a grid are all.
    pub fn values(self) -> Values {
        if self == Self::Grid { Values::Population } else { Values::Sample }
    }

    /// Its name in the plan.
    pub fn name(self) -> &'static str {
        METHODS.iter().find(|(_, m)| *m == self).map_or("", |(name, _)| name)
    }
}

/// Correlation of the normal scores of variables, none where they are independent.
#[derive(Clone, Debug, PartialEq)]
pub struct Correlation {
    coefficients: DMatrix<f64>,
    /// Lower Cholesky factor of it.
    factor: DMatrix<f64>,
}

impl Correlation {
    /// So many independent variables.
    pub fn none(variables: usize) -> Self {
        let identity = DMatrix::identity(variables, variables);
        Self { coefficients: identity.clone(), factor: identity }
    }

    /// From coefficients between pairs of `variables`, by number, −1 to 1; `None` where no variables can go together like this.
    pub fn of_pairs(variables: usize, pairs: &[([usize; 2], f64)]) -> Option<Self> {
        let mut coefficients = DMatrix::identity(variables, variables);
        for &([i, j], r) in pairs {
            coefficients[(i, j)] = r;
            coefficients[(j, i)] = r;
        }
        let factor = Cholesky::new(coefficients.clone())?.l();
        Some(Self { coefficients, factor })
    }

    /// Coefficients, between −1 and 1, a row and a column a variable.
    pub fn coefficients(&self) -> &DMatrix<f64> {
        &self.coefficients
    }

    /// The quantile and normal score of variable `j` from those of all, drawn independently.
    fn joined(&self, j: usize, drawn: &[Draw]) -> Draw {
        if (0..j).all(|k| self.factor[(j, k)] == 0.0) {
            return drawn[j];
        }
        let z: f64 = (0..=j).map(|k| self.factor[(j, k)] * drawn[k].score).sum();
        Draw { quantile: quantile(z), score: z }
    }
}

/// What is drawn for one variable at one point.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Draw {
    /// Quantile, in (0, 1).
    pub quantile: f64,
    /// Its normal score.
    pub score: f64,
}

impl Sampling {
    /// All points, a row each, a draw a variable; of a grid, which draws nothing, none.
    pub fn draws(&self, variables: usize, correlation: &Correlation) -> Vec<Vec<Draw>> {
        if self.method == Method::Grid {
            return Vec::new();
        }
        let columns = quantiles(self, variables);
        let row = |p: usize| {
            let drawn: Vec<Draw> = columns.iter().map(|c| Draw { quantile: c[p], score: score(c[p]) }).collect();
            (0..variables).map(|j| correlation.joined(j, &drawn)).collect()
        };
        (0..self.points).map(row).collect()
    }
}

/// The place in its list of every variable at a point of a grid of lists so long, the last variable fastest.
pub fn combination(point: usize, lengths: &[usize]) -> Vec<usize> {
    let mut rest = point;
    let mut places = vec![0; lengths.len()];
    for (place, length) in places.iter_mut().zip(lengths).rev() {
        *place = rest % length;
        rest /= length;
    }
    places
}

/// The quantiles of every variable over all points, in (0, 1).
fn quantiles(sampling: &Sampling, variables: usize) -> Vec<Vec<f64>> {
    let n = sampling.points;
    let directions = if sampling.method == Method::Sobol { sobol::directions(variables) } else { Vec::new() };
    let column = |variable: usize| {
        let mut random = ChaCha20Rng::seed_from_u64(sampling.seed);
        random.set_stream(variable as u64);
        match sampling.method {
            Method::LatinHypercube => {
                let mut slices: Vec<usize> = (0..n).collect();
                for last in (1..n).rev() {
                    slices.swap(last, below(&mut random, last + 1));
                }
                slices.iter().map(|&s| (s as f64 + unit(&mut random)) / n as f64).collect()
            }
            Method::Sobol => {
                let shift = random.next_u32();
                let at = |i: usize| sobol::coordinate(&directions[variable], i as u32) ^ shift;
                (0..n).map(|i| (f64::from(at(i)) + 0.5) / 4_294_967_296.0).collect()
            }
            Method::MonteCarlo | Method::Grid => (0..n).map(|_| unit(&mut random)).collect(),
        }
    };
    (0..variables).map(column).collect()
}

/// A number in (0, 1): the middle of one of 2⁵³ equal intervals.
fn unit(random: &mut ChaCha20Rng) -> f64 {
    const INTERVALS: f64 = 9_007_199_254_740_992.0;
    // The top interval's middle would round to 1.
    (((random.next_u64() >> 11) as f64 + 0.5) / INTERVALS).min(1.0 - f64::EPSILON / 2.0)
}

/// A whole number below `n`, even to 2⁻⁶⁴ n.
fn below(random: &mut ChaCha20Rng, n: usize) -> usize {
    ((u128::from(random.next_u64()) * n as u128) >> 64) as usize
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::process::Distribution;

    fn table(method: Method, n: usize, correlation: &Correlation) -> Vec<[f64; 2]> {
        let a = Distribution::Normal { mean: 20.0, deviation: 0.2 };
        let b = Distribution::Uniform { low: -0.1, high: 0.1 };
        let rows = Sampling { method, points: n, seed: 7 }.draws(2, correlation);
        rows.iter().map(|row| [a.at(row[0].quantile, row[0].score), b.at(row[1].quantile, row[1].score)]).collect()
    }

    /// Means within four standard errors of Monte Carlo; slices filled once each by the others.
    #[test]
    fn the_methods_sample_what_is_stated() {
        for (_, method) in &METHODS[1..] {
            let n = 1024;
            let rows = table(*method, n, &Correlation::none(2));
            let mean = rows.iter().map(|r| r[0]).sum::<f64>() / n as f64;
            assert!((mean - 20.0).abs() < 4.0 * 0.2 / (n as f64).sqrt(), "{method:?} {mean}");
            let mut slices: Vec<usize> = rows.iter().map(|r| ((r[1] + 0.1) / 0.2 * n as f64) as usize).collect();
            slices.sort_unstable();
            slices.dedup();
            assert_eq!(slices.len() == n, *method != Method::MonteCarlo, "{method:?}");
        }
    }

    /// The correlation of two normal variables is the one stated: standard error (1 − r²)/√n.
    #[test]
    fn correlated_variables() {
        let r: f64 = 0.6;
        let correlation = Correlation::of_pairs(2, &[([0, 1], r)]).unwrap();
        assert_eq!(correlation.coefficients()[(1, 0)], r);
        let n = 20_000;
        let rows = Sampling { method: Method::MonteCarlo, points: n, seed: 3 }.draws(2, &correlation);
        let product: f64 = rows.iter().map(|row| row[0].score * row[1].score).sum();
        assert!((product / n as f64 - r).abs() < 4.0 * (1.0 + r * r).sqrt() / (n as f64).sqrt());
        // Two that go with a third as closely cannot be opposite.
        assert_eq!(Correlation::of_pairs(3, &[([0, 1], 0.9), ([0, 2], 0.9), ([1, 2], -0.9)]), None);
    }

    #[test]
    fn a_grid_takes_every_combination_the_last_fastest() {
        let rows: Vec<Vec<usize>> = (0..6).map(|p| combination(p, &[2, 3])).collect();
        assert_eq!(rows, [[0, 0], [0, 1], [0, 2], [1, 0], [1, 1], [1, 2]]);
        assert!(Sampling { method: Method::Grid, points: 6, seed: 0 }.draws(2, &Correlation::none(2)).is_empty());
    }

    /// The same seed gives the same points on any machine: ChaCha20 keeps its stream.
    #[test]
    fn the_same_seed_gives_the_same_points() {
        let none = Correlation::none(2);
        assert_eq!(table(Method::MonteCarlo, 50, &none)[..10], table(Method::MonteCarlo, 10, &none)[..]);
    }
}
