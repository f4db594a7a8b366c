//! The loaded state of a structure. In: a structure as it is without loads, and its [`Loads`]. Out: the structure as modes see it at rest
//! (its stiffness with what the loads add or take), and where it rests.
//!
//! Loads act together: one equilibrium is found for all of them, in a space of static shapes ([`equilibrium()`]), with the stiffness
//! factored once; a bias at which it ceases to be stable ([`pull_in()`]) is sought in the same space.

mod equilibrium;
mod limit;
mod pull_in;
mod softening;
mod static_systems;

pub use equilibrium::{Equilibrium, equilibrium};
pub use pull_in::{Instability, equilibrium_and_pull_in, pull_in};
pub use softening::springs;
pub use static_systems::StaticSystems;

use crate::electrode::{Electrode, ElectrodeError};
use crate::system::Structure;

/// What loads a structure, SI.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Loads {
    /// Electrodes, with or without a bias: one without is met all the same.
    pub electrodes: Vec<Electrode>,
}

/// What of a state is asked for.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Sought {
    /// The deflection and the bias at which the part pulls in.
    PullIn,
    /// The deflection alone.
    Rest,
}

/// Where a structure rests, on its own unknowns.
pub struct AtRest {
    pub(crate) equilibrium: Equilibrium,
    /// Where on rising biases the part pulls in, `None` where it does not; nothing where that was not sought.
    pub(crate) pull_in: Option<Option<Instability>>,
}

impl Loads {
    /// None at all.
    pub const NONE: Self = Self { electrodes: Vec::new() };

    /// Whether they change a structure: some electrode has a bias.
    pub fn act(&self) -> bool {
        self.electrodes.iter().any(Electrode::is_biased)
    }

    /// A structure as modes see it at rest under these loads, and where it rests; as it was where they do not act.
    ///
    /// # Errors
    /// A part that is pulled in, an electrode over nothing, and what statics meet.
    pub fn state(&self, structure: &Structure, sought: Sought) -> Result<(Structure, Option<AtRest>), ElectrodeError> {
        if !self.act() {
            return Ok((structure.clone(), None));
        }
        let systems = StaticSystems::new(structure)?;
        let (found, pull_in) = match sought {
            Sought::PullIn => {
                equilibrium_and_pull_in(&systems, &self.electrodes).map(|(rest, limit)| (rest, Some(limit)))?
            }
            Sought::Rest => (equilibrium(&systems, &self.electrodes)?, None),
        };
        let softened = structure.with_springs(found.springs.clone());
        let equilibrium = Equilibrium { springs: Vec::new(), ..found };
        Ok((softened, Some(AtRest { equilibrium, pull_in })))
    }
}

#[cfg(test)]
mod tests;
