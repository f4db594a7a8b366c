//! The loaded state of a structure. In: a structure as it is without loads, and its [`Loads`]. Out: the structure as modes see it at rest
//! (its stiffness with what the loads add or take), and where it rests.
//!
//! Loads act together: one equilibrium is found for all of them, in a space of static shapes ([`equilibrium()`]), with the stiffness
//! factored once; a bias at which it ceases to be stable ([`pull_in()`]) is sought in the same space.

mod buckling;
mod equilibrium;
mod film;
mod film_error;
mod limit;
mod pull_in;
mod softening;
mod static_systems;

pub use buckling::{BucklingFactors, buckling_factors};
pub use equilibrium::{Equilibrium, equilibrium};
pub use film::{Displaced, FilmRest, film_at_rest};
pub use film_error::FilmError;
pub use pull_in::{Instability, equilibrium_and_pull_in, pull_in};
pub use softening::springs;
pub use static_systems::StaticSystems;

use crate::electrode::{Electrode, ElectrodeError};
use crate::system::{FilmStress, Structure};

/// What loads a structure, SI.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Loads {
    /// Electrodes, with or without a bias: one without is met all the same.
    pub electrodes: Vec<Electrode>,
    /// What the film would carry if nothing moved; none where nothing was stated.
    pub film: Option<FilmStress>,
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

/// A structure at rest under its loads.
pub struct State {
    /// As modes see it.
    pub structure: Structure,
    /// What film stress did, where it acts.
    pub film: Option<(FilmRest, Displaced)>,
    /// Where biased electrodes pull it, where some are.
    pub bias: Option<AtRest>,
}

/// Why a structure has no rest under its loads.
#[derive(Debug, thiserror::Error)]
pub enum StateError {
    /// Film stress.
    #[error(transparent)]
    Film(#[from] FilmError),
    /// An electrode, or the state under bias.
    #[error(transparent)]
    Electrode(#[from] ElectrodeError),
}

impl Loads {
    /// None at all.
    pub const NONE: Self = Self { electrodes: Vec::new(), film: None };

    /// Whether some electrode has a bias, which takes a structure in one: what it does has no mirror.
    pub fn are_biased(&self) -> bool {
        self.electrodes.iter().any(Electrode::is_biased)
    }

    /// The film stress that acts.
    pub fn film_stress(&self) -> Option<FilmStress> {
        self.film.filter(FilmStress::acts)
    }

    /// A structure as far as loads change how it is taken apart, before any of them is answered.
    pub fn laid_on(&self, structure: Structure) -> Structure {
        match self.film_stress() {
            Some(film) => film::under(&structure, film, &Vec::new()),
            None => structure,
        }
    }

    /// A structure as modes see it at rest under these loads; as it was where they do not act. Film stress first, then electrodes
    /// on what it has stiffened or softened.
    ///
    /// # Errors
    /// A part that buckles, curls or is pulled in, an electrode over nothing, and what statics meet.
    pub fn state(&self, structure: &Structure, sought: Sought) -> Result<State, StateError> {
        let (structure, film) = match self.film_stress() {
            Some(film) => {
                film_at_rest(structure, film).map(|(stressed, rest, moved)| (stressed, Some((rest, moved))))?
            }
            None => (structure.clone(), None),
        };
        if !self.are_biased() {
            return Ok(State { structure, film, bias: None });
        }
        let (structure, bias) = self.under_bias(&structure, sought)?;
        Ok(State { structure, film, bias: Some(bias) })
    }

    fn under_bias(&self, structure: &Structure, sought: Sought) -> Result<(Structure, AtRest), ElectrodeError> {
        let systems = StaticSystems::new(structure)?;
        let (found, pull_in) = match sought {
            Sought::PullIn => {
                equilibrium_and_pull_in(&systems, &self.electrodes).map(|(rest, limit)| (rest, Some(limit)))?
            }
            Sought::Rest => (equilibrium(&systems, &self.electrodes)?, None),
        };
        let softened = structure.with_springs(found.springs.clone());
        let equilibrium = Equilibrium { springs: Vec::new(), ..found };
        Ok((softened, AtRest { equilibrium, pull_in }))
    }
}

#[cfg(test)]
mod tests;
