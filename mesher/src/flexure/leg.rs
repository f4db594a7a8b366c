//! Legs: stretches where two walls run side by side with nothing between them. In: smooth runs. Out: legs as ladders of
//! rungs between both walls. µm.
//!
//! Every corner of every run looks across the material. Between two neighbouring rungs lies a cell with two straight sides; a
//! cell belongs to a leg where the circle between both walls holds no third wall, that is along the middle line in the
//! sense of H. Blum (Models for the Perception of Speech and Visual Form, 1967, 362–380).

use super::wall::{Corner, Runs, Spot};
use crate::geometry::{Point, ahead, cross, distance, dot, sub, unit};
use std::collections::BTreeMap;

/// Walls that lean towards each other by more than this are no leg, as a cosine (20°).
const ALIKE: f64 = 0.94;
/// The circle between both walls may be cut by this share of its radius.
const TOUCHES: f64 = 0.985;
/// A slanted root line reaches so many widths beyond the square one.
const SLANTED: f64 = 2.5;
/// Rungs closer than this are one, in widths; rungs may cross by so much.
const SLACK: f64 = 2e-3;
const CROSSED: f64 = 0.05;
/// Legs shorter than this many widths are rounding.
const SHORTEST: f64 = 0.1;

/// A line across a leg, from the wall that runs along it to the wall that runs back.
#[derive(Clone, Copy, Debug)]
pub(super) struct Rung {
    pub p: Spot,
    pub q: Spot,
    /// Width across the middle line, µm.
    pub width: f64,
}

impl Rung {
    pub fn middle(&self) -> Point {
        ahead(self.p.at, sub(self.q.at, self.p.at), 0.5)
    }
}

/// Two walls side by side.
#[derive(Clone, Debug)]
pub(super) struct Leg {
    pub rungs: Vec<Rung>,
    /// Whether it starts and ends on an anchor.
    pub held: [bool; 2],
}

impl Leg {
    /// Along the middle line, µm.
    pub fn length(&self) -> f64 {
        self.rungs.windows(2).map(|w| distance(w[0].middle(), w[1].middle())).sum()
    }

    pub fn end(&self, end: usize) -> &Rung {
        &self.rungs[if end == 0 { 0 } else { self.rungs.len() - 1 }]
    }

    /// The first or last width, µm.
    pub fn width(&self, end: usize) -> f64 {
        self.end(end).width
    }

    /// Unit vector out of the leg at an end.
    pub fn outward(&self, end: usize) -> Point {
        let n = self.rungs.len();
        let (a, b) = if end == 0 { (1, 0) } else { (n - 2, n - 1) };
        unit(self.rungs[a].middle(), self.rungs[b].middle())
    }
}

/// All legs of some runs.
pub(super) fn legs(runs: &Runs) -> Vec<Leg> {
    let mut pairs: BTreeMap<(usize, usize), Vec<(Spot, Spot)>> = BTreeMap::new();
    for run in 0..runs.runs.len() {
        for corner in 0..runs.runs[run].points.len() {
            let p = runs.corner(run, corner);
            if let Some(q) = runs.across(run, corner) {
                let (p, q) = if (p.run, p.along) <= (q.run, q.along) { (p, q) } else { (q, p) };
                pairs.entry((p.run, q.run)).or_default().push((p, q));
            }
        }
    }
    let mut legs = Vec::new();
    for rungs in pairs.values_mut() {
        let mut open: Option<Leg> = None;
        for pair in merged(runs, rungs).windows(2) {
            let [(p0, q0), (p, q)] = [pair[0], pair[1]];
            let torn = q.along > q0.along || (p.run == q.run && p.along > q.along);
            let ranges = if torn { Vec::new() } else { clear(runs, [p0, p], [q0, q]) };
            if ranges.first().is_none_or(|r| r.0 > 0.0) {
                legs.extend(open.take());
            }
            for (from, to) in ranges {
                let at = |u: f64| rung(runs, [p0, p], [q0, q], u);
                match open.as_mut().filter(|_| from == 0.0) {
                    Some(leg) => leg.rungs.push(at(to)),
                    None => {
                        legs.extend(open.take());
                        open = Some(Leg { rungs: vec![at(from), at(to)], held: [false; 2] });
                    }
                }
                if to < 1.0 {
                    legs.extend(open.take());
                }
            }
        }
        legs.extend(open.take());
    }
    legs.retain(|l| l.length() > SHORTEST * l.width(0).max(l.width(1)));
    legs.iter_mut().for_each(|l| finish(runs, l));
    legs
}

fn slack((p, q): &(Spot, Spot)) -> f64 {
    SLACK * distance(p.at, q.at) + 1e-4
}

/// Rungs in order, those that are one taken together; the ends of runs stay what they are.
fn merged(runs: &Runs, rungs: &mut [(Spot, Spot)]) -> Vec<(Spot, Spot)> {
    rungs.sort_by(|a, b| a.0.along.total_cmp(&b.0.along).then(b.1.along.total_cmp(&a.1.along)));
    let is_end = |s: &Spot| {
        [0, runs.runs[s.run].points.len() - 1].contains(&s.segment) && s.at == runs.runs[s.run].points[s.segment]
    };
    let at_end = |rung: &(Spot, Spot)| is_end(&rung.0) || is_end(&rung.1);
    let mut out: Vec<(Spot, Spot)> = Vec::with_capacity(rungs.len());
    for rung in rungs.iter() {
        let Some(last) = out.last_mut() else {
            out.push(*rung);
            continue;
        };
        let (ds, dt) = (rung.0.along - last.0.along, last.1.along - rung.1.along);
        let by_little = dt < 0.0 && ds.min(-dt) <= CROSSED * distance(rung.0.at, rung.1.at);
        let one = ds.max(dt) <= slack(rung) || (by_little && at_end(rung) != at_end(last));
        if !one {
            out.push(*rung);
            uncrossed(&mut out);
        } else if at_end(rung) && !at_end(last) {
            *last = *rung;
        }
    }
    out
}

/// Rungs that cross, as those from both sides of a bend do, exchange what they reach across: no corner of either wall is lost.
fn uncrossed(rungs: &mut [(Spot, Spot)]) {
    for k in (1..rungs.len()).rev() {
        let [a, b] = [rungs[k - 1], rungs[k]];
        let crossed = b.1.along - a.1.along;
        let reach = distance(a.0.at, a.1.at).min(distance(b.0.at, b.1.at));
        if crossed <= 0.0 || crossed.max(b.0.along - a.0.along) > reach {
            return;
        }
        (rungs[k - 1].1, rungs[k].1) = (b.1, a.1);
    }
}

/// Directions of both sides of a cell along the leg; a side without length has that of the other.
fn sides(p: [Spot; 2], q: [Spot; 2]) -> [Point; 2] {
    let direction = |a: &Spot, b: &Spot| unit(a.at, b.at);
    let (ds, dt) = (p[1].along - p[0].along, q[0].along - q[1].along);
    let (along, back) = (direction(&p[0], &p[1]), direction(&q[1], &q[0]));
    let forth = [-back[0], -back[1]];
    if ds <= 1e-3 * dt {
        [forth, forth]
    } else if dt <= 1e-3 * ds {
        [along, along]
    } else {
        [along, forth]
    }
}

/// A rung at share `u` of a cell: its corners at 0 and 1.
fn rung(runs: &Runs, p: [Spot; 2], q: [Spot; 2], u: f64) -> Rung {
    let between = |a: &Spot, b: &Spot| match u {
        0.0 => *a,
        1.0 => *b,
        _ => runs.at(a.run, a.along + u * (b.along - a.along)),
    };
    let (p1, q1) = (between(&p[0], &p[1]), between(&q[0], &q[1]));
    let [d, e] = sides(p, q);
    let middle = unit([0.0; 2], [d[0] + e[0], d[1] + e[1]]);
    Rung { p: p1, q: q1, width: cross(middle, sub(q1.at, p1.at)).abs() }
}

/// The shares of a cell along which no third wall comes between.
fn clear(runs: &Runs, p: [Spot; 2], q: [Spot; 2]) -> Vec<(f64, f64)> {
    let [d, e] = sides(p, q);
    if dot(d, e) < ALIKE {
        return Vec::new();
    }
    let is_clear = |u: f64| {
        let rung = rung(runs, p, q, u);
        let m = rung.middle();
        let off = |s: &Spot, d: Point| cross(d, sub(m, s.at)).abs();
        runs.clearance(m) >= TOUCHES * off(&rung.p, d).min(off(&rung.q, e))
    };
    let length = (p[1].along - p[0].along).max(q[0].along - q[1].along);
    let width = distance(p[0].at, q[0].at).min(distance(p[1].at, q[1].at));
    let steps = (2.0 * length / width).ceil().clamp(2.0, 1e5) as usize;
    let bisected = |mut good: f64, mut bad: f64| {
        for _ in 0..40 {
            let half = 0.5 * (good + bad);
            if is_clear(half) { good = half } else { bad = half }
        }
        good
    };
    let mut out: Vec<(f64, f64)> = Vec::new();
    let mut before = false;
    for k in 0..=steps {
        let u = k as f64 / steps as f64;
        let now = is_clear(u);
        let previous = (k as f64 - 1.0) / steps as f64;
        match (before, now) {
            (false, true) => out.push((if k == 0 { 0.0 } else { bisected(u, previous) }, u)),
            (true, true) => out.iter_mut().last().into_iter().for_each(|r| r.1 = u),
            (true, false) => out.iter_mut().last().into_iter().for_each(|r| r.1 = bisected(previous, u)),
            (false, false) => {}
        }
        before = now;
    }
    out.retain(|r| r.1 > r.0);
    out
}

/// Takes both ends to their root lines: slanted ones from corner to corner.
fn finish(runs: &Runs, leg: &mut Leg) {
    let last = leg.rungs.len() - 1;
    for rung in [0, last] {
        let rung = &mut leg.rungs[rung];
        (rung.p, rung.q) = (runs.on_border(rung.p), runs.on_border(rung.q));
    }
    for end in [0, 1] {
        let mut rung = *leg.end(end);
        let last = |run: usize| runs.runs[run].points.len() - 1;
        // The wall p runs towards end 1, the wall q towards end 0.
        let goal = |s: &Spot, forward: bool| {
            let run = &runs.runs[s.run];
            let corner = if forward { last(s.run) } else { 0 };
            let kind = run.ends[usize::from(forward)];
            (!run.closed).then(|| (runs.corner(s.run, corner), kind, (run.along[corner] - s.along).abs()))
        };
        let (Some((p, p_kind, p_gap)), Some((q, q_kind, q_gap))) = (goal(&rung.p, end == 1), goal(&rung.q, end == 0))
        else {
            continue;
        };
        let held = |p: &Spot, q: &Spot| if end == 1 { runs.held_between(p, q) } else { runs.held_between(q, p) };
        let reach = SLANTED * rung.width;
        let near = 1e-6 * rung.width;
        if (p_gap <= near) == (q_gap <= near) || p_gap > reach || q_gap > reach {
            leg.held[end] = p_gap <= near && q_gap <= near && held(&p, &q);
            continue;
        }
        let held = held(&p, &q);
        let open = p_kind == Corner::Open && q_kind == Corner::Open && in_line(runs, &p, &q, end);
        // The wall must not turn on the way.
        let straight = distance(rung.p.at, p.at) > 0.999 * p_gap && distance(rung.q.at, q.at) > 0.999 * q_gap;
        if straight && (held || open) {
            (rung.p, rung.q) = (p, q);
            leg.held[end] = held;
            let k = if end == 0 { 0 } else { leg.rungs.len() };
            leg.rungs.insert(k, rung);
        }
    }
}

/// Whether the walls beyond both corners go on along the line through them, as at the edge of a body.
fn in_line(runs: &Runs, p: &Spot, q: &Spot, end: usize) -> bool {
    let (from, to) = if end == 1 { (p, q) } else { (q, p) };
    let (a, b) = (runs.place(from), runs.place(to));
    let leaves = |ring: usize, k: usize| {
        let points = runs.borders[ring].points;
        unit(points[k % points.len()], points[(k + 1) % points.len()])
    };
    let n = runs.borders[b.ring].points.len();
    let line = unit(b.at, a.at);
    dot(leaves(a.ring, a.segment), line) > 0.75 && dot(leaves(b.ring, b.segment + n - 1), line) > 0.75
}
