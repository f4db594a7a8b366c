//! Modes near guards: what excites them, which flexures hold them, what would move them.

use super::report::{NearMode, Remedy};
use super::weighing::Weighing;
use crate::process::Spread;
use crate::rate::guards::{Guard, Near, Neighbour, near};
use crate::rate::reading::reading;

/// A flexure is named beside a near mode if it holds at least this share of what the most strained one does.
const NAMED: f64 = 0.5;
/// Motions below this share of the others are rounding.
const ONE_SIDED: f64 = 1e-6;
/// Flexures are widened by no more than this share of the narrowest's width: terms are of first order, and stiffness grows with the cube.
const WIDER: f64 = 0.05;
/// Nor by more than mixes modes by this share of each other, which terms of single modes do not have.
const MIXED: f64 = 0.05;

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
                    forbidden: self.forbidden(i),
                }
            })
            .collect()
    }

    /// Whether a mirror of the layer at its middle forbids quadratic and cubic stiffness between the drive mode and another one.
    fn forbidden(&self, mode: usize) -> [bool; 2] {
        match (self.is_even_in_z(self.modes.0), self.is_even_in_z(mode)) {
            // A drive in the plane reaches no mode out of it, one out of the plane those in it by its square alone.
            (Some(true), Some(even)) => [!even; 2],
            (Some(false), Some(even)) => [!even, even],
            _ => [false; 2],
        }
    }

    /// Whether a mode is even about the middle of the layer, or odd; none where layer or forces have no mirror there.
    fn is_even_in_z(&self, mode: usize) -> Option<bool> {
        let mirrored = self.stated.law.has_mirror(2) && self.electrodes.iter().all(|e| e.bias_v == 0.0);
        self.is_in_plane(mode).filter(|_| mirrored)
    }

    /// Whether a mode moves the middle of the layer in its plane alone; not where it moves it out of that alone; none where it does both.
    pub(super) fn is_in_plane(&self, mode: usize) -> Option<bool> {
        let (mut within, mut across) = (0.0_f64, 0.0_f64);
        for (drawn, [own_within, own_across]) in self.middle.iter().enumerate() {
            let share = self.shares.map_or_else(|| f64::from(u8::from(drawn == mode)), |all| all[(drawn, mode)].abs());
            if share > 0.0 {
                (within, across) = (within.max(share * own_within), across.max(share * own_across));
            }
        }
        match (across <= ONE_SIDED * within, within <= ONE_SIDED * across) {
            (true, false) => Some(true),
            (false, true) => Some(false),
            _ => None,
        }
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
        if self.solved.flexure_terms.is_empty() {
            return None;
        }
        let widened =
            flexures.iter().map(|&(f, _)| self.solved.flexure_terms[f].widened()).reduce(|mut sum, own| {
                sum += &own;
                sum
            })?;
        let widened = self.shares.map_or_else(|| widened.clone(), |shares| widened.between(shares));
        let hz = |mode: usize| widened.hz(mode, self.mode(mode).frequency_hz);
        let narrowest =
            flexures.iter().map(|(f, _)| self.outline.flexures[*f].narrowest_um()).fold(f64::INFINITY, f64::min);
        let mixes = [near.mode, self.modes.0, self.modes.1].into_iter().flat_map(|i| {
            let squared = |i: usize| self.mode(i).omega().powi(2);
            let widened = &widened;
            (0..widened.stiffness.nrows()).filter(move |&j| j != i).map(move |j| {
                let [a, b] = [squared(i), squared(j)];
                MIXED * (a - b).abs() / widened.at(i, j, 0.5 * (a + b)).abs()
            })
        });
        let most_um = mixes.fold(WIDER * narrowest, f64::min);
        let [drive, sense] = [self.modes.0, self.modes.1].map(hz);
        Some(Remedy {
            mode_hz_per_um: hz(near.mode),
            guard_hz_per_um: follows[0] * drive + follows[1] * sense,
            split_hz_per_um: sense - drive,
            most_um,
        })
    }
}
