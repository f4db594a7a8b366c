//! The limit of a path of stable states under a rising bias. In: a space of shapes, voltages as a function of the factor on
//! V². Out: the factor at which the least stiffness reaches zero, and the state there.
//!
//! Along the path factor and state are smooth functions of the least stiffness μ, also where it turns back at a limit point
//! (there the factor falls short by a multiple of μ²) and where another path branches off (by a multiple of μ). So states of ever
//! smaller μ are extrapolated to μ = 0 by Neville's polynomial (after E. H. Neville, J. Indian Math. Soc. 20, 1934, 87–120); steps
//! that meet no state are halved. In place of μ stands x = (1 − μ)/(3 − μ), the share of its gap that a plate on one spring has
//! travelled: of such a plate V² is a multiple of x (1 − x)², which a cubic has exactly.

use super::equilibrium::Space;
use crate::electrode::ElectrodeError;
use nalgebra::DVector;

/// Largest factor on the biases that is tried.
const MOST: f64 = 1e4;
/// By how much the factor on V² rises at most in a step while it is not known where it ends.
const RISE: f64 = 4.0;
/// By how much the least stiffness falls from state to state.
const FALL: f64 = 0.1;
/// States that an extrapolation goes through.
const THROUGH: usize = 4;
/// From states with a least stiffness above this share of the structure's own no limit is extrapolated.
const SOFT: f64 = 0.05;
/// Difference of two extrapolated limits, relative, at which the later one holds: where it is to be sure, and where it is only to
/// show where the space is to grow.
const ALIKE: [f64; 2] = [1e-8, 1e-6];
/// A state is stable so far before a limit that is sure, and none is so far beyond it, relative.
const SURE: f64 = 1e-7;
/// Relative width of a bracket within which no state is looked for.
const BRACKET: f64 = 1e-9;
/// States tried; after half of them brackets are halved only.
const TRIES: usize = 160;

/// A stable state.
#[derive(Clone, Debug)]
pub(super) struct State {
    ratio2: f64,
    /// Its least stiffness.
    soft: f64,
    q: DVector<f64>,
}

/// The end of a path.
pub(super) struct Limit {
    pub(super) ratio2: f64,
    pub(super) q: DVector<f64>,
}

/// Stable states by rising bias, and a factor at which there is none.
pub(super) struct Path<'a, F> {
    space: &'a Space<'a>,
    squares: F,
    pub(super) states: Vec<State>,
    beyond: f64,
    tries: usize,
}

impl<'a, F: Fn(f64) -> Vec<f64>> Path<'a, F> {
    /// Starts where the rising biases are zero.
    ///
    /// # Errors
    /// [`ElectrodeError::PulledIn`] where there is no state; those of [`Space::balance`].
    pub(super) fn from_rest(space: &'a Space<'a>, squares: F) -> Result<Self, ElectrodeError> {
        let mut path = Self { space, squares, states: Vec::new(), beyond: f64::INFINITY, tries: 0 };
        let rest = DVector::zeros(space.dimension());
        if path.state(0.0, &rest)? { Ok(path) } else { Err(ElectrodeError::PulledIn { ratio: None }) }
    }

    /// Takes states of a poorer space as the start: those from which a limit is extrapolated.
    ///
    /// # Errors
    /// Those of [`Space::balance`].
    pub(super) fn resume(&mut self, known: &[State]) -> Result<(), ElectrodeError> {
        let first = known.partition_point(|s| s.soft > SOFT).saturating_sub(THROUGH - 2).max(1);
        // The least stiff were at a limit that a richer space has sooner.
        for state in known.iter().skip(first).take(THROUGH - 1).filter(|s| s.soft > FALL * SOFT) {
            if !self.state(state.ratio2, &self.space.widened(&state.q))? {
                break;
            }
        }
        Ok(())
    }

    /// Looks for the state at a factor, from a nearby one; whether there is one. Where there is none, the path ends before.
    fn state(&mut self, ratio2: f64, from: &DVector<f64>) -> Result<bool, ElectrodeError> {
        let found = self.reached(ratio2, from)?;
        if !found {
            self.beyond = ratio2;
        }
        Ok(found)
    }

    /// The same, where not to find it says nothing.
    fn reached(&mut self, ratio2: f64, from: &DVector<f64>) -> Result<bool, ElectrodeError> {
        self.tries += 1;
        let found = self.space.balance(from, &(self.squares)(ratio2))?;
        match found {
            Some(balance) => {
                let soft = balance.stiffness.symmetric_eigenvalues().min();
                self.states.push(State { ratio2, soft, q: balance.q });
                Ok(true)
            }
            None => Ok(false),
        }
    }

    fn last(&self) -> (f64, f64, DVector<f64>) {
        self.states
            .last()
            .map_or((0.0, 1.0, DVector::zeros(self.space.dimension())), |s| (s.ratio2, s.soft, s.q.clone()))
    }

    /// The end of the path, `None` where there is none up to [`MOST`]; where it is to be `sure`, with a stable state right before it
    /// and none right beyond it.
    ///
    /// # Errors
    /// [`ElectrodeError::NotSettled`] where a balance cannot be told from none.
    pub(super) fn limit(&mut self, sure: bool) -> Result<Option<Limit>, ElectrodeError> {
        let alike = ALIKE[usize::from(!sure)];
        let mut before = f64::NAN;
        let mut missed = false;
        while self.tries < TRIES {
            let (low, soft, q) = self.last();
            if self.beyond.is_finite() && self.beyond - low <= BRACKET * self.beyond {
                return Ok(Some(Limit { ratio2: low, q }));
            }
            let guess = self.at(0.0).filter(|l| l.ratio2 > low && l.ratio2 < self.beyond);
            if let Some(limit) = guess.filter(|l| soft <= SOFT && (l.ratio2 - before).abs() <= alike * l.ratio2) {
                if !sure || self.is_sure(&limit)? {
                    return Ok(Some(limit));
                }
                before = f64::NAN;
                continue;
            }
            before = self.at(0.0).map_or(f64::NAN, |l| l.ratio2);
            let most = if self.beyond.is_finite() { self.beyond } else { (RISE * low).max(1.0) };
            let ahead = self.at(FALL * soft).filter(|_| !missed && 2 * self.tries < TRIES);
            let Limit { ratio2: next, q: near } =
                ahead.filter(|s| s.ratio2 > low && s.ratio2 < most).unwrap_or_else(|| {
                    let halved = self.beyond.is_finite();
                    Limit { ratio2: if halved { 0.5 * (low + self.beyond) } else { most }, q: q.clone() }
                });
            if next > MOST * MOST {
                return Ok(None);
            }
            // From where the path is to be, else from its last state.
            missed = !(near != q && self.reached(next, &near)? || self.state(next, &q)?);
            if self.beyond < 1.0 / (MOST * MOST) {
                return Ok(Some(Limit { ratio2: low, q }));
            }
        }
        let (low, _, q) = self.last();
        Err(self.space.not_settled("the pull-in", &q, self.tries, self.beyond / low - 1.0))
    }

    /// Whether states end at a limit.
    fn is_sure(&mut self, limit: &Limit) -> Result<bool, ElectrodeError> {
        let (low, _, q) = self.last();
        let before = (1.0 - SURE) * limit.ratio2;
        if low < before && !self.state(before, &q)? {
            return Ok(false);
        }
        let q = self.last().2;
        Ok(!self.state((1.0 + SURE) * limit.ratio2, &q)?)
    }

    /// Factor and state at a least stiffness, through the last states.
    fn at(&self, soft: f64) -> Option<Limit> {
        let through = &self.states[self.states.len().saturating_sub(THROUGH)..];
        if through.len() < 2 || through[0].soft >= 3.0 || through.windows(2).any(|w| w[1].soft >= w[0].soft) {
            return None;
        }
        let mut ratio2: Vec<f64> = through.iter().map(|s| s.ratio2).collect();
        let mut q: Vec<DVector<f64>> = through.iter().map(|s| s.q.clone()).collect();
        for width in 1..through.len() {
            for i in 0..through.len() - width {
                let (a, b) = (travelled(through[i].soft), travelled(through[i + width].soft));
                let share = (travelled(soft) - a) / (b - a);
                ratio2[i] += share * (ratio2[i + 1] - ratio2[i]);
                q[i] = &q[i] + (&q[i + 1] - &q[i]) * share;
            }
        }
        Some(Limit { ratio2: ratio2[0], q: q.swap_remove(0) })
    }
}

/// The share of its gap that a plate on one spring has travelled at a least stiffness, of its own.
fn travelled(soft: f64) -> f64 {
    (1.0 - soft) / (3.0 - soft)
}
