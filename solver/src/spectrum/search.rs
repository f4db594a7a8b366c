//! A search for the modes nearest to a shift: iteration in rounds while the factor is there, then refinement and the count.
//!
//! In: an analysed problem. Out: modes, verified by counts. Rounds let several problems that are parts of one be searched
//! together: none looks for more than the whole needs (`together`).

use super::canonical::{Modes, fix_basis, rayleigh_ritz, refine};
use super::count::Purpose;
use super::error::SpectrumError;
use super::factor::{Factor, Kind};
use super::lanczos::Lanczos;
use super::session::{Found, Goal, MULTIPLE, Progress, Session};
use super::solve::{Analysed, Options, Spectrum, check_residuals, no_negatives};
use rayon::prelude::*;
use std::time::Instant;

/// Rounds of searching for modes that the count says are missing.
pub(super) const ROUNDS: usize = 6;
/// How near to the last wanted mode of the whole the first one left out may lie before it is looked at itself, relative.
const TOO_NEAR: f64 = 1e-6;

/// A search under way.
pub(super) struct Search<'a> {
    session: Session<'a>,
    /// Around which λ; `None`: the lowest.
    near: Option<f64>,
    factor: Option<Factor<'a>>,
    kind: Kind,
    shift: f64,
    lanczos: Lanczos<'a>,
    count: usize,
    found: Found,
    seconds: f64,
}

impl<'a> Search<'a> {
    /// Finds the `count` modes nearest to a place (`None`: the lowest), not counted yet.
    pub(super) fn begin(mut session: Session<'a>, near: Option<f64>, count: usize) -> Result<Self, SpectrumError> {
        let clock = Instant::now();
        let (factor, kind) = match near {
            None => (session.lowest_factor()?, Kind::Definite),
            Some(lambda) => (session.counting_factor(lambda, f64::INFINITY, Purpose::Iteration)?.0, Kind::Indefinite),
        };
        let count = count.min(session.analysis.pencil.len());
        let mut lanczos = session.start(&factor, count + 1)?;
        let found = session.iterate(&mut lanczos, &factor, Goal::Nearest(count))?;
        let (shift, seconds) = (factor.shift, clock.elapsed().as_secs_f64());
        Ok(Self { session, near, factor: Some(factor), kind, shift, lanczos, count, found, seconds })
    }

    /// λ of the lowest modes found, rising.
    fn lambda(&self) -> impl Iterator<Item = f64> {
        self.found.places.iter().map(|&i| self.shift + 1.0 / self.found.ritz.theta[i])
    }

    /// Distance from the shift within which all modes are to be known for all up to `cut`.
    fn distance(&self, cut: f64) -> f64 {
        cut * (1.0 + TOO_NEAR) - self.shift
    }

    /// Whether a mode up to `cut` may not have been found yet.
    fn is_short_of(&self, cut: f64) -> bool {
        self.found.reach < f64::INFINITY && self.found.reach <= self.distance(cut)
    }

    /// Goes on until about all up to `cut` are found.
    fn go_on(&mut self, cut: f64) -> Result<(), SpectrumError> {
        let clock = Instant::now();
        let (size, last) = (self.found.places.len(), self.lambda().last().unwrap_or(0.0));
        // Modes of plates lie about evenly in √λ.
        let ratio = if last > 0.0 { (cut / last).sqrt() } else { 2.0 };
        let more = (size as f64 * (ratio - 1.0)).ceil().clamp(1.0, size as f64 + 2.0) as usize;
        self.count = (size + more).min(self.session.analysis.pencil.len());
        self.lanczos.want_more(self.count + 1);
        // No farther than that: a cut of the first round may be far too high.
        let goal = Goal::Within { distance: self.distance(cut), most: self.count };
        if let Some(factor) = &self.factor {
            self.found = self.session.iterate(&mut self.lanczos, factor, goal)?;
            self.count = self.found.places.len();
        }
        self.seconds += clock.elapsed().as_secs_f64();
        Ok(())
    }

    /// How many of the modes found to keep for all up to `cut`, a multiple whole, and the distance of the next from the shift.
    fn kept(&self, cut: f64) -> (usize, f64) {
        let (places, theta) = (&self.found.places, &self.found.ritz.theta);
        let distance = |i: usize| 1.0 / theta[places[i]].abs();
        let mut kept = self.lambda().take_while(|l| *l <= cut * (1.0 + MULTIPLE)).count();
        while 0 < kept && kept < places.len() && distance(kept) - distance(kept - 1) <= MULTIPLE * distance(kept) {
            kept += 1;
        }
        (kept, if kept < places.len() { distance(kept) } else { self.found.reach })
    }

    /// Refines what was found, up to `cut` (infinite: all of it), and verifies by counts beyond the last one on each side.
    fn verified(&mut self, cut: f64) -> Result<Modes, SpectrumError> {
        let n = self.session.analysis.pencil.len();
        let mut outcome = (0, 0, 0.0);
        for _ in 0..ROUNDS {
            let present = match self.factor.take() {
                Some(factor) => factor,
                None => {
                    let factor = self.session.again(self.shift, self.kind)?;
                    self.lanczos.add_random(&factor)?;
                    self.found = self.session.iterate(&mut self.lanczos, &factor, Goal::Nearest(self.count))?;
                    factor
                }
            };
            let (kept, reach) =
                if self.near.is_none() { self.kept(cut) } else { (self.found.places.len(), self.found.reach) };
            let vectors = self.lanczos.vectors(&self.found.ritz, &self.found.places[..kept]);
            let modes = match kept {
                0 => rayleigh_ritz(self.session.analysis, vectors)?,
                _ => refine(self.session.analysis, &present, vectors)?,
            };
            self.session.timings.solves = self.lanczos.solves;
            self.session.timings.restarts = self.lanczos.restarts;
            drop(present);
            if self.near.is_none() {
                no_negatives(&modes)?;
            }
            if kept == n {
                return Ok(modes);
            }
            // Up to the cut there must be no other mode, so the count is taken beyond it too.
            let last = modes.lambda.last().copied().unwrap_or(f64::NEG_INFINITY);
            let end = if cut.is_finite() { last.max(cut) } else { last };
            let gap = |end: f64, limit: f64| (0.5 * (end + limit), 0.25 * (limit - end).abs());
            let (top, room) = gap(end, self.shift + reach);
            let above = self.session.counting_factor(top, room, Purpose::Count)?.1;
            let below = match self.near {
                None => 0,
                Some(_) => {
                    let first = modes.lambda.first().copied().unwrap_or(self.shift);
                    let (bottom, room) = gap(first, self.shift - reach);
                    self.session.counting_factor(bottom, room, Purpose::Count)?.1.negatives
                }
            };
            let counted = above.negatives.saturating_sub(below);
            if counted == kept {
                return Ok(modes);
            }
            if counted < kept {
                return Err(SpectrumError::Incomplete { found: kept, counted, lambda: above.used });
            }
            outcome = (kept, counted, above.used);
            // Go on until all that was counted is found; then cut again.
            self.count = self.count.max(counted.min(n));
            self.lanczos.want_more(self.count + 1);
        }
        Err(SpectrumError::Incomplete { found: outcome.0, counted: outcome.1, lambda: outcome.2 })
    }

    /// The modes up to `cut`, verified, and what they cost.
    pub(super) fn finish(mut self, cut: f64) -> Result<(Modes, Session<'a>, f64), SpectrumError> {
        let clock = Instant::now();
        let mut modes = self.verified(cut)?;
        check_residuals(&self.session, &modes)?;
        fix_basis(&mut modes, &self.session.analysis.order.forward);
        let seconds = self.seconds + clock.elapsed().as_secs_f64();
        Ok((modes, self.session, seconds))
    }
}

/// The `count` lowest modes of several problems that are parts of one, side by side: those of every part up to the last of
/// them, each part counted by itself. The result does not depend on threads.
///
/// # Errors
/// Those of [`super::solve()`].
pub fn lowest_together(
    parts: &[Analysed],
    count: usize,
    options: &[Options],
    progress: &(dyn Fn(Progress) + Sync),
) -> Result<Vec<Spectrum>, SpectrumError> {
    if count == 0 {
        return Err(SpectrumError::Wanted { reason: "no mode asked for" });
    }
    let first = count.div_ceil(parts.len().max(1));
    let mut searches = parts
        .par_iter()
        .zip(options)
        .enumerate()
        .with_max_len(1)
        .map(|(number, (part, options))| Search::begin(part.session(number, options, progress), None, first))
        .collect::<Result<Vec<_>, SpectrumError>>()?;
    let cut = loop {
        let mut all: Vec<f64> = searches.iter().flat_map(Search::lambda).collect();
        all.sort_by(f64::total_cmp);
        let cut = all.get(count - 1).copied().unwrap_or(f64::INFINITY);
        let mut short: Vec<&mut Search<'_>> = searches.iter_mut().filter(|s| s.is_short_of(cut)).collect();
        if short.is_empty() {
            break cut;
        }
        short.par_iter_mut().with_max_len(1).try_for_each(|search| search.go_on(cut))?;
    };
    let finished = searches.into_par_iter().with_max_len(1).map(|search| search.finish(cut));
    let finished = finished.collect::<Result<Vec<_>, SpectrumError>>()?;
    Ok(parts
        .iter()
        .zip(finished)
        .map(|(part, (modes, session, seconds))| part.conclude(&modes, session, seconds))
        .collect())
}
