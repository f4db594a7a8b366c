//! From rings of vertices to pieces: straight segments, and arcs where a run of vertices lies on one circle. In: points
//! in µm, in order, with a held mark for every segment. Out: pieces in the same order that join end to end.
//!
//! Masks hold circles as facets, whether they come from a shape list, from GDSII or from an edge bias. A mesh that
//! followed the facets would need an edge a facet and would still have their corners; a piece that knows its circle can be
//! cut wherever the mesh wants it.

mod circle;

pub use crate::geometry::distance;

use crate::geometry::{Point, dot, middle, twice_area};
use circle::{LARGEST_TURN, OFF_CIRCLE, full_circle, run_from, turn_at};
use std::f64::consts::TAU;

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
                (dot(w, d) / dot(d, d)).clamp(0.0, 1.0)
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
    let m = middle(a, b);
    let d = [m[0] - centre[0], m[1] - centre[1]];
    let l = d[0].hypot(d[1]);
    if l < 1e-9 * radius {
        return m;
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

#[cfg(test)]
mod tests;
