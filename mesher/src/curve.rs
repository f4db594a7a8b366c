//! From rings of vertices to pieces: straight segments, and arcs where a run of vertices lies on one circle. In: points
//! in µm, in order, with a held mark for every segment. Out: pieces in the same order that join end to end.
//!
//! Masks hold circles as facets, whether they come from a shape list, from GDSII or from an edge bias. A mesh that
//! followed the facets would need an edge a facet and would still have their corners; a piece that knows its circle can be
//! cut wherever the mesh wants it. The fit is the algebraic one of Kåsa (IEEE Trans. Instrum. Meas. 25, 1976, 8–14).

pub use crate::geometry::distance;

use crate::geometry::{Point, twice_area};
use std::f64::consts::TAU;

/// Vertices needed before a run counts as an arc.
const FEWEST: usize = 6;
/// Largest turn at a vertex inside an arc, radians (23°: a drawn circle of 16 facets still counts).
const LARGEST_TURN: f64 = 0.4015;
/// Vertices may lie this far off the circle, µm: a mask grid of 1 nm moves them by up to 0.7 nm.
const OFF_CIRCLE: f64 = 0.0015;
/// The same as a share of the radius.
const OFF_CIRCLE_SHARE: f64 = 1e-4;
/// Straight segments are joined when the vertex between them is nearer to their chord than this, µm.
const COLLINEAR: f64 = 1e-6;

/// Where a piece lies between its ends.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum CurveShape {
    /// On the chord.
    Straight,
    /// On a circle.
    Arc {
        /// Centre of the circle, µm.
        centre: Point,
        /// Radius, µm.
        radius: f64,
        /// Angle of the start seen from the centre, radians.
        start: f64,
        /// Angle from start to end, radians, anticlockwise positive; ±2π for a full circle.
        sweep: f64,
    },
}

/// A piece of a boundary.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Piece {
    /// Start, µm.
    pub from: Point,
    /// End, µm.
    pub to: Point,
    /// What lies between.
    pub shape: CurveShape,
    /// Whether it lies along an anchor.
    pub held: bool,
}

impl Piece {
    /// A straight piece.
    pub fn straight(from: Point, to: Point, held: bool) -> Self {
        Self { from, to, shape: CurveShape::Straight, held }
    }

    /// Length along the piece, µm.
    pub fn length(&self) -> f64 {
        match self.shape {
            CurveShape::Straight => distance(self.from, self.to),
            CurveShape::Arc { radius, sweep, .. } => radius * sweep.abs(),
        }
    }

    /// The point at share `t` of the way; exactly the ends at 0 and 1.
    pub fn at(&self, t: f64) -> Point {
        if t <= 0.0 {
            return self.from;
        }
        if t >= 1.0 {
            return self.to;
        }
        match self.shape {
            CurveShape::Straight => {
                [self.from[0] + t * (self.to[0] - self.from[0]), self.from[1] + t * (self.to[1] - self.from[1])]
            }
            CurveShape::Arc { centre, radius, start, sweep } => {
                let (s, c) = (start + t * sweep).sin_cos();
                [centre[0] + radius * c, centre[1] + radius * s]
            }
        }
    }

    /// The share of the way at which the piece is nearest to `p`, between 0 and 1.
    pub fn nearest(&self, p: Point) -> f64 {
        match self.shape {
            CurveShape::Straight => {
                let d = [self.to[0] - self.from[0], self.to[1] - self.from[1]];
                let w = [p[0] - self.from[0], p[1] - self.from[1]];
                ((w[0] * d[0] + w[1] * d[1]) / (d[0] * d[0] + d[1] * d[1])).clamp(0.0, 1.0)
            }
            CurveShape::Arc { centre, start, sweep, .. } => {
                let angle = (p[1] - centre[1]).atan2(p[0] - centre[0]);
                let mut ahead = (angle - start) * sweep.signum();
                ahead -= TAU * (ahead / TAU).floor();
                let whole = sweep.abs();
                if ahead <= whole {
                    ahead / whole
                } else if ahead - whole < TAU - ahead {
                    1.0
                } else {
                    0.0
                }
            }
        }
    }

    /// Unit normal on the left of the direction of travel, at share `t`.
    pub fn left(&self, t: f64) -> Point {
        match self.shape {
            CurveShape::Straight => {
                let l = distance(self.from, self.to).max(f64::MIN_POSITIVE);
                [-(self.to[1] - self.from[1]) / l, (self.to[0] - self.from[0]) / l]
            }
            CurveShape::Arc { start, sweep, .. } => {
                let (s, c) = (start + t * sweep).sin_cos();
                [-c * sweep.signum(), -s * sweep.signum()]
            }
        }
    }

    /// The part between shares `t0 < t1`, with ends that the caller may have moved by a rounding error.
    pub fn part(&self, t0: f64, t1: f64, from: Point, to: Point) -> Self {
        let shape = match self.shape {
            CurveShape::Straight => CurveShape::Straight,
            CurveShape::Arc { centre, radius, start, sweep } => {
                CurveShape::Arc { centre, radius, start: start + t0 * sweep, sweep: (t1 - t0) * sweep }
            }
        };
        Self { from, to, shape, held: self.held }
    }

    /// The circle the piece lies on: centre and radius.
    pub fn circle(&self) -> Option<(Point, f64)> {
        match self.shape {
            CurveShape::Straight => None,
            CurveShape::Arc { centre, radius, .. } => Some((centre, radius)),
        }
    }
}

/// The point of the circle half-way between two of its points, the short way round.
pub fn middle_on_circle(centre: Point, radius: f64, a: Point, b: Point) -> Point {
    let d = [0.5 * (a[0] + b[0]) - centre[0], 0.5 * (a[1] + b[1]) - centre[1]];
    let l = d[0].hypot(d[1]);
    if l < 1e-9 * radius {
        return [0.5 * (a[0] + b[0]), 0.5 * (a[1] + b[1])];
    }
    [centre[0] + radius * d[0] / l, centre[1] + radius * d[1] / l]
}

/// Pieces of a closed ring; `held[i]` marks the segment from point `i` to the next.
pub fn pieces_of_ring(ring: &[Point], held: &[bool]) -> Vec<Piece> {
    let (points, marks) = without_repeats(ring, held);
    let n = points.len();
    if n < 3 {
        return Vec::new();
    }
    let turn = |i: usize| turn_at(points[(i + n - 1) % n], points[i], points[(i + 1) % n]);
    let breaks = |i: usize| marks[(i + n - 1) % n] != marks[i] || turn(i).abs() > LARGEST_TURN;
    let start = match (0..n).find(|&i| breaks(i)) {
        Some(i) => i,
        None => {
            if let Some((centre, radius)) = full_circle(&points) {
                let start = (points[0][1] - centre[1]).atan2(points[0][0] - centre[0]);
                let sweep = TAU * turn(0).signum();
                let shape = CurveShape::Arc { centre, radius, start, sweep };
                return vec![Piece { from: points[0], to: points[0], shape, held: marks[0] }];
            }
            // The end of the longest segment: arcs do not run through it.
            let mut longest = 0;
            for i in 1..n {
                let (a, b) =
                    (distance(points[i], points[(i + 1) % n]), distance(points[longest], points[(longest + 1) % n]));
                if a > b {
                    longest = i;
                }
            }
            (longest + 1) % n
        }
    };
    let chain: Vec<Point> = (0..=n).map(|i| points[(start + i) % n]).collect();
    let chain_held: Vec<bool> = (0..n).map(|i| marks[(start + i) % n]).collect();
    let mut pieces = pieces_of_chain(&chain, &chain_held);
    if pieces.len() > 3
        && let (Some(first), Some(last)) = (pieces.first().copied(), pieces.last().copied())
        && joins(&last, &first)
    {
        pieces[0] = Piece::straight(last.from, first.to, first.held);
        pieces.pop();
    }
    pieces
}

/// Pieces of a closed ring as drawn: straight, whatever circle its corners lie on.
pub fn facets_of_ring(ring: &[Point], held: &[bool]) -> Vec<Piece> {
    let (points, marks) = without_repeats(ring, held);
    if points.len() < 3 {
        return Vec::new();
    }
    (0..points.len()).map(|i| Piece::straight(points[i], points[(i + 1) % points.len()], marks[i])).collect()
}

/// Pieces of an open chain; `held` has one mark for each segment.
pub fn pieces_of_chain(points: &[Point], held: &[bool]) -> Vec<Piece> {
    let mut pieces: Vec<Piece> = Vec::new();
    let mut i = 0;
    while i + 1 < points.len() {
        let Some((mut end, centre, radius)) = run_from(points, held, i) else {
            let next = Piece::straight(points[i], points[i + 1], held[i]);
            match pieces.last_mut() {
                Some(last) if joins(last, &next) => last.to = next.to,
                _ => pieces.push(next),
            }
            i += 1;
            continue;
        };
        // Facets cut short by a union end on a chord, not on the circle: take them in, or they become tiny edges.
        let facet = (i..end).map(|k| distance(points[k], points[k + 1])).fold(0.0, f64::max);
        let sagitta = facet * facet / (8.0 * radius) + OFF_CIRCLE;
        let belongs = |a: Point, b: Point, outer: Point| {
            distance(a, b) < facet && (distance(outer, centre) - radius).abs() <= sagitta
        };
        let mut from = points[i];
        if let Some(last) = pieces.last().copied()
            && last.shape == CurveShape::Straight
            && last.held == held[i]
            && belongs(last.from, last.to, last.from)
            && turn_at(last.from, points[i], points[i + 1]).abs() <= LARGEST_TURN
        {
            from = last.from;
            pieces.pop();
        }
        if end + 1 < points.len()
            && held[end] == held[i]
            && belongs(points[end], points[end + 1], points[end + 1])
            && turn_at(points[end - 1], points[end], points[end + 1]).abs() <= LARGEST_TURN
        {
            end += 1;
        }
        let to = points[end];
        let angle = |p: Point| (p[1] - centre[1]).atan2(p[0] - centre[0]);
        let sense = turn_at(points[i], points[i + 1], points[i + 2]).signum();
        let start = angle(from);
        let mut sweep = (angle(to) - start) * sense;
        sweep -= TAU * (sweep / TAU).floor();
        if sweep < 1e-9 {
            sweep = TAU;
        }
        pieces.push(Piece {
            from,
            to,
            shape: CurveShape::Arc { centre, radius, start, sweep: sense * sweep },
            held: held[i],
        });
        i = end;
    }
    pieces
}

/// Whether two straight pieces make one.
fn joins(a: &Piece, b: &Piece) -> bool {
    if a.shape != CurveShape::Straight || b.shape != CurveShape::Straight || a.held != b.held {
        return false;
    }
    let chord = distance(a.from, b.to);
    let twice = twice_area(a.from, b.to, a.to).abs();
    chord > a.length().max(b.length()) && twice <= COLLINEAR * chord
}

/// Turn at `b`, radians, left positive.
fn turn_at(a: Point, b: Point, c: Point) -> f64 {
    let (u, v) = ([b[0] - a[0], b[1] - a[1]], [c[0] - b[0], c[1] - b[1]]);
    (u[0] * v[1] - u[1] * v[0]).atan2(u[0] * v[0] + u[1] * v[1])
}

/// Drops points that repeat their predecessor.
fn without_repeats(ring: &[Point], held: &[bool]) -> (Vec<Point>, Vec<bool>) {
    let (mut points, mut marks): (Vec<Point>, Vec<bool>) = (Vec::new(), Vec::new());
    for (i, &p) in ring.iter().enumerate() {
        if ring[(i + 1) % ring.len()] != p {
            points.push(p);
            marks.push(held.get(i).copied().unwrap_or(false));
        }
    }
    (points, marks)
}

/// Circle through points, by least squares; `None` where they lie on a line.
fn fit(points: &[Point]) -> Option<(Point, f64)> {
    let n = points.len() as f64;
    let mean = points.iter().fold([0.0, 0.0], |m, p| [m[0] + p[0] / n, m[1] + p[1] / n]);
    let (mut uu, mut uv, mut vv, mut ru, mut rv) = (0.0, 0.0, 0.0, 0.0, 0.0);
    for p in points {
        let (u, v) = (p[0] - mean[0], p[1] - mean[1]);
        let q = u * u + v * v;
        uu += u * u;
        uv += u * v;
        vv += v * v;
        ru += 0.5 * q * u;
        rv += 0.5 * q * v;
    }
    let det = uu * vv - uv * uv;
    if det.is_nan() || det <= 1e-14 * (uu + vv) * (uu + vv) {
        return None;
    }
    let (a, b) = ((ru * vv - rv * uv) / det, (rv * uu - ru * uv) / det);
    Some(([mean[0] + a, mean[1] + b], (a * a + b * b + (uu + vv) / n).sqrt()))
}

/// Largest distance of the points from a circle.
fn off(points: &[Point], centre: Point, radius: f64) -> f64 {
    points.iter().map(|&p| (distance(p, centre) - radius).abs()).fold(0.0, f64::max)
}

/// Tolerance for a run: the fixed one or a share of the radius, but never more than a small part of how far the run bows,
/// so that a line is no circle.
fn tolerance(run: &[Point], radius: f64) -> Option<f64> {
    let (a, b) = (run[0], run[run.len() - 1]);
    let chord = distance(a, b);
    let bow =
        if chord > 0.0 { run.iter().map(|&p| twice_area(a, b, p).abs() / chord).fold(0.0, f64::max) } else { radius };
    (bow > 4.0 * OFF_CIRCLE).then(|| (OFF_CIRCLE_SHARE * radius).min(0.02 * bow).max(OFF_CIRCLE))
}

/// Centre and radius when all points of a ring lie on one circle.
fn full_circle(points: &[Point]) -> Option<(Point, f64)> {
    if points.len() < 3 * FEWEST / 2 {
        return None;
    }
    let (centre, radius) = fit(points)?;
    (off(points, centre, radius) <= OFF_CIRCLE.max(OFF_CIRCLE_SHARE * radius)).then_some((centre, radius))
}

/// The longest run on one circle that starts at point `i`: its last point and the circle.
fn run_from(points: &[Point], held: &[bool], i: usize) -> Option<(usize, Point, f64)> {
    let last = points.len() - 1;
    if i + FEWEST > points.len() {
        return None;
    }
    let first_turn = turn_at(points[i], points[i + 1], points[i + 2]);
    // Facets of one circle turn alike; the mask grid blurs short ones.
    let continues = |k: usize| {
        let (a, b) = (distance(points[k - 1], points[k]), distance(points[k], points[k + 1]));
        let turn = turn_at(points[k - 1], points[k], points[k + 1]);
        held[k] == held[i]
            && turn.abs() <= LARGEST_TURN
            && turn * first_turn > 0.0
            && a.max(b) <= 2.2 * a.min(b) + 4.0 * OFF_CIRCLE
    };
    let mut end = i + FEWEST - 1;
    if !(i + 1..end).all(continues) {
        return None;
    }
    let checked = |end: usize| {
        let run = &points[i..=end];
        let (centre, radius) = fit(run)?;
        (off(run, centre, radius) <= tolerance(run, radius)?).then_some((centre, radius))
    };
    let (mut centre, mut radius) = checked(end)?;
    let mut refit_at = end + 2;
    let mut turned: f64 = (i + 1..end).map(|k| turn_at(points[k - 1], points[k], points[k + 1])).sum();
    while end < last && continues(end) {
        let near = 4.0 * OFF_CIRCLE.max(OFF_CIRCLE_SHARE * radius);
        turned += turn_at(points[end - 1], points[end], points[end + 1]);
        if (distance(points[end + 1], centre) - radius).abs() > near || turned.abs() > TAU {
            break;
        }
        end += 1;
        if end >= refit_at {
            match checked(end) {
                Some(found) => (centre, radius) = found,
                None => {
                    end -= 1;
                    break;
                }
            }
            refit_at = end + 1 + (end - i) / 4;
        }
    }
    while end >= i + FEWEST - 1 {
        if let Some((centre, radius)) = checked(end) {
            return Some((end, centre, radius));
        }
        end -= 1;
    }
    None
}

#[cfg(test)]
mod tests;
