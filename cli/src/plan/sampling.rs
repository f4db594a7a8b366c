//! Which points of the varied space are taken. In: variables, correlation, method, count, seed. Out: one row of values a point.
//!
//! Random numbers come from ChaCha20 (`rand_chacha`, whose streams keep their values from version to version), one stream for
//! each variable, so that the points do not depend on how many threads or shards use them. Latin hypercube: McKay, Beckman
//! and Conover, *Technometrics* 21 (1979) 239. Sobol points are shifted digit by digit by the seed. Correlation acts on
//! normal scores (a Gaussian copula): z = L z' with L Lᵀ the matrix of correlation.

use super::sobol;
use super::variable::Variation;
use modalith_solver::process::{quantile, score};
use nalgebra::DMatrix;
use rand_chacha::ChaCha20Rng;
use rand_chacha::rand_core::{Rng, SeedableRng};
use serde_json::Value;

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
    /// Its name in the plan.
    pub fn name(self) -> &'static str {
        METHODS.iter().find(|(_, m)| *m == self).map_or("", |(name, _)| name)
    }
}

/// All points; `factor` is the lower Cholesky factor of the correlation of the variables' normal scores.
pub fn points(sampling: &Sampling, variations: &[&Variation], factor: &DMatrix<f64>) -> Vec<Vec<Value>> {
    if sampling.method == Method::Grid {
        return (0..sampling.points).map(|p| combination(p, variations)).collect();
    }
    let columns = quantiles(sampling, variations.len());
    let alone: Vec<bool> = (0..variations.len()).map(|j| (0..j).all(|k| factor[(j, k)] == 0.0)).collect();
    (0..sampling.points)
        .map(|p| {
            let scores: Vec<f64> = columns.iter().map(|c| score(c[p])).collect();
            let value = |j: usize| {
                if alone[j] {
                    return variations[j].at(columns[j][p], scores[j]);
                }
                let z: f64 = (0..=j).map(|k| factor[(j, k)] * scores[k]).sum();
                variations[j].at(quantile(z), z)
            };
            (0..variations.len()).map(value).collect()
        })
        .collect()
}

fn combination(point: usize, variations: &[&Variation]) -> Vec<Value> {
    let mut rest = point;
    let mut values: Vec<Value> = variations
        .iter()
        .rev()
        .map(|v| match v {
            Variation::Listed(list) => {
                let value = list[rest % list.len()].clone();
                rest /= list.len();
                value
            }
            // The reader lets only lists into a grid.
            other => other.at(0.5, 0.0),
        })
        .collect();
    values.reverse();
    values
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
    use modalith_solver::process::Distribution;

    fn table(method: Method, n: usize, factor: &DMatrix<f64>) -> Vec<[f64; 2]> {
        let a = Variation::Distributed(Distribution::Normal { mean: 20.0, deviation: 0.2 });
        let b = Variation::Distributed(Distribution::Uniform { low: -0.1, high: 0.1 });
        points(&Sampling { method, points: n, seed: 7 }, &[&a, &b], factor)
            .iter()
            .map(|row| [row[0].as_f64().unwrap(), row[1].as_f64().unwrap()])
            .collect()
    }

    /// Means within four standard errors of Monte Carlo; slices filled once each by the others.
    #[test]
    fn the_methods_sample_what_is_stated() {
        let none = DMatrix::identity(2, 2);
        for (_, method) in &METHODS[1..] {
            let n = 1024;
            let rows = table(*method, n, &none);
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
        let factor = DMatrix::from_row_slice(2, 2, &[1.0, 0.0, r, (1.0 - r * r).sqrt()]);
        let v = Variation::Distributed(Distribution::Normal { mean: 0.0, deviation: 1.0 });
        let n = 20_000;
        let rows = points(&Sampling { method: Method::MonteCarlo, points: n, seed: 3 }, &[&v, &v], &factor);
        let product: f64 = rows.iter().map(|r| r[0].as_f64().unwrap() * r[1].as_f64().unwrap()).sum();
        assert!((product / n as f64 - r).abs() < 4.0 * (1.0 + r * r).sqrt() / (n as f64).sqrt());
    }

    #[test]
    fn a_grid_takes_every_combination_the_last_fastest() {
        let a = Variation::Listed([1, 2].map(Value::from).to_vec());
        let b = Variation::Listed([7, 8, 9].map(Value::from).to_vec());
        let sampling = Sampling { method: Method::Grid, points: 6, seed: 0 };
        let rows = points(&sampling, &[&a, &b], &DMatrix::identity(2, 2));
        let rows: Vec<[i64; 2]> = rows.iter().map(|r| [r[0].as_i64().unwrap(), r[1].as_i64().unwrap()]).collect();
        assert_eq!(rows, [[1, 7], [1, 8], [1, 9], [2, 7], [2, 8], [2, 9]]);
    }

    /// The same seed gives the same points on any machine: ChaCha20 keeps its stream.
    #[test]
    fn the_same_seed_gives_the_same_points() {
        let none = DMatrix::identity(2, 2);
        assert_eq!(table(Method::MonteCarlo, 50, &none)[..10], table(Method::MonteCarlo, 10, &none)[..]);
    }
}
