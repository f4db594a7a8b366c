//! Jogs of a wall: teeth, notches and steps that are small against the width of the material behind them, such as overlapping
//! shapes leave where a strip bends. In: the corners of a ring. Out: the same with straight bridges in the place of jogs. µm.
//!
//! A jog is told from a finger, a slot or the corner of a body by the wall on both sides of it: there it goes on in about the
//! same direction for half a width at least. Nothing here depends on where a ring starts or which way it is drawn.

use super::ring::{BEND, Stop};
use crate::geometry::{Point, ahead, closest, cross, distance, dot, left, sub, unit};
use crate::outline::cut::Place;

/// How high a tooth, how deep a notch and how high a step may be, in widths.
const TOOTH: f64 = 0.35;
const NOTCH: f64 = 0.1;
const STEP: f64 = 0.05;
/// A tooth is no higher than this share of its length; a higher one may be a finger.
const FLAT: f64 = 0.5;
/// The wall goes on at both sides for so many widths.
const BESIDE: f64 = 0.5;
/// A jog is at most so many widths long and has at most so many sharp corners.
const LONGEST: f64 = 4.0;
const CORNERS: usize = 6;
/// So many widths before and behind a jog its bridge starts and ends; the least that will do is taken.
const SLOPES: [f64; 4] = [0.0, 0.125, 0.25, 0.5];
/// Lengths that differ by so many widths are alike.
const SLACK: f64 = 2e-6;
/// A straight bridge turns from the wall before it as the wall behind turns from it, within this angle, radians (8°).
const LEAN: f64 = 0.14;

/// A ring with bridges over its jogs; nothing where it has none. `sharp` are the corners at which walls end, `across` gives how far
/// the material reaches from a point along a direction.
pub(super) fn bridged(
    corners: &[Stop],
    sharp: &[usize],
    across: impl Fn(Point, Point) -> Option<f64>,
) -> Option<Vec<Stop>> {
    let ring = Circuit::new(corners, sharp);
    let mut found: Vec<Bridge> = (0..sharp.len()).flat_map(|k| ring.bridges_from(k, &across)).collect();
    // Of bridges that overlap one is taken: the plainest, and of those the one over the whole jog and not a part of it.
    let depth = |b: &Bridge| b.tooth.max(b.notch);
    found.sort_by(|a, b| a.slope.total_cmp(&b.slope).then(b.sharp.cmp(&a.sharp)).then(depth(a).total_cmp(&depth(b))));
    let mut taken: Vec<Bridge> = Vec::new();
    for bridge in found {
        if taken.iter().all(|t| ring.apart(t, &bridge)) {
            taken.push(bridge);
        }
    }
    (!taken.is_empty()).then(|| ring.with(&taken))
}

/// What takes the place of a jog: a straight piece, or two that meet in a crossing.
struct Bridge {
    /// First and last corner of the jog.
    corners: [usize; 2],
    crossing: Option<Point>,
    /// Length along the ring from its first corner to where the bridge starts, and from there to where it ends.
    start: f64,
    length: f64,
    /// Its two ends.
    ends: [Stop; 2],
    /// What is chosen by; how far the jog lies out of it and into it.
    slope: f64,
    sharp: usize,
    tooth: f64,
    notch: f64,
}

/// What may be a jog.
struct Jog {
    /// First and last corner, and how many of them are sharp.
    corners: [usize; 2],
    sharp: usize,
    /// Directions of the walls before and behind it.
    walls: [Point; 2],
    /// Width of the material there, and length of the shorter wall beside it.
    width: f64,
    beside: f64,
}

/// A ring with the length along it.
struct Circuit<'a> {
    corners: &'a [Stop],
    sharp: &'a [usize],
    along: Vec<f64>,
    whole: f64,
}

impl<'a> Circuit<'a> {
    fn new(corners: &'a [Stop], sharp: &'a [usize]) -> Self {
        let n = corners.len();
        let (mut along, mut whole) = (Vec::with_capacity(n), 0.0);
        for i in 0..n {
            along.push(whole);
            whole += distance(corners[i].place.at, corners[(i + 1) % n].place.at);
        }
        Self { corners, sharp, along, whole }
    }

    fn at(&self, corner: usize) -> Point {
        self.corners[corner % self.corners.len()].place.at
    }

    fn direction(&self, corner: usize) -> Point {
        unit(self.at(corner), self.at(corner + 1))
    }

    /// From one length along the ring on to another.
    fn onwards(&self, from: f64, to: f64) -> f64 {
        if to >= from { to - from } else { to - from + self.whole }
    }

    /// Corners from one to another, both included.
    fn span(&self, [from, to]: [usize; 2]) -> impl Iterator<Item = usize> + use<> {
        let n = self.corners.len();
        (0..=(to + n - from) % n).map(move |k| (from + k) % n)
    }

    /// The point at a length along the ring and the direction of the wall there.
    fn stop(&self, along: f64) -> (Stop, Point) {
        let along = along.rem_euclid(self.whole);
        let i = self.along.partition_point(|a| *a <= along).max(1) - 1;
        let (corner, d) = (self.corners[i], self.direction(i));
        let place = Place { at: ahead(self.at(i), d, along - self.along[i]), ..corner.place };
        (Stop { place, crossing: corner.bridge, ..corner }, d)
    }

    /// Bridges over the jogs that start at a sharp corner.
    fn bridges_from(&self, k: usize, across: &impl Fn(Point, Point) -> Option<f64>) -> Vec<Bridge> {
        let (count, n) = (self.sharp.len(), self.corners.len());
        let sharp = |k: usize| self.sharp[k % count];
        let first = sharp(k);
        let mut out = Vec::new();
        if count < 4 || self.corners[(first + n - 1) % n].held {
            return out;
        }
        let before = self.onwards(self.along[sharp(k + count - 1)], self.along[first]);
        for more in 1..CORNERS.min(count - 2) {
            let last = sharp(k + more);
            if self.span([first, last]).any(|i| self.corners[i].held) {
                break;
            }
            let behind = self.onwards(self.along[last], self.along[sharp(k + more + 1)]);
            out.extend(self.bridge([first, last], more + 1, before.min(behind), across));
        }
        out
    }

    /// The bridge over a jog between two corners, if it is one; `beside` is the length of the shorter wall next to it.
    fn bridge(
        &self,
        corners: [usize; 2],
        sharp: usize,
        beside: f64,
        across: &impl Fn(Point, Point) -> Option<f64>,
    ) -> Option<Bridge> {
        let [p, q] = corners.map(|i| self.at(i));
        let walls = [self.direction(corners[0] + self.corners.len() - 1), self.direction(corners[1])];
        if angle(walls[0], walls[1]).abs() > BEND {
            return None;
        }
        let foot = distance(p, q);
        // A little before it and a little behind it: a step may be small against the material on one side only.
        let aside = foot.min(0.5 * beside);
        let inward = left(unit([0.0; 2], [walls[0][0] + walls[1][0], walls[0][1] + walls[1][1]]));
        let before = across(ahead(p, walls[0], -aside), inward)?;
        let width = before.min(across(ahead(q, walls[1], aside), inward)?);
        let (tooth, _) = self.beyond(corners, &[Some(p), Some(q)]);
        if beside < BESIDE * width || foot > LONGEST * width || tooth > FLAT * foot {
            return None;
        }
        let jog = Jog { corners, sharp, walls, width, beside };
        self.mitred(&jog).or_else(|| SLOPES.iter().find_map(|slope| self.sloped(&jog, *slope)))
    }

    /// Both walls up to where their lines cross: between the ends of a jog, or on one of the walls, past which the other's shape sticks
    /// out there.
    fn mitred(&self, jog: &Jog) -> Option<Bridge> {
        let [p, q] = jog.corners.map(|i| self.at(i));
        let [into, out] = jog.walls;
        let (between, sine) = (sub(q, p), cross(into, out));
        // From `p` on to the crossing and from there on to `q`.
        let (s, t) = (cross(between, out) / sine, cross(into, between) / sine);
        let n = self.corners.len();
        let straight = [jog.corners[0] + n - 1, jog.corners[1]].map(|i| distance(self.at(i), self.at(i + 1)));
        // Walls may start where they cross: rounding decides nothing.
        let fits = |v: f64, wall: f64| (-wall.min(jog.beside) - SLACK * jog.width..=LONGEST * jog.width).contains(&v);
        if !(fits(s, straight[0]) && fits(t, straight[1]) && s.max(t) >= 0.0) {
            return None;
        }
        let crossing = (s > 0.0 && t > 0.0).then(|| ahead(p, into, s));
        let bridge = self.piece(jog, [(-s).clamp(0.0, straight[0]), (-t).clamp(0.0, straight[1])], crossing);
        let along = unit(bridge.ends[0].place.at, bridge.ends[1].place.at);
        let smooth = angle(into, along).abs().max(angle(along, out).abs()) <= BEND;
        (smooth && bridge.tooth <= TOOTH * jog.width && bridge.notch <= NOTCH * jog.width).then_some(bridge)
    }

    /// A straight bridge that starts so many widths before a jog and ends so many behind it.
    fn sloped(&self, jog: &Jog, slope: f64) -> Option<Bridge> {
        let back = slope * jog.width;
        if back > jog.beside {
            return None;
        }
        let bridge = Bridge { slope, ..self.piece(jog, [back; 2], None) };
        let along = unit(bridge.ends[0].place.at, bridge.ends[1].place.at);
        let walls =
            if back > 0.0 { [self.stop(bridge.start).1, self.stop(bridge.start + bridge.length).1] } else { jog.walls };
        let (enter, leave) = (angle(walls[0], along), angle(along, walls[1]));
        let leans = (enter - leave).abs() <= 2.0 * LEAN && (enter + leave).abs() <= BEND;
        (leans && bridge.tooth.max(bridge.notch) <= STEP * jog.width).then_some(bridge)
    }

    /// What goes from so far before a jog to so far behind it.
    fn piece(&self, jog: &Jog, [back, on]: [f64; 2], crossing: Option<Point>) -> Bridge {
        let [first, last] = jog.corners;
        let start = if back > 0.0 { (self.along[first] - back).rem_euclid(self.whole) } else { self.along[first] };
        let length = back + self.onwards(self.along[first], self.along[last]) + on;
        let ends = [
            if back > 0.0 { self.stop(start).0 } else { self.corners[first] },
            if on > 0.0 { self.stop(start + length).0 } else { self.corners[last] },
        ];
        let [p, q] = ends.map(|e| Some(e.place.at));
        let (tooth, notch) = self.beyond(jog.corners, &[p, crossing, q]);
        Bridge { corners: jog.corners, crossing, start, length, ends, slope: 0.0, sharp: jog.sharp, tooth, notch }
    }

    /// How far the corners of a jog lie out of the wall and into it, from what takes its place.
    fn beyond(&self, corners: [usize; 2], line: &[Option<Point>]) -> (f64, f64) {
        let line: Vec<Point> = line.iter().flatten().copied().collect();
        self.span(corners).map(|i| self.at(i)).fold((0.0, 0.0), |(tooth, notch), at| {
            let pieces =
                line.windows(2).map(|w| (distance(at, closest(at, w[0], w[1])), cross(sub(w[1], w[0]), sub(at, w[0]))));
            let (off, side) = pieces.min_by(|a, b| a.0.total_cmp(&b.0)).unwrap_or_default();
            // The material lies on the left.
            if side < 0.0 { (off.max(tooth), notch) } else { (tooth, off.max(notch)) }
        })
    }

    fn apart(&self, a: &Bridge, b: &Bridge) -> bool {
        self.onwards(a.start, b.start) >= a.length && self.onwards(b.start, a.start) >= b.length
    }

    /// The ring with bridges that do not overlap.
    fn with(&self, bridges: &[Bridge]) -> Vec<Stop> {
        let mut gone = vec![false; self.corners.len()];
        let mut stops: Vec<(f64, Stop)> = Vec::new();
        for bridge in bridges {
            self.span(bridge.corners).for_each(|i| gone[i] = true);
            for (i, along) in self.along.iter().enumerate() {
                gone[i] |= self.onwards(bridge.start, *along) < bridge.length;
            }
            let [start, end] = bridge.ends;
            stops.push((bridge.start, Stop { bridge: true, ..start }));
            if let Some(at) = bridge.crossing {
                let crossing = Stop { place: Place { at, ..start.place }, held: false, bridge: true, crossing: true };
                stops.push((bridge.start + 0.5 * bridge.length, crossing));
            }
            stops.push((bridge.start + bridge.length, end));
        }
        let kept = (0..self.corners.len()).filter(|i| !gone[*i]);
        stops.extend(kept.map(|i| (self.along[i], self.corners[i])));
        stops.iter_mut().for_each(|s| s.0 = s.0.rem_euclid(self.whole));
        stops.sort_by(|a, b| a.0.total_cmp(&b.0));
        stops.into_iter().map(|s| s.1).collect()
    }
}

/// By how much a direction turns to the left into another, radians.
fn angle(from: Point, to: Point) -> f64 {
    cross(from, to).atan2(dot(from, to))
}
