//! A completed search: in which band the list of modes is whole, how that was counted, and of what it may be claimed.
//!
//! In: the spectra of uncoupled parts, each with the interval in which a count agreed with what was found, and which of their modes
//! are listed. Out: one value that every screen and file prints from; nothing can put one together from what was asked.

use crate::modal::{NEXT_TO_END, Wanted};
use crate::spectrum::{Covered, Proof, Purpose, ShiftReport, Spectrum};
use std::f64::consts::TAU;

/// Error bars larger than this share of a frequency say no more than that the mesh does not carry the mode: they are extrapolated
/// from a richer element, which is right where that takes off little.
const CARRIED: f64 = 0.1;

/// A count of eigenvalues below a place.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Count {
    /// Which of the parts that are solved apart, from 0.
    pub part: usize,
    /// Where it was asked for, Hz.
    pub asked_hz: f64,
    /// Where it was taken, Hz: elsewhere if an eigenvalue was in the way.
    pub taken_hz: f64,
    /// Eigenvalues of the part below that.
    pub below: usize,
}

/// What a whole list may be claimed of.
#[derive(Clone, Debug, PartialEq)]
pub enum Claim {
    /// Of the model without a mesh: error bars are far smaller than what lies between the listed modes and the ends of the band.
    WithinBars,
    /// Of the model's equations only: what they leave of the frequencies is not known.
    Equations {
        /// Why no more is claimed.
        because: String,
    },
    /// Of the equations on this mesh only, which does not carry all of these modes.
    Mesh {
        /// Why no more is claimed.
        because: String,
        /// Up to where the list is whole without a mesh, Hz, and how many modes lie below; `None` where that is nowhere.
        up_to: Option<(f64, usize)>,
    },
}

/// The band in which every mode is known, and how many of them are listed.
#[derive(Clone, Debug, PartialEq)]
pub struct CompletedSearch {
    from_hz: f64,
    to_hz: f64,
    listed: usize,
    found: usize,
    counted: usize,
    all: bool,
    short_of_hz: Option<f64>,
    /// The lowest mode of the mesh that is known above a band whose end was asked for.
    above_hz: Option<f64>,
    counts: Vec<Count>,
    claim: Claim,
}

impl CompletedSearch {
    /// From the spectra of all parts and the modes listed, (part, number).
    pub(crate) fn of(spectra: &[Spectrum], listed: &[(usize, usize)], wanted: Wanted) -> Self {
        let whole = |pick: fn(&Covered) -> f64, of: fn(f64, f64) -> f64, start: f64| {
            spectra.iter().map(|s| pick(&s.covered)).fold(start, of)
        };
        let mut low = whole(Covered::low, f64::max, f64::NEG_INFINITY);
        let mut high = whole(Covered::high, f64::min, f64::INFINITY);
        let own = |p: &(usize, usize)| spectra[p.0].lambda[p.1];
        let first = listed.iter().map(own).fold(f64::INFINITY, f64::min);
        let last = listed.iter().map(own).fold(f64::NEG_INFINITY, f64::max);
        let left_out = |(s, i): (usize, usize)| !listed.contains(&(s, i));
        let everyone = || spectra.iter().enumerate().flat_map(|(s, x)| (0..x.lambda.len()).map(move |i| (s, i)));
        let asked = match wanted {
            Wanted::UpTo { hz, .. } => Some((TAU * hz).powi(2)),
            _ => None,
        };
        let mut above: Option<f64> = None;
        // The band ends before a mode that is known and not listed, if that does not lie above the end asked for.
        for lambda in everyone().filter(|p| left_out(*p)).map(|p| own(&p)) {
            if asked.is_some_and(|asked| lambda > asked) {
                above = Some(above.map_or(lambda, |other| other.min(lambda)));
            } else if lambda > last {
                high = high.min(0.5 * (last.max(low) + lambda));
            } else if lambda < first {
                low = low.max(0.5 * (first.min(high) + lambda));
            }
        }
        let mut short_of_hz = None;
        if let Wanted::UpTo { hz, .. } = wanted {
            let asked = (TAU * hz).powi(2);
            // A mode on the end itself, up to rounding, belongs to the band.
            if high < asked {
                short_of_hz = Some(hz);
            }
            high = high.min(asked.max(last));
        }
        let all = spectra.iter().all(|s| matches!(s.covered.proof(), Proof::AllKnown { .. })) && low < 0.0;
        if high == f64::INFINITY {
            high = last.max(0.0);
        }
        let inside = |lambda: f64| lambda >= low && lambda <= high;
        let counts = spectra.iter().enumerate().flat_map(|(part, s)| s.shifts.iter().map(move |at| (part, at)));
        Self {
            from_hz: hertz(low),
            to_hz: hertz(high),
            listed: listed.len(),
            found: listed.iter().filter(|p| inside(own(p))).count(),
            counted: everyone().filter(|p| inside(own(p))).count(),
            all,
            short_of_hz,
            above_hz: above.map(hertz),
            counts: counts.filter(|(_, at)| counts_modes(at)).map(|(part, at)| count(part, at)).collect(),
            claim: Claim::Equations { because: "the model's error is not known here".to_owned() },
        }
    }

    /// The same, claimed of the equations only, for a reason.
    #[must_use]
    pub fn of_equations(self, because: &str) -> Self {
        Self { claim: Claim::Equations { because: because.to_owned() }, ..self }
    }

    /// The same, judged by the error bars of the listed modes, both in Hz and by rising frequency. A mode of the device lies below
    /// that of the mesh, by about a bar; one that is not listed lies above the band on the mesh, and can lie below its end by the
    /// bar that a mode has there.
    #[must_use]
    pub fn with_error_bars(self, frequencies_hz: &[f64], bars_hz: &[f64]) -> Self {
        if bars_hz.len() != frequencies_hz.len() {
            return self;
        }
        if bars_hz.is_empty() {
            return self.of_equations("no mode is listed, so that no error bar is known");
        }
        let carried = |i: usize| bars_hz[i] <= CARRIED * frequencies_hz[i];
        let good = (0..bars_hz.len()).take_while(|&i| carried(i)).count();
        let share = |i: usize| if frequencies_hz[i] > 0.0 { bars_hz[i] / frequencies_hz[i] } else { 0.0 };
        let largest = (0..good).map(share).fold(0.0, f64::max);
        // How far a mode that lies at a place on the mesh may truly lie below it.
        let down = |hz: f64| largest * hz;
        let clear = |below: usize, above_hz: f64| {
            let top = below.checked_sub(1).map_or(self.from_hz, |i| frequencies_hz[i] + bars_hz[i]);
            (top < above_hz).then_some(above_hz)
        };
        let end = if good == bars_hz.len() { clear(good, self.to_hz - down(self.to_hz)) } else { None };
        let next = self.above_hz.filter(|hz| *hz < self.to_hz * (1.0 + NEXT_TO_END));
        let end = end.filter(|_| next.is_none());
        let begins = self.from_hz <= 0.0 || frequencies_hz[0] - bars_hz[0] > self.from_hz;
        let claim = if end.is_some() && begins {
            Claim::WithinBars
        } else {
            let because = if good < bars_hz.len() {
                format!(
                    "error bars reach {:.0} % of the frequency: this mesh does not carry the modes of this band",
                    100.0 * (good..bars_hz.len()).map(share).fold(0.0, f64::max)
                )
            } else if let Some(hz) = next {
                format!(
                    "this mesh has a mode at {hz:.1} Hz, whose error bar was not looked at and may reach into the band"
                )
            } else if end.is_none() {
                "an error bar reaches across the upper end of the band".to_owned()
            } else {
                "an error bar reaches across the lower end of the band".to_owned()
            };
            let places = (0..good).rev().filter(|_| begins);
            let mut before = places.filter_map(|i| clear(i, frequencies_hz[i] - bars_hz[i]).map(|hz| (hz, i)));
            Claim::Mesh { because, up_to: before.find(|(_, modes)| *modes > 0) }
        };
        Self { claim, ..self }
    }

    /// Lower end of the band in which every mode of the equations is known, Hz; 0 where it begins at rest.
    pub fn from_hz(&self) -> f64 {
        self.from_hz
    }

    /// Upper end, Hz: where the counts of all parts reach, no farther than was asked.
    pub fn to_hz(&self) -> f64 {
        self.to_hz
    }

    /// Modes of the list, in the band and beyond it.
    pub fn listed(&self) -> usize {
        self.listed
    }

    /// Modes of the list that lie in the band.
    pub fn found(&self) -> usize {
        self.found
    }

    /// Modes that the counts say are in the band.
    pub fn counted(&self) -> usize {
        self.counted
    }

    /// Whether the equations have no mode but those listed.
    pub fn is_all(&self) -> bool {
        self.all && self.listed == self.counted
    }

    /// Where the band ends before what was asked, because no more modes were wanted: what was asked, Hz.
    pub fn short_of_hz(&self) -> Option<f64> {
        self.short_of_hz
    }

    /// Every count that was taken.
    pub fn counts(&self) -> &[Count] {
        &self.counts
    }

    /// What the list may be claimed of.
    pub fn claim(&self) -> &Claim {
        &self.claim
    }

    /// Whether the count agrees with the list: every mode of the equations in the band is listed, and every one listed is in it.
    pub fn is_counted(&self) -> bool {
        self.found == self.counted && self.found == self.listed
    }

    /// Whether nothing speaks against the list being whole: it is counted, and no error bar reaches across an end of the band.
    pub fn is_complete(&self) -> bool {
        self.is_counted() && !matches!(self.claim, Claim::Mesh { .. })
    }
}

/// Factors made to solve with, of a definite system, count nothing.
fn counts_modes(at: &ShiftReport) -> bool {
    at.purpose != Purpose::Iteration || at.requested != 0.0
}

fn count(part: usize, at: &ShiftReport) -> Count {
    Count { part, asked_hz: hertz(at.requested), taken_hz: hertz(at.used), below: at.negatives }
}

fn hertz(lambda: f64) -> f64 {
    lambda.max(0.0).sqrt() / TAU
}

#[cfg(test)]
mod tests;
