//! What is read of modes: by masses or by electrodes, at a point, of drive and sense together.

use super::weighing::Weighing;
use crate::mode::Mode;
use crate::rate::Oscillator;
use crate::rate::answer::WorkingPair;
use crate::rate::errors::{coupling_from_readings, quadrature};
use crate::rate::reading::reading;

impl Weighing<'_> {
    pub(super) fn mode(&self, i: usize) -> &Mode {
        &self.list[i]
    }

    /// Quality factor of a mode: the pair's are stated; others ring like the sense mode.
    pub(super) fn quality(&self, i: usize) -> Option<f64> {
        let operation = self.stated.operation;
        if i == self.modes.0 { operation.quality_drive } else { operation.quality_sense }
    }

    pub(super) fn oscillator(&self, i: usize) -> Oscillator {
        Oscillator::of(self.mode(i), self.quality(i))
    }

    pub(super) fn sense_reading(&self, i: usize, mismatch: f64) -> f64 {
        reading(&self.mode(i).masses, self.sense, mismatch)
    }

    /// What the sense electrodes together see of a mode, F·m⁻¹·kg^-½, wired so that the sense mode adds up; none without any.
    pub(super) fn electrode_reading(&self, i: usize) -> Option<f64> {
        let sensing = self.electrodes.iter().filter(|e| e.role == Some("sense"));
        let own: Vec<f64> =
            sensing.map(|e| e.reading.gradient[self.modes.1].signum() * e.reading.gradient[i]).collect();
        (!own.is_empty()).then(|| own.iter().sum())
    }

    /// What is read of a mode, kg^-½ as of the masses: as the sense electrodes see it, where there are any, in shares of what they
    /// see of the sense mode.
    pub(super) fn read(&self, i: usize) -> f64 {
        let s = self.modes.1;
        match self.electrode_reading(i).zip(self.electrode_reading(s)) {
            Some((own, sense)) if sense != 0.0 => own / sense * self.sense_reading(s, 0.0),
            _ => self.sense_reading(i, 0.0),
        }
    }

    /// Drive and sense without an amplitude.
    pub(super) fn bare_pair(&self) -> WorkingPair {
        let (d, s) = self.modes;
        WorkingPair {
            drive: self.oscillator(d),
            sense: self.oscillator(s),
            gyroscopic: self.coriolis.map_or(0.0, |c| c.about(self.axis)[(d, s)]),
            amplitude: None,
        }
    }

    /// Quadrature as the readout sees the drive mode, rad/s.
    pub(super) fn quadrature_read(&self) -> f64 {
        let (d, s) = self.modes;
        let pair = self.bare_pair();
        quadrature(&pair, coupling_from_readings(&pair, self.read(d), self.read(s))).abs()
    }

    /// Middle of the layout, m.
    pub(super) fn middle_m(&self) -> [f64; 2] {
        self.outline.middle_um().map(|um| 1e-6 * um)
    }

    /// The sampled point nearest to a place; none without any.
    pub(super) fn sampled_at(&self, p: [f64; 2]) -> Option<usize> {
        let off = |q: &[f64; 2]| (q[0] - p[0]).powi(2) + (q[1] - p[1]).powi(2);
        let points = &self.solved.sampled.points;
        (0..points.len()).min_by(|&a, &b| off(&points[a]).total_cmp(&off(&points[b])))
    }

    /// Shape of a mode at the sampled point nearest to a place, kg^-½.
    pub(super) fn shape_at(&self, p: [f64; 2], mode: usize) -> [f64; 3] {
        self.shape_of(self.sampled_at(p), mode)
    }

    /// Shape of a mode at a sampled point, kg^-½; 0 where there is none.
    pub(super) fn shape_of(&self, point: Option<usize>, mode: usize) -> [f64; 3] {
        let sampled = |i: usize, at: usize| self.solved.sampled.modes[i][at];
        match (point, self.shares) {
            (None, _) => [0.0; 3],
            (Some(at), None) => sampled(mode, at),
            (Some(at), Some(shares)) => {
                let component =
                    |k: usize| shares.column(mode).iter().enumerate().map(|(i, y)| y * sampled(i, at)[k]).sum();
                [0, 1, 2].map(component)
            }
        }
    }
}
