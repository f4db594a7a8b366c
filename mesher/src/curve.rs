//! From rings of vertices to pieces: straight segments, and arcs where a run of vertices lies on one circle. In: points
//! in µm, in order, with a held mark for every segment. Out: pieces in the same order that join end to end.
//!
//! Masks hold circles as facets, whether they come from a shape list, from GDSII or from an edge bias. A mesh that
//! followed the facets would need an edge a facet; a piece that knows them all can be cut wherever the mesh wants it.

mod circle;
mod facets;

pub use crate::geometry::distance;
pub use facets::Facets;

use crate::geometry::{Point, ahead, share_along, sub, twice_area};
use circle::{LARGEST_TURN, OFF_CIRCLE, full_circle, run_from, turn_at};
use std::sync::Arc;

/// Straight segments are joined when the vertex between them is nearer to their chord than this, µm.
const COLLINEAR: f64 = 1e-6;

/// Where a piece lies between its ends.
#[derive(Clone, Debug, PartialEq)]
pub enum CurveShape {
    /// On the chord.
    Straight,
    /// On facets of a circle.
    Arc {
        /// The facets, of which the piece may be a part.
        facets: Arc<Facets>,
        /// Where it starts and ends along them, µm.
        places: [f64; 2],
        /// Angle from start to end seen from the centre, radians, anticlockwise positive; ±2π for a full circle.
        sweep: f64,
    },
}

/// A piece of a boundary.
#[derive(Clone, Debug, PartialEq)]
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

    /// All of some facets.
    fn arc(facets: Facets, [from, to]: [Point; 2], held: bool) -> Self {
        let (places, sweep) = ([0.0, facets.length()], facets.sweep());
        Self { from, to, shape: CurveShape::Arc { facets: Arc::new(facets), places, sweep }, held }
    }

    /// Whether it lies on its chord.
    pub fn is_straight(&self) -> bool {
        self.shape == CurveShape::Straight
    }

    /// Angle that it turns by, radians, anticlockwise positive.
    pub fn sweep(&self) -> f64 {
        match self.shape {
            CurveShape::Straight => 0.0,
            CurveShape::Arc { sweep, .. } => sweep,
        }
    }

    /// Length along the piece, µm.
    pub fn length(&self) -> f64 {
        match &self.shape {
            CurveShape::Straight => distance(self.from, self.to),
            CurveShape::Arc { places, .. } => places[1] - places[0],
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
        match &self.shape {
            CurveShape::Straight => ahead(self.from, sub(self.to, self.from), t),
            CurveShape::Arc { facets, places: [from, to], .. } => facets.at(from + t * (to - from)),
        }
    }

    /// The share of the way at which the piece is nearest to `p`, between 0 and 1; on an arc, to where `p` lies as seen from the centre.
    pub fn nearest(&self, p: Point) -> f64 {
        match &self.shape {
            CurveShape::Straight => share_along(p, self.from, self.to),
            CurveShape::Arc { facets, places: [from, to], .. } => {
                let place = facets.place(p);
                if (*from..=*to).contains(&place) {
                    (place - from) / (to - from)
                } else if distance(p, self.to) < distance(p, self.from) {
                    1.0
                } else {
                    0.0
                }
            }
        }
    }

    /// Unit normal on the left of the direction of travel, at share `t`; of an arc that of its circle.
    pub fn left(&self, t: f64) -> Point {
        match &self.shape {
            CurveShape::Straight => {
                let l = distance(self.from, self.to).max(f64::MIN_POSITIVE);
                [-(self.to[1] - self.from[1]) / l, (self.to[0] - self.from[0]) / l]
            }
            CurveShape::Arc { facets, sweep, .. } => facets.outward(self.at(t)).map(|x| -x * sweep.signum()),
        }
    }

    /// The part between shares `t0 < t1`, with ends that the caller may have moved by a rounding error.
    pub fn part(&self, t0: f64, t1: f64, from: Point, to: Point) -> Self {
        let shape = match &self.shape {
            CurveShape::Straight => CurveShape::Straight,
            CurveShape::Arc { facets, places, sweep } => {
                let place = |t: f64| places[0] + t * (places[1] - places[0]);
                let facets = Arc::clone(facets);
                CurveShape::Arc { facets, places: [place(t0), place(t1)], sweep: (t1 - t0) * sweep }
            }
        };
        Self { from, to, shape, held: self.held }
    }

    /// A share of the way, or that of a corner of its facets which is near beside an edge of this share.
    pub fn to_corner(&self, t: f64, edge: f64) -> f64 {
        match &self.shape {
            CurveShape::Straight => t,
            CurveShape::Arc { facets, places: [from, to], .. } => {
                let length = to - from;
                (facets.to_corner(from + t * length, edge * length) - from) / length
            }
        }
    }

    /// The facets the piece lies on.
    pub fn facets(&self) -> Option<&Arc<Facets>> {
        match &self.shape {
            CurveShape::Straight => None,
            CurveShape::Arc { facets, .. } => Some(facets),
        }
    }

    /// Corners on the way, ends included: shares and points.
    pub fn corners(&self) -> Vec<(f64, Point)> {
        let mut corners = vec![(0.0, self.from)];
        if let CurveShape::Arc { facets, places: [from, to], .. } = &self.shape {
            corners.extend(facets.between(*from, *to).map(|(place, p)| ((place - from) / (to - from), p)));
        }
        corners.push((1.0, self.to));
        corners
    }
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
            if let Some(circle) = full_circle(&points) {
                let corners = points.iter().chain(&points[..1]).copied().collect();
                return vec![Piece::arc(Facets::new(corners, circle), [points[0]; 2], marks[0])];
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
        && let (Some(first), Some(last)) = (pieces.first().cloned(), pieces.last().cloned())
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
        let mut corners = points[i..=end].to_vec();
        if let Some(last) = pieces.last()
            && last.is_straight()
            && last.held == held[i]
            && belongs(last.from, last.to, last.from)
            && turn_at(last.from, points[i], points[i + 1]).abs() <= LARGEST_TURN
        {
            corners.insert(0, last.from);
            pieces.pop();
        }
        if end + 1 < points.len()
            && held[end] == held[i]
            && belongs(points[end], points[end + 1], points[end + 1])
            && turn_at(points[end - 1], points[end], points[end + 1]).abs() <= LARGEST_TURN
        {
            end += 1;
            corners.push(points[end]);
        }
        let ends = [corners[0], points[end]];
        pieces.push(Piece::arc(Facets::new(corners, (centre, radius)), ends, held[i]));
        i = end;
    }
    pieces
}

/// Whether two straight pieces make one.
fn joins(a: &Piece, b: &Piece) -> bool {
    if !a.is_straight() || !b.is_straight() || a.held != b.held {
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
