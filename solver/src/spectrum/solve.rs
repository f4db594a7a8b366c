//! The driver: from what is wanted to a verified spectrum.
//!
//! In: a problem, what is wanted of it (in λ = ω²). Out: λ, M-orthonormal vectors in the caller's unknowns, errors, the
//! count that verifies the set, and what it cost.

use super::analysed::{Analysed, Spectrum};
use super::canonical::{Modes, fix_basis, rayleigh_ritz, refine};
use super::count::{Purpose, ShiftReport};
use super::covered::Covered;
use super::error::SpectrumError;
use super::factor::{Factor, Factorisation};
use super::memory;
use super::problem::Problem;
use super::search::{ROUNDS, together};
use super::session::{Goal, Progress, Session};
use super::sound::{check_residuals, no_negatives};
use super::wanted::{Options, Wanted, check};
use super::window::Nearest;
use faer::Mat;
use std::time::Instant;

impl Analysed {
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
                self.analysis.forget();
                return Ok(self.conclude(&modes, covered, session, clock.elapsed().as_secs_f64()));
            }
        };
        let found = together(std::slice::from_ref(self), near, std::slice::from_ref(options), progress)?;
        found.into_iter().next().ok_or(SpectrumError::Wanted { reason: "no problem to solve" })
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

/// All modes of a band, verified by counts at both ends.
fn band(session: &mut Session<'_>, low: f64, high: f64) -> Result<(Modes, Covered), SpectrumError> {
    let n = session.analysis.pencil.len();
    let room = 0.25 * (high - low);
    let above = session.counting_factor(high, room, Purpose::End)?.1;
    let (factor, kind, below): (Factor<'_>, Factorisation, Option<ShiftReport>) = if low <= 0.0 {
        (session.lowest_factor()?, Factorisation::Definite, None)
    } else {
        let below = session.counting_factor(low, -room, Purpose::End)?.1;
        let factor = session.counting_factor(0.5 * (low + high), room, Purpose::Iteration)?.0;
        (factor, Factorisation::Indefinite, Some(below))
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
    if kind == Factorisation::Definite {
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
