//! Buckling factors: (K + μ K_G) φ = 0 for the smallest μ above zero and the largest below.
//!
//! In: a structure without its stress and with it. Out: μ, without unit. Lanczos iteration with K⁻¹K_G in the inner product of K, all vectors
//! orthogonal to each other (B. N. Parlett, *The Symmetric Eigenvalue Problem*, 1980, ch. 13, from memory): θ = −1/μ at both ends of its
//! spectrum.

use super::film_error::FilmError;
use crate::spectrum::{Compliance, Factored, Problem, SpectrumError};
use crate::system::{Fold, Structure, System};
use nalgebra::{DMatrix, DVector};
use nalgebra_sparse::CscMatrix;
use rayon::prelude::*;
use std::sync::Arc;

/// Steps at most, each two vectors, and how many before an end of the spectrum may be taken for nothing.
const STEPS: usize = 80;
const FIRST_STEPS: usize = 30;
/// Residual over θ at which an end is known: its error is the square of that.
const KNOWN: f64 = 1e-4;
/// θ of either end below which nothing is said of it: a hundred times the load. Motions in the plane have no isolated θ below a stress over a
/// modulus, where short waves crowd.
const AT_ALL: f64 = 1e-2;
/// The same, as a share of θ of the other end.
const NOTHING: f64 = 1e-3;
/// What is left of a direction, over the first, that is rounding: the space is exhausted.
const ROUNDING: f64 = 1e-13;

/// Multiples of the stress in a structure at which it buckles; `None` where it does not, at more than a hundred, or at more
/// than a thousand times the other one.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub struct BucklingFactors {
    /// The smallest positive one.
    pub positive: Option<f64>,
    /// The largest negative one.
    pub negative: Option<f64>,
}

impl BucklingFactors {
    /// The smaller of both in size; `None` where there is none.
    pub fn nearest(&self) -> Option<f64> {
        [self.positive, self.negative].into_iter().flatten().map(f64::abs).reduce(f64::min)
    }
}

/// Buckling factors of a held structure, from itself `without` its stress and `with` it.
///
/// # Errors
/// A system that is not there or not held, and an end of the spectrum that is not found.
pub fn buckling_factors(without: &Structure, with: &Structure) -> Result<BucklingFactors, FilmError> {
    let mut ends = Vec::new();
    for part in with.uncoupled() {
        let plain = without.with_layer(part.layer().clone());
        // With the layer's own stiffness taken out K_G is left.
        let stress = part.with_layer(part.layer().without_stiffness());
        ends.extend(match (Fold::along(&plain), Fold::along(&part)) {
            (Some(without), Some(with)) => folded((&without, &with), (&plain, &stress))?,
            _ => {
                let k_g = System::assemble(&stress)?.k;
                let system = System::assemble(&plain)?;
                let compliance = Compliance::new(&system.k, Some(system.unknowns.groups()))?;
                let all: Vec<u32> = (0..k_g.nrows() as u32).collect();
                vec![ends_of(&compliance.factor()?, &k_g, &all)?]
            }
        });
    }
    let least = ends.iter().map(|e| e[0]).fold(0.0, f64::min);
    let most = ends.iter().map(|e| e[1]).fold(0.0, f64::max);
    let factor = |own: f64, other: f64| (own > AT_ALL.max(NOTHING * other)).then(|| 1.0 / own);
    Ok(BucklingFactors { positive: factor(-least, most), negative: factor(most, -least).map(|f| -f) })
}

/// Ends of the spectrum of θ of every parity.
fn folded(
    (without, with): (&Fold, &Fold),
    (plain, stress): (&Structure, &Structure),
) -> Result<Vec<[f64; 2]>, FilmError> {
    let (system, k_g) = (without.assemble(plain.layer())?, with.assemble(stress.layer())?.k);
    let problem = Problem::symmetric(&system.k, &system.m, Some(system.unknowns.groups()))?;
    let order = Arc::new(problem.entity_order()?);
    let parities = without.parities();
    let of = |parity| -> Result<Option<[f64; 2]>, FilmError> {
        let own = without.unknowns_of(&system.unknowns, parity);
        if own.is_empty() {
            return Ok(None);
        }
        let compliance = Compliance::of(problem.restricted(&own).ordered_as(&order))?;
        Ok(Some(ends_of(&compliance.factor()?, &k_g, &own)?))
    };
    let found = parities.par_iter().map(of).collect::<Result<Vec<_>, FilmError>>()?;
    Ok(found.into_iter().flatten().collect())
}

/// Least and largest θ of K_G φ = θ K φ on some unknowns, of which `factor` has K.
fn ends_of(factor: &Factored<'_>, k_g: &CscMatrix<f64>, own: &[u32]) -> Result<[f64; 2], FilmError> {
    let multiply = |x: &DVector<f64>| {
        let mut all = DVector::zeros(k_g.nrows());
        own.iter().zip(x.iter()).for_each(|(&u, x)| all[u as usize] = *x);
        let product = k_g * &all;
        DVector::from_iterator(own.len(), own.iter().map(|&u| product[u as usize]))
    };
    // A fixed start that no symmetry is blind to.
    let start = DVector::from_fn(own.len(), |i, _| 1.0 + ((i * 7919 + 13) % 1009) as f64 / 1009.0);
    let (mut v, mut k_v): (Vec<DVector<f64>>, Vec<DVector<f64>>) = (Vec::new(), Vec::new());
    let mut k_next = multiply(&start);
    let mut next = factor.solve_one(&k_next);
    let mut projected = DMatrix::<f64>::zeros(STEPS, STEPS);
    let mut ends = [0.0; 2];
    let mut left = next.dot(&k_next).max(0.0).sqrt();
    let (first, mut found) = (left, left == 0.0);
    while !found && v.len() < STEPS.min(own.len()) {
        v.push(next / left);
        k_v.push(k_next / left);
        let j = v.len() - 1;
        k_next = multiply(&v[j]);
        next = factor.solve_one(&k_next);
        for _ in 0..2 {
            for i in 0..=j {
                let share = k_v[i].dot(&next);
                next.axpy(-share, &v[i], 1.0);
                k_next.axpy(-share, &k_v[i], 1.0);
                projected[(i, j)] += share;
            }
        }
        left = next.dot(&k_next).max(0.0).sqrt();
        let size = j + 1;
        let upper = projected.view((0, 0), (size, size));
        let eigen =
            DMatrix::from_fn(size, size, |a, b| if a <= b { upper[(a, b)] } else { upper[(b, a)] }).symmetric_eigen();
        let (least, most) = (eigen.eigenvalues.argmin(), eigen.eigenvalues.argmax());
        ends = [least.1.min(0.0), most.1.max(0.0)];
        let largest = ends[1].max(-ends[0]);
        let known = |(place, theta): (usize, f64), outward: f64| {
            let off = left * eigen.eigenvectors[(j, place)].abs();
            // A Ritz value lies within its residual of one that there is; one on the wrong side of zero may be of none.
            let nothing = size >= FIRST_STEPS && outward * theta + off < AT_ALL.max(NOTHING * largest);
            nothing || off <= KNOWN * theta.abs()
        };
        found = left <= ROUNDING * first || size == own.len() || size > 8 && known(least, -1.0) && known(most, 1.0);
    }
    if found && ends.iter().all(|theta| theta.is_finite()) {
        Ok(ends)
    } else {
        Err(SpectrumError::NotConverged { converged: 0, wanted: 2, solves: v.len() }.into())
    }
}
