//! The driver: from what is wanted to a verified spectrum.
//!
//! In: a problem, what is wanted of it (in λ = ω²). Out: λ, M-orthonormal vectors in the caller's unknowns, errors, the
//! count that verifies the set, and what it cost.

use super::canonical::{Modes, fix_basis, rayleigh_ritz, refine};
use super::count::{Purpose, ShiftReport};
use super::covered::Covered;
use super::error::SpectrumError;
use super::factor::{Analysis, Factor, Kind};
use super::memory;
use super::pencil::Pencil;
use super::problem::Problem;
use super::search::{ROUNDS, together};
use super::session::{Goal, Progress, Session};
use super::window::Nearest;
use faer::Mat;
use std::time::Instant;

/// Which modes are wanted. All limits are in λ = ω².
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum Wanted {
    /// The `count` lowest; more if the last one belongs to a multiple, which is never cut.
    Lowest {
        /// How many.
        count: usize,
    },
    /// The `count` nearest to `lambda` in frequency, √λ; more if the last one belongs to a multiple.
    Near {
        /// Where.
        lambda: f64,
        /// How many.
        count: usize,
    },
    /// All with low ≤ λ ≤ high. A `low` of zero or less means from the lowest mode on.
    Band {
        /// Lower end.
        low: f64,
        /// Upper end.
        high: f64,
    },
}

impl Wanted {
    /// Modes that memory is counted for in one of so many parts.
    pub(super) fn count_in(self, parts: usize, guessed: usize) -> usize {
        match self {
            Self::Lowest { count } if parts > 1 => (3 * count).div_ceil(2 * parts) + 1,
            Self::Lowest { count } | Self::Near { count, .. } => count,
            Self::Band { .. } => guessed.div_ceil(parts.max(1)),
        }
    }
}

/// How to go about it.
#[derive(Clone, Debug, PartialEq)]
pub struct Options {
    /// A λ of the order of the first elastic modes, used to shift a free body's K. `None`: estimated.
    pub scale_hint: Option<f64>,
    /// Vectors in a block.
    pub block: usize,
    /// Residual of the shifted and inverted problem at which a Ritz pair counts as converged, relative to θ. One more
    /// step of inverse iteration follows.
    pub tolerance: f64,
}

impl Default for Options {
    fn default() -> Self {
        Self { scale_hint: None, block: 4, tolerance: 1e-12 }
    }
}

/// What the run cost, seconds of wall clock.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub struct Timings {
    /// Ordering and symbolic analysis.
    pub ordering: f64,
    /// All numeric factorizations.
    pub factorization: f64,
    /// Iteration, refinement and output.
    pub eigen: f64,
    /// Numeric factorizations.
    pub factors: usize,
    /// Solves with one block of vectors.
    pub solves: usize,
    /// Restarts of the iteration.
    pub restarts: usize,
}

/// Eigenvalues and eigenvectors, ascending.
#[derive(Clone, Debug, PartialEq)]
pub struct Spectrum {
    /// λ = ω².
    pub lambda: Vec<f64>,
    /// φᵀMφ = 1, in the caller's unknowns. Sign and basis: see [`solve`].
    pub vectors: Vec<Vec<f64>>,
    /// ‖Kφ − λMφ‖ / ((‖K‖₁ + |λ|‖M‖₁)‖φ‖) in the caller's unknowns.
    pub backward_error: Vec<f64>,
    /// Uncertainty of each λ from rounding: ε (‖K‖₁ + |λ|‖M‖₁) ‖φ‖² in scaled unknowns. An upper bound by nature; λ
    /// itself means nothing below it (a rigid motion has |λ| of this size).
    pub lambda_floor: Vec<f64>,
    /// Where these are all eigenvalues that there are, and what shows it.
    pub covered: Covered,
    /// Every factorization and what was counted from it.
    pub shifts: Vec<ShiftReport>,
    /// Entries of one factor, eight bytes each.
    pub factor_entries: usize,
    /// What it cost.
    pub timings: Timings,
}

/// Backward error of the scaled pencil above which a mode is refused.
const UNSOUND: f64 = 1e-10;

/// A problem in the order of its factor, with the factor's pattern: what is needed to say how large the rest will be.
pub struct Analysed {
    problem: Problem,
    analysis: Analysis,
    ordering: f64,
}

impl Analysed {
    /// Orders the unknowns and finds the pattern of the factor.
    ///
    /// # Errors
    /// An order or a pattern that cannot be found.
    pub fn new(mut problem: Problem) -> Result<Self, SpectrumError> {
        let started = Instant::now();
        let analysis = Analysis::new(&problem)?;
        // The analysis keeps its own copy in the factor's order; two would be the largest arrays of the run.
        problem.pencil = Pencil::default();
        Ok(Self { problem, analysis, ordering: started.elapsed().as_secs_f64() })
    }

    /// Bytes that the problem and the search for the wanted modes need at the most; where nobody says how many modes, as for
    /// [`Wanted::Band`], room for `guessed` is counted. Of the lowest modes of one problem in `parts` parts each takes its share,
    /// and half as much again.
    pub fn bytes(&self, wanted: Wanted, options: &Options, guessed: usize, parts: usize) -> usize {
        memory::bytes(&self.analysis, options.block.max(1), wanted.count_in(parts, guessed))
    }

    /// Finds the wanted modes, as [`solve`] does.
    ///
    /// # Errors
    /// Those of [`solve`].
    pub fn solve(
        &self,
        wanted: Wanted,
        options: &Options,
        progress: &(dyn Fn(Progress) + Sync),
    ) -> Result<Spectrum, SpectrumError> {
        check(wanted)?;
        let near = match wanted {
            Wanted::Lowest { count } => Nearest { to: None, count },
            Wanted::Near { lambda, count } => Nearest { to: Some(lambda), count },
            Wanted::Band { low, high } => {
                let clock = Instant::now();
                let mut session = self.session(0, options, progress);
                let (mut modes, covered) = band(&mut session, low, high)?;
                check_residuals(&session, &modes)?;
                fix_basis(&mut modes, &self.analysis.order.forward);
                return Ok(self.conclude(&modes, covered, session, clock.elapsed().as_secs_f64()));
            }
        };
        let found = together(std::slice::from_ref(self), near, std::slice::from_ref(options), progress)?;
        found.into_iter().next().ok_or(SpectrumError::Wanted { reason: "no problem to solve" })
    }

    pub(super) fn session<'a>(
        &'a self,
        part: usize,
        options: &'a Options,
        progress: &'a (dyn Fn(Progress) + Sync),
    ) -> Session<'a> {
        let (unknowns, factor_entries) = (self.problem.unknowns(), self.analysis.factor_entries());
        progress(Progress::Analysed { unknowns, factor_entries });
        let timings = Timings { ordering: self.ordering, ..Timings::default() };
        Session { analysis: &self.analysis, options, part, progress, shifts: Vec::new(), timings }
    }

    /// The answer in the caller's unknowns; `seconds` are those of factorizations and iteration together.
    pub(super) fn conclude(&self, modes: &Modes, covered: Covered, session: Session<'_>, seconds: f64) -> Spectrum {
        let clock = Instant::now();
        let (shifts, mut timings) = (session.shifts, session.timings);
        let (vectors, backward_error) = in_callers_unknowns(&self.problem, &self.analysis, modes);
        timings.eigen = seconds + clock.elapsed().as_secs_f64() - timings.factorization;
        Spectrum {
            lambda: modes.lambda.clone(),
            vectors,
            backward_error,
            lambda_floor: modes.floor.clone(),
            covered,
            shifts,
            factor_entries: self.analysis.factor_entries(),
            timings,
        }
    }
}

/// Finds the wanted modes.
///
/// The result does not depend on threads or on chance: signs are such that Σ gᵢφᵢ > 0 with fixed pseudo-random numbers gᵢ
/// over the scaled unknowns, and inside an exact multiple (neighbours closer than 1e-12 or the round-off floor) the basis is
/// the Gram–Schmidt of the projections of such vectors g₁, g₂, ….
///
/// # Errors
/// See [`SpectrumError`]; in particular [`SpectrumError::Incomplete`] if modes counted are not found, and
/// [`SpectrumError::Indefinite`] if K has negative eigenvalues.
pub fn solve(
    problem: Problem,
    wanted: Wanted,
    options: &Options,
    progress: &(dyn Fn(Progress) + Sync),
) -> Result<Spectrum, SpectrumError> {
    check(wanted)?;
    Analysed::new(problem)?.solve(wanted, options, progress)
}

fn check(wanted: Wanted) -> Result<(), SpectrumError> {
    let reason = match wanted {
        Wanted::Lowest { count } => return Nearest { to: None, count }.check(),
        Wanted::Near { lambda, count } => return Nearest { to: Some(lambda), count }.check(),
        Wanted::Band { low, high } if !(low.is_finite() && high.is_finite()) => "an end of the band is not finite",
        Wanted::Band { low, high } if low >= high => "the band's lower end is not below its upper end",
        Wanted::Band { .. } => return Ok(()),
    };
    Err(SpectrumError::Wanted { reason })
}

/// A residual far above rounding means that M is no inner product, or that the iteration was misled.
pub(super) fn check_residuals(session: &Session<'_>, modes: &Modes) -> Result<(), SpectrumError> {
    let (k, m) = session.analysis.norms;
    let sound = |j: usize| {
        let norm = (k + modes.lambda[j].abs() * m) * modes.vectors.col(j).norm_l2();
        modes.residual.col(j).norm_l2() <= UNSOUND * norm
    };
    let (wanted, converged) = (modes.lambda.len(), (0..modes.lambda.len()).filter(|&j| sound(j)).count());
    if converged == wanted {
        return Ok(());
    }
    match session.analysis.mass_is_positive()? {
        false => Err(SpectrumError::MassNotPositive),
        true => Err(SpectrumError::NotConverged { converged, wanted, solves: session.timings.solves }),
    }
}

/// K may have no eigenvalue below zero by more than rounding.
pub(super) fn no_negatives(modes: &Modes) -> Result<(), SpectrumError> {
    let negatives = modes.lambda.iter().zip(&modes.floor).filter(|(l, f)| **l < -100.0 * **f).count();
    if negatives > 0 { Err(SpectrumError::Indefinite { negatives }) } else { Ok(()) }
}

/// All modes of a band, verified by counts at both ends.
fn band(session: &mut Session<'_>, low: f64, high: f64) -> Result<(Modes, Covered), SpectrumError> {
    let n = session.analysis.pencil.len();
    let room = 0.25 * (high - low);
    let above = session.counting_factor(high, room, Purpose::End)?.1;
    let (factor, kind, below): (Factor<'_>, Kind, Option<ShiftReport>) = if low <= 0.0 {
        (session.lowest_factor()?, Kind::Definite, None)
    } else {
        let below = session.counting_factor(low, -room, Purpose::End)?.1;
        let factor = session.counting_factor(0.5 * (low + high), room, Purpose::Iteration)?.0;
        (factor, Kind::Indefinite, Some(below))
    };
    let bottom = below.map_or(f64::NEG_INFINITY, |b| b.used);
    let expected = above.negatives.saturating_sub(below.map_or(0, |b| b.negatives));
    if expected == 0 {
        let none = rayleigh_ritz(session.analysis, Mat::zeros(n, 0))?;
        return Ok(between(none, Covered::counted(below, above, 0)?, low, high));
    }
    let most = memory::most_modes(n);
    if expected > most {
        return Err(SpectrumError::TooMany { asked: expected, unknowns: n, most });
    }
    let mut lanczos = session.start(&factor, expected + 1)?;
    let goal = Goal::Band { low: bottom, high: above.used, expected };
    let mut found = session.iterate(&mut lanczos, &factor, goal)?;
    for _ in 0..ROUNDS {
        if found.places.len() >= expected {
            break;
        }
        lanczos.add_random(&factor)?;
        found = session.iterate(&mut lanczos, &factor, goal)?;
    }
    let covered = Covered::counted(below, above, found.places.len())?;
    let modes = refine(session.analysis, &factor, lanczos.vectors(&found.ritz, &found.places))?;
    session.timings.solves = lanczos.solves;
    session.timings.restarts = lanczos.restarts;
    if kind == Kind::Definite {
        no_negatives(&modes)?;
    }
    Ok(between(modes, covered, low, high))
}

/// Leaves out what was found between an end of the band and the place its shift was moved to. An eigenvalue on the end
/// itself, up to rounding, belongs to the band.
fn between(modes: Modes, covered: Covered, low: f64, high: f64) -> (Modes, Covered) {
    let inside = |i: &usize| {
        let (lambda, slack) = (modes.lambda[*i], modes.floor[*i].max(1e-12 * modes.lambda[*i].abs()));
        (low <= 0.0 || lambda >= low - slack) && lambda <= high + slack
    };
    let kept: Vec<usize> = (0..modes.lambda.len()).filter(inside).collect();
    let pick = |a: &Mat<f64>| Mat::from_fn(a.nrows(), kept.len(), |i, j| a[(i, kept[j])]);
    let lambda: Vec<f64> = kept.iter().map(|&i| modes.lambda[i]).collect();
    let first = lambda.first().map_or(low, |l| l.min(low));
    let covered =
        covered.within(if low <= 0.0 { f64::NEG_INFINITY } else { first }, lambda.last().map_or(high, |l| l.max(high)));
    let modes = Modes {
        vectors: pick(&modes.vectors),
        residual: pick(&modes.residual),
        lambda,
        floor: kept.iter().map(|&i| modes.floor[i]).collect(),
    };
    (modes, covered)
}

/// Undoes order and scaling; errors as defined in the caller's units.
fn in_callers_unknowns(problem: &Problem, analysis: &Analysis, modes: &Modes) -> (Vec<Vec<f64>>, Vec<f64>) {
    let n = problem.unknowns();
    let (mut vectors, mut errors) = (Vec::new(), Vec::new());
    for (j, lambda) in modes.lambda.iter().enumerate() {
        let mut vector = vec![0.0; n];
        let (mut residual, mut size) = (Norm::default(), Norm::default());
        for (new, &old) in analysis.order.forward.iter().enumerate() {
            let scale = problem.scale[old as usize];
            vector[old as usize] = modes.vectors[(new, j)] * scale;
            residual.add(modes.residual[(new, j)] / scale);
            size.add(vector[old as usize]);
        }
        errors.push(residual.ratio(&size) / (problem.k_norm + lambda.abs() * problem.m_norm));
        vectors.push(vector);
    }
    (vectors, errors)
}

/// Euclidean norm of numbers that come one by one, without overflow: scale · √sum.
#[derive(Default)]
struct Norm {
    scale: f64,
    sum: f64,
}

impl Norm {
    fn add(&mut self, value: f64) {
        let value = value.abs();
        if value > self.scale {
            self.sum = 1.0 + self.sum * (self.scale / value).powi(2);
            self.scale = value;
        } else if value > 0.0 {
            self.sum += (value / self.scale).powi(2);
        }
    }

    fn ratio(&self, other: &Norm) -> f64 {
        if self.scale == 0.0 { 0.0 } else { self.scale / other.scale * (self.sum / other.sum).sqrt() }
    }
}
