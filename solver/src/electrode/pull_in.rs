//! The bias at which a part pulls in, on its own flexures: the first voltage along a rising bias beyond which no stable balance
//! exists, a limit point (plates) or a side instability (combs).
//!
//! Found in a space of static shapes as in [`super::statics`], which at the critical state also gets K⁻¹ of the softening on the
//! direction that gives way, until the voltage stands still; bracketed by bisection, each state followed from the last stable
//! one.

use super::statics::{Space, Structure, factors};
use super::{Electrode, ElectrodeError};
use nalgebra::{DMatrix, DVector};

/// Largest factor on the biases that is tried.
const MOST: f64 = 1e4;
/// Relative width of the bracket of V².
const BRACKET: f64 = 1e-9;
/// Rounds of enriching the space.
const ROUNDS: usize = 10;
/// Change of the critical V² at which the space is rich enough.
const SETTLED: f64 = 1e-6;

/// Where a part becomes unstable.
#[derive(Clone, Debug, PartialEq)]
pub struct Instability {
    /// Factor on the rising biases at which it pulls in.
    pub ratio: f64,
    /// Largest motion of each electrode's spots just before, m.
    pub largest_m: Vec<f64>,
}

/// The factor on the biases of the electrodes marked in `rising` at which the part pulls in, the others staying at their
/// bias; `None` where it does not up to `MOST` times. The load path rises from zero.
///
/// # Errors
/// [`ElectrodeError::PulledIn`] where the others alone pull it in; [`ElectrodeError::NotSettled`]; a gap that is closed at rest; an
/// electrode over nothing; a structure that is not held.
pub fn pull_in(
    structure: &Structure,
    electrodes: &[Electrode],
    rising: &[bool],
) -> Result<Option<Instability>, ElectrodeError> {
    settled_in(structure, electrodes, rising, ROUNDS)
}

/// The same in so many rounds at the most.
pub(super) fn settled_in(
    structure: &Structure,
    electrodes: &[Electrode],
    rising: &[bool],
    rounds: usize,
) -> Result<Option<Instability>, ElectrodeError> {
    let mut space = Space::new(structure, electrodes)?;
    let compliances = structure.compliances(electrodes)?;
    let factors = factors(&compliances)?;
    let squares = |ratio2: f64| -> Vec<f64> {
        let of = |(e, rises): (&Electrode, &bool)| e.bias_v * e.bias_v * if *rises { ratio2 } else { 1.0 };
        electrodes.iter().zip(rising).map(of).collect()
    };
    let start = DVector::zeros(0);
    space.enrich(&factors, &start, &squares(1.0), None)?;
    for (part, x) in probes(&space, &factors, rising) {
        space.add(part, x);
    }
    let (mut last, mut low, mut q) = (f64::INFINITY, 0.0, DVector::zeros(space.dimension()));
    let mut change = f64::INFINITY;
    for _ in 0..rounds {
        let base = space.balance(&DVector::zeros(space.dimension()), &squares(0.0))?;
        let base = base.ok_or(ElectrodeError::PulledIn { ratio: None })?;
        let Some((found, state)) = bracket(&space, &squares, base)? else { return Ok(None) };
        (low, q) = (found, state);
        let now = squares(low);
        let weakest = weakest(&space, &q, &now)?;
        change = (low / last - 1.0).abs();
        last = low;
        if change < SETTLED {
            break;
        }
        space.enrich(&factors, &q, &now, None)?;
        let (wide, weakest) = (space.widened(&q), space.widened(&weakest));
        space.enrich(&factors, &wide, &now, Some(&weakest))?;
    }
    if change >= SETTLED {
        return Err(space.not_settled("the pull-in", &q, rounds, change));
    }
    let wide = space.widened(&q);
    let largest = |e: usize| {
        let size = |u: &[f64; 3]| u.iter().map(|x| x * x).sum::<f64>().sqrt();
        space.rest(e, &wide).iter().map(size).fold(0.0, f64::max)
    };
    Ok(Some(Instability { ratio: low.sqrt(), largest_m: (0..electrodes.len()).map(largest).collect() }))
}

/// The largest V² factor with a stable balance, and that balance.
///
/// # Errors
/// [`ElectrodeError::NotSettled`] where a balance cannot be told from none.
fn bracket(
    space: &Space,
    squares: &impl Fn(f64) -> Vec<f64>,
    base: DVector<f64>,
) -> Result<Option<(f64, DVector<f64>)>, ElectrodeError> {
    let (mut low, mut high, mut q) = (0.0, 1.0, base);
    while let Some(next) = space.balance(&q, &squares(high))? {
        (low, q) = (high, next);
        high *= 4.0;
        if high > MOST * MOST {
            return Ok(None);
        }
    }
    while high - low > BRACKET * high {
        let middle = 0.5 * (low + high);
        match space.balance(&q, &squares(middle))? {
            Some(next) => (low, q) = (middle, next),
            None => high = middle,
        }
        if high < 1.0 / (MOST * MOST) {
            break;
        }
    }
    Ok(Some((low, q)))
}

/// The direction in which the pull's change is largest against the stiffness.
fn weakest(space: &Space, q: &DVector<f64>, squares: &[f64]) -> Result<DVector<f64>, ElectrodeError> {
    let (_, softening) = space.pull(q, squares)?;
    let eigen = softening.symmetric_eigen();
    Ok(eigen.eigenvectors.column(eigen.eigenvalues.imax()).into_owned())
}

/// Static shapes that symmetric loads do not excite: an even force and its first moments along x, y, z over all rising electrodes.
fn probes(space: &Space, factors: &[Option<crate::spectrum::Factored>], rising: &[bool]) -> Vec<(usize, DVector<f64>)> {
    let mut out = Vec::new();
    for (part, factor) in factors.iter().enumerate() {
        let Some(factor) = factor else { continue };
        let loads: Vec<DVector<f64>> = space.probe_loads(part, rising);
        if loads.is_empty() {
            continue;
        }
        let x = factor.solve(&DMatrix::from_columns(&loads));
        out.extend(x.column_iter().map(|c| (part, c.into_owned())));
    }
    out
}
