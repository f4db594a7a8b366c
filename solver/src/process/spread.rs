//! Ranges as made: linear, from independent three-sigma values of the process.
//!
//! In: [`ProcessTerms`] and three-sigma values. Out: for a frequency, or for the difference of two, root of the sum of squares of
//! each parameter's own shift. Within a difference the two modes move with the same parameter, so their shifts are taken
//! off each other with their signs before squaring.

use super::sensitivity::ModalSensitivity;
use super::terms::{FirstOrder, ProcessTerms};

/// Three-sigma values, independent of each other; zero where a parameter does not spread.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Spread {
    /// Edge bias, µm.
    pub edge_bias_um: f64,
    /// Thickness, µm.
    pub thickness_um: f64,
    /// Constants of the material by name (as [`crate::material::Constants::names`] has them), percent of their value.
    pub constants_percent: Vec<(String, f64)>,
}

/// A frequency, or a difference of two, as drawn and as made; Hz.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Range {
    /// As drawn.
    pub drawn_hz: f64,
    /// Lowest of what is made, at three sigma.
    pub low_hz: f64,
    /// Highest.
    pub high_hz: f64,
}

impl Range {
    /// As far to either side.
    pub fn around(drawn_hz: f64, three_sigma_hz: f64) -> Self {
        Self { drawn_hz, low_hz: drawn_hz - three_sigma_hz, high_hz: drawn_hz + three_sigma_hz }
    }

    /// From what independent parameters make of it at three sigma, Hz, each to either side: the root of the sum of squares, each way.
    pub fn of_ends(drawn_hz: f64, ends_hz: &[[f64; 2]]) -> Self {
        let ends = || ends_hz.iter().copied();
        Self { drawn_hz, low_hz: drawn_hz - down_by(drawn_hz, ends()), high_hz: drawn_hz + up_by(drawn_hz, ends()) }
    }

    /// The range that holds both, about what this one is drawn as.
    pub fn and(self, other: Self) -> Self {
        Self { low_hz: self.low_hz.min(other.low_hz), high_hz: self.high_hz.max(other.high_hz), ..self }
    }
}

impl Spread {
    /// Shifts of a mode by each parameter's three sigma, Hz, always in the same order.
    pub fn shifts(&self, terms: &FirstOrder) -> Vec<f64> {
        let mut shifts =
            vec![terms.hz_per_nm_edge_bias * 1e3 * self.edge_bias_um, terms.hz_per_um_thickness * self.thickness_um];
        shifts.extend(terms.hz_per_percent.iter().map(|(name, hz)| {
            self.constants_percent.iter().filter(|(own, _)| own == name).map(|(_, percent)| hz * percent).sum::<f64>()
        }));
        shifts
    }
}

/// How far independent parameters, each with the values that it makes at three sigma to either side, take a figure up from `from`: the root
/// of the sum of squares, in the figure's unit.
pub fn up_by(from: f64, ends: impl Iterator<Item = [f64; 2]>) -> f64 {
    root_of_squares(ends.map(|[a, b]| a.max(b) - from).map(|up| up.max(0.0)))
}

/// The same downwards.
pub fn down_by(from: f64, ends: impl Iterator<Item = [f64; 2]>) -> f64 {
    up_by(-from, ends.map(|[a, b]| [-a, -b]))
}

fn root_of_squares(shifts: impl Iterator<Item = f64>) -> f64 {
    shifts.map(|x| x * x).sum::<f64>().sqrt()
}

impl ProcessTerms {
    /// What each parameter changes at three sigma, in the order of [`Spread::shifts`]: δK (s⁻²) and δM (without unit), modes × modes each,
    /// no longer per unit of the parameter.
    pub fn scaled(&self, spread: &Spread) -> Vec<ModalSensitivity> {
        let scaled = |change: &ModalSensitivity, size: f64| {
            let mut own = change.clone();
            own *= size;
            own
        };
        let percent = |name: &str| -> f64 {
            spread.constants_percent.iter().filter(|(own, _)| own == name).map(|(_, percent)| percent).sum()
        };
        let whole = [scaled(&self.edge_bias, spread.edge_bias_um), scaled(&self.thickness, spread.thickness_um)];
        whole
            .into_iter()
            .chain(self.constants.iter().map(|(name, sensitivities)| scaled(sensitivities, percent(name))))
            .collect()
    }

    /// A frequency as made, by its place in [`Self::modes`].
    pub fn range(&self, place: usize, spread: &Spread) -> Range {
        let shifts = spread.shifts(&self.of(place));
        Range::around(self.frequency_hz[place], root_of_squares(shifts.into_iter()))
    }

    /// The second frequency less the first, as made, Hz; both by their places in [`Self::modes`].
    pub fn split_range(&self, [first, second]: [usize; 2], spread: &Spread) -> Range {
        let (a, b) = (spread.shifts(&self.of(first)), spread.shifts(&self.of(second)));
        let drawn_hz = self.frequency_hz[second] - self.frequency_hz[first];
        Range::around(drawn_hz, root_of_squares(a.iter().zip(&b).map(|(a, b)| b - a)))
    }
}
