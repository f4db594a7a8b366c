//! How far split, drive and sense go over the stated spread. In: a pair, the spread's terms, and the pair at three sigma of every parameter,
//! its modes mixed as that makes them. Out: ranges, Hz. Where two modes lie close their slopes say little: at an avoided crossing those of
//! the two mixtures are averages of each other, while a spread that takes them apart moves each by its own.

use super::report::{Made, Work};
use super::weighing::Weighing;
use crate::process::{Range, Spread};
use crate::rate::answer::WorkingPair;
use std::f64::consts::TAU;

impl Weighing<'_> {
    /// Split, drive and sense with their three sigma to first order, around the frequencies as they are taken here: of what is made even
    /// where nothing spreads; none of the drawing then.
    pub(super) fn ranges(&self, pair: &WorkingPair, spread: Option<&Spread>) -> [Option<Range>; 3] {
        let (d, s) = self.modes;
        let terms = self.terms.zip(spread);
        let known = |hz: f64, range: Option<Range>| {
            let three_sigma = |r: Range| r.high_hz - r.drawn_hz;
            (range.is_some() || self.shares.is_some()).then(|| Range::around(hz, range.map_or(0.0, three_sigma)))
        };
        let own = |i: usize| known(self.mode(i).frequency_hz, terms.map(|(t, spread)| t.range(i, spread)));
        let split = terms.map(|(t, spread)| t.split_range([d, s], spread));
        [known(pair.mode_split_hz(), split), own(d), own(s)]
    }

    /// Widens what a pair has to first order by what it becomes at three sigma of every parameter, to either side, and its angle random
    /// walk with it.
    pub(super) fn reach(&self, work: &mut Work, states: &[[Made; 2]]) {
        let figures: [fn(&Work) -> f64; 3] =
            [|w| w.pair.mode_split_hz(), |w| w.pair.drive.omega / TAU, |w| w.pair.sense.omega / TAU];
        let mut own = [work.split, work.frequencies.map(|f| f[0]), work.frequencies.map(|f| f[1])];
        for (range, figure) in own.iter_mut().zip(figures) {
            let ends: Vec<[f64; 2]> = states.iter().map(|[a, b]| [figure(&a.work), figure(&b.work)]).collect();
            *range = range.map(|first_order| first_order.and(Range::of_ends(figure(work), &ends)));
        }
        let [split, drive, sense] = own;
        work.split = split;
        work.frequencies = drive.zip(sense).map(|(d, s)| [d, s]);
        work.walk_of_frequencies = split.and_then(|range| self.walk(&work.pair, &range));
    }
}
