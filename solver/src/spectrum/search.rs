//! A search for the modes nearest to a shift: iteration in rounds while the factor is there, then refinement and the count.
//!
//! In: an analysed problem. Out: modes and the interval in which a count shows that none is missing. Rounds let several problems
//! that are parts of one be searched together: none looks for more than the whole needs (`together`).

use super::analysed::{Analysed, Spectrum};
use super::canonical::{Modes, fix_basis, rayleigh_ritz, refine};
use super::count::Purpose;
use super::covered::Covered;
use super::error::SpectrumError;
use super::factor::{Factor, Factorisation};
use super::lanczos::Lanczos;
use super::memory::at_once;
use super::session::{Found, Goal, MULTIPLE, Progress, Session};
use super::sound::{check_residuals, no_negatives};
use super::wanted::Options;
use super::window::{Nearest, Window};
use rayon::prelude::*;
use std::time::Instant;

/// Rounds of searching for modes that the count says are missing.
pub(super) const ROUNDS: usize = 6;
/// How near to the last wanted mode of the whole the first one left out may lie before it is looked at itself, relative.
const TOO_NEAR: f64 = 1e-6;
/// Below so many times what rounding leaves of it an eigenvalue is one at rest: a rigid motion, whose λ means nothing.
const AT_REST: f64 = 1e3;

/// A search under way.
struct Search<'a> {
    session: Session<'a>,
    factor: Option<Factor<'a>>,
    /// Whether the factor stays between the rounds; where parts take turns it is made anew.
    keeps: bool,
    kind: Factorisation,
    shift: f64,
    lanczos: Lanczos<'a>,
    count: usize,
    found: Found,
    /// Modes that are sought around a place are at rest below this λ; 0 where the lowest are sought.
    rest: f64,
    seconds: f64,
}

/// What of the modes found is kept, and how far on either side no other was seen.
struct Kept {
    /// Places among those found, by rising λ.
    places: Vec<usize>,
    below: f64,
    above: f64,
}

impl<'a> Search<'a> {
    /// Finds the `count` modes nearest to a place in λ (`None`: the lowest), not counted yet.
    fn begin(mut session: Session<'a>, near: Option<f64>, count: usize, keeps: bool) -> Result<Self, SpectrumError> {
        let clock = Instant::now();
        let (factor, kind) = match near {
            None => (session.lowest_factor()?, Factorisation::Definite),
            Some(lambda) => (session.iteration_factor(lambda)?, Factorisation::Indefinite),
        };
        let count = count.min(session.analysis.pencil.len());
        let mut lanczos = session.start(&factor, count + 1)?;
        let found = session.iterate(&mut lanczos, &factor, Goal::Nearest(count))?;
        let (shift, seconds) = (factor.shift, clock.elapsed().as_secs_f64());
        let mut search = Self { session, factor: None, keeps, kind, shift, lanczos, count, found, rest: 0.0, seconds };
        search.rest = near.map_or(0.0, |_| search.rest());
        search.put_away(factor);
        Ok(search)
    }

    /// The factor of the shift, made again if it was given up.
    fn take_factor(&mut self) -> Result<Factor<'a>, SpectrumError> {
        self.factor.take().map_or_else(|| self.session.again(self.shift, self.kind), Ok)
    }

    fn put_away(&mut self, factor: Factor<'a>) {
        if self.keeps {
            self.factor = Some(factor);
        } else {
            drop(factor);
            self.session.analysis.forget();
        }
    }

    /// Below which λ a mode is at rest: what rounding leaves of the lowest one found.
    fn rest(&self) -> f64 {
        let lowest = self.found.places.iter().min_by(|a, b| self.lambda_of(**a).total_cmp(&self.lambda_of(**b)));
        let vector = self.lanczos.vectors(&self.found.ritz, lowest.map_or(&[][..], std::slice::from_ref));
        AT_REST * f64::EPSILON * self.session.analysis.norms.0 * vector.squared_norm_l2()
    }

    fn lambda_of(&self, place: usize) -> f64 {
        self.shift + 1.0 / self.found.ritz.theta[place]
    }

    /// λ of the modes found, nearest to the shift first; all at rest at 0, so that √λ tells none of them from the others.
    fn lambda(&self) -> impl Iterator<Item = f64> {
        self.found.places.iter().map(|&i| self.lambda_of(i)).map(|l| if l.abs() <= self.rest { 0.0 } else { l })
    }

    /// Distance from the shift within which all modes are to be known for all of a window.
    fn distance(&self, window: Window) -> f64 {
        let up = window.high * (1.0 + TOO_NEAR) - self.shift;
        // Nothing to speak of lies below zero.
        up.max(self.shift - window.low.max(0.0) * (1.0 - TOO_NEAR))
    }

    /// Whether a mode of a window may not have been found yet.
    fn is_short_of(&self, window: Window) -> bool {
        self.found.reach < f64::INFINITY && self.found.reach <= self.distance(window)
    }

    /// Goes on until about all of a window are found.
    fn go_on(&mut self, window: Window) -> Result<(), SpectrumError> {
        let clock = Instant::now();
        let size = self.found.places.len();
        // Modes of plates lie about evenly in √λ.
        let width = |distance: f64| {
            let up = (self.shift + distance).max(0.0).sqrt();
            up - (self.shift - distance).max(0.0).sqrt()
        };
        let last = self.found.places.last().map_or(0.0, |&i| 1.0 / self.found.ritz.theta[i].abs());
        let distance = self.distance(window);
        let ratio = if width(last) > 0.0 { width(distance) / width(last) } else { 2.0 };
        let more = (size as f64 * (ratio - 1.0)).ceil().clamp(1.0, size as f64 + 2.0) as usize;
        self.count = (size + more).min(self.session.analysis.pencil.len());
        self.lanczos.want_more(self.count + 1);
        // No farther than that: a window of the first round may be far too wide.
        let goal = Goal::Within { distance, most: self.count };
        let factor = self.take_factor()?;
        self.found = self.session.iterate(&mut self.lanczos, &factor, goal)?;
        self.count = self.found.places.len();
        self.put_away(factor);
        if self.rest > 0.0 {
            self.rest = self.rest();
        }
        self.seconds += clock.elapsed().as_secs_f64();
        Ok(())
    }

    /// Which of the modes found to keep for all of a window, a multiple whole.
    fn kept(&self, window: Window) -> Kept {
        let mut all: Vec<(f64, usize)> = self.found.places.iter().map(|&i| (self.lambda_of(i), i)).collect();
        all.sort_by(|a, b| a.0.total_cmp(&b.0));
        // Rigid motions of all parts are one multiple at zero, which rounding spreads by as much as the shift is large.
        let size = |lambda: f64| MULTIPLE * lambda.abs().max((lambda - self.shift).abs());
        let same = |low: f64, high: f64| high - low <= size(high);
        let mut first = all.partition_point(|(l, _)| *l < window.low - size(window.low));
        let mut end = all.partition_point(|(l, _)| *l <= window.high + size(window.high));
        while first < end && first > 0 && same(all[first - 1].0, all[first].0) {
            first -= 1;
        }
        while first < end && end < all.len() && same(all[end - 1].0, all[end].0) {
            end += 1;
        }
        let reach = self.found.reach;
        Kept {
            places: all[first..end.max(first)].iter().map(|(_, i)| *i).collect(),
            below: if first > 0 { all[first - 1].0 } else { self.shift - reach },
            above: all.get(end).map_or(self.shift + reach, |(l, _)| *l),
        }
    }

    /// Refines what was found of a window, and verifies it by counts beyond it on each side.
    fn verified(&mut self, window: Window) -> Result<(Modes, Covered), SpectrumError> {
        let n = self.session.analysis.pencil.len();
        let mut outcome = None;
        for round in 0..ROUNDS {
            let present = self.take_factor()?;
            if round > 0 {
                self.lanczos.add_random(&present)?;
                self.found = self.session.iterate(&mut self.lanczos, &present, Goal::Nearest(self.count))?;
            }
            let kept = self.kept(window);
            let vectors = self.lanczos.vectors(&self.found.ritz, &kept.places);
            let modes = match kept.places.len() {
                0 => rayleigh_ritz(self.session.analysis, vectors)?,
                _ => refine(self.session.analysis, &present, vectors)?,
            };
            self.session.timings.solves = self.lanczos.solves;
            self.session.timings.restarts = self.lanczos.restarts;
            drop(present);
            no_negatives(&modes)?;
            let size = kept.places.len();
            if size == n {
                return Ok((modes, Covered::everything(n)));
            }
            if self.found.places.len() == n {
                // Nothing is left to count: the whole space was searched.
                let gap = |a: f64, b: f64| if b.is_finite() { 0.5 * (a + b) } else { b };
                let (low, high) = (gap(window.low, kept.below), gap(window.high, kept.above));
                return Ok((modes, Covered::everything(n).within(low, high)));
            }
            match self.counted(&modes, &kept, window) {
                Ok(covered) => return Ok((modes, covered)),
                Err(SpectrumError::Incomplete { found, counted, lambda }) if counted > found => {
                    outcome = Some(SpectrumError::Incomplete { found, counted, lambda });
                    // Go on until all that was counted is found; then cut again.
                    self.count = (self.count.max(counted) + usize::from(window.low > 0.0) * (counted - found)).min(n);
                    self.lanczos.want_more(self.count + 1);
                }
                Err(e) => return Err(e),
            }
        }
        Err(outcome.unwrap_or(SpectrumError::NotConverged {
            converged: self.found.places.len(),
            wanted: self.count,
            solves: self.session.timings.solves,
        }))
    }

    /// Counts in the gaps on both sides of what was kept of a window. In the window itself there must be no other mode, so the
    /// counts are taken beyond it.
    fn counted(&mut self, modes: &Modes, kept: &Kept, window: Window) -> Result<Covered, SpectrumError> {
        let gap = |end: f64, limit: f64| (0.5 * (end + limit), 0.25 * (limit - end));
        let last = modes.lambda.last().copied().unwrap_or(f64::NEG_INFINITY);
        let end = if window.high.is_finite() { last.max(window.high) } else { last };
        let (top, room) = gap(end, kept.above);
        let above = self.session.counting_factor(top, room, Purpose::Count)?.1;
        let below = if window.low > 0.0 {
            let first = modes.lambda.first().copied().unwrap_or(f64::INFINITY);
            let (bottom, room) = gap(first.min(window.low), kept.below);
            Some(self.session.counting_factor(bottom, room, Purpose::Count)?.1)
        } else {
            None
        };
        Covered::counted(below, above, modes.lambda.len())
    }

    /// The modes of a window, verified, where they are all that there are, and what they cost.
    fn finish(mut self, window: Window) -> Result<Finished<'a>, SpectrumError> {
        let clock = Instant::now();
        let (mut modes, covered) = self.verified(window)?;
        check_residuals(&self.session, &modes)?;
        fix_basis(&mut modes, &self.session.analysis.order.forward);
        self.session.analysis.forget();
        let seconds = self.seconds + clock.elapsed().as_secs_f64();
        Ok(Finished { modes, covered, session: self.session, seconds })
    }
}

/// How many of some parts of one problem hold their factors at a time.
pub fn held_at_once(parts: &[Analysed]) -> usize {
    at_once(parts.iter().map(|part| part.analysis.factor_entries()))
}

/// Work on parts of one problem, `at_once` side by side, the rest in turns. In the order given.
///
/// # Errors
/// Those of the work.
pub fn in_turns<T: Send, R: Send>(
    work: Vec<T>,
    at_once: usize,
    done: impl Fn(T) -> Result<R, SpectrumError> + Sync,
) -> Result<Vec<R>, SpectrumError> {
    let (mut work, mut results) = (work.into_iter(), Vec::new());
    loop {
        let turn: Vec<T> = work.by_ref().take(at_once.max(1)).collect();
        if turn.is_empty() {
            return Ok(results);
        }
        let turn = turn.into_par_iter().with_max_len(1).map(&done);
        results.extend(turn.collect::<Result<Vec<_>, SpectrumError>>()?);
    }
}

struct Finished<'a> {
    modes: Modes,
    covered: Covered,
    session: Session<'a>,
    seconds: f64,
}

/// The wanted modes of several problems that are parts of one, side by side: those of every part within what the whole needs,
/// each part counted by itself. The result does not depend on threads.
///
/// # Errors
/// Those of [`super::solve()`].
pub fn together(
    parts: &[Analysed],
    nearest: Nearest,
    options: &[Options],
    progress: &(dyn Fn(Progress) + Sync),
) -> Result<Vec<Spectrum>, SpectrumError> {
    together_in_turns(parts, nearest, options, held_at_once(parts), progress)
}

/// The same, so many parts `at_once`.
fn together_in_turns(
    parts: &[Analysed],
    nearest: Nearest,
    options: &[Options],
    at_once: usize,
    progress: &(dyn Fn(Progress) + Sync),
) -> Result<Vec<Spectrum>, SpectrumError> {
    nearest.check()?;
    let first = nearest.count.div_ceil(parts.len().max(1));
    let keeps = at_once >= parts.len();
    let each = parts.iter().zip(options).enumerate().collect();
    let mut searches = in_turns(each, at_once, |(number, (part, options)): (usize, (&Analysed, &Options))| {
        Search::begin(part.session(number, options, progress), nearest.to, first, keeps)
    })?;
    let window = loop {
        let mut window = nearest.window(searches.iter().flat_map(Search::lambda));
        if window.low == f64::NEG_INFINITY {
            // All rigid motions are in it or none.
            window.high = searches.iter().map(|s| s.rest).fold(window.high, f64::max);
        }
        let short: Vec<&mut Search<'_>> = searches.iter_mut().filter(|s| s.is_short_of(window)).collect();
        if short.is_empty() {
            break window;
        }
        in_turns(short, at_once, |search| search.go_on(window))?;
    };
    let finished = in_turns(searches, at_once, |search| search.finish(window))?;
    Ok(parts.iter().zip(finished).map(|(part, f)| part.conclude(&f.modes, f.covered, f.session, f.seconds)).collect())
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::spectrum::Problem;
    use nalgebra_sparse::{CooMatrix, CscMatrix};

    /// A chain of `n` equal springs between walls.
    fn chain(n: usize) -> Analysed {
        let (mut k, mut m) = (CooMatrix::new(n, n), CooMatrix::new(n, n));
        for i in 0..n {
            k.push(i, i, 2.0);
            m.push(i, i, 1.0);
            if i > 0 {
                k.push(i, i - 1, -1.0);
                k.push(i - 1, i, -1.0);
            }
        }
        Analysed::new(Problem::new(&CscMatrix::from(&k), &CscMatrix::from(&m), None).unwrap()).unwrap()
    }

    /// Parts that take turns give up their factors between the rounds, and nothing else: not one bit of the answer is another. The
    /// lowest of a chain is 4 sin²(π / 2(n + 1)) (handbook).
    #[test]
    fn parts_that_take_turns_find_the_same() {
        let parts = [300, 200, 260, 150].map(chain);
        let options = vec![Options::default(); parts.len()];
        for to in [None, Some(0.01)] {
            let found = |at_once| {
                let nearest = Nearest { to, count: 9 };
                let found = together_in_turns(&parts, nearest, &options, at_once, &|_| {}).unwrap();
                found.into_iter().map(|s| (s.lambda, s.vectors, s.covered)).collect::<Vec<_>>()
            };
            let all = found(parts.len());
            assert_eq!(all, found(2));
            assert_eq!(all, found(1));
            if to.is_none() {
                let lowest = 4.0 * (std::f64::consts::PI / 602.0).sin().powi(2);
                assert!((all[0].0[0] / lowest - 1.0).abs() < 1e-9, "{} for {lowest}", all[0].0[0]);
            }
        }
    }
}
