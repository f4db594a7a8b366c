//! Noise of the rate, and what the answer to a rate is read with.

use super::stated::ReadoutNoise;
use super::weighing::Weighing;
use crate::process::Range;
use crate::rate::Oscillator;
use crate::rate::answer::{Linearity, WorkingPair, linearity};
use crate::rate::noise::{Noise, brownian, readout};
use std::f64::consts::TAU;

impl Weighing<'_> {
    /// What the sense masses move by for 1 rad/s, m peak.
    pub(super) fn answer_m(&self, pair: &WorkingPair) -> Option<f64> {
        pair.response().map(|q| q * self.sense_reading(self.modes.1, 0.0).abs())
    }

    /// By what the capacitance of the sense electrodes changes for 1 rad/s, F peak.
    pub(super) fn answer_f(&self, pair: &WorkingPair) -> Option<f64> {
        pair.response().zip(self.electrode_reading(self.modes.1)).map(|(q, reading)| q * reading.abs())
    }

    /// Noise of the rate that a pair reads.
    pub(super) fn noise(&self, pair: &WorkingPair) -> Noise {
        let operation = self.stated.operation;
        Noise {
            brownian: brownian(pair, operation.temperature_k()),
            readout: match (operation.readout_noise, self.answer_m(pair)) {
                (Some(ReadoutNoise::Motion(density)), Some(answer)) => Some(readout(density, answer)),
                (Some(ReadoutNoise::Capacitance(density)), Some(_)) => {
                    self.answer_f(pair).filter(|a| *a > 0.0).map(|a| readout(density * 1e-18, a))
                }
                _ => None,
            },
        }
    }

    /// Angle random walk of a pair over a range of its split, °/√h, low and high.
    pub(super) fn walk(&self, pair: &WorkingPair, split: &Range) -> Option<[f64; 2]> {
        let at = |pair: &WorkingPair| Some(self.noise(pair).total()?.angle_random_walk_deg_per_rth());
        // Where the split passes through zero noise is least there.
        let least = 0.0_f64.clamp(split.low_hz, split.high_hz);
        let walks = [split.low_hz, split.high_hz, least].map(|split_hz| {
            let sense = Oscillator { omega: pair.drive.omega + TAU * split_hz, ..pair.sense };
            at(&WorkingPair { sense, ..*pair })
        });
        let walks = [walks[0]?, walks[1]?, walks[2]?, at(pair)?];
        Some([walks.into_iter().fold(f64::INFINITY, f64::min), walks.into_iter().fold(0.0, f64::max)])
    }

    /// Departure from a straight line at the stated full scale, °/s.
    pub(super) fn full_scale(&self) -> Option<(f64, Linearity)> {
        let (deg, coriolis) = self.stated.operation.full_scale_deg_per_s.zip(self.coriolis)?;
        let all: Vec<Oscillator> = (0..self.list.len()).map(|i| self.oscillator(i)).collect();
        let axis = [0, 1, 2].map(|k| if k == self.axis { 1.0 } else { 0.0 });
        linearity(coriolis, &all, self.modes, axis, deg.to_radians()).ok().flatten().map(|found| (deg, found))
    }
}
