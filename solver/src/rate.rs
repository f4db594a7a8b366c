//! The arithmetic of a rate sensor: from modes, how rotation couples them, and how the device is run, to what a rate report
//! says. No files, no words for people: those are the command's.
//!
//! In: [`Mode`]s of unit modal mass, [`crate::rotation::Coriolis`], amplitudes and quality factors, all SI. Out: pairing,
//! answer to rate, noise, zero-rate errors, balance, shock, near modes, requirements weighed.
//!
//! A modal coordinate q (m·kg^½) moves the point where the mode is φ (kg^-½) by φ q. In a frame turning at Ω the pair obeys
//! q̈ + D q̇ + ΩG q̇ + (Λ − Ω²C) q = f ([`crate::rotation`]), drive amplitudes are peaks, densities one-sided unless they say
//! so (IEEE Std 1431-2004 for the terms).

pub mod answer;
pub mod as_made;
pub mod balance;
pub mod comparison;
pub mod errors;
pub mod forbidden;
pub mod guards;
pub mod lean;
pub mod left_out;
pub mod noise;
pub mod pairing;
pub mod reading;
pub mod requirements;
pub mod shock;
pub mod stress;
pub mod tally;

use crate::mode::Mode;
use nalgebra::Complex;

/// Standard acceleration of gravity, m/s² (CGPM 1901, exact).
pub const GRAVITY_M_S2: f64 = 9.80665;

/// Boltzmann's constant, J/K (SI 2019, exact).
pub const BOLTZMANN_J_K: f64 = 1.380_649e-23;

/// A mode as an oscillator of unit modal mass.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Oscillator {
    /// Angular frequency, rad/s.
    pub omega: f64,
    /// Quality factor; `None` where it is not known: undamped.
    pub quality: Option<f64>,
}

impl Oscillator {
    /// A mode with its quality factor.
    pub fn of(mode: &Mode, quality: Option<f64>) -> Self {
        Self { omega: mode.omega(), quality }
    }

    /// Damping rate ω/Q, rad/s; 0 where Q is not known.
    pub fn damping(&self) -> f64 {
        self.quality.map_or(0.0, |q| self.omega / q)
    }

    /// χ(ω) = 1/(ω_i² − ω² + i ω ω_i/Q_i), s²: the coordinate per modal force at ω (rad/s, of either sign).
    ///
    /// ```
    /// use modalith_solver::rate::Oscillator;
    /// let mode = Oscillator { omega: 2.0, quality: Some(100.0) };
    /// assert_eq!(mode.receptance(0.0).re, 0.25);
    /// // At resonance Q times the static answer, a quarter period late.
    /// assert!((mode.receptance(2.0).im + 25.0).abs() < 1e-12);
    /// ```
    pub fn receptance(&self, omega: f64) -> Complex<f64> {
        Complex::new(self.omega * self.omega - omega * omega, omega * self.damping()).inv()
    }
}
