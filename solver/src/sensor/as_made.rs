//! The pair as made: what the stated imperfections change between the modes drawn, the modes that this makes, and which of them are
//! drive and sense then. In: what is stated, what was solved, a pair at work as drawn. Out: the pair as made, or why it is not known.

use super::electrode::ElectrodeFound;
use super::flaws::{DRAWN, ROUNDING, Scale};
use super::report::{Made, Quadrature, Work};
use super::weighing::{Weighing, is_elastic};
use crate::electrode::Reading;
use crate::model::SolvedSystem;
use crate::process::{ModalSensitivity, ProcessTerms, Range, Spread};
use crate::rate::as_made::{self, made};
use crate::rate::balance::at_anchors;
use crate::rate::errors::{InPhase, coupling_from_readings, quadrature, through_phase};
use crate::rate::left_out::{Changed, bound, of_all_modes};
use crate::rate::pairing::{Match, pair};
use crate::rate::requirements::Because;
use modalith_mesher::outline::Flexure;
use nalgebra::DMatrix;
use rayon::prelude::*;
use std::collections::BTreeMap;
use std::f64::consts::TAU;

/// Shares of a mode drawn below this are not worth a word.
const NAMED: f64 = 0.01;
/// A coupling below this share of the distance that two modes can move is rounding: they cross without knowing of each other.
const CROSSED: f64 = 1e-6;
/// A coupling by the process's spread over the distance of two modes that turns them into each other by more than this, rad.
const TURNED: f64 = 0.1;

impl Weighing<'_> {
    /// Fills in what is made, beside what is drawn.
    pub(super) fn with_made(&self, work: &mut Work) {
        let together = self.flaws.together(DRAWN);
        let states: Vec<Result<Made, Because>> = together.iter().map(|change| self.made(change, true)).collect();
        work.made_missing = self.flaws.missing().to_vec();
        match states.into_iter().collect::<Result<Vec<Made>, Because>>() {
            Ok(made) if made.is_empty() => match self.spread_made(None) {
                Ok(states) => {
                    self.reach(work, &states);
                    work.spread_drawn = states;
                }
                Err(because) => work.made_missing.push(because),
            },
            Ok(mut made) => {
                let spread: Result<Vec<_>, Because> =
                    (0..together.len()).map(|which| self.spread_made(Some(which))).collect();
                match spread {
                    Ok(spread) => {
                        for ((one, change), states) in made.iter_mut().zip(&together).zip(&spread) {
                            let reached = self
                                .modes_made(change)
                                .and_then(|modes| self.among(&modes, |own, _| own.reach(&mut one.work, states)));
                            reached.unwrap_or_else(|because| work.made_missing.push(because));
                        }
                        work.spread_made = spread;
                    }
                    Err(because) => work.made_missing.push(because),
                }
                let all = |of: &dyn Fn(&Made) -> Option<Range>| joined(made.iter().map(of));
                work.split = all(&|m| m.work.split);
                let ends = [0, 1].map(|k| all(&|m| m.work.frequencies.map(|f| f[k])));
                work.frequencies = ends[0].zip(ends[1]).map(|(a, b)| [a, b]);
                work.made = made;
            }
            Err(because) => work.made_missing.push(because),
        }
        if !work.made_missing.is_empty() {
            // Ranges without an imperfection that is stated are none as made.
            (work.split, work.frequencies, work.walk_of_frequencies) = (None, None, None);
        }
        work.quadrature = self.quadratures(work.quadrature.drawn);
        let leak = work.made.iter().map(|m| m.work.drive_leak).reduce(|a, b| Some(a?.max(b?)));
        let phase = self.stated.imperfections.phase_error_deg.zip(work.quadrature.as_made());
        // That of shapes without an imperfection that is stated is none as made.
        let leak = leak.unwrap_or(work.drive_leak).filter(|_| work.made_missing.is_empty());
        work.in_phase = InPhase::of(leak, phase.map(|(degrees, rate)| through_phase(rate, degrees.to_radians())));
    }

    /// What the imperfections, of all signs the one numbered `which`, none where that is none, make together with every parameter of the
    /// stated spread at three sigma, to either side.
    fn spread_made(&self, which: Option<usize>) -> Result<Vec<[Made; 2]>, Because> {
        let Some((terms, spread)) = self.terms.zip(self.spread()) else { return Ok(Vec::new()) };
        let at = |change: &ModalSensitivity, scale: Scale, sign: f64| {
            let mut sum = change.clone();
            // Mass that all modes gain alike scales inertia, Coriolis and base forces alike: what it leaves is a change of stiffness.
            let gained = 0.5 * (sum.mass[(self.modes.0, self.modes.0)] + sum.mass[(self.modes.1, self.modes.1)]);
            for i in 0..self.list.len() {
                sum.mass[(i, i)] -= gained;
                sum.stiffness[(i, i)] -= gained * self.mode(i).omega().powi(2);
            }
            sum *= sign;
            if let Some(which) = which {
                let Some(mut change) = self.flaws.together(scale).into_iter().nth(which) else {
                    return Err(Because::NotFound(
                        "an imperfection vanishes at three sigma of the stated spread".into(),
                    ));
                };
                change.stiffness *= 1.0 - sign * gained;
                sum += &change;
            }
            let lost = |because: Because| Because::NotFound(format!("at three sigma of the stated spread: {because}"));
            self.made(&sum, false).map_err(lost)
        };
        let moves = |change: &ModalSensitivity| change.stiffness.amax() + change.mass.amax() > 0.0;
        let all = terms.scaled(&spread).into_iter().enumerate().filter(|(_, change)| moves(change));
        let both = |(k, change): (usize, ModalSensitivity)| {
            let scale = |sign: f64| self.scale(terms, &spread, k, sign);
            Ok([at(&change, scale(-1.0), -1.0)?, at(&change, scale(1.0), 1.0)?])
        };
        all.collect::<Vec<_>>().into_par_iter().map(both).collect()
    }

    /// What a parameter of the spread, in the order of [`ProcessTerms::scaled`], at three sigma to one side makes of imperfections:
    /// a flexure of width w and thickness t bends by E w³ t and E w t³, and a lean couples the two by E w t³.
    fn scale(&self, terms: &ProcessTerms, spread: &Spread, parameter: usize, sign: f64) -> Scale {
        let narrowest = self.outline.flexures.iter().map(Flexure::narrowest_um).fold(f64::INFINITY, f64::min);
        match parameter {
            0 => {
                let wider = 1.0 + sign * 2.0 * spread.edge_bias_um / narrowest;
                Scale { width: wider * wider, lean: wider }
            }
            1 => {
                let thicker = (1.0 + sign * spread.thickness_um / self.stated.thickness_um).powi(3);
                Scale { width: thicker, lean: thicker }
            }
            _ => {
                let name = terms.constants.get(parameter - 2).map(|(name, _)| *name).filter(|name| is_elastic(name));
                let percent = spread.constants_percent.iter().filter(|(own, _)| Some(own.as_str()) == name);
                let stiffer = 1.0 + sign * 0.01 * percent.map(|(_, percent)| percent).sum::<f64>();
                Scale { width: stiffer, lean: stiffer }
            }
        }
    }

    /// The modes that a change makes.
    fn modes_made(&self, change: &ModalSensitivity) -> Result<as_made::Made, Because> {
        let none = || Because::NotFound("the stated imperfections take more mass than the modes have".into());
        made(self.list, self.coriolis, change).ok_or_else(none)
    }

    /// Weighs the modes that a change makes, and passes the pair among them on.
    fn among<T>(&self, made: &as_made::Made, then: impl FnOnce(&Weighing, [Match; 2]) -> T) -> Result<T, Because> {
        let lost = |role: &str| Because::NotFound(format!("as made no mode is like the intended {role} motion"));
        let found = pair(&made.modes, self.drive, self.sense);
        let drive = found.drive.ok_or_else(|| lost("drive"))?;
        let sense = found.sense.ok_or_else(|| lost("sense"))?;
        if drive.mode == sense.mode {
            return Err(Because::NotFound("as made drive and sense are one mode".into()));
        }
        let hz: Vec<f64> = made.modes.iter().map(|m| m.frequency_hz).collect();
        let electrodes: Vec<ElectrodeFound> = self.electrodes.iter().map(|e| seen(e, &made.shares)).collect();
        let shares = self.shares.map_or_else(|| made.shares.clone(), |first| first * &made.shares);
        let terms: Option<ProcessTerms> = self.terms.map(|t| t.between(&made.shares, hz));
        let weighing = Weighing {
            electrodes: &electrodes,
            modes: (drive.mode, sense.mode),
            list: &made.modes,
            coriolis: made.coriolis.as_ref(),
            terms: terms.as_ref(),
            shares: Some(&shares),
            ..*self
        };
        Ok(then(&weighing, [drive, sense]))
    }

    /// The pair as one change makes it; under the stated shock too, or without it.
    fn made(&self, change: &ModalSensitivity, shaken: bool) -> Result<Made, Because> {
        let made = self.modes_made(change)?;
        self.among(&made, |own, matches| {
            let of_drawn = |i: usize| -> Vec<(usize, f64)> {
                let y = made.shares.column(i);
                let size: f64 = y.norm_squared();
                let mut all: Vec<(usize, f64)> = y.iter().map(|x| x * x / size).enumerate().collect();
                all.retain(|(_, share)| *share >= NAMED);
                all.sort_by(|a, b| b.1.total_cmp(&a.1).then(a.0.cmp(&b.0)));
                all
            };
            let all_hz = own.list.iter().map(|m| m.frequency_hz).collect();
            Made {
                matches,
                of_drawn: (0..own.list.len()).map(of_drawn).collect(),
                frequency_hz: all_hz,
                drive_load: at_anchors(own.mode(own.modes.0), self.middle_m()),
                turned_by_spread: own.turned_by_spread(),
                work: Box::new(own.work(shaken)),
            }
        })
    }

    /// Quadrature by source, and of all together; rad/s.
    fn quadratures(&self, drawn: f64) -> Quadrature {
        let read = |change: &ModalSensitivity| -> Option<f64> {
            let made = self.modes_made(change).ok()?;
            self.among(&made, |own, _| own.quadrature_read()).ok()
        };
        let all: Option<Vec<f64>> = self.flaws.together(DRAWN).iter().map(read).collect();
        let lean_partly = self.flaws.lean_counted.filter(|c| *c < 1.0 - ROUNDING);
        Quadrature {
            drawn,
            // A part of it is no bound: what is left out can add or cancel.
            lean: self.flaws.leaning().as_ref().filter(|_| lean_partly.is_none()).and_then(read),
            width: self.flaws.width.as_ref().and_then(read),
            together: all.and_then(|all| all.into_iter().reduce(f64::max)),
            left_out: self.left_out(),
            lean_partly,
        }
    }

    /// The most that modes beyond the list add to the quadrature that the imperfections make, rad/s; none where modes below the list are
    /// not known.
    fn left_out(&self) -> Option<f64> {
        let search = &self.solved.search;
        if search.is_all() || !self.flaws.any() {
            return Some(0.0);
        }
        if search.from_hz() > 0.0 {
            return None;
        }
        let next = (TAU * search.to_hz()).powi(2);
        let eigenvalues: Vec<f64> = self.list.iter().map(|m| m.omega().powi(2)).collect();
        let readings: Vec<f64> = (0..self.list.len()).map(|i| self.read(i)).collect();
        let of_all = self.read_of_all_modes();
        let one = |change: &ModalSensitivity| {
            let made = self.modes_made(change).ok()?;
            self.among(&made, |own, _| {
                let (d, s) = own.modes;
                let drive = own.mode(d);
                let y = made.shares.column(d);
                let energies = drive.flexure_strain_share.iter().zip(&self.flaws.relative);
                let eigenvalue = drive.omega().powi(2);
                let changed = Changed {
                    eigenvalue,
                    coupling: (&change.stiffness * y - &change.mass * y * eigenvalue).iter().copied().collect(),
                    relative: energies.map(|(share, by)| share * by * by).sum(),
                };
                let read = bound(&eigenvalues, &changed, &readings, of_all, next)?;
                let pair = own.bare_pair();
                Some(quadrature(&pair, coupling_from_readings(&pair, read, own.read(s))).abs())
            })
            .ok()?
        };
        let all: Option<Vec<f64>> = self.flaws.together(DRAWN).iter().map(one).collect();
        Some(all?.into_iter().fold(0.0, f64::max))
    }

    /// Σ of the squares of what is read of all modes there are, kg⁻¹ as of the masses.
    fn read_of_all_modes(&self) -> f64 {
        let s = self.modes.1;
        let of_masses = of_all_modes(&self.mode(s).masses, self.sense);
        let Some(of_sense) = self.electrode_reading(s).filter(|read| *read != 0.0) else { return of_masses };
        // Where several electrodes see the same triangle they may see it alike.
        let mut seen: BTreeMap<u32, f64> = BTreeMap::new();
        for electrode in self.electrodes.iter().filter(|e| e.role == Some("sense")) {
            let mut own: BTreeMap<u32, f64> = BTreeMap::new();
            electrode.reading.gradient_squares.iter().for_each(|(t, square)| *own.entry(*t).or_default() += square);
            own.into_iter().for_each(|(t, square)| *seen.entry(t).or_default() += square.max(0.0).sqrt());
        }
        let solid = match &self.solved.system {
            SolvedSystem::Structure(structure) => structure.added_mass().least_solid(),
            SolvedSystem::Lumped(_) => 1.0,
        };
        let mass_per_area = self.stated.law.density_kg_m3 * self.stated.thickness_um * 1e-6 * solid;
        let squares: f64 = seen.values().map(|gradient| gradient * gradient).sum();
        squares / mass_per_area * (self.sense_reading(s, 0.0) / of_sense).powi(2)
    }

    /// What the stated imperfections couple two of these modes by, rad²/s².
    fn coupled_by_flaws(&self, i: usize, j: usize, mean: f64) -> f64 {
        let coupling_hz = |change: &ModalSensitivity| match self.shares {
            None => change.at(i, j, mean).abs(),
            Some(shares) => {
                let between = |m: &DMatrix<f64>| (shares.column(i).transpose() * m * shares.column(j))[(0, 0)];
                (between(&change.stiffness) - mean * between(&change.mass)).abs()
            }
        };
        [&self.flaws.width, &self.flaws.lean].into_iter().flatten().map(coupling_hz).sum()
    }

    /// A mode of the pair and another one that the stated spread could turn into each other, so that what is said of the shapes
    /// holds for no single device: its coupling of the two is not small against their distance.
    fn turned_by_spread(&self) -> Option<[usize; 2]> {
        let spread = self.whole_spread()?;
        let terms = self.terms?;
        let square = |i: usize| self.mode(i).omega().powi(2);
        let all = terms.scaled(&spread);
        let size = |of: &dyn Fn(&ModalSensitivity) -> f64| all.iter().map(|f| of(f).powi(2)).sum::<f64>().sqrt();
        let pairs = [self.modes.0, self.modes.1].into_iter().flat_map(|i| (0..self.list.len()).map(move |j| (i, j)));
        let turned = |&(i, j): &(usize, usize)| {
            let mean = 0.5 * (square(i) + square(j));
            let coupling = size(&|f| f.at(i, j, mean));
            let moved = size(&|f| f.at(i, i, mean) - f.at(j, j, mean));
            let apart = (square(i) - square(j)).abs();
            let least = (apart - moved).max(TURNED * moved);
            // A third mode that drive or sense may cross: where they meet, whatever couples them mixes them wholly.
            let third = j != self.modes.0 && j != self.modes.1;
            let crossed = third && moved >= apart && coupling + self.coupled_by_flaws(i, j, mean) > CROSSED * moved;
            i != j && (coupling > TURNED * least || crossed)
        };
        pairs.into_iter().find(turned).map(|(i, j)| [i, j])
    }
}

/// What an electrode sees of combinations of the modes.
fn seen(electrode: &ElectrodeFound, shares: &DMatrix<f64>) -> ElectrodeFound {
    let gradient = nalgebra::DVector::from_column_slice(&electrode.reading.gradient);
    let reading = Reading {
        gradient: shares.tr_mul(&gradient).iter().copied().collect(),
        curvature: shares.tr_mul(&electrode.reading.curvature) * shares,
        ..electrode.reading.clone()
    };
    ElectrodeFound { reading, ..electrode.clone() }
}

/// The range that holds all of some; none where one of them is not known.
fn joined(ranges: impl Iterator<Item = Option<Range>>) -> Option<Range> {
    let all: Option<Vec<Range>> = ranges.collect();
    let all = all?;
    all.into_iter().reduce(Range::and)
}
