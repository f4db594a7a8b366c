//! What the sensor resolves: the thermal force on the sense mode and the noise of the readout, as noise of rate.
//!
//! In: a working pair held at its drive amplitude, temperature, noise of the readout. Out: one-sided densities of rate and the
//! angle random walk.
//!
//! Source: one-sided force density 4 k_B T c (Nyquist's theorem; Gabrielson, IEEE Trans. Electron Devices 40 (1993) 903);
//! synchronous demodulation of a signal of peak q_s against noise of the same rms gives the factor 2 in power (Leland, IEEE
//! Sensors J. 5 (2005) 493). The angle random walk in °/√h is the two-sided density's root (IEEE Std 952).

use super::BOLTZMANN_J_K;
use super::answer::WorkingPair;

/// White noise of rate.
#[derive(Clone, Copy, Debug, Default, PartialEq, PartialOrd)]
pub struct RateNoise {
    /// Root of the one-sided density, rad/s/√Hz.
    pub rad_per_s_per_rthz: f64,
}

impl RateNoise {
    /// One-sided, °/s/√Hz.
    pub fn deg_per_s_per_rthz(self) -> f64 {
        self.rad_per_s_per_rthz.to_degrees()
    }

    /// One-sided, °/h/√Hz.
    pub fn deg_per_h_per_rthz(self) -> f64 {
        3600.0 * self.deg_per_s_per_rthz()
    }

    /// Angle random walk, °/√h: the root of the two-sided density, in °/h/√Hz, over 60; so the one-sided one over 60 √2.
    pub fn angle_random_walk_deg_per_rth(self) -> f64 {
        self.deg_per_h_per_rthz() / (60.0 * std::f64::consts::SQRT_2)
    }

    /// Two independent noises together.
    pub fn and(self, other: Self) -> Self {
        Self { rad_per_s_per_rthz: self.rad_per_s_per_rthz.hypot(other.rad_per_s_per_rthz) }
    }
}

/// Which noise is the larger.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Limit {
    /// The thermal force on the sense mode.
    Brownian,
    /// The readout.
    Readout,
}

/// Noise by source; where the inputs of a source are missing there is no total.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub struct Noise {
    /// Thermal force: needs the drive amplitude and the sense mode's quality factor.
    pub brownian: Option<RateNoise>,
    /// Readout: needs its noise and the answer to rate.
    pub readout: Option<RateNoise>,
}

impl Noise {
    /// Both together; `None` where one is not known.
    pub fn total(&self) -> Option<RateNoise> {
        Some(self.brownian?.and(self.readout?))
    }

    /// What is known of the total, which is no less; `None` where nothing is.
    pub fn at_least(&self) -> Option<RateNoise> {
        [self.brownian, self.readout].into_iter().flatten().reduce(RateNoise::and)
    }

    /// Which of the two limits; `None` unless both are known.
    pub fn limit(&self) -> Option<Limit> {
        let (brownian, readout) = (self.brownian?, self.readout?);
        Some(if readout > brownian { Limit::Readout } else { Limit::Brownian })
    }
}

/// Brownian rate noise: S_Ω = 2 S_F/(G ω_d q_d)² with S_F = 4 k_B T ω_s/Q_s at unit modal mass, whatever the split, within the
/// bandwidth. `None` where the drive amplitude or Q_s is missing.
///
/// ```
/// use modalith_solver::rate::{Oscillator, answer::WorkingPair, noise::brownian};
/// // 1 µg at 10 kHz, Q 1000, 1 µm peak, matched: 74.895 °/h/√Hz one-sided, 0.88265 °/√h.
/// let mode = Oscillator { omega: std::f64::consts::TAU * 1e4, quality: Some(1000.0) };
/// let pair = WorkingPair { drive: mode, sense: mode, gyroscopic: 2.0, amplitude: Some(1e-6 * 1e-9_f64.sqrt()) };
/// let noise = brownian(&pair, 300.0).ok_or("no amplitude")?;
/// assert!((noise.deg_per_h_per_rthz() / 74.895 - 1.0).abs() < 1e-4);
/// assert!((noise.angle_random_walk_deg_per_rth() / 0.88265 - 1.0).abs() < 1e-4);
/// # Ok::<(), &str>(())
/// ```
pub fn brownian(pair: &WorkingPair, temperature_k: f64) -> Option<RateNoise> {
    let (amplitude, quality) = (pair.amplitude?, pair.sense.quality?);
    let force = 4.0 * BOLTZMANN_J_K * temperature_k * pair.sense.omega / quality;
    Some(RateNoise {
        rad_per_s_per_rthz: (2.0 * force).sqrt() / (pair.gyroscopic * pair.drive.omega * amplitude).abs(),
    })
}

/// Rate noise of a readout: √2 times its one-sided density (m/√Hz, F/√Hz, V/√Hz) over its peak answer to one rad/s in the
/// same unit. Noise near the drive frequency counts: what is low-frequency in the readout is not seen.
pub fn readout(density_per_rthz: f64, answer_per_rad_s: f64) -> RateNoise {
    RateNoise { rad_per_s_per_rthz: std::f64::consts::SQRT_2 * density_per_rthz / answer_per_rad_s.abs() }
}

#[cfg(test)]
mod tests {
    use super::super::Oscillator;
    use super::*;
    use std::f64::consts::TAU;

    /// Derived and checked by simulation: mass, frequency, Q, amplitude; one-sided °/s/√Hz, °/h/√Hz, °/√h.
    #[test]
    fn worked_values() {
        let rows = [
            ([1e-9, 1e4, 1e3, 1e-6], [2.0804e-2, 74.895, 0.88265]),
            ([1e-9, 1e4, 1e4, 5e-6], [1.3158e-3, 4.7368, 0.05582]),
            ([5.7e-9, 15e3, 1e4, 1e-6], [2.2499e-3, 8.0997, 0.09546]),
        ];
        for ([mass, hz, quality, peak], expected) in rows {
            let mode = Oscillator { omega: TAU * hz, quality: Some(quality) };
            let pair =
                WorkingPair { drive: mode, sense: mode, gyroscopic: -2.0, amplitude: Some(peak * f64::sqrt(mass)) };
            let noise = brownian(&pair, 300.0).unwrap();
            let found = [noise.deg_per_s_per_rthz(), noise.deg_per_h_per_rthz(), noise.angle_random_walk_deg_per_rth()];
            for (a, b) in found.into_iter().zip(expected) {
                assert!((a / b - 1.0).abs() < 2e-4, "{a} against {b}");
            }
        }
    }

    /// 15 °/h/√Hz two-sided are 0.25 °/√h: from one side 15 √2.
    #[test]
    fn angle_random_walk_is_two_sided() {
        let noise = RateNoise { rad_per_s_per_rthz: (15.0 * std::f64::consts::SQRT_2 / 3600.0_f64).to_radians() };
        assert!((noise.angle_random_walk_deg_per_rth() - 0.25).abs() < 1e-12);
    }

    /// A readout whose noise is the motion that the thermal force makes, matched, has the thermal noise of rate.
    #[test]
    fn the_readout_is_weighed_like_the_force() {
        let (omega, quality) = (TAU * 1e4, 1e3);
        let mode = Oscillator { omega, quality: Some(quality) };
        let pair = WorkingPair { drive: mode, sense: mode, gyroscopic: 2.0, amplitude: Some(1e-6 * 1e-9_f64.sqrt()) };
        let thermal = brownian(&pair, 300.0).unwrap();
        let motion = (4.0 * BOLTZMANN_J_K * 300.0 * omega / quality).sqrt() * quality / (omega * omega);
        let same = readout(motion, pair.response().unwrap());
        assert!((same.rad_per_s_per_rthz / thermal.rad_per_s_per_rthz - 1.0).abs() < 1e-12);
        let both = Noise { brownian: Some(thermal), readout: Some(readout(2.0 * motion, pair.response().unwrap())) };
        assert_eq!(both.limit(), Some(Limit::Readout));
        let total = both.total().unwrap().rad_per_s_per_rthz;
        assert!((total / thermal.rad_per_s_per_rthz / 5f64.sqrt() - 1.0).abs() < 1e-12);
        assert_eq!(Noise { readout: None, ..both }.limit(), None);
    }
}
