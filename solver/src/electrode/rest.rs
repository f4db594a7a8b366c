//! A structure under the bias of its electrodes: the softening at rest as springs on it, the state at rest at the points where modes
//! are sampled, and the bias at which it pulls in.

use super::{Electrode, ElectrodeError, Equilibrium, Instability, StaticSystems, equilibrium, equilibrium_and_pull_in};
use crate::modal::Modal;
use crate::mode::Sampled;
use crate::system::Structure;

/// What of the state under bias is asked for.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Sought {
    /// The deflection and the bias at which the part pulls in.
    PullIn,
    /// The deflection alone.
    Rest,
}

/// The state under bias, on the structure's own unknowns.
pub struct AtRest {
    equilibrium: Equilibrium,
    pull_in: Option<Option<Instability>>,
}

/// The state under bias at the sampled points.
#[derive(Clone, Debug, PartialEq)]
pub struct Bias {
    /// Displacement at every sampled point, m.
    pub rest_m: Vec<[f64; 3]>,
    /// For every electrode the largest static motion of what it covers, m.
    pub largest_m: Vec<f64>,
    /// Where on rising biases the part pulls in, `None` where it does not; nothing where that was not sought.
    pub pull_in: Option<Option<Instability>>,
}

impl AtRest {
    /// At the points at which `sample` samples modes; `modal` is of the softened structure.
    ///
    /// # Errors
    /// Those of `sample`.
    pub fn sampled<E>(self, modal: &Modal, sample: impl Fn(&Modal) -> Result<Sampled, E>) -> Result<Bias, E> {
        let sampled = modal.with_shapes(self.equilibrium.displacement.clone()).map(|m| sample(&m)).transpose()?;
        let shapes = sampled.map(|s| s.modes).unwrap_or_default();
        let points = shapes.first().map_or(0, Vec::len);
        let sum = |p: usize| shapes.iter().fold([0.0; 3], |sum: [f64; 3], s| [0, 1, 2].map(|k| sum[k] + s[p][k]));
        Ok(Bias {
            rest_m: (0..points).map(sum).collect(),
            largest_m: self.equilibrium.largest_m,
            pull_in: self.pull_in,
        })
    }
}

/// Whether any electrode has a bias.
pub fn any_biased(electrodes: &[Electrode]) -> bool {
    electrodes.iter().any(|e| e.bias_v != 0.0)
}

/// A structure with the softening of biased electrodes, and its state at rest; as it was where none has a bias.
///
/// # Errors
/// A part that is pulled in, an electrode over nothing, and what statics meet.
pub fn softened(
    structure: &Structure,
    electrodes: &[Electrode],
    sought: Sought,
) -> Result<(Structure, Option<AtRest>), ElectrodeError> {
    if !any_biased(electrodes) {
        return Ok((structure.clone(), None));
    }
    // Electrodes without a bias are met all the same.
    let systems = StaticSystems::new(structure)?;
    let (found, pull_in) = match sought {
        Sought::PullIn => equilibrium_and_pull_in(&systems, electrodes).map(|(rest, limit)| (rest, Some(limit)))?,
        Sought::Rest => (equilibrium(&systems, electrodes)?, None),
    };
    let softened = structure.with_springs(found.springs.clone());
    let equilibrium = Equilibrium { springs: Vec::new(), ..found };
    Ok((softened, Some(AtRest { equilibrium, pull_in })))
}
