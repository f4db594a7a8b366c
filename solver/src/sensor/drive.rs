//! The drive: its amplitude and where that is meant, the voltage that holds it, what it runs into.

use super::stated::{Facing, Place, Stopper};
use super::weighing::Weighing;
use crate::electrode;
use crate::mode::Target;
use crate::rate::answer::modal_amplitude;
use crate::rate::reading::motion_along;

impl Weighing<'_> {
    /// Peak modal amplitude, and where it is stated.
    pub(super) fn amplitude(&self) -> Option<(f64, String)> {
        let operation = self.stated.operation;
        let peak_m = operation.drive_amplitude_um? * 1e-6;
        let mode = self.mode(self.modes.0);
        let along = |k: usize| motion_along(&mode.masses[k], &self.drive.targets[k]);
        let largest = (0..mode.masses.len()).map(|k| along(k).abs()).fold(0.0, f64::max);
        let moves = |k: &usize| matches!(self.drive.targets[*k], Target::Moves(_));
        let first = (0..mode.masses.len()).find(moves)?;
        let (phi, place) = match &operation.drive_at {
            None => (along(first), mode.masses[first].name.clone()),
            Some(Place::Mass(name)) => (along(mode.masses.iter().position(|m| m.name == *name)?), name.clone()),
            Some(Place::Point(p)) => {
                let u = self.shape_at(*p, self.modes.0);
                (u.iter().map(|x| x * x).sum::<f64>().sqrt(), format!("({}, {}) µm", p[0], p[1]))
            }
        };
        let q = modal_amplitude(peak_m, phi, largest)?;
        // A point near an anchor hardly moves: what its amplitude makes of a mass stands beside it.
        let first_um = 1e6 * (q * along(first)).abs();
        let place = match &operation.drive_at {
            Some(Place::Point(_)) => {
                format!("{place}, {} µm at {}", format_args!("{first_um:.3}"), mode.masses[first].name)
            }
            _ => place,
        };
        Some((q, place))
    }

    /// Voltage that holds the drive amplitude, V peak, through the drive electrodes' bias.
    pub(super) fn drive_volts(&self, amplitude: f64) -> Option<f64> {
        let mode = self.modes.0;
        let driving = self.electrodes.iter().filter(|e| e.role == Some("drive"));
        let bias_gradient: f64 = driving.map(|e| (e.bias_v * e.reading.gradient[mode]).abs()).sum();
        let quality = self.stated.operation.quality_drive?;
        electrode::drive_volts(self.mode(mode).frequency_hz, quality, amplitude, bias_gradient)
    }

    /// What the drive motion about the state at rest reaches of stoppers and of what lies ahead of fingertips, in words: then the
    /// amplitude is not what it is stated to be.
    pub(super) fn drive_meets(&self) -> Option<String> {
        let (q, _) = self.amplitude()?;
        let reach = |s: &Stopper| q * self.driven(&s.at, s.axis) + self.rest_towards(s).unwrap_or(0.0);
        let walls = self.stated.electrodes.iter().enumerate().filter_map(|(number, e)| {
            let (what, mass, gap_um) = match &e.facing {
                Facing::Comb { mass } => {
                    ("what lies ahead of fingertips", mass, self.electrodes.get(number)?.tip_gap_m? * 1e6)
                }
                Facing::Side { mass, gap_um } => ("a side plate", mass, *gap_um),
                Facing::Plate { .. } => return None,
            };
            let at = Place::Mass(mass.clone());
            Some((what, Stopper { at, axis: e.axis, forwards: e.forwards, gap_um }))
        });
        let stoppers = self.stated.stoppers.iter().cloned().map(|s| ("a stopper", s));
        let (what, met) = stoppers.chain(walls).find(|(_, s)| reach(s) >= s.gap_um * 1e-6)?;
        Some(format!(
            "the drive motion meets {what}: {:.3} µm where the gap is {:.3} µm, so that the amplitude is not reached",
            reach(&met) * 1e6,
            met.gap_um
        ))
    }
}
