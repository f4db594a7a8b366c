//! False rate under vibration of the base.

use super::weighing::Weighing;
use crate::rate::Oscillator;
use crate::rate::answer::WorkingPair;
use crate::rate::balance::{FalseRate, OutputFilter, Shaken, false_rate, left_out};
use crate::rate::reading::reading;
use std::f64::consts::TAU;

/// Order of the low-pass of the rate output.
const FILTER_ORDER: i32 = 2;

impl Weighing<'_> {
    /// False rate along x, y, z, rad/s per g, the first electrode reading more strongly than the others by this share of itself.
    pub(super) fn vibration(&self, pair: &WorkingPair, mismatch: f64) -> Option<[FalseRate; 3]> {
        let operation = self.stated.operation;
        let answer = self.answer_m(pair)?;
        let shaken: Vec<Shaken> = (0..self.list.len())
            .map(|i| Shaken {
                mode: self.oscillator(i),
                participation: [0, 1, 2].map(|k| self.mode(i).participation[k]),
                reading: self.read(i) + self.sense_reading(i, mismatch) - self.sense_reading(i, 0.0),
            })
            .collect();
        let filter = operation.output_bandwidth_hz.map(|corner_hz| OutputFilter { corner_hz, order: FILTER_ORDER });
        let (hz, band) = (pair.drive.omega / TAU, operation.vibration_band_hz());
        // What other modes add is that of the drawing: its static deflection less its own modes, as they were solved for.
        let of_drawn: Vec<Shaken> = self
            .solved
            .modes
            .iter()
            .map(|m| Shaken {
                mode: Oscillator::of(m, operation.quality_sense),
                participation: [0, 1, 2].map(|k| m.participation[k]),
                reading: reading(&m.masses, self.sense, mismatch),
            })
            .collect();
        let rest = self
            .solved
            .statics
            .as_ref()
            .map_or([0.0; 3], |s| left_out(&of_drawn, [0, 1, 2].map(|k| reading(&s[k], self.sense, mismatch))));
        Some(false_rate(&shaken, rest, answer, hz, band, filter))
    }

    /// The same with the stated mismatch, whichever side is read more strongly: along every axis the worse.
    pub(super) fn vibration_mismatched(&self, pair: &WorkingPair) -> Option<[FalseRate; 3]> {
        let mismatch = self.stated.imperfections.electrode_mismatch?;
        let [one, other] = [self.vibration(pair, mismatch)?, self.vibration(pair, -mismatch)?];
        let size = |r: &FalseRate| r.worst.unwrap_or(f64::INFINITY);
        Some([0, 1, 2].map(|k| if size(&other[k]) > size(&one[k]) { other[k] } else { one[k] }))
    }
}
