//! Smooth runs of the outline's borders, jogs bridged: where they face each other across the material, square to both. In: borders and
//! which of them count. Out: runs, and rungs from their corners. µm.

use super::jog::bridged;
use super::ring::{self, Stop};
use crate::geometry::{Point, ahead, cross, distance, dot, left, sub, unit};
use crate::outline::cut::{Border, Place};
use crate::walls::Walls;
use rstar::primitives::Line;
use rstar::{PointDistance, RTree};

/// A rung meets both walls within this angle of square, as a cosine (35°).
const SQUARE: f64 = 0.82;
/// A foot this close to a corner is that corner, in widths.
const SAME_CORNER: f64 = 1e-3;

/// Jogs beside jogs are bridged in so many rounds.
const BRIDGED: usize = 4;

/// What a run ends at.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(super) enum Corner {
    /// The material opens.
    Open,
    /// The material ends.
    Shut,
    /// A held border starts.
    Held,
}

/// Consecutive free segments without a sharp corner, material on the left.
#[derive(Clone, Debug)]
pub(super) struct Run {
    pub points: Vec<Point>,
    /// Where its points lie on the border, if they do, and after which of them it leaves the border for a bridge.
    places: Vec<Place>,
    on_border: Vec<bool>,
    bridges: Vec<bool>,
    /// Length from the start to every point, µm.
    pub along: Vec<f64>,
    /// It comes back to its start without a corner.
    pub closed: bool,
    pub ends: [Corner; 2],
}

/// A point of a run: its corner `segment`, or a point of the segment that starts there.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(super) struct Spot {
    pub run: usize,
    pub segment: usize,
    pub along: f64,
    pub at: Point,
}

/// All runs with what is needed to look across the material.
pub(super) struct Runs<'a> {
    pub borders: &'a [Border<'a>],
    pub runs: Vec<Run>,
    walls: Option<Walls>,
    /// Run and segment of every wall; none where it is held.
    owner: Vec<Option<(usize, usize)>>,
    nearest: RTree<Line<Point>>,
}

fn normalised(d: Point) -> Point {
    unit([0.0; 2], d)
}

impl Run {
    pub fn direction(&self, segment: usize) -> Point {
        unit(self.points[segment], self.points[segment + 1])
    }

    fn of(stops: &[Stop], first: usize, segments: usize, closed: bool, ends: [Corner; 2]) -> Self {
        let stops = || (0..=segments).map(|k| &stops[(first + k) % stops.len()]);
        let places: Vec<Place> = stops().map(|s| s.place).collect();
        let points: Vec<Point> = places.iter().map(|p| p.at).collect();
        let mut along = vec![0.0];
        points.windows(2).for_each(|w| along.push(along[along.len() - 1] + distance(w[0], w[1])));
        let (on_border, bridges) = stops().map(|s| (!s.crossing, s.bridge)).unzip();
        Self { points, places, on_border, bridges, along, closed, ends }
    }
}

impl<'a> Runs<'a> {
    /// Runs of the rings for which `kept` holds.
    pub fn new(borders: &'a [Border<'a>], kept: impl Fn(usize) -> bool) -> Self {
        let drawn = (0..borders.len()).filter(|ring| kept(*ring)).map(|ring| ring::drawn(borders, ring));
        let mut rings: Vec<Vec<Stop>> = drawn.collect();
        let mut runs = Self::of(borders, &rings);
        for _ in 0..BRIDGED {
            let mut again = false;
            for ring in &mut rings {
                if let Some(stops) = bridged(ring, &ring::sharp(ring), |p, d| runs.width(p, d)) {
                    (*ring, again) = (stops, true);
                }
            }
            if !again {
                break;
            }
            runs = Self::of(borders, &rings);
        }
        runs
    }

    fn of(borders: &'a [Border<'a>], rings: &[Vec<Stop>]) -> Self {
        let mut runs = Vec::new();
        let (mut segments, mut owner) = (Vec::new(), Vec::new());
        for ring in rings {
            of_ring(ring, &mut runs);
            for (i, stop) in ring.iter().enumerate().filter(|(_, s)| s.held) {
                segments.push([stop.place.at, ring[(i + 1) % ring.len()].place.at]);
                owner.push(None);
            }
        }
        let mut free = Vec::new();
        for (r, run) in runs.iter().enumerate() {
            for (k, w) in run.points.windows(2).enumerate() {
                segments.push([w[0], w[1]]);
                owner.push(Some((r, k)));
                free.push(Line::new(w[0], w[1]));
            }
        }
        Self { borders, runs, walls: Walls::new(segments), owner, nearest: RTree::bulk_load(free) }
    }

    /// Distance to the nearest free wall, µm.
    pub fn clearance(&self, p: Point) -> f64 {
        self.nearest.nearest_neighbor(&p).map_or(f64::INFINITY, |l| l.distance_2(&p).sqrt())
    }

    pub fn corner(&self, run: usize, corner: usize) -> Spot {
        let r = &self.runs[run];
        Spot { run, segment: corner, along: r.along[corner], at: r.points[corner] }
    }

    /// The spot at a length (µm) along a run.
    pub fn at(&self, run: usize, along: f64) -> Spot {
        let r = &self.runs[run];
        let segment = r.along.partition_point(|s| *s <= along).clamp(1, r.along.len() - 1) - 1;
        let at = ahead(r.points[segment], r.direction(segment), along - r.along[segment]);
        Spot { run, segment, along, at }
    }

    /// The place of a spot that lies on its border.
    pub fn place(&self, spot: &Spot) -> Place {
        Place { at: spot.at, ..self.runs[spot.run].places[spot.segment] }
    }

    /// The spot, or the nearer end of the bridge on which it lies.
    pub fn on_border(&self, spot: Spot) -> Spot {
        let run = &self.runs[spot.run];
        let k = spot.segment;
        let on_border = if spot.at == run.points[k] { run.on_border[k] } else { !run.bridges[k] };
        if on_border {
            return spot;
        }
        let before = (0..=k).rev().find(|k| run.on_border[*k]);
        let behind = (k + 1..run.points.len()).find(|k| run.on_border[*k]);
        let ends = [before, behind].into_iter().flatten().map(|k| self.corner(spot.run, k));
        ends.min_by(|a, b| distance(a.at, spot.at).total_cmp(&distance(b.at, spot.at))).unwrap_or(spot)
    }

    /// How far the material reaches from a point along a direction, where a free wall ends it squarely.
    fn width(&self, from: Point, direction: Point) -> Option<f64> {
        let hit = self.walls.as_ref()?.hit(from, direction)?;
        self.owner[hit.segment as usize].filter(|_| -hit.facing >= SQUARE)?;
        Some(hit.along)
    }

    /// Whether the border goes from the end of one run to the start of another along an anchor only.
    pub fn held_between(&self, from: &Spot, to: &Spot) -> bool {
        let (a, b) = (self.place(from), self.place(to));
        let border = &self.borders[a.ring];
        let n = border.points.len();
        let count = (b.segment + n - a.segment) % n;
        a.ring == b.ring && count > 0 && (0..count).all(|k| border.held[(a.segment + k) % n])
    }

    /// What the ray meets: run and segment, and the cosine at which it is met.
    fn met(&self, from: Point, direction: Point) -> Option<(usize, usize, f64)> {
        let hit = self.walls.as_ref()?.hit(from, direction)?;
        let (run, segment) = self.owner[hit.segment as usize]?;
        Some((run, segment, -hit.facing))
    }

    /// The spot across from a corner of a run, on a line that makes equal angles with both walls.
    pub fn across(&self, run: usize, corner: usize) -> Option<Spot> {
        let me = &self.runs[run];
        let last = me.points.len() - 1;
        let at = me.points[corner];
        let before = match corner {
            0 => me.closed.then(|| me.direction(last - 1)),
            k => Some(me.direction(k - 1)),
        };
        let after = if corner < last { Some(me.direction(corner)) } else { me.closed.then(|| me.direction(0)) };
        // A ray from the end of a run starts a little inside it; where it misses, one from farther inside tells the direction.
        let (normal, along, length) = match (before, after) {
            (Some(a), Some(b)) => (normalised(left([a[0] + b[0], a[1] + b[1]])), [0.0; 2], 0.0),
            (None, Some(b)) => (left(b), b, distance(at, me.points[corner + 1])),
            (Some(a), None) => (left(a), [-a[0], -a[1]], distance(at, me.points[corner - 1])),
            (None, None) => return None,
        };
        let inset = (1e-3 * length).min(0.01);
        let tries: &[f64] = if length > 0.0 { &[0.0, 0.1, 0.5] } else { &[0.0] };
        let found = tries.iter().filter_map(|share| {
            let (q, k, _) = self.met(ahead(at, along, inset.max(share * length)), normal)?;
            let facing = left(self.runs[q].direction(k));
            if dot(normal, facing) > -0.6 {
                return None;
            }
            let aim = normalised(sub(normal, facing));
            match self.met(ahead(at, along, inset), aim) {
                Some((q, k, cosine)) if cosine >= SQUARE && dot(aim, normal) >= SQUARE => {
                    Some(self.foot(q, k, at, aim))
                }
                // An anchor may bulge into the ray.
                _ => {
                    let far = self.corner(q, if corner == 0 { self.runs[q].points.len() - 1 } else { 0 });
                    let near = self.corner(run, corner);
                    let held =
                        if corner == 0 { self.held_between(&far, &near) } else { self.held_between(&near, &far) };
                    held.then_some(far)
                }
            }
        });
        // A ray that leans out of the mouth of a tapered strip meets something farther away.
        found.min_by(|a, b| distance(a.at, at).total_cmp(&distance(b.at, at)))
    }

    /// Where a ray meets the line of a segment, or the corner next to it.
    fn foot(&self, run: usize, segment: usize, from: Point, aim: Point) -> Spot {
        let me = &self.runs[run];
        let (a, b) = (me.points[segment], me.points[segment + 1]);
        let d = sub(b, a);
        let share = (cross(sub(from, a), aim) / cross(d, aim)).clamp(0.0, 1.0);
        let at = ahead(a, d, share);
        let near = SAME_CORNER * distance(from, at) + 1e-4;
        if distance(at, a) < near {
            return self.corner(run, segment);
        }
        if distance(at, b) < near {
            return self.corner(run, segment + 1);
        }
        Spot { run, segment, along: me.along[segment] + share * distance(a, b), at }
    }
}

/// Splits a ring into runs.
fn of_ring(ring: &[Stop], runs: &mut Vec<Run>) {
    let n = ring.len();
    let (turns, sharp) = (ring::turns(ring), ring::sharp(ring));
    if sharp.is_empty() {
        runs.push(Run::of(ring, 0, n, true, [Corner::Open; 2]));
    }
    for (k, &first) in sharp.iter().enumerate().filter(|(_, i)| !ring[**i].held) {
        let last = sharp[(k + 1) % sharp.len()];
        let kind = |at: usize, beside: usize| match () {
            () if ring[beside].held => Corner::Held,
            () if turns[at] < 0.0 => Corner::Open,
            () => Corner::Shut,
        };
        let ends = [kind(first, (first + n - 1) % n), kind(last, last)];
        runs.push(Run::of(ring, first, (last + n - first - 1) % n + 1, false, ends));
    }
}
