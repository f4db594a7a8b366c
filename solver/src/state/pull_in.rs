//! The bias at which a part pulls in, on its own flexures: the first voltage along a rising bias beyond which no stable balance
//! exists, a limit point (plates), a side instability (combs) or fingertips that meet something.
//!
//! Found in a space of static shapes as in [`super::equilibrium()`], which at the critical state also gets K⁻¹ of the softening on the
//! direction that gives way, until the voltage stands still. Within the space the limit is where the least stiffness of stable
//! states reaches zero, by [`super::limit`].

use super::equilibrium::{self, Equilibrium, Space};
use super::limit::{Limit, Path};
use super::static_systems::{StaticSystems, factors};
use crate::electrode::{Electrode, ElectrodeError};
use crate::spectrum::Factored;
use nalgebra::{DMatrix, DVector};

/// Rounds of enriching the space.
const ROUNDS: usize = 10;
/// Change of the critical V² at which the space is rich enough.
const SETTLED: f64 = 1e-6;
/// Change in a round after which the next may be the last one, whose limit is bracketed.
const NEARLY: f64 = 1e-3;

/// A travel within this share of a tip's gap is a contact.
const AT_CONTACT: f64 = 1e-5;

/// Where a part becomes unstable, or its fingertips touch.
#[derive(Clone, Debug, PartialEq)]
pub struct Instability {
    /// Factor on the rising biases at which it pulls in.
    pub ratio: f64,
    /// Largest motion of each electrode's spots there, m.
    pub largest_m: Vec<f64>,
    /// The comb whose fingertips meet something there, where that comes first.
    pub touches: Option<String>,
    /// How often the pull was summed over all spots to find it.
    pub sums: usize,
}

/// The factor on the biases of the electrodes marked in `rising` at which the part pulls in, the others staying at their
/// bias; `None` where it does not up to 10⁴ times. The load path rises from zero.
///
/// # Errors
/// [`ElectrodeError::PulledIn`] where the others alone pull it in; [`ElectrodeError::NotSettled`]; a gap that is closed at rest; an
/// electrode over nothing; a structure that is not held.
pub fn pull_in(
    systems: &StaticSystems,
    electrodes: &[Electrode],
    rising: &[bool],
) -> Result<Option<Instability>, ElectrodeError> {
    let compliances = systems.compliances(electrodes)?;
    settled_in(systems, &factors(&compliances)?, electrodes, rising, ROUNDS)
}

/// The deflection under the biases and the common factor on all of them at which the part pulls in, from one factor of the
/// structure.
///
/// # Errors
/// Those of [`super::equilibrium()`] and [`pull_in()`].
pub fn equilibrium_and_pull_in(
    systems: &StaticSystems,
    electrodes: &[Electrode],
) -> Result<(Equilibrium, Option<Instability>), ElectrodeError> {
    let compliances = systems.compliances(electrodes)?;
    let factors = factors(&compliances)?;
    let rest = equilibrium::settled_in(systems, &factors, electrodes, equilibrium::ROUNDS)?;
    let all = vec![true; electrodes.len()];
    Ok((rest, settled_in(systems, &factors, electrodes, &all, ROUNDS)?))
}

/// The same in so many rounds at the most, with the factors of the structure's parts.
pub(super) fn settled_in(
    systems: &StaticSystems,
    factors: &[Option<Factored>],
    electrodes: &[Electrode],
    rising: &[bool],
    rounds: usize,
) -> Result<Option<Instability>, ElectrodeError> {
    let mut space = Space::new(systems, electrodes)?;
    let squares = |ratio2: f64| -> Vec<f64> {
        let squared_volts = |(e, rises): (&Electrode, &bool)| e.bias_v * e.bias_v * if *rises { ratio2 } else { 1.0 };
        electrodes.iter().zip(rising).map(squared_volts).collect()
    };
    space.enrich(factors, &DVector::zeros(0), &squares(1.0), None)?;
    for (part, x) in probes(&space, factors, rising) {
        space.add(part, x);
    }
    let mut known = Vec::new();
    let mut last = Limit { ratio2: f64::INFINITY, q: DVector::zeros(space.dimension()) };
    let (mut change, mut settled) = (f64::INFINITY, false);
    for _ in 0..rounds {
        let sure = change < NEARLY;
        let mut path = Path::from_rest(&space, &squares)?;
        path.resume(&known)?;
        let Some(limit) = path.limit(sure)? else { return Ok(None) };
        known = path.states;
        change = (limit.ratio2 / last.ratio2 - 1.0).abs();
        last = limit;
        settled = sure && change < SETTLED;
        if settled {
            break;
        }
        let now = squares(last.ratio2);
        let weakest = weakest(&space, &last.q, &now)?;
        space.enrich(factors, &last.q, &now, None)?;
        let (wide, weakest) = (space.widened(&last.q), space.widened(&weakest));
        space.enrich(factors, &wide, &now, Some(&weakest))?;
    }
    if !settled {
        return Err(space.not_settled("the pull-in", &last.q, rounds, change));
    }
    let largest_m = (0..electrodes.len()).map(|e| equilibrium::largest(&space.rest(e, &last.q))).collect();
    // The limit is bracketed far closer than this.
    let touches = space.farthest(&last.q).filter(|(_, share)| *share >= 1.0 - AT_CONTACT);
    let touches = touches.map(|(e, _)| electrodes[e].name.clone());
    Ok(Some(Instability { ratio: last.ratio2.sqrt(), largest_m, touches, sums: space.sums() }))
}

/// The direction in which the pull's change is largest against the stiffness.
fn weakest(space: &Space, q: &DVector<f64>, squares: &[f64]) -> Result<DVector<f64>, ElectrodeError> {
    let (_, softening) = space.pull(q, squares)?;
    let eigen = softening.symmetric_eigen();
    Ok(eigen.eigenvectors.column(eigen.eigenvalues.imax()).into_owned())
}

/// Static shapes that symmetric loads do not excite: an even force and its first moments along x, y, z over all rising electrodes.
fn probes(space: &Space, factors: &[Option<Factored>], rising: &[bool]) -> Vec<(usize, DVector<f64>)> {
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
