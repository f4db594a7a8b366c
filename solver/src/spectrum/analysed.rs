//! A problem with the pattern of its factor, and its answer in the caller's unknowns.

use super::canonical::Modes;
use super::count::ShiftReport;
use super::covered::Covered;
use super::error::SpectrumError;
use super::factor::Analysis;
use super::memory::Held;
use super::pencil::Pencil;
use super::problem::Problem;
use super::session::{Progress, Session};
use super::wanted::{Options, Timings, Wanted};
use std::time::Instant;

/// Eigenvalues and eigenvectors, ascending.
#[derive(Clone, Debug, PartialEq)]
pub struct Spectrum {
    /// λ = ω², rad²/s².
    pub lambda: Vec<f64>,
    /// φᵀMφ = 1, in the caller's unknowns. Sign and basis: see [`super::solve()`].
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

/// A problem in the order of its factor, with the factor's pattern: what is needed to say how large the rest will be.
pub struct Analysed {
    problem: Problem,
    pub(super) analysis: Analysis,
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

    /// What the problem and the search for the wanted modes hold at the most; where nobody says how many modes, as for
    /// [`Wanted::Band`], room for `guessed` is counted. Of the lowest modes of one problem in `parts` parts each takes its share,
    /// and half as much again.
    pub fn held(&self, wanted: Wanted, options: &Options, guessed: usize, parts: usize) -> Held {
        let pencil = &self.analysis.pencil;
        let entries = (pencil.k.values.len(), self.analysis.factor_entries());
        Held::of(pencil.len(), entries, options.block.max(1), wanted.count_in(parts, guessed))
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
