//! The middle line of a chain of legs with its widths: legs joined where their middle lines cross, then thinned to chords. µm.

use super::leg::Leg;
use crate::geometry::{Point, Ring, ahead, cross, distance, dot, share_along, sub};

/// Chord error of the middle line and of the width along it, in widths.
const CHORD_ERROR: f64 = 1e-3;
/// Middle lines cross at most so many widths beyond their legs.
const REACH: f64 = 3.0;
/// Lines that meet at a smaller angle than this are one line, as a sine (3°).
const ONE_LINE: f64 = 0.05;

/// A point of a middle line and the width there.
#[derive(Clone, Copy, Debug)]
pub(super) struct Station {
    pub at: Point,
    pub width: f64,
}

/// Length along the stations.
pub(super) fn length(line: &[Station]) -> f64 {
    line.windows(2).map(|w| distance(w[0].at, w[1].at)).sum()
}

/// The middle line through legs, each with whether it is taken backwards; `blocks` are what lies between them.
pub(super) fn middle_line<'a>(chain: &[(&Leg, bool)], blocks: impl Iterator<Item = Option<&'a Ring>>) -> Vec<Station> {
    let mut line: Vec<Station> = Vec::new();
    let mut blocks = blocks;
    for (k, &(leg, back)) in chain.iter().enumerate() {
        let mut own: Vec<Station> = leg.rungs.iter().map(|r| Station { at: r.middle(), width: r.width }).collect();
        if back {
            own.reverse();
        }
        if let (Some(last), Some(&(before, turned))) = (line.last().copied(), chain[..k].last()) {
            let (out, into) = (before.outward(usize::from(!turned)), leg.outward(usize::from(back)));
            let into = [-into[0], -into[1]];
            line.extend(corner(last, out, own[0], into, blocks.next().flatten()));
        }
        line.extend(own);
    }
    let narrowest = line.iter().map(|s| s.width).fold(f64::INFINITY, f64::min);
    thinned(&line, CHORD_ERROR * narrowest)
}

/// What joins the end `a` of one middle line, going on along `out`, to the start `b` of the next, arriving along `into`.
fn corner(a: Station, out: Point, b: Station, into: Point, block: Option<&Ring>) -> Vec<Station> {
    let width = 0.5 * (a.width + b.width);
    let between = sub(b.at, a.at);
    let sine = cross(out, into);
    if sine.abs() > ONE_LINE {
        let (s, t) = (cross(between, into) / sine, cross(between, out) / sine);
        let fits = |v: f64| (-width..=REACH * width).contains(&v);
        // `b` lies `-t` before the crossing along its own line.
        if fits(s) && fits(-t) {
            return vec![Station { at: ahead(a.at, out, s), width }];
        }
    }
    if dot(out, into) < 0.0 {
        // Back the way it came: half-way into what joins both legs.
        let depth = |from: Point| {
            let reach = block.into_iter().flatten().map(|p| dot(sub(*p, from), out)).fold(0.0, f64::max);
            Station { at: ahead(from, out, 0.5 * reach), width }
        };
        return vec![depth(a.at), depth(b.at)];
    }
    Vec::new()
}

/// Drops stations that lie within `near` of the chord between those kept, in place and in width (after D. H. Douglas,
/// T. K. Peucker, Cartographica 10, 1973, 112–122).
fn thinned(line: &[Station], near: f64) -> Vec<Station> {
    let off = |s: &Station, a: &Station, b: &Station| {
        let u = share_along(s.at, a.at, b.at);
        let at = ahead(a.at, sub(b.at, a.at), u);
        distance(s.at, at).max((s.width - a.width - u * (b.width - a.width)).abs())
    };
    let mut kept = vec![false; line.len()];
    let mut open = vec![(0, line.len().saturating_sub(1))];
    kept.iter_mut().take(1).for_each(|k| *k = true);
    kept.iter_mut().last().into_iter().for_each(|k| *k = true);
    while let Some((from, to)) = open.pop() {
        let worst = (from + 1..to).map(|k| (off(&line[k], &line[from], &line[to]), k));
        if let Some((_, k)) = worst.max_by(|a, b| a.0.total_cmp(&b.0)).filter(|w| w.0 > near) {
            kept[k] = true;
            open.extend([(from, k), (k, to)]);
        }
    }
    line.iter().zip(&kept).filter(|(_, k)| **k).map(|(s, _)| *s).collect()
}
