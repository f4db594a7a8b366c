//! The state under bias at the points where modes are sampled.

use crate::modal::Modal;
use crate::mode::Sampled;
use crate::state::{AtRest, Instability};

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

impl Bias {
    /// A state at the points at which `sample` samples modes; `modal` is of the structure at rest.
    ///
    /// # Errors
    /// Those of `sample`.
    pub(super) fn sampled<E>(
        state: AtRest,
        modal: &Modal,
        sample: impl Fn(&Modal) -> Result<Sampled, E>,
    ) -> Result<Self, E> {
        let AtRest { equilibrium, pull_in } = state;
        let sampled = modal.with_shapes(equilibrium.displacement).map(|m| sample(&m)).transpose()?;
        let shapes = sampled.map(|s| s.modes).unwrap_or_default();
        let points = shapes.first().map_or(0, Vec::len);
        let sum = |p: usize| shapes.iter().fold([0.0; 3], |sum: [f64; 3], s| [0, 1, 2].map(|k| sum[k] + s[p][k]));
        Ok(Self { rest_m: (0..points).map(sum).collect(), largest_m: equilibrium.largest_m, pull_in })
    }
}
