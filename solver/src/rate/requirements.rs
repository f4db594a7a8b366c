//! Requirements weighed: asked, drawn, as made, margin, and a verdict only where the model's own error leaves room for one.
//!
//! In: limits in the units of their keys, figures with their errors. Out: verdicts.

/// What can be required; the key of the device file names figure and unit.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub enum Figure {
    /// Sense less drive frequency, Hz.
    ModeSplit,
    /// Distance of the nearest mode from any guard, Hz.
    Guard,
    /// Quadrature, °/s.
    Quadrature,
    /// In-phase zero-rate output, °/s.
    ZeroRate,
    /// False rate of vibration in the band, °/s per g.
    Vibration,
    /// Angle random walk, °/√h.
    AngleRandomWalk,
    /// Largest travel under the shock, µm.
    ShockTravel,
    /// Peak of the shock at first touch, g.
    ShockFirstTouch,
    /// Largest nominal stress of a flexure under the shock, MPa.
    ShockStress,
    /// Coriolis coupling as a share of the ideal point mass.
    Coupling,
    /// Largest coupling about another axis as a share of the rate axis's.
    CrossAxis,
    /// Drive frequency, Hz.
    DriveFrequency,
    /// Sense frequency, Hz.
    SenseFrequency,
}

/// Which way a figure is limited where one number is asked; a range can be asked of any.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Sense {
    /// At least the number.
    AtLeast,
    /// At most the number.
    AtMost,
    /// Only a range makes sense.
    Range,
}

impl Figure {
    /// All of them, in the order of a report.
    pub const ALL: [Self; 13] = [
        Self::ModeSplit,
        Self::Guard,
        Self::DriveFrequency,
        Self::SenseFrequency,
        Self::Coupling,
        Self::CrossAxis,
        Self::Quadrature,
        Self::ZeroRate,
        Self::Vibration,
        Self::AngleRandomWalk,
        Self::ShockTravel,
        Self::ShockFirstTouch,
        Self::ShockStress,
    ];

    /// Key in the device file and name in results.
    pub const fn key(self) -> &'static str {
        match self {
            Self::ModeSplit => "mode_split_hz",
            Self::Guard => "guard_hz",
            Self::DriveFrequency => "drive_frequency_hz",
            Self::SenseFrequency => "sense_frequency_hz",
            Self::Coupling => "coupling",
            Self::CrossAxis => "cross_axis",
            Self::Quadrature => "quadrature_deg_per_s",
            Self::ZeroRate => "zero_rate_deg_per_s",
            Self::Vibration => "vibration_deg_per_s_per_g",
            Self::AngleRandomWalk => "angle_random_walk_deg_per_rth",
            Self::ShockTravel => "shock_travel_um",
            Self::ShockFirstTouch => "shock_first_touch_g",
            Self::ShockStress => "shock_stress_mpa",
        }
    }

    /// Its unit as written; empty for shares.
    pub const fn unit(self) -> &'static str {
        match self {
            Self::ModeSplit | Self::Guard | Self::DriveFrequency | Self::SenseFrequency => "Hz",
            Self::Coupling | Self::CrossAxis => "",
            Self::Quadrature | Self::ZeroRate => "°/s",
            Self::Vibration => "°/s/g",
            Self::AngleRandomWalk => "°/√h",
            Self::ShockTravel => "µm",
            Self::ShockFirstTouch => "g",
            Self::ShockStress => "MPa",
        }
    }

    /// Which way one number limits it.
    pub const fn sense(self) -> Sense {
        match self {
            Self::ModeSplit | Self::DriveFrequency | Self::SenseFrequency => Sense::Range,
            Self::Guard | Self::Coupling | Self::ShockFirstTouch => Sense::AtLeast,
            _ => Sense::AtMost,
        }
    }
}

/// What is asked: low and high limit, either may be open (infinite).
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Limits {
    /// Not less than this.
    pub low: f64,
    /// Not more than this.
    pub high: f64,
}

impl Limits {
    /// From one number: as its figure is limited; `None` where only a range makes sense.
    pub fn one(figure: Figure, number: f64) -> Option<Self> {
        match figure.sense() {
            Sense::AtLeast => Some(Self { low: number, high: f64::INFINITY }),
            Sense::AtMost => Some(Self { low: f64::NEG_INFINITY, high: number }),
            Sense::Range => None,
        }
    }

    /// How far a range lies inside; negative: how far its worse end lies outside.
    pub fn margin(&self, [low, high]: [f64; 2]) -> f64 {
        (low - self.low).min(self.high - high)
    }
}

/// One figure as found, in the unit of its key.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Found {
    /// As drawn; `None` where an input is missing or, for a symmetric drawing, it means nothing.
    pub drawn: Option<f64>,
    /// As made, low and high; `None` where no spread or imperfection is stated.
    pub as_made: Option<[f64; 2]>,
    /// Half width of the model's own error.
    pub error: f64,
}

/// What would bring a verdict.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Settles {
    /// An input that is missing.
    Input,
    /// A smaller error of the model: a finer mesh, a solid model, a measurement.
    BetterModel,
}

/// One requirement weighed.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Verdict {
    /// Which figure.
    pub figure: Figure,
    /// What is asked.
    pub asked: Limits,
    /// What was found.
    pub found: Found,
    /// How far the as-made range, without one the drawn figure, lies inside the limits; negative outside.
    pub margin: Option<f64>,
    /// Whether it is met; `None` where no verdict can be given.
    pub met: Option<bool>,
    /// What would bring a verdict; `None` where there is one.
    pub settles: Option<Settles>,
}

/// Weighs one figure: met where the margin is at least the model's error, not met where it falls short by more than that.
///
/// ```
/// use modalith_solver::rate::requirements::{Figure, Found, Limits, Settles, weigh};
/// let asked = Limits { low: 500.0, high: 1100.0 };
/// let found = |error| Found { drawn: Some(786.0), as_made: Some([511.0, 1061.0]), error };
/// let clear = weigh(Figure::ModeSplit, asked, found(4.0));
/// assert_eq!((clear.margin, clear.met), (Some(11.0), Some(true)));
/// assert_eq!(weigh(Figure::ModeSplit, asked, found(20.0)).settles, Some(Settles::BetterModel));
/// ```
pub fn weigh(figure: Figure, asked: Limits, found: Found) -> Verdict {
    let range = found.as_made.or(found.drawn.map(|x| [x, x])).filter(|r| r.iter().all(|x| !x.is_nan()));
    let margin = range.map(|r| asked.margin(r));
    let met = margin.and_then(|m| (m.abs() >= found.error).then_some(m >= 0.0));
    let settles = match (margin, met) {
        (None, _) => Some(Settles::Input),
        (Some(_), None) => Some(Settles::BetterModel),
        _ => None,
    };
    Verdict { figure, asked, found, margin, met, settles }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn one_number_limits_as_its_figure_does() {
        let at_most = Limits::one(Figure::Quadrature, 100.0).unwrap();
        assert_eq!(at_most.margin([41.0, 41.0]), 59.0);
        let at_least = Limits::one(Figure::Guard, 200.0).unwrap();
        assert_eq!(at_least.margin([0.0, 300.0]), -200.0);
        assert_eq!(Limits::one(Figure::ModeSplit, 1.0), None);
    }

    #[test]
    fn no_verdict_within_the_error_or_without_input() {
        let asked = Limits::one(Figure::ShockTravel, 2.0).unwrap();
        let found = |drawn: Option<f64>, error| Found { drawn, as_made: None, error };
        assert_eq!(weigh(Figure::ShockTravel, asked, found(Some(5.1), 0.1)).met, Some(false));
        assert_eq!(weigh(Figure::ShockTravel, asked, found(Some(2.05), 0.1)).met, None);
        assert_eq!(weigh(Figure::ShockTravel, asked, found(Some(1.95), 0.1)).settles, Some(Settles::BetterModel));
        assert_eq!(weigh(Figure::ShockTravel, asked, found(None, 0.1)).settles, Some(Settles::Input));
        assert_eq!(weigh(Figure::ShockTravel, asked, found(Some(2.0), 0.0)).met, Some(true));
    }

    #[test]
    fn every_figure_is_listed_once() {
        let mut keys: Vec<_> = Figure::ALL.iter().map(|f| f.key()).collect();
        keys.sort_unstable();
        keys.dedup();
        assert_eq!(keys.len(), 13);
    }
}
