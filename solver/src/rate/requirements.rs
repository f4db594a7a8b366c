//! Requirements weighed: asked, drawn, as made, margin, and a verdict only where every term of the figure is known and its
//! error, measured on the layout, leaves room for one.
//!
//! In: limits in the units of their keys, figures with their errors and with what is missing in them. Out: verdicts. A verdict
//! is made by [`weigh`] alone: nothing else can call a requirement met.

use std::fmt;

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
    /// Not less than this, in the unit of its figure.
    pub low: f64,
    /// Not more than this, in the unit of its figure.
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

    /// How far a range lies inside, in its unit; negative: how far its worse end lies outside.
    pub fn margin(&self, [low, high]: [f64; 2]) -> f64 {
        (low - self.low).min(self.high - high)
    }
}

/// Why a figure, its error or a verdict is not known.
#[derive(Clone, Debug, PartialEq)]
pub enum Because {
    /// An input is not stated: its key in the device file. What does not spread, or is perfect, is stated as 0.
    NotStated(&'static str),
    /// What was solved does not give it, in words.
    NotFound(String),
    /// What the stated process makes is beyond what the terms of the range as made are good for, in words: the range says nothing.
    Beyond(String),
    /// How far the figure may be off was not measured on this layout, in words.
    ErrorUnknown(String),
    /// The margin is smaller than the estimated error, both in the unit of the figure's key.
    WithinError {
        /// Margin, of either sign.
        margin: f64,
        /// Half width of the error.
        error: f64,
    },
}

impl fmt::Display for Because {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            Self::NotStated(key) => write!(f, "{key} is not stated"),
            Self::NotFound(what) | Self::Beyond(what) => write!(f, "{what}"),
            Self::ErrorUnknown(why) => write!(f, "its error is not known: {why}"),
            Self::WithinError { margin, error } => {
                write!(f, "the margin, {margin:.3e}, lies within the estimated error, {error:.3e}")
            }
        }
    }
}

/// One figure as found, in the unit of its key.
#[derive(Clone, Debug, PartialEq)]
pub struct Found {
    /// As drawn, in the unit of the figure; `None` where an input is missing or, for a symmetric drawing, it means nothing.
    pub drawn: Option<f64>,
    /// As made, low and high, with all terms that are known; `None` where there are none.
    pub as_made: Option<[f64; 2]>,
    /// Terms of the figure that are not known. With one of them missing a requirement can fail, for what is missing only
    /// makes it worse, but not be met.
    pub missing: Vec<Because>,
    /// Half width of the error, in the unit of the figure, measured on the layout.
    pub error: Result<f64, Because>,
}

impl Found {
    /// A figure with nothing known of it, because of that.
    pub fn unknown(because: Vec<Because>) -> Self {
        let error = Err(Because::ErrorUnknown("there is no figure".into()));
        Self { drawn: None, as_made: None, missing: because, error }
    }
}

/// What is said of a requirement.
#[derive(Clone, Debug, PartialEq)]
pub enum Outcome {
    /// Met by at least the error.
    Met,
    /// Missed by at least the error.
    NotMet,
    /// No verdict, for these reasons; there is at least one.
    Unknown(Vec<Because>),
}

/// The part of a figure that is known, where that part alone misses what is asked; in the unit of the figure's key.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct KnownTerms {
    /// What the known terms span: the figure reaches at least as far.
    pub at_least: [f64; 2],
    /// Margin of the known terms, negative; that of the figure is no larger.
    pub margin_at_most: f64,
}

/// One requirement weighed; made by [`weigh`].
#[derive(Clone, Debug, PartialEq)]
pub struct Verdict {
    figure: Figure,
    asked: Limits,
    found: Found,
    /// Of the terms that are known.
    margin: Option<f64>,
    outcome: Outcome,
}

impl Verdict {
    /// Which figure.
    pub fn figure(&self) -> Figure {
        self.figure
    }

    /// What is asked.
    pub fn asked(&self) -> Limits {
        self.asked
    }

    /// What was found.
    pub fn found(&self) -> &Found {
        &self.found
    }

    /// The range as made, in the unit of the figure's key; `None` with a term missing.
    pub fn as_made(&self) -> Option<[f64; 2]> {
        self.found.as_made.filter(|_| self.found.missing.is_empty())
    }

    /// How far the as-made range, without one the drawn figure, lies inside the limits, in the unit of the figure's key;
    /// negative outside. `None` with a term missing: the sum of fewer terms has the better margin.
    pub fn margin(&self) -> Option<f64> {
        self.margin.filter(|_| self.found.missing.is_empty())
    }

    /// What a requirement that fails with terms missing fails by: the terms that are known.
    pub fn known_terms(&self) -> Option<KnownTerms> {
        let fails = !self.found.missing.is_empty() && self.outcome == Outcome::NotMet;
        let at_least = self.found.as_made.or(self.found.drawn.map(|x| [x, x]))?;
        fails.then_some(KnownTerms { at_least, margin_at_most: self.margin? })
    }

    /// What is said of it.
    pub fn outcome(&self) -> &Outcome {
        &self.outcome
    }

    /// Whether it is met; `None` where there is no verdict.
    pub fn met(&self) -> Option<bool> {
        match self.outcome {
            Outcome::Met => Some(true),
            Outcome::NotMet => Some(false),
            Outcome::Unknown(_) => None,
        }
    }

    /// Why there is no verdict; empty where there is one.
    pub fn because(&self) -> &[Because] {
        match &self.outcome {
            Outcome::Unknown(because) => because,
            _ => &[],
        }
    }
}

/// Weighs one figure: met where all its terms are known and the margin is at least the error, not met where it falls short by at
/// least the error, with terms missing or not. A range as made beyond what its terms are good for is none: then the drawn figure alone
/// can fail.
///
/// ```
/// use modalith_solver::rate::requirements::{Because, Figure, Found, Limits, weigh};
/// let asked = Limits { low: 500.0, high: 1100.0 };
/// let found = |error, missing| Found { drawn: Some(786.0), as_made: Some([511.0, 1061.0]), missing, error: Ok(error) };
/// let clear = weigh(Figure::ModeSplit, asked, found(4.0, vec![]));
/// assert_eq!((clear.margin(), clear.met()), (Some(11.0), Some(true)));
/// assert_eq!(weigh(Figure::ModeSplit, asked, found(20.0, vec![])).met(), None);
/// let edge = Because::NotStated("spread_3sigma/edge_bias_um");
/// assert_eq!(weigh(Figure::ModeSplit, asked, found(4.0, vec![edge.clone()])).because(), [edge]);
/// ```
pub fn weigh(figure: Figure, asked: Limits, found: Found) -> Verdict {
    let beyond = found.missing.iter().any(|why| matches!(why, Because::Beyond(_)));
    let found = Found { as_made: found.as_made.filter(|_| !beyond), ..found };
    let range = found.as_made.or(found.drawn.map(|x| [x, x])).filter(|r| r.iter().all(|x| !x.is_nan()));
    let margin = range.map(|r| asked.margin(r));
    let outcome = match (margin, &found.error) {
        (None, _) if found.missing.is_empty() => {
            Outcome::Unknown(vec![Because::NotFound("what was solved does not give this figure".into())])
        }
        (None, _) => Outcome::Unknown(found.missing.clone()),
        (Some(margin), Ok(error)) if margin < 0.0 && -margin >= *error => Outcome::NotMet,
        (Some(margin), error) => {
            let mut because = found.missing.clone();
            match error {
                Err(unknown) => because.push(unknown.clone()),
                // Not a number is no error that one could stay within.
                Ok(error) if margin >= *error && margin >= 0.0 => {}
                // With a term missing there is no margin to hold against an error.
                Ok(_) if !because.is_empty() => {}
                Ok(error) => because.push(Because::WithinError { margin, error: *error }),
            }
            if because.is_empty() { Outcome::Met } else { Outcome::Unknown(because) }
        }
    };
    Verdict { figure, asked, found, margin, outcome }
}

#[cfg(test)]
mod tests;
