//! Round steps of the edge and of the layer by which a table of modes shows what the process shifts. In: an outline and the thickness of its
//! layer, µm. Out: steps, µm.

use modalith_mesher::outline::{Flexure, Outline};

/// Step of the edge as a share of the narrowest flexure, and of the layer as a share of its thickness: 50 nm at 4 µm, 0.5 µm at 20 µm.
/// Shifts are linear to about as much of themselves.
const EDGE_STEP: f64 = 0.0125;
const LAYER_STEP: f64 = 0.025;

/// A step of each, µm.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Steps {
    /// Every etched edge outward.
    pub edge_um: f64,
    /// Of the thickness.
    pub layer_um: f64,
}

impl Steps {
    /// Those of a layer, µm thick.
    pub fn of(outline: &Outline, thickness_um: f64) -> Self {
        let narrowest = outline.flexures.iter().map(Flexure::narrowest_um).fold(thickness_um, f64::min);
        Self { edge_um: round_below(EDGE_STEP * narrowest), layer_um: round_below(LAYER_STEP * thickness_um) }
    }
}

/// The largest of 1, 2 and 5 times a power of ten that is no larger.
fn round_below(value: f64) -> f64 {
    let power = 10f64.powf(value.log10().floor());
    [5.0, 2.0].into_iter().find(|k| k * power <= value * (1.0 + 1e-9)).unwrap_or(1.0) * power
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn steps_are_round() {
        for (value, round) in [(0.05, 0.05), (0.099, 0.05), (0.3, 0.2), (0.5, 0.5), (1.0, 1.0), (0.0012, 0.001)] {
            assert!((round_below(value) / round - 1.0).abs() < 1e-12, "{value}: {}", round_below(value));
        }
    }
}
