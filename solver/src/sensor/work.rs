//! A pair of modes at work: every figure of the rate report, as drawn and as made.

use super::needs::within_first_order;
use super::report::{Quadrature, Work};
use super::weighing::{Weighing, is_elastic};
use crate::process::Spread;
use crate::rate::answer::{WorkingPair, cross_axis};
use crate::rate::balance::at_anchors;
use crate::rate::errors::{InPhase, drive_leak};
use crate::rate::forbidden::{Forbidden, forbidden};
use crate::rate::guards::{combinations, guards, nearest};
use std::f64::consts::TAU;

impl Weighing<'_> {
    /// The stated spread, as far as first order reaches.
    pub(super) fn spread(&self) -> Option<Spread> {
        self.spread_of(within_first_order(self.stated, self.outline))
    }

    /// All of the stated spread: for what might come near, which nothing may be left out of.
    pub(super) fn whole_spread(&self) -> Option<Spread> {
        let stated = self.stated.spread_3sigma;
        self.spread_of([stated.edge_bias_um, stated.thickness_um].map(|um| um.unwrap_or(0.0)))
    }

    fn spread_of(&self, [edge_bias_um, thickness_um]: [f64; 2]) -> Option<Spread> {
        let stated = self.stated.spread_3sigma;
        let terms = self.terms?;
        let elastic = terms.constants.iter().map(|(name, _)| *name).filter(|name| is_elastic(name));
        let mut constants: Vec<(String, f64)> = elastic
            .filter_map(|name| stated.youngs_modulus_percent.map(|percent| (name.to_owned(), percent)))
            .collect();
        let density = terms.constants.iter().map(|(name, _)| *name).find(|name| name.starts_with("density"));
        constants.extend(density.zip(stated.density_percent).map(|(name, percent)| (name.to_owned(), percent)));
        let spread = Spread { edge_bias_um, thickness_um, constants_percent: constants };
        (spread != Spread::default()).then_some(spread)
    }

    /// The pair as drawn and as made.
    pub(super) fn whole(&self) -> Work {
        let mut work = self.work(true);
        self.with_made(&mut work);
        let drive = (self.mode(self.modes.0), self.is_in_plane(self.modes.0) == Some(true));
        work.forbidden = forbidden(drive, self.sense, &self.mesh.mirrors, self.stated.law);
        // The film's own shear and gradient have none of the mirrors that the drawing has.
        if self.solved.film.is_some_and(|film| !film.film.has_mirrors() || !film.film.is_even()) {
            work.forbidden = Forbidden::default();
        }
        // Electrodes are none of the outline: what they see is no floor by its mirrors.
        let by_masses = self.electrode_reading(self.modes.1).is_none();
        work.forbidden.quadrature &= by_masses;
        work.forbidden.vibration &= by_masses;
        work.biases = self.biases(&work);
        work
    }

    /// The pair among these modes alone; under the stated shock too, or without it.
    pub(super) fn work(&self, shaken: bool) -> Work {
        let (d, s) = self.modes;
        let (operation, imperfections) = (self.stated.operation, self.stated.imperfections);
        let amplitude = self.amplitude();
        let pair = WorkingPair { amplitude: amplitude.as_ref().map(|(q, _)| *q), ..self.bare_pair() };
        let spread = self.spread();
        let terms = self.terms.zip(spread.as_ref());
        let [split, drive, sense] = self.ranges(&pair, spread.as_ref());
        let neighbours = self.neighbours(self.whole_spread().as_ref(), self.sense_reading(s, 0.0));
        let own: Vec<(String, f64, Option<f64>)> =
            self.stated.guards.iter().map(|g| (g.name.clone(), g.frequency_hz, g.half_width_hz)).collect();
        let guards = guards(pair.drive.omega / TAU, pair.sense.omega / TAU, &own);
        let stress = if shaken { self.stress(None) } else { None };
        Work {
            modes: self.modes,
            cross_axis: self.coriolis.map_or([0.0; 3], |c| cross_axis(c, (d, s), self.axis)),
            split,
            frequencies: drive.zip(sense).map(|(d, s)| [d, s]),
            scale_af: self.answer_f(&pair).map(|farad| farad.to_radians() * 1e18),
            drive_volts: pair.amplitude.and_then(|q| self.drive_volts(q)),
            drive_amplitude: operation.drive_amplitude_um.zip(amplitude).map(|(um, (_, place))| (um, place)),
            scale_pm: self.answer_m(&pair).map(|m| m.to_radians() * 1e12),
            bandwidth: pair.bandwidth(),
            linearity: self.full_scale(),
            noise: self.noise(&pair),
            walk_of_frequencies: split.and_then(|range| self.walk(&pair, &range)),
            quadrature: Quadrature { drawn: self.quadrature_read(), ..Quadrature::default() },
            drive_leak: imperfections.drive_force_leak.and_then(|share| drive_leak(&pair, share)),
            in_phase: InPhase::default(),
            loads: [d, s].map(|i| at_anchors(self.mode(i), self.middle_m())),
            vibration: self.vibration(&pair, 0.0),
            vibration_mismatched: self.vibration_mismatched(&pair),
            nearest: nearest(&neighbours, (d, s), &guards),
            combinations: combinations(&neighbours, (d, s)),
            near: self.near_modes(&neighbours, &guards),
            guards,
            neighbours,
            touches: if shaken { self.touches(terms) } else { Vec::new() },
            free_travel: if shaken { self.free_travel(None) } else { None },
            free_travel_as_made: if shaken { self.free_travel(terms) } else { None },
            shaken_mass: self.shaken_mass(),
            stress,
            stress_as_made: if shaken && terms.is_some() { self.stress(terms) } else { stress },
            made: Vec::new(),
            spread_made: Vec::new(),
            spread_drawn: Vec::new(),
            made_missing: Vec::new(),
            forbidden: Forbidden::default(),
            biases: Vec::new(),
            verdicts: Vec::new(),
            pair,
        }
    }
}
