//! What a designer states of a rate sensor beside its layout: intended motions, how it is run, what it departs by as made, what it has to
//! meet. What is not stated is none, never zero. Names of masses are those of the layout.

use crate::material::Law;
use crate::mode::{self, Target};
use crate::model::AnchorsHeld;
use crate::rate::requirements::{Figure, Limits};
use modalith_mesher::geometry::Point;

/// Temperature where none is stated, K.
const TEMPERATURE_K: f64 = 300.0;
/// Band of vibration where none is stated, Hz.
const VIBRATION_HZ: [f64; 2] = [20.0, 2000.0];

/// How one mass is meant to move.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Motion {
    /// Along an axis (0 to 2 for x to z), forwards or not.
    Along(usize, bool),
    /// About an axis by the right-hand rule, forwards or not.
    About(usize, bool),
    /// Not at all.
    Still,
}

/// One pattern of motion; masses left out are free to do as they like.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct MotionByMass {
    /// The motion of each mass.
    pub motions: Vec<(String, Motion)>,
}

/// An intended answer to rotation.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Sense {
    /// The axis of rotation, 0 to 2 for x to z.
    pub rate_axis: usize,
    /// The motion it causes.
    pub pattern: MotionByMass,
}

/// All intended motions.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct Intent {
    /// The motion kept up.
    pub drive: Option<MotionByMass>,
    /// The answers to rotation.
    pub sense: Vec<Sense>,
}

impl Motion {
    /// What the solver compares with.
    fn target(self) -> Target {
        let (at, forwards) = match self {
            Self::Still => return Target::Still,
            Self::Along(axis, forwards) => (axis, forwards),
            Self::About(axis, forwards) => (3 + axis, forwards),
        };
        let size = if forwards { 1.0 } else { -1.0 };
        Target::Moves(std::array::from_fn(|i| if i == at { size } else { 0.0 }))
    }
}

impl MotionByMass {
    /// The pattern for masses of these names, in their order; masses left out are free.
    pub fn of_masses<'a>(&self, names: impl IntoIterator<Item = &'a str>) -> mode::Pattern {
        let target = |name: &str| {
            self.motions.iter().find(|(own, _)| own == name).map_or(Target::Free, |(_, motion)| motion.target())
        };
        mode::Pattern { targets: names.into_iter().map(target).collect() }
    }
}

/// A place on the structure.
#[derive(Clone, Debug, PartialEq)]
pub enum Place {
    /// A named mass: its centre of mass.
    Mass(String),
    /// A point of the layout, µm.
    Point(Point),
}

/// Noise of the readout, one-sided, near the drive frequency.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum ReadoutNoise {
    /// As motion of the sense masses, m/√Hz.
    Motion(f64),
    /// As capacitance, aF/√Hz.
    Capacitance(f64),
}

/// A half-sine shock of the base, taken both ways along its axis.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Shock {
    /// Peak, g.
    pub peak_g: f64,
    /// Duration, ms.
    pub duration_ms: f64,
    /// Axis, 0 to 2 for x to z.
    pub axis: usize,
}

/// How the device is run; what is not stated leaves out the results that need it.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Operation {
    /// Peak amplitude of the drive motion, µm, where `drive_at` says.
    pub drive_amplitude_um: Option<f64>,
    /// Where the amplitude is meant; by default the first mass of the intended drive motion.
    pub drive_at: Option<Place>,
    /// Quality factor of the drive mode.
    pub quality_drive: Option<f64>,
    /// Quality factor of the sense mode.
    pub quality_sense: Option<f64>,
    /// Temperature, K, if it is stated.
    pub temperature_k: Option<f64>,
    /// Noise of the readout.
    pub readout_noise: Option<ReadoutNoise>,
    /// Largest rate, °/s, of either sign.
    pub full_scale_deg_per_s: Option<f64>,
    /// Where the low-pass of the rate output is 3 dB down, Hz.
    pub output_bandwidth_hz: Option<f64>,
    /// Shock of the base.
    pub shock: Option<Shock>,
    /// Band of vibration, Hz, if it is stated.
    pub vibration_band_hz: Option<[f64; 2]>,
}

impl Operation {
    /// The drive amplitude, µm, where a stopper that a mass of the intended drive motion moves towards is no farther away.
    pub fn drive_reaches_um(&self, stopper: &Stopper, intent: &Intent) -> Option<f64> {
        let driven = intent.drive.iter().flat_map(|p| &p.motions).any(|(name, motion)| {
            matches!(&stopper.at, Place::Mass(mass) if mass == name)
                && matches!(motion, Motion::Along(axis, _) if *axis == stopper.axis)
        });
        self.drive_amplitude_um.filter(|a| driven && *a >= stopper.gap_um)
    }

    /// Temperature, K.
    pub fn temperature_k(&self) -> f64 {
        self.temperature_k.unwrap_or(TEMPERATURE_K)
    }

    /// Band of vibration, Hz.
    pub fn vibration_band_hz(&self) -> [f64; 2] {
        self.vibration_band_hz.unwrap_or(VIBRATION_HZ)
    }

    /// What is taken for what is not stated, in a rate report.
    pub fn defaults(&self) -> Vec<String> {
        let [low, high] = VIBRATION_HZ;
        let noisy = self.temperature_k.is_none() && self.quality_sense.is_some();
        let shaken = self.vibration_band_hz.is_none() && self.drive_amplitude_um.is_some();
        [
            (noisy, format!("{TEMPERATURE_K} K for the Brownian noise: operation/temperature_k is not stated")),
            (shaken, format!("vibration from {low} to {high} Hz: operation/vibration_band_hz is not stated")),
        ]
        .into_iter()
        .filter_map(|(taken, what)| taken.then_some(what))
        .collect()
    }
}

/// Something that a place of the structure can touch.
#[derive(Clone, Debug, PartialEq)]
pub struct Stopper {
    /// The place that touches.
    pub at: Place,
    /// Axis of the travel, 0 to 2 for x to z.
    pub axis: usize,
    /// Whether towards positive.
    pub forwards: bool,
    /// Travel to first contact, µm.
    pub gap_um: f64,
}

/// A guard of the user's own.
#[derive(Clone, Debug, PartialEq)]
pub struct OwnGuard {
    /// What it is called.
    pub name: String,
    /// Its frequency, Hz.
    pub frequency_hz: f64,
    /// Half its width, Hz; by default what the process spread asks for.
    pub half_width_hz: Option<f64>,
}

/// Departures that a symmetric drawing hides; 0 where none is stated.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub struct Imperfections {
    /// By how much flexures of the right half, x over the middle, are wider than those of the left half, µm; one across the middle is as
    /// drawn.
    pub left_right_width_um: Option<f64>,
    /// Both walls lean the same way, towards +x, degrees.
    pub sidewall_tilt_deg: Option<f64>,
    /// By how much of itself the first sense electrode's gain exceeds the others', a share.
    pub electrode_mismatch: Option<f64>,
    /// Share of the drive force that acts on the sense mode.
    pub drive_force_leak: Option<f64>,
    /// Phase error of the demodulator, degrees.
    pub phase_error_deg: Option<f64>,
}

/// Three sigma of what the process varies, not negative; independent of each other.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub struct ThreeSigma {
    /// Edge bias, µm.
    pub edge_bias_um: Option<f64>,
    /// Thickness, µm.
    pub thickness_um: Option<f64>,
    /// All elastic constants together, percent.
    pub youngs_modulus_percent: Option<f64>,
    /// Density, percent.
    pub density_percent: Option<f64>,
}

/// What of an electrode faces the part, and how near it lies.
#[derive(Clone, Debug, PartialEq)]
pub enum Facing {
    /// A plate under or over it.
    Plate {
        /// Gap, µm.
        gap_um: f64,
    },
    /// Fingers, with walls on both sides and tips; their gaps are measured ([`super::ElectrodeFound`]).
    Comb {
        /// The mass they pull on.
        mass: String,
    },
    /// A wall in the plane.
    Side {
        /// The mass it pulls on.
        mass: String,
        /// Gap, µm.
        gap_um: f64,
    },
}

/// An electrode as something to run into.
#[derive(Clone, Debug, PartialEq)]
pub struct FacingElectrode {
    /// The user's name.
    pub name: String,
    /// Bias against the part, V.
    pub bias_v: f64,
    /// The way to it from the part: axis, 0 to 2 for x to z.
    pub axis: usize,
    /// Whether towards positive.
    pub forwards: bool,
    /// What it is.
    pub facing: Facing,
}

/// A rate sensor as it is stated, beside its layout.
#[derive(Clone, Debug)]
pub struct StatedSensor<'a> {
    /// Stiffness and density in the layout's axes.
    pub law: &'a Law,
    /// Thickness of the layer, µm.
    pub thickness_um: f64,
    /// Which faces of its anchors are held.
    pub anchors_held: AnchorsHeld,
    /// Intended motions.
    pub intent: &'a Intent,
    /// How it is run.
    pub operation: &'a Operation,
    /// Frequencies to keep clear of, beside its own.
    pub guards: &'a [OwnGuard],
    /// What limits its travel.
    pub stoppers: &'a [Stopper],
    /// How it departs from the drawing as made.
    pub imperfections: &'a Imperfections,
    /// Spread of the process.
    pub spread_3sigma: &'a ThreeSigma,
    /// What is asked of it.
    pub requirements: &'a [(Figure, Limits)],
    /// Its electrodes, in the order of the device.
    pub electrodes: Vec<FacingElectrode>,
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn patterns_go_by_name() {
        let pattern = MotionByMass {
            motions: vec![("right".into(), Motion::About(2, false)), ("left".into(), Motion::Along(0, true))],
        };
        let targets = pattern.of_masses(["left", "middle", "right"]).targets;
        let moves = |i: usize, size: f64| Target::Moves(std::array::from_fn(|k| if k == i { size } else { 0.0 }));
        assert_eq!(targets, [moves(0, 1.0), Target::Free, moves(5, -1.0)]);
    }
}
