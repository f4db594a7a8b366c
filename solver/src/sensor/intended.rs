//! Intended motions among the modes found: how close every mode comes to each.

use super::stated::{Intent, MotionByMass};
use crate::mode::{Mode, best, mac_to_pattern};

/// A motion that the user intended and how close the modes come to it.
#[derive(Clone, Debug, PartialEq)]
pub struct Intended {
    /// The axis of rotation that it answers, 0 to 2 for x to z; `None` for the drive.
    pub rate_axis: Option<usize>,
    /// Modal assurance criterion of every mode with it, 0 to 1.
    pub mac: Vec<f64>,
    /// The mode that it is, from 0, where there is one.
    pub mode: Option<usize>,
}

/// How far the sense mode lies above the drive mode.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct ModeSplit {
    /// Sense less drive, Hz.
    pub hz: f64,
    /// What the mesh leaves of it, Hz: either frequency may lie below the one found by as much as its own bar; none where there are no bars.
    pub mesh_error_hz: Option<f64>,
}

impl Intended {
    /// The split of drive and sense among intended motions, where modes answer to both; `bars_hz` of the modes, or empty.
    pub fn split(all: &[Self], modes: &[Mode], bars_hz: &[f64]) -> Option<ModeSplit> {
        let (drive, sense, _) = Self::pair(all)?;
        let hz = modes.get(sense)?.frequency_hz - modes.get(drive)?.frequency_hz;
        let bars = bars_hz.get(drive).zip(bars_hz.get(sense));
        Some(ModeSplit { hz, mesh_error_hz: bars.map(|(a, b)| a.max(*b)) })
    }

    /// The motions that are intended, the drive first, and how close every mode comes to them.
    pub fn of(intent: &Intent, modes: &[Mode]) -> Vec<Self> {
        let names: Vec<&str> = modes.first().iter().flat_map(|m| &m.masses).map(|m| m.name.as_str()).collect();
        let intended = |rate_axis: Option<usize>, motion: &MotionByMass| {
            let pattern = motion.of_masses(names.iter().copied());
            Self {
                rate_axis,
                mac: modes.iter().map(|m| mac_to_pattern(&m.masses, &pattern)).collect(),
                mode: best(modes, &pattern).map(|(mode, _)| mode),
            }
        };
        let drive = intent.drive.iter().map(|d| intended(None, d));
        drive.chain(intent.sense.iter().map(|s| intended(Some(s.rate_axis), &s.pattern))).collect()
    }

    /// Drive, sense and the axis of rotation among intended motions, where modes answer to both.
    pub fn pair(all: &[Self]) -> Option<(usize, usize, usize)> {
        let drive = all.iter().find(|i| i.rate_axis.is_none())?.mode?;
        let sense = all.iter().find(|i| i.rate_axis.is_some())?;
        Some((drive, sense.mode?, sense.rate_axis?)).filter(|(d, s, _)| d != s)
    }
}
