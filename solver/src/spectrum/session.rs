//! One run of the solver: its factors, its iteration, its clock.
//!
//! In: an analysed problem. Out: converged Ritz pairs around a shift. Everything that is reported is kept here.

use super::count::{PIVOT_RATIO, Purpose, STABLE, ShiftReport, backward_error, factor_and_count};
use super::error::SpectrumError;
use super::factor::{Analysis, Factor, Factorisation};
use super::lanczos::{Lanczos, Ritz};
use super::pencil::Lower;
use super::wanted::{Options, Timings};
use std::time::Instant;

/// What the solver is doing, for whoever waits.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum Progress {
    /// The order and the pattern of the factor are known.
    Analysed {
        /// Unknowns.
        unknowns: usize,
        /// Entries of one factor, eight bytes each.
        factor_entries: usize,
    },
    /// All parts are analysed; their searches run side by side.
    Planned {
        /// Bytes that they need together.
        bytes: usize,
    },
    /// K − shift·M was factored.
    Factored {
        /// The shift, in λ.
        shift: f64,
        /// Eigenvalues below it.
        negatives: usize,
    },
    /// The iteration goes on.
    Iterating {
        /// Which of the parts that are searched together, from 0.
        part: usize,
        /// Solves with a block of vectors so far.
        solves: usize,
        /// Modes converged.
        converged: usize,
        /// Modes needed.
        wanted: usize,
    },
}

/// When the iteration may stop.
#[derive(Clone, Copy, Debug)]
pub(super) enum Goal {
    /// This many nearest to the shift, and the next one well enough to place a count before it.
    Nearest(usize),
    /// All up to a distance from the shift but no more than so many, and the next one well enough to place a count before it.
    Within {
        /// The distance.
        distance: f64,
        /// How many at the most.
        most: usize,
    },
    /// All of a band, of which so many were counted.
    Band {
        /// Lower end.
        low: f64,
        /// Upper end.
        high: f64,
        /// Eigenvalues counted between the ends.
        expected: usize,
    },
}

/// A set of Ritz pairs that meets a goal.
pub(super) struct Found {
    /// Places in the Ritz list.
    pub(super) places: Vec<usize>,
    /// Distance from the shift within which nothing else was seen; infinite if all eigenvalues are known.
    pub(super) reach: f64,
    pub(super) ritz: Ritz,
}

pub(super) struct Session<'a> {
    pub(super) analysis: &'a Analysis,
    pub(super) options: &'a Options,
    /// Which of the parts that are searched together.
    pub(super) part: usize,
    pub(super) progress: &'a (dyn Fn(Progress) + Sync),
    pub(super) shifts: Vec<ShiftReport>,
    pub(super) timings: Timings,
}

/// Ritz values closer to each other than this (relative) are one multiple when a set is cut off.
pub(super) const MULTIPLE: f64 = 1e-9;
/// Residual at which the first mode beyond the wanted ones shows where the gap is.
const GAP_RESIDUAL: f64 = 1e-4;

impl<'a> Session<'a> {
    /// A factor for the lowest modes: Cholesky of K, or of K + s·M if K is singular (a free body).
    pub(super) fn lowest_factor(&mut self) -> Result<Factor<'a>, SpectrumError> {
        let started = Instant::now();
        let guess = self.guess();
        let mut usable = None;
        for shift in [0.0, -guess, -1e2 * guess, -1e4 * guess] {
            let Some(factor) = self.analysis.factor(shift, Factorisation::Definite)? else { continue };
            let sound = factor.pivots.ratio >= PIVOT_RATIO || shift != 0.0;
            if sound && backward_error(self.analysis, &factor)? < STABLE {
                usable = Some(factor);
                break;
            }
        }
        let Some(factor) = usable else {
            let (_, report) = factor_and_count(self.analysis, -guess, guess, f64::INFINITY, Purpose::Count)?;
            self.shifts.push(report);
            return Err(if report.negatives > 0 {
                SpectrumError::Indefinite { negatives: report.negatives }
            } else {
                SpectrumError::Singular { shift: 0.0 }
            });
        };
        let report = ShiftReport {
            requested: 0.0,
            used: factor.shift,
            negatives: 0,
            pivot_ratio: factor.pivots.ratio,
            purpose: Purpose::Iteration,
        };
        self.note(report, started);
        Ok(factor)
    }

    /// A λ of the order of the first elastic modes.
    fn guess(&self) -> f64 {
        let pencil = &self.analysis.pencil;
        let trace = |a: &Lower| (0..a.len()).map(|j| a.values[a.column(j).start].abs()).sum::<f64>();
        let guess = self.options.scale_hint.unwrap_or(1e-10 * trace(&pencil.k) / trace(&pencil.m));
        if guess > 0.0 { guess } else { 1.0 }
    }

    /// A factor to find the modes around a place with: at rest, where a free body is singular, as near to it as a share of the
    /// first modes says.
    pub(super) fn iteration_factor(&mut self, lambda: f64) -> Result<Factor<'a>, SpectrumError> {
        let started = Instant::now();
        let scale = lambda.abs().max(self.guess());
        let (factor, report) = factor_and_count(self.analysis, lambda, scale, f64::INFINITY, Purpose::Iteration)?;
        self.note(report, started);
        Ok(factor)
    }

    /// A counting factor near a shift. `room` is how far it may be moved upward, or downward if negative.
    pub(super) fn counting_factor(
        &mut self,
        shift: f64,
        room: f64,
        purpose: Purpose,
    ) -> Result<(Factor<'a>, ShiftReport), SpectrumError> {
        let started = Instant::now();
        let (factor, report) = factor_and_count(self.analysis, shift, shift.abs().copysign(room), room.abs(), purpose)?;
        self.note(report, started);
        Ok((factor, report))
    }

    /// The same factor again, after it was dropped to make room for a count.
    pub(super) fn again(&mut self, shift: f64, kind: Factorisation) -> Result<Factor<'a>, SpectrumError> {
        let started = Instant::now();
        let factor = self.analysis.factor(shift, kind)?.ok_or(SpectrumError::Singular { shift })?;
        self.timings.factorization += started.elapsed().as_secs_f64();
        self.timings.factors += 1;
        Ok(factor)
    }

    fn note(&mut self, report: ShiftReport, started: Instant) {
        self.timings.factorization += started.elapsed().as_secs_f64();
        self.timings.factors += 1;
        self.shifts.push(report);
        (self.progress)(Progress::Factored { shift: report.used, negatives: report.negatives });
    }

    /// Starts an iteration that can hold `need` modes.
    pub(super) fn start(&mut self, factor: &Factor<'_>, need: usize) -> Result<Lanczos<'a>, SpectrumError> {
        let block = self.options.block.max(1);
        let need = need.min(self.analysis.pencil.len());
        Lanczos::new(&self.analysis.pencil, factor, block, need)
    }

    /// Iterates until the goal is met.
    pub(super) fn iterate(
        &mut self,
        lanczos: &mut Lanczos<'a>,
        factor: &Factor<'_>,
        goal: Goal,
    ) -> Result<Found, SpectrumError> {
        let wanted = match goal {
            Goal::Nearest(count) => count,
            Goal::Within { most, .. } => most,
            Goal::Band { expected, .. } => expected,
        };
        let allowed = lanczos.solves + 40 + 20 * wanted;
        loop {
            if !lanczos.exhausted() {
                lanczos.expand(factor)?;
            }
            let ritz = lanczos.ritz()?;
            let exact = lanczos.exhausted();
            let tolerance = if exact { f64::INFINITY } else { self.options.tolerance };
            let converged =
                ritz.theta.iter().zip(&ritz.residual).take_while(|(t, r)| **r <= tolerance * t.abs()).count();
            (self.progress)(Progress::Iterating { part: self.part, solves: lanczos.solves, converged, wanted });
            let found = match goal {
                Goal::Nearest(count) => nearest(&ritz, converged, count, exact),
                Goal::Within { distance, most } => {
                    let inside = ritz.theta.iter().take_while(|t| 1.0 / t.abs() <= distance).count();
                    nearest(&ritz, converged, inside.clamp(1, most), exact)
                }
                Goal::Band { low, high, expected } => {
                    band(&ritz, converged, tolerance, factor.shift, [low, high], expected, exact)
                }
            };
            if let Some((places, reach)) = found {
                return Ok(Found { places, reach, ritz });
            }
            if lanczos.solves > allowed || exact {
                return Err(SpectrumError::NotConverged { converged, wanted, solves: lanczos.solves });
            }
            lanczos.want_more(converged + 1);
        }
    }
}

/// The first `count` Ritz pairs and what belongs to the same multiple as the last, once the next one is known.
fn nearest(ritz: &Ritz, converged: usize, count: usize, exact: bool) -> Option<(Vec<usize>, f64)> {
    if converged < count {
        return None;
    }
    let distance = |i: usize| 1.0 / ritz.theta[i].abs();
    let mut size = count;
    loop {
        if size >= ritz.theta.len() {
            return exact.then(|| ((0..ritz.theta.len()).collect(), f64::INFINITY));
        }
        if distance(size) - distance(size - 1) > MULTIPLE * distance(size) {
            let known = exact || ritz.residual[size] <= GAP_RESIDUAL * ritz.theta[size].abs();
            return known.then(|| ((0..size).collect(), distance(size)));
        }
        if size >= converged {
            return None;
        }
        size += 1;
    }
}

/// The converged Ritz pairs inside a band, once they are as many as were counted or the band is exhausted.
fn band(
    ritz: &Ritz,
    converged: usize,
    tolerance: f64,
    shift: f64,
    [low, high]: [f64; 2],
    expected: usize,
    exact: bool,
) -> Option<(Vec<usize>, f64)> {
    let inside = |i: usize| {
        let lambda = shift + 1.0 / ritz.theta[i];
        lambda >= low && lambda <= high
    };
    let places: Vec<usize> =
        (0..ritz.theta.len()).filter(|&i| inside(i) && ritz.residual[i] <= tolerance * ritz.theta[i].abs()).collect();
    let far = [low, high].into_iter().filter(|e| e.is_finite()).map(|e| (e - shift).abs()).fold(0.0, f64::max);
    let reach = if converged > 0 { 1.0 / ritz.theta[converged - 1].abs() } else { 0.0 };
    (places.len() >= expected || reach > far || exact).then_some((places, reach))
}
