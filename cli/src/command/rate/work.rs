//! From modes to what the rate report says of one intended axis. In: device, outline, mesh, solved modes. Out: [`AxisAnswer`]s and
//! the inputs that are missing.

use super::flaws::{Flaws, around};
use super::needs::not_given;
use super::shaken;
use super::weighing::{Weighing, is_elastic};
use crate::device::Device;
use crate::device::electrodes::ElectrodeKind;
use crate::device::intent::Sense;
use crate::device::operation::{Place, ReadoutNoise};
use crate::device::stoppers::Stopper;
use crate::output::findings::ElectrodeFound;
use crate::output::rate::words::figure;
use crate::output::rate::{AxisAnswer, NearMode, Quadrature, Remedy, Work};
use modalith_mesher::mesh::Mesh;
use modalith_mesher::outline::Outline;
use modalith_solver::electrode;
use modalith_solver::mode::{Mode, Target};
use modalith_solver::model::ModalSolution;
use modalith_solver::process::{Range, Spread};
use modalith_solver::rate::Oscillator;
use modalith_solver::rate::answer::{WorkingPair, cross_axis, linearity, modal_amplitude};
use modalith_solver::rate::balance::{FalseRate, OutputFilter, Shaken, at_anchors, false_rate, left_out};
use modalith_solver::rate::comparison::Comparison;
use modalith_solver::rate::errors::{InPhase, coupling_from_readings, drive_leak, quadrature};
use modalith_solver::rate::forbidden::{Forbidden, forbidden};
use modalith_solver::rate::guards::{Near, Neighbour, combinations, guards, near, nearest};
use modalith_solver::rate::noise::{Noise, brownian, readout};
use modalith_solver::rate::pairing::pair;
use modalith_solver::rate::reading::{motion_along, reading};
use modalith_solver::rate::requirements::Because;
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
    solved: &ModalSolution,
    electrodes: &[ElectrodeFound],
    compared: &Result<Comparison, Because>,
) -> (Vec<AxisAnswer>, Vec<String>) {
    let names: Vec<&str> = solved.modes.first().iter().flat_map(|m| &m.masses).map(|m| m.name.as_str()).collect();
    let Some(drive) = &device.intent.drive else { return (Vec::new(), Vec::new()) };
    let drive = drive.of_masses(names.iter().copied());
    let flaws = Flaws::of(device, outline, mesh, solved, outline.middle_um()[0]);
    let fibres = shaken::fibres(device, outline, solved);
    let answer = |sense: &Sense| {
        let pattern = sense.pattern.of_masses(names.iter().copied());
        let found = pair(&solved.modes, &drive, &pattern);
        let numbers = found.drive.as_ref().zip(found.sense.as_ref()).map(|(d, s)| (d.mode, s.mode));
        let work = numbers.filter(|(d, s)| d != s).map(|modes| {
            let (drive, sense, axis) = (&drive, &pattern, sense.rate_axis);
            let (list, coriolis) = (&solved.modes[..], solved.coriolis.as_ref());
            let (flaws, terms, shares) = (&flaws, solved.terms.as_ref(), None);
            let own = Weighing {
                device,
                outline,
                mesh,
                solved,
                electrodes,
                drive,
                sense,
                axis,
                modes,
                list,
                coriolis,
                flaws,
                terms,
                shares,
                fibres: fibres.as_ref(),
            };
            let mut work = own.whole();
            work.verdicts = own.verdicts(&work, &own.errors(&work, compared));
            work
        });
        AxisAnswer { axis: sense.rate_axis, drive: found.drive, sense: found.sense, work }
    };
    (device.intent.sense.iter().map(answer).collect(), not_given(device, solved, electrodes))
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
    pub(super) fn electrode_reading(&self, i: usize) -> Option<f64> {
        let sensing = self.electrodes.iter().filter(|e| e.role == Some("sense"));
        let own: Vec<f64> = sensing.map(|e| e.gradient[self.modes.1].signum() * e.gradient[i]).collect();
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

    /// What the drive motion about the state at rest reaches of stoppers and of what lies ahead of fingertips, in words: then the
    /// amplitude is not what it is stated to be.
    pub(super) fn drive_meets(&self) -> Option<String> {
        let (q, _) = self.amplitude()?;
        let reach = |s: &Stopper| q * self.driven(&s.at, s.axis) + self.rest_towards(s).unwrap_or(0.0);
        let walls = self.device.electrodes.iter().enumerate().filter_map(|(number, e)| {
            let (what, mass, gap_um) = match &e.kind {
                ElectrodeKind::Comb { mass, .. } => {
                    ("what lies ahead of fingertips", mass, self.electrodes.get(number)?.tip_gap_m? * 1e6)
                }
                ElectrodeKind::Side { mass, gap_um, .. } => ("a side plate", mass, *gap_um),
                ElectrodeKind::Plate { .. } => return None,
            };
            let (axis, forwards) = e.kind.way();
            Some((what, Stopper { at: Place::Mass(mass.clone()), axis, forwards, gap_um }))
        });
        let stoppers = self.device.stoppers.iter().cloned().map(|s| ("a stopper", s));
        let (what, met) = stoppers.chain(walls).find(|(_, s)| reach(s) >= s.gap_um * 1e-6)?;
        Some(format!(
            "the drive motion meets {what}: {} µm where the gap is {} µm, so that the amplitude is not reached",
            figure(reach(&met) * 1e6),
            figure(met.gap_um)
        ))
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
    pub(super) fn amplitude(&self) -> Option<(f64, String)> {
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
        let q = modal_amplitude(peak_m, phi, largest)?;
        // A point near an anchor hardly moves: what its amplitude makes of a mass stands beside it.
        let first_um = 1e6 * (q * along(first)).abs();
        let place = match &operation.drive_at {
            Some(Place::Point(_)) => format!("{place}, {} µm at {}", figure(first_um), mode.masses[first].name),
            _ => place,
        };
        Some((q, place))
    }

    /// The sampled point nearest to a place; none without any.
    pub(super) fn sampled_at(&self, p: [f64; 2]) -> Option<usize> {
        let off = |q: &[f64; 2]| (q[0] - p[0]).powi(2) + (q[1] - p[1]).powi(2);
        let points = &self.solved.sampled.points;
        (0..points.len()).min_by(|&a, &b| off(&points[a]).total_cmp(&off(&points[b])))
    }

    /// Shape of a mode at the sampled point nearest to a place, kg^-½.
    fn shape_at(&self, p: [f64; 2], mode: usize) -> [f64; 3] {
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

    pub(super) fn spread(&self) -> Option<Spread> {
        let stated = &self.device.spread_3sigma;
        let terms = self.terms?;
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

    /// The pair as drawn and as made.
    pub(super) fn whole(&self) -> Work {
        let mut work = self.work(true);
        self.with_made(&mut work);
        work.forbidden = forbidden(self.mode(self.modes.0), self.sense, &self.mesh.mirrors, &self.device.law);
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
        let coriolis = self.coriolis;
        let amplitude = self.amplitude();
        let operation = &self.device.operation;
        let pair = WorkingPair { amplitude: amplitude.as_ref().map(|(q, _)| *q), ..self.bare_pair() };
        let sense_reading = self.sense_reading(s, 0.0);
        let scale = |pair: &WorkingPair| pair.response().map(|q| q * sense_reading.abs());
        let scale_pm = scale(&pair).map(|m| m.to_radians() * 1e12);
        let noise_of = |pair: &WorkingPair| Noise {
            brownian: brownian(pair, operation.temperature_k()),
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
        let terms = self.terms.zip(spread.as_ref());
        // Around the frequencies as they are taken here; of what is made even where nothing spreads.
        let known = |range: &Option<Range>| range.is_some() || self.shares.is_some();
        let split = Some(terms.map(|(t, spread)| t.split_range([d, s], spread)))
            .filter(known)
            .map(|range| around(pair.mode_split_hz(), range));
        let frequencies = Some(terms.map(|(t, spread)| [d, s].map(|i| t.range(i, spread))))
            .filter(|ranges| ranges.is_some() || self.shares.is_some())
            .map(|ranges| [0, 1].map(|k| around(self.mode([d, s][k]).frequency_hz, ranges.map(|r| r[k]))));
        let walk_of_frequencies = split.and_then(|range| {
            let walks = [range.low_hz(), range.high_hz()].map(|split_hz| {
                let sense = Oscillator { omega: pair.drive.omega + TAU * split_hz, ..pair.sense };
                Some(noise_of(&WorkingPair { sense, ..pair }).total()?.angle_random_walk_deg_per_rth())
            });
            let drawn = noise.total()?.angle_random_walk_deg_per_rth();
            // Where the split passes through zero noise is least between the ends.
            Some([walks[0]?.min(walks[1]?).min(drawn), walks[0]?.max(walks[1]?)])
        });
        let imperfections = &self.device.imperfections;
        let vibration = |mismatch: f64| -> Option<[FalseRate; 3]> {
            let answer = scale(&pair)?;
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
            let statics = self.solved.statics.as_ref();
            let rest = statics
                .map_or([0.0; 3], |s| left_out(&of_drawn, [0, 1, 2].map(|k| reading(&s[k], self.sense, mismatch))));
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
        let touches = if shaken { self.touches(terms) } else { Vec::new() };
        let stress = if shaken { self.stress(None) } else { None };
        let full_scale = operation.full_scale_deg_per_s.zip(coriolis).and_then(|(deg, coriolis)| {
            let all: Vec<Oscillator> = (0..self.list.len()).map(|i| self.oscillator(i)).collect();
            let axis = [0, 1, 2].map(|k| if k == self.axis { 1.0 } else { 0.0 });
            linearity(coriolis, &all, (d, s), axis, deg.to_radians()).ok().flatten().map(|found| (deg, found))
        });
        Work {
            modes: self.modes,
            cross_axis: coriolis.map_or([0.0; 3], |c| cross_axis(c, (d, s), self.axis)),
            split,
            frequencies,
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
            walk_of_frequencies,
            quadrature: Quadrature { drawn: self.quadrature_read(), ..Quadrature::default() },
            drive_leak: imperfections.drive_force_leak.and_then(|share| drive_leak(&pair, share)),
            in_phase: InPhase::default(),
            loads: [d, s].map(|i| at_anchors(self.mode(i), self.middle_m())),
            vibration: vibration(0.0),
            vibration_mismatched: imperfections.electrode_mismatch.and_then(|m| worse(vibration(m)?, vibration(-m)?)),
            nearest: nearest(&neighbours, (d, s), &guards),
            combinations: combinations(&neighbours, (d, s)),
            guards,
            neighbours,
            near,
            touches,
            free_travel: if shaken { self.free_travel(None) } else { None },
            free_travel_as_made: if shaken { self.free_travel(terms) } else { None },
            shaken_mass: self.shaken_mass(),
            stress,
            stress_as_made: if shaken && terms.is_some() { self.stress(terms) } else { stress },
            made: Vec::new(),
            spread_made: Vec::new(),
            made_missing: Vec::new(),
            forbidden: Forbidden::default(),
            biases: Vec::new(),
            verdicts: Vec::new(),
            pair,
        }
    }

    /// Middle of the layout, m.
    pub(super) fn middle_m(&self) -> [f64; 2] {
        self.outline.middle_um().map(|um| 1e-6 * um)
    }

    /// Quadrature as the readout sees the drive mode, rad/s.
    pub(super) fn quadrature_read(&self) -> f64 {
        let (d, s) = self.modes;
        let pair = self.bare_pair();
        quadrature(&pair, coupling_from_readings(&pair, self.read(d), self.read(s))).abs()
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

    fn neighbours(&self, spread: Option<&Spread>, sense_reading: f64) -> Vec<Neighbour> {
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

/// Of two false rates the worse along every axis: which side is read more strongly is not known.
fn worse(one: [FalseRate; 3], other: [FalseRate; 3]) -> Option<[FalseRate; 3]> {
    let size = |r: &FalseRate| r.worst.unwrap_or(f64::INFINITY);
    Some([0, 1, 2].map(|k| if size(&other[k]) > size(&one[k]) { other[k] } else { one[k] }))
}
