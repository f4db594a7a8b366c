//! Modes near guards: what excites them, which flexures hold them, what would move them.

use super::report::{NearMode, Remedy};
use super::weighing::Weighing;
use crate::process::Spread;
use crate::rate::guards::{Guard, Near, Neighbour, near};
use crate::rate::reading::reading;

/// A flexure is named beside a near mode if it holds at least this share of what the most strained one does.
const NAMED: f64 = 0.5;

impl Weighing<'_> {
    pub(super) fn neighbours(&self, spread: Option<&Spread>, sense_reading: f64) -> Vec<Neighbour> {
        let (d, _) = self.modes;
        let moving = self.solved.moving_mass_kg;
        let drive_reading = reading(&self.mode(d).masses, self.drive, 0.0);
        (0..self.list.len())
            .map(|i| {
                let mode = self.mode(i);
                let terms = self.terms.zip(spread);
                Neighbour {
                    frequency_hz: mode.frequency_hz,
                    spread_hz: terms.map_or_else(Vec::new, |(t, spread)| spread.shifts(&t.of(i))),
                    base: mode.effective_mass_kg().map(|m| if moving > 0.0 { m / moving } else { 0.0 }),
                    drive_force: reading(&mode.masses, self.drive, 0.0) / drive_reading,
                    coriolis: [0, 1, 2].map(|a| self.coriolis.map_or(0.0, |c| c.coupling(a, i, d))),
                    reading: self.sense_reading(i, 0.0) / sense_reading,
                }
            })
            .collect()
    }

    /// The modes within guards, the least clear first.
    pub(super) fn near_modes(&self, neighbours: &[Neighbour], guards: &[Guard]) -> Vec<NearMode> {
        let found = near(neighbours, self.modes, guards).into_iter();
        found
            .map(|near| {
                let flexures = self.flexures_of(near.mode);
                NearMode { remedy: self.remedy(&near, &guards[near.guard].follows, &flexures), near, flexures }
            })
            .collect()
    }

    /// The flexures that hold most of a mode's strain energy, the most strained first.
    fn flexures_of(&self, mode: usize) -> Vec<(usize, f64)> {
        let shares = &self.mode(mode).flexure_strain_share;
        let most = shares.iter().copied().fold(0.0, f64::max);
        let mut named: Vec<(usize, f64)> =
            shares.iter().copied().enumerate().filter(|(_, s)| *s > 0.01 && *s >= NAMED * most).collect();
        // Images of each other are strained alike up to rounding: then by number.
        let rank = |share: f64| -(share / most * 1e6).round();
        named.sort_by(|a, b| rank(a.1).total_cmp(&rank(b.1)).then(a.0.cmp(&b.0)));
        named
    }

    fn remedy(&self, near: &Near, follows: &[f64; 2], flexures: &[(usize, f64)]) -> Option<Remedy> {
        if self.solved.flexure_terms.is_empty() || flexures.is_empty() {
            return None;
        }
        let hz = |mode: usize| -> f64 {
            let frequency = self.mode(mode).frequency_hz;
            let widened = |f: usize| self.solved.flexure_terms[f].widened();
            let shift = |f: usize| match self.shares {
                None => widened(f).hz(mode, frequency),
                Some(shares) => widened(f).between(&shares.columns(mode, 1).into_owned()).hz(0, frequency),
            };
            flexures.iter().map(|&(f, _)| shift(f)).sum()
        };
        let [drive, sense] = [self.modes.0, self.modes.1].map(hz);
        Some(Remedy {
            mode_hz_per_um: hz(near.mode),
            guard_hz_per_um: follows[0] * drive + follows[1] * sense,
            split_hz_per_um: sense - drive,
        })
    }
}
