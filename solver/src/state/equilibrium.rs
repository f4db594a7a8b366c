//! Static deflection under bias: tilt and sag until springs and electrostatic pull balance at the deflected gaps.
//!
//! The full system is solved in a small space of its own static shapes: K⁻¹ of the pull at the state found so far is added
//! until it adds nothing, so that no truncation is left beyond [`ADDS_NOTHING`]. Within the space the balance is found by
//! Newton's method; the space is orthonormal in K, so a state is stable where ½ Σ V² ∂²C/∂q∂q has no eigenvalue of 1 or more.

use super::softening::springs;
use super::static_systems::{Part, StaticSystems, factors};
use crate::electrode::{Electrode, ElectrodeError, Law, Spot};
use crate::element::plane::map;
use crate::spectrum::{Factored, is_definite};
use crate::system::{Places, PointSpring};
use nalgebra::{DMatrix, DVector};
use nalgebra_sparse::{CooMatrix, CscMatrix};
use std::cell::Cell;

/// A new shape whose share outside the space, in energy norm, is below this adds nothing.
const ADDS_NOTHING: f64 = 1e-7;
/// Shapes added at most.
pub(super) const ROUNDS: usize = 12;
/// Newton steps.
const STEPS: usize = 60;
/// What is left of the force, or of the last step, as a share of the displacement in energy norm, at a balance.
const SETTLED: f64 = 1e-11;

/// An electrode on the mesh.
pub(super) struct Placed<'a> {
    pub(super) electrode: &'a Electrode,
    pub(super) spots: Vec<Spot>,
    pub(super) weights: Vec<f64>,
}

/// A small space of displacements, orthonormal in K.
pub(super) struct Space<'a> {
    systems: &'a StaticSystems<'a>,
    pub(super) placed: Vec<Placed<'a>>,
    /// Number of the part and values over its unknowns.
    vectors: Vec<(usize, DVector<f64>)>,
    /// Displacement of the spots, electrode by electrode, vector by vector.
    at: Vec<Vec<Vec<[f64; 3]>>>,
    /// How often the pull was summed over all spots.
    sums: Cell<usize>,
}

/// Largest of some displacements, m.
pub(super) fn largest(all: &[[f64; 3]]) -> f64 {
    all.iter().map(|u| u.iter().map(|x| x * x).sum::<f64>().sqrt()).fold(0.0, f64::max)
}

/// A stable balance.
pub(super) struct Balance {
    /// Its place in the space.
    pub(super) q: DVector<f64>,
    /// Stiffness there less the pull's change, in a space orthonormal in the stiffness; positive definite.
    pub(super) stiffness: DMatrix<f64>,
}

impl<'a> Space<'a> {
    pub(super) fn new(systems: &'a StaticSystems<'a>, electrodes: &'a [Electrode]) -> Result<Self, ElectrodeError> {
        let place = |electrode| systems.spots(electrode).map(|(spots, weights)| Placed { electrode, spots, weights });
        let placed = electrodes.iter().map(place).collect::<Result<Vec<_>, _>>()?;
        Ok(Self { systems, at: vec![Vec::new(); placed.len()], placed, vectors: Vec::new(), sums: Cell::new(0) })
    }

    /// How often the pull was summed over all spots so far: what a state costs beside a factor of the stiffness.
    pub(super) fn sums(&self) -> usize {
        self.sums.get()
    }

    pub(super) fn dimension(&self) -> usize {
        self.vectors.len()
    }

    /// Adds a displacement of one part; returns its share outside the space before.
    pub(super) fn add(&mut self, part: usize, mut x: DVector<f64>) -> f64 {
        let k = &self.systems.parts[part].k;
        let norm = |x: &DVector<f64>| x.dot(&(k * x)).max(0.0).sqrt();
        let before = norm(&x);
        if before == 0.0 {
            return 0.0;
        }
        for _ in 0..2 {
            for (_, v) in self.vectors.iter().filter(|(p, _)| *p == part) {
                let share = v.dot(&(k * &x));
                x.axpy(-share, v, 1.0);
            }
        }
        let left = norm(&x);
        if left > ADDS_NOTHING * before {
            x /= left;
            let motion = &self.systems.parts[part].motion;
            let places = Places::new(self.systems.structure.mesh(), &motion.layer, &motion.unknowns);
            for (placed, at) in self.placed.iter().zip(&mut self.at) {
                at.push(placed.spots.iter().map(|s| places.displacement(s.cell, s.at, x.as_slice())).collect());
            }
            self.vectors.push((part, x));
        }
        left / before
    }

    /// Displacement of an electrode's spots, m.
    pub(super) fn rest(&self, electrode: usize, q: &DVector<f64>) -> Vec<[f64; 3]> {
        let mut rest = vec![[0.0; 3]; self.placed[electrode].spots.len()];
        for (shape, amplitude) in self.at[electrode].iter().zip(q.iter()) {
            for (u, s) in rest.iter_mut().zip(shape) {
                (0..3).for_each(|k| u[k] += amplitude * s[k]);
            }
        }
        rest
    }

    /// ½ Σ V² ∂C/∂q and ½ Σ V² ∂²C/∂q∂q.
    ///
    /// # Errors
    /// [`ElectrodeError::Closed`].
    pub(super) fn pull(
        &self,
        q: &DVector<f64>,
        squares: &[f64],
    ) -> Result<(DVector<f64>, DMatrix<f64>), ElectrodeError> {
        let n = self.dimension();
        let (mut force, mut softening) = (DVector::zeros(n), DMatrix::zeros(n, n));
        self.sums.set(self.sums.get() + 1);
        for (e, (placed, square)) in self.placed.iter().zip(squares).enumerate().filter(|(_, (_, s))| **s > 0.0) {
            let pull = placed.electrode.pull(&placed.weights, &self.rest(e, q), &self.at[e])?;
            force += DVector::from_vec(pull.gradient) * (0.5 * square);
            softening += pull.curvature * (0.5 * square);
        }
        Ok((force, softening))
    }

    /// The electrode that a state comes nearest to meeting, or of a comb what lies ahead of its fingertips, and the share of what is free
    /// that is gone; a gap that pulls closes of itself before.
    pub(super) fn farthest(&self, q: &DVector<f64>) -> Option<(usize, f64)> {
        let shares = self.placed.iter().enumerate().map(|(e, placed)| {
            let share = |u: [f64; 3]| match &placed.electrode.law {
                law if !placed.electrode.is_biased() => law.reach(u),
                Law::Comb(comb) => comb.reach(u),
                _ => 0.0,
            };
            (e, self.rest(e, q).into_iter().map(share).fold(0.0, f64::max))
        });
        shares.max_by(|a, b| a.1.total_cmp(&b.1))
    }

    /// The stable balance at squares of voltages that meets nothing, followed from a stable one nearby; `None` where there is
    /// none.
    ///
    /// # Errors
    /// As [`Self::balance_past_contact`].
    pub(super) fn balance(&self, from: &DVector<f64>, squares: &[f64]) -> Result<Option<Balance>, ElectrodeError> {
        let found = self.balance_past_contact(from, squares)?;
        Ok(found.filter(|b| self.farthest(&b.q).is_none_or(|(_, share)| share < 1.0)))
    }

    /// The same whatever it meets.
    ///
    /// # Errors
    /// [`ElectrodeError::Closed`] where a gap is closed at rest; [`ElectrodeError::NotSettled`].
    fn balance_past_contact(&self, from: &DVector<f64>, squares: &[f64]) -> Result<Option<Balance>, ElectrodeError> {
        let start = match self.pull(from, squares) {
            // A guess of where the path goes may lie beyond where it ends.
            Err(ElectrodeError::Closed { .. }) if from.norm() > 0.0 => return Ok(None),
            start => start?,
        };
        let (mut q, mut pull) = (from.clone(), start);
        let mut change = f64::INFINITY;
        for _ in 0..STEPS {
            let (force, softening) = pull;
            // Below pull-in Newton's method comes from the stable side and stays there.
            let Some(stiffness) = (DMatrix::identity(q.len(), q.len()) - softening).cholesky() else { return Ok(None) };
            let off = force - &q;
            let step = stiffness.solve(&off);
            q += &step;
            // Near a critical bias rounding of the pull, however small, moves the soft direction by more: in balance is what is
            // so to rounding once steps no longer shrink.
            let balanced = off.norm() <= SETTLED * q.norm() && step.norm() > 0.5 * change * q.norm();
            // A gap that closes on the way: there is no balance before it.
            pull = match self.pull(&q, squares) {
                Ok(pull) => pull,
                Err(ElectrodeError::Closed { .. }) => return Ok(None),
                Err(e) => return Err(e),
            };
            if step.norm() <= SETTLED * q.norm() || q.norm() == 0.0 || balanced {
                let stiffness = DMatrix::identity(q.len(), q.len()) - pull.1;
                let stable = stiffness.clone().cholesky().is_some();
                return Ok(stable.then_some(Balance { q, stiffness }));
            }
            change = step.norm() / q.norm();
        }
        Err(self.not_settled("the balance at a bias", &q, STEPS, change))
    }

    /// The error that something sought had not settled at a state.
    pub(super) fn not_settled(
        &self,
        what: &'static str,
        q: &DVector<f64>,
        rounds: usize,
        change: f64,
    ) -> ElectrodeError {
        let q = self.widened(q);
        let moved = |e: &usize| self.rest(*e, &q).iter().flatten().fold(0.0_f64, |m, x| m.max(x.abs()));
        let most = (0..self.placed.len()).max_by(|a, b| moved(a).total_cmp(&moved(b)));
        let name = most.map(|e| self.placed[e].electrode.name.clone()).unwrap_or_default();
        ElectrodeError::NotSettled { what, name, rounds, change }
    }

    /// Load of the pull at a state, or of its change along `change`, over the unknowns of a part.
    pub(super) fn load(
        &self,
        part: usize,
        q: &DVector<f64>,
        squares: &[f64],
        change: Option<&DVector<f64>>,
    ) -> Result<DVector<f64>, ElectrodeError> {
        let Part { motion, k, .. } = &self.systems.parts[part];
        let places = Places::new(self.systems.structure.mesh(), &motion.layer, &motion.unknowns);
        let mut load = DVector::zeros(k.nrows());
        for (e, (placed, square)) in self.placed.iter().zip(squares).enumerate().filter(|(_, (_, s))| **s > 0.0) {
            let factor = 0.5 * square * placed.electrode.force_factor(&placed.weights)?;
            let (rest, along) = (self.rest(e, q), change.map(|c| self.rest(e, c)));
            for (p, (spot, weight)) in placed.spots.iter().zip(&placed.weights).enumerate() {
                let local = placed.electrode.law.at(rest[p]).ok_or_else(|| placed.electrode.closed())?;
                let force = match &along {
                    None => local.gradient,
                    Some(v) => local.curvature.map(|row| (0..3).map(|k| row[k] * v[p][k]).sum()),
                };
                places.force(spot.cell, spot.at, force.map(|f| factor * weight * f), load.as_mut_slice());
            }
        }
        Ok(load)
    }

    /// Adds K⁻¹ of the pull at a state (or of its change) in every part; returns the largest share that was new.
    pub(super) fn enrich(
        &mut self,
        factors: &[Option<Factored>],
        q: &DVector<f64>,
        squares: &[f64],
        change: Option<&DVector<f64>>,
    ) -> Result<f64, ElectrodeError> {
        let mut new = 0.0_f64;
        let (mut q, mut change) = (q.clone(), change.cloned());
        for (part, factor) in factors.iter().enumerate() {
            let Some(factor) = factor else { continue };
            let load = self.load(part, &q, squares, change.as_ref())?;
            let x = factor.solve(&DMatrix::from_column_slice(load.len(), 1, load.as_slice()));
            new = new.max(self.add(part, x.column(0).into_owned()));
            q = self.widened(&q);
            change = change.map(|c| self.widened(&c));
        }
        Ok(new)
    }

    /// Even forces along x, y, z and their first moments over all electrodes marked, as loads on a part; those that do
    /// nothing there left out.
    pub(super) fn probe_loads(&self, part: usize, marked: &[bool]) -> Vec<DVector<f64>> {
        let Part { motion, k, .. } = &self.systems.parts[part];
        let places = Places::new(self.systems.structure.mesh(), &motion.layer, &motion.unknowns);
        let mut loads = vec![DVector::zeros(k.nrows()); 9];
        for placed in self.placed.iter().zip(marked).filter_map(|(p, m)| m.then_some(p)) {
            for (spot, weight) in placed.spots.iter().zip(&placed.weights) {
                let x = map(&self.systems.structure.mesh().geometry(spot.cell), spot.at).0;
                let shares = [1.0, x[0], x[1]];
                for (which, load) in loads.iter_mut().enumerate() {
                    let mut force = [0.0; 3];
                    force[which / 3] = weight * shares[which % 3];
                    places.force(spot.cell, spot.at, force, load.as_mut_slice());
                }
            }
        }
        loads.retain(|l| l.norm() > 0.0);
        loads
    }

    /// A state in the space as it is now: what was added since is zero.
    pub(super) fn widened(&self, q: &DVector<f64>) -> DVector<f64> {
        q.clone().resize_vertically(self.dimension(), 0.0)
    }

    /// Values over the unknowns of every part.
    fn displacement(&self, q: &DVector<f64>) -> Vec<Vec<f64>> {
        let mut out: Vec<DVector<f64>> = self.systems.parts.iter().map(|p| DVector::zeros(p.k.nrows())).collect();
        for ((part, v), amplitude) in self.vectors.iter().zip(q.iter()) {
            out[*part].axpy(*amplitude, v, 1.0);
        }
        out.into_iter().map(|x| x.as_slice().to_vec()).collect()
    }
}

/// The state at rest under bias.
#[derive(Clone, Debug, PartialEq)]
pub struct Equilibrium {
    /// Displacement over the unknowns of every uncoupled motion, m (or as the unknowns are).
    pub displacement: Vec<Vec<f64>>,
    /// For every electrode the largest motion of a spot from rest, m.
    pub largest_m: Vec<f64>,
    /// Electrostatic softening there, to hang on the system.
    pub springs: Vec<PointSpring>,
}

/// Deflection under the electrodes' biases, and the softening there. Stability is checked on the full system: the count of
/// eigenvalues of K with softening below zero must be 0.
///
/// # Errors
/// [`ElectrodeError::PulledIn`] where no stable state exists; [`ElectrodeError::NotSettled`] where it was not found; a gap that is
/// closed at rest; an electrode over nothing; a structure that is not held.
pub fn equilibrium(systems: &StaticSystems, electrodes: &[Electrode]) -> Result<Equilibrium, ElectrodeError> {
    let compliances = systems.compliances(electrodes)?;
    settled_in(systems, &factors(&compliances)?, electrodes, ROUNDS)
}

/// The same in so many rounds at the most, with the factors of the structure's parts.
pub(super) fn settled_in(
    systems: &StaticSystems,
    factors: &[Option<Factored>],
    electrodes: &[Electrode],
    rounds: usize,
) -> Result<Equilibrium, ElectrodeError> {
    let mut space = Space::new(systems, electrodes)?;
    let squares: Vec<f64> = electrodes.iter().map(|e| e.bias_v * e.bias_v).collect();
    let mut q = DVector::zeros(0);
    let mut new = f64::INFINITY;
    for _ in 0..rounds {
        new = space.enrich(factors, &q, &squares, None)?;
        let from = space.widened(&q);
        q = match space.balance_past_contact(&from, &squares)? {
            Some(balance) => balance.q,
            None => return Err(ElectrodeError::PulledIn { ratio: None }),
        };
        if new <= ADDS_NOTHING {
            break;
        }
    }
    if new > ADDS_NOTHING {
        return Err(space.not_settled("the deflection under the bias", &q, rounds, new));
    }
    if let Some((e, _)) = space.farthest(&q).filter(|(_, share)| *share >= 1.0) {
        return Err(ElectrodeError::Touches { name: electrodes[e].name.clone() });
    }
    let (mut all, mut largest_m) = (Vec::new(), Vec::new());
    for (e, placed) in space.placed.iter().enumerate() {
        let rest = space.rest(e, &q);
        largest_m.push(largest(&rest));
        all.extend(springs(placed.electrode, &placed.spots, &placed.weights, &rest)?);
    }
    for (part, _) in systems.parts.iter().zip(factors).filter(|(_, f)| f.is_some()) {
        let mut soft = CooMatrix::new(part.k.nrows(), part.k.ncols());
        let places = Places::new(systems.structure.mesh(), &part.motion.layer, &part.motion.unknowns);
        places.springs(&all, |i, j, v| soft.push(i, j, v));
        if !is_definite(&(&part.k + &CscMatrix::from(&soft)), &part.m, Some(&part.groups))? {
            return Err(ElectrodeError::PulledIn { ratio: None });
        }
    }
    Ok(Equilibrium { displacement: space.displacement(&q), largest_m, springs: all })
}
