//! From modes to what the rate report says of one intended axis. In: device, outline, mesh, solved modes. Out: [`AxisAnswer`]s and
//! the inputs that are missing.

use super::needs::not_given;
use super::second::Comparison;
use crate::command::solved::Solved;
use crate::device::Device;
use crate::device::intent::Sense;
use crate::device::operation::{Place, ReadoutNoise};
use crate::output::findings::ElectrodeFound;
use crate::output::rate::{AxisAnswer, NearMode, Quadrature, Remedy, Work};
use modalith_mesher::geometry::bounds;
use modalith_mesher::mesh::Mesh;
use modalith_mesher::outline::Outline;
use modalith_solver::electrode;
use modalith_solver::mode::{Mode, Pattern, Target};
use modalith_solver::process::{Forms, Range, Spread};
use modalith_solver::rate::Oscillator;
use modalith_solver::rate::answer::{WorkingPair, cross_axis, linearity, modal_amplitude};
use modalith_solver::rate::balance::{
    AnchorLoad, FalseRate, OutputFilter, Shaken, at_anchors, changed_participation, false_rate, left_out,
    with_participation,
};
use modalith_solver::rate::errors::{InPhase, coupling_from_readings, drive_leak, quadrature, through_phase};
use modalith_solver::rate::guards::{Near, Neighbour, combinations, guards, near, nearest};
use modalith_solver::rate::lean::lean;
use modalith_solver::rate::noise::{Noise, brownian, readout};
use modalith_solver::rate::pairing::pair;
use modalith_solver::rate::reading::{motion_along, reading};
use modalith_solver::rate::requirements::Because;
use modalith_solver::rotation::Coriolis;
use std::f64::consts::TAU;

/// Order of the low-pass of the rate output.
const FILTER_ORDER: i32 = 2;
/// A flexure is named beside a near mode if it holds at least this share of what the most strained one does.
const NAMED: f64 = 0.5;

/// The answers by intended axis, and what is missing.
pub fn answers(
    device: &Device,
    outline: &Outline,
    mesh: &Mesh,
    solved: &Solved,
    electrodes: &[ElectrodeFound],
    compared: &Result<Comparison, Because>,
) -> (Vec<AxisAnswer>, Vec<String>) {
    let names: Vec<&str> = solved.modes.first().iter().flat_map(|m| &m.masses).map(|m| m.name.as_str()).collect();
    let Some(drive) = &device.intent.drive else { return (Vec::new(), Vec::new()) };
    let drive = drive.of_masses(names.iter().copied());
    let answer = |sense: &Sense| {
        let pattern = sense.pattern.of_masses(names.iter().copied());
        let found = pair(&solved.modes, &drive, &pattern);
        let numbers = found.drive.as_ref().zip(found.sense.as_ref()).map(|(d, s)| (d.mode, s.mode));
        let work = numbers.filter(|(d, s)| d != s).map(|modes| {
            let (drive, sense, axis) = (&drive, &pattern, sense.rate_axis);
            let (list, coriolis) = (&solved.modes[..], solved.coriolis.as_ref());
            let own = Weighing { device, outline, mesh, solved, electrodes, drive, sense, axis, modes, list, coriolis };
            let mut work = own.work();
            work.verdicts = own.verdicts(&work, &own.errors(&work, compared));
            work
        });
        AxisAnswer { axis: sense.rate_axis, drive: found.drive, sense: found.sense, work }
    };
    (device.intent.sense.iter().map(answer).collect(), not_given(device, solved, electrodes))
}

/// One pair being weighed.
#[derive(Clone, Copy)]
pub(super) struct Weighing<'a> {
    pub(super) device: &'a Device,
    pub(super) outline: &'a Outline,
    pub(super) mesh: &'a Mesh,
    pub(super) solved: &'a Solved,
    pub(super) electrodes: &'a [ElectrodeFound],
    pub(super) drive: &'a Pattern,
    pub(super) sense: &'a Pattern,
    pub(super) axis: usize,
    pub(super) modes: (usize, usize),
    /// The modes as they are taken here: those solved for, or with frequencies moved by what is not known of them.
    pub(super) list: &'a [Mode],
    /// How rotation couples them.
    pub(super) coriolis: Option<&'a Coriolis>,
}

impl Weighing<'_> {
    pub(super) fn mode(&self, i: usize) -> &Mode {
        &self.list[i]
    }

    /// Quality factor of a mode: the pair's are stated; others ring like the sense mode.
    pub(super) fn quality(&self, i: usize) -> Option<f64> {
        let operation = &self.device.operation;
        if i == self.modes.0 { operation.quality_drive } else { operation.quality_sense }
    }

    pub(super) fn oscillator(&self, i: usize) -> Oscillator {
        Oscillator::of(self.mode(i), self.quality(i))
    }

    pub(super) fn sense_reading(&self, i: usize, mismatch: f64) -> f64 {
        reading(&self.mode(i).masses, self.sense, mismatch)
    }

    /// What the sense electrodes together see of a mode, F·m⁻¹·kg^-½, wired so that the sense mode adds up; none without any.
    fn electrode_reading(&self, i: usize) -> Option<f64> {
        let sensing = self.electrodes.iter().filter(|e| e.role == Some("sense"));
        let own: Vec<f64> = sensing.map(|e| e.gradient[self.modes.1].signum() * e.gradient[i]).collect();
        (!own.is_empty()).then(|| own.iter().sum())
    }

    /// Voltage that holds the drive amplitude, V peak, through the drive electrodes' bias.
    fn drive_volts(&self, amplitude: f64) -> Option<f64> {
        let mode = self.modes.0;
        let driving = self.electrodes.iter().filter(|e| e.role == Some("drive"));
        let bias_gradient: f64 = driving.map(|e| (e.bias_v * e.gradient[mode]).abs()).sum();
        let quality = self.device.operation.quality_drive?;
        electrode::drive_volts(self.mode(mode).frequency_hz, quality, amplitude, bias_gradient)
    }

    /// Peak modal amplitude, and where it is stated.
    fn amplitude(&self) -> Option<(f64, String)> {
        let operation = &self.device.operation;
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
        modal_amplitude(peak_m, phi, largest).map(|q| (q, place))
    }

    /// Shape of a mode at the sampled point nearest to a place, kg^-½.
    fn shape_at(&self, p: [f64; 2], mode: usize) -> [f64; 3] {
        let off = |q: &[f64; 2]| (q[0] - p[0]).hypot(q[1] - p[1]);
        let points = &self.solved.sampled.points;
        let nearest = (0..points.len()).min_by(|&a, &b| off(&points[a]).total_cmp(&off(&points[b])));
        nearest.map_or([0.0; 3], |i| self.solved.sampled.modes[mode][i])
    }

    /// Shape of a mode at a place, and the place in words.
    pub(super) fn shape(&self, place: &Place, mode: usize) -> [f64; 3] {
        match place {
            Place::Point(p) => self.shape_at(*p, mode),
            Place::Mass(name) => {
                let mass = self.mode(mode).masses.iter().find(|m| m.name == *name);
                mass.map_or([0.0; 3], |m| m.translation)
            }
        }
    }

    fn spread(&self) -> Option<Spread> {
        let stated = &self.device.spread_3sigma;
        let terms = self.solved.terms.as_ref()?;
        let elastic = terms.constants.iter().map(|(name, _)| *name).filter(|name| is_elastic(name));
        let mut constants: Vec<(String, f64)> = elastic
            .filter_map(|name| stated.youngs_modulus_percent.map(|percent| (name.to_owned(), percent)))
            .collect();
        let density = terms.constants.iter().map(|(name, _)| *name).find(|name| name.starts_with("density"));
        constants.extend(density.zip(stated.density_percent).map(|(name, percent)| (name.to_owned(), percent)));
        let spread = Spread {
            edge_bias_um: stated.edge_bias_um.unwrap_or(0.0),
            thickness_um: stated.thickness_um.unwrap_or(0.0),
            constants_percent: constants,
        };
        (spread != Spread::default()).then_some(spread)
    }

    pub(super) fn work(&self) -> Work {
        let (d, s) = self.modes;
        let coriolis = self.coriolis;
        let amplitude = self.amplitude();
        let operation = &self.device.operation;
        let pair = WorkingPair {
            drive: self.oscillator(d),
            sense: self.oscillator(s),
            gyroscopic: coriolis.map_or(0.0, |c| c.about(self.axis)[(d, s)]),
            amplitude: amplitude.as_ref().map(|(q, _)| *q),
        };
        let sense_reading = self.sense_reading(s, 0.0);
        let scale = |pair: &WorkingPair| pair.response().map(|q| q * sense_reading.abs());
        let scale_pm = scale(&pair).map(|m| m.to_radians() * 1e12);
        let noise_of = |pair: &WorkingPair| Noise {
            brownian: brownian(pair, operation.temperature_k),
            readout: match (operation.readout_noise, scale(pair)) {
                (Some(ReadoutNoise::Motion(density)), Some(answer)) => Some(readout(density, answer)),
                (Some(ReadoutNoise::Capacitance(density)), Some(_)) => {
                    let answer = pair.response().zip(self.electrode_reading(s)).map(|(q, r)| q * r.abs());
                    answer.filter(|a| *a > 0.0).map(|a| readout(density * 1e-18, a))
                }
                _ => None,
            },
        };
        let noise = noise_of(&pair);
        let spread = self.spread();
        let terms = self.solved.terms.as_ref().zip(spread.as_ref());
        // Around the frequencies as they are taken here.
        let split = terms.map(|(t, spread)| Range { drawn_hz: pair.mode_split_hz(), ..t.split_range([d, s], spread) });
        let as_made = terms
            .map(|(t, spread)| [d, s].map(|i| Range { drawn_hz: self.mode(i).frequency_hz, ..t.range(i, spread) }));
        let walk_as_made = split.and_then(|range| {
            let walks = [range.low_hz(), range.high_hz()].map(|split_hz| {
                let sense = Oscillator { omega: pair.drive.omega + TAU * split_hz, ..pair.sense };
                Some(noise_of(&WorkingPair { sense, ..pair }).total()?.angle_random_walk_deg_per_rth())
            });
            let drawn = noise.total()?.angle_random_walk_deg_per_rth();
            // Where the split passes through zero noise is least between the ends.
            Some([walks[0]?.min(walks[1]?).min(drawn), walks[0]?.max(walks[1]?)])
        });
        let quadrature = self.quadrature(&pair, sense_reading);
        let imperfections = &self.device.imperfections;
        let in_phase = InPhase::of(
            imperfections.drive_force_leak.and_then(|share| drive_leak(&pair, share)),
            imperfections
                .phase_error_deg
                .zip(quadrature.as_made())
                .map(|(degrees, rate)| through_phase(rate, degrees.to_radians())),
        );
        let vibration = |mismatch: f64| -> Option<[FalseRate; 3]> {
            let answer = scale(&pair)?;
            let shaken: Vec<Shaken> = (0..self.list.len())
                .map(|i| Shaken {
                    mode: self.oscillator(i),
                    participation: [0, 1, 2].map(|k| self.mode(i).participation[k]),
                    reading: self.sense_reading(i, mismatch),
                })
                .collect();
            let filter = operation.output_bandwidth_hz.map(|corner_hz| OutputFilter { corner_hz, order: FILTER_ORDER });
            let (hz, band) = (pair.drive.omega / TAU, operation.vibration_band_hz);
            let statics = self.solved.statics.as_ref();
            let rest = statics
                .map_or([0.0; 3], |s| left_out(&shaken, [0, 1, 2].map(|k| reading(&s[k], self.sense, mismatch))));
            Some(false_rate(&shaken, rest, answer, hz, band, filter))
        };
        let neighbours = self.neighbours(spread.as_ref(), sense_reading);
        let own: Vec<(String, f64, Option<f64>)> =
            self.device.guards.iter().map(|g| (g.name.clone(), g.frequency_hz, g.half_width_hz)).collect();
        let guards = guards(pair.drive.omega / TAU, pair.sense.omega / TAU, &own);
        let near: Vec<NearMode> = near(&neighbours, (d, s), &guards)
            .into_iter()
            .map(|near| {
                let flexures = self.flexures_of(near.mode);
                NearMode { remedy: self.remedy(&near, &guards[near.guard].follows, &flexures), near, flexures }
            })
            .collect();
        let touches = self.touches(terms);
        let full_scale = operation.full_scale_deg_per_s.zip(coriolis).and_then(|(deg, coriolis)| {
            let all: Vec<Oscillator> = (0..self.list.len()).map(|i| self.oscillator(i)).collect();
            let axis = [0, 1, 2].map(|k| if k == self.axis { 1.0 } else { 0.0 });
            linearity(coriolis, &all, (d, s), axis, deg.to_radians()).ok().flatten().map(|found| (deg, found))
        });
        let mut work = Work {
            modes: self.modes,
            cross_axis: coriolis.map_or([0.0; 3], |c| cross_axis(c, (d, s), self.axis)),
            split,
            as_made,
            scale_af: pair
                .response()
                .zip(self.electrode_reading(s))
                .map(|(q, reading)| (q * reading.abs()).to_radians() * 1e18),
            drive_volts: pair.amplitude.and_then(|q| self.drive_volts(q)),
            drive_amplitude: operation.drive_amplitude_um.zip(amplitude).map(|(um, (_, place))| (um, place)),
            scale_pm,
            bandwidth: pair.bandwidth(),
            linearity: full_scale,
            noise,
            walk_as_made,
            quadrature,
            in_phase,
            loads: [d, s].map(|i| at_anchors(self.mode(i), self.middle_m())),
            drive_load_as_made: self.drive_load_as_made(),
            vibration: vibration(0.0),
            vibration_as_made: imperfections.electrode_mismatch.and_then(vibration),
            nearest: nearest(&neighbours, (d, s), &guards),
            combinations: combinations(&neighbours, (d, s)),
            guards,
            neighbours,
            near,
            touches,
            free_travel: self.free_travel(),
            stress: self.stress(None),
            stress_as_made: terms.and_then(|terms| self.stress(Some(terms))),
            biases: Vec::new(),
            verdicts: Vec::new(),
            pair,
        };
        work.biases = self.biases(&work);
        work
    }

    /// Middle of the layout, m.
    fn middle_m(&self) -> [f64; 2] {
        let corners = self.outline.parts.iter().flat_map(|p| &p.polygon.outer);
        let [low, high] = bounds(corners).unwrap_or_default();
        [0, 1].map(|k| 0.5e-6 * (low[k] + high[k]))
    }

    fn quadrature(&self, pair: &WorkingPair, sense_reading: f64) -> Quadrature {
        let (d, s) = self.modes;
        let (of_drive, of_sense) = match self.electrode_reading(d).zip(self.electrode_reading(s)) {
            Some((drive, sense)) if sense != 0.0 => (drive, sense),
            _ => (self.sense_reading(d, 0.0), sense_reading),
        };
        let residue = coupling_from_readings(pair, of_drive, of_sense);
        let imperfections = &self.device.imperfections;
        let (mesh, sampled, law) = (self.mesh, &self.solved.sampled, (&self.device.law, self.device.thickness_um));
        let leaning = imperfections
            .sidewall_tilt_deg
            .map(|degrees| lean(mesh, sampled, &self.outline.flexures, law, degrees.to_radians(), (d, s)));
        let width = self.wider_right().map(|forms| quadrature(pair, forms.at(d, s, pair.drive.omega.powi(2))).abs());
        Quadrature {
            drawn: quadrature(pair, residue).abs(),
            lean: leaning.map(|l| quadrature(pair, l.coupling).abs()),
            lean_counted: leaning.map_or(0.0, |l| l.counted),
            width,
        }
    }

    /// What the stated difference of width does to the modes: half of it wider on the right, half narrower on the left.
    fn wider_right(&self) -> Option<Forms> {
        let um = self.device.imperfections.left_right_width_um?;
        let middle = self.middle_m()[0] * 1e6;
        let mut sum: Option<Forms> = None;
        for (flexure, terms) in self.outline.flexures.iter().zip(&self.solved.flexure_terms) {
            let x = flexure.centre_line.iter().map(|p| p[0]).sum::<f64>() / flexure.centre_line.len() as f64;
            let mut own = terms.widened();
            own *= if x > middle { 0.5 * um } else { -0.5 * um };
            match &mut sum {
                Some(sum) => *sum += &own,
                None => sum = Some(own),
            }
        }
        sum
    }

    /// What the drive leaves at the anchors with the stated difference of width.
    fn drive_load_as_made(&self) -> Option<AnchorLoad> {
        let (d, _) = self.modes;
        let change = changed_participation(self.list, &self.wider_right()?, d);
        let drawn = self.mode(d).participation;
        let made = [0, 1, 2, 3, 4, 5].map(|k| drawn[k] + change[k]);
        Some(with_participation(self.mode(d), &made, self.middle_m()))
    }

    fn neighbours(&self, spread: Option<&Spread>, sense_reading: f64) -> Vec<Neighbour> {
        let (d, _) = self.modes;
        let moving = self.solved.moving_mass_kg;
        let drive_reading = reading(&self.mode(d).masses, self.drive, 0.0);
        (0..self.list.len())
            .map(|i| {
                let mode = self.mode(i);
                let terms = self.solved.terms.as_ref().zip(spread);
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

    /// The flexures that hold most of a mode's strain energy, the most strained first.
    fn flexures_of(&self, mode: usize) -> Vec<(usize, f64)> {
        let shares = &self.mode(mode).flexure_strain_share;
        let most = shares.iter().copied().fold(0.0, f64::max);
        let mut named: Vec<(usize, f64)> =
            shares.iter().copied().enumerate().filter(|(_, s)| *s > 0.01 && *s >= NAMED * most).collect();
        named.sort_by(|a, b| b.1.total_cmp(&a.1).then(a.0.cmp(&b.0)));
        named
    }

    fn remedy(&self, near: &Near, follows: &[f64; 2], flexures: &[(usize, f64)]) -> Option<Remedy> {
        if self.solved.flexure_terms.is_empty() || flexures.is_empty() {
            return None;
        }
        let hz = |mode: usize| -> f64 {
            let frequency = self.mode(mode).frequency_hz;
            flexures.iter().map(|&(f, _)| self.solved.flexure_terms[f].widened().hz(mode, frequency)).sum()
        };
        let [drive, sense] = [self.modes.0, self.modes.1].map(hz);
        Some(Remedy {
            mode_hz_per_um: hz(near.mode),
            guard_hz_per_um: follows[0] * drive + follows[1] * sense,
            split_hz_per_um: sense - drive,
        })
    }
}

fn is_elastic(name: &str) -> bool {
    !name.starts_with("density") && !name.starts_with("poisson")
}
