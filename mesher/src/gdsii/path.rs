//! The outline of a path: a centre line with a width, mitred at its corners, ended as its type says. Any one unit.
//!
//! Corners that turn by up to 90° run out to the mitre's tip; sharper ones are cut off half a width beyond the corner, so
//! that no spike grows. The format leaves joins open; this is common practice.

use super::crossing::crossing;
use crate::geometry::{Point, Ring};

/// How one end of a path looks.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(super) enum Cap {
    /// Straight, this far beyond the point (negative: before it).
    Straight(f64),
    /// A half circle around the point.
    Round,
}

/// What is drawn along a centre line.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(super) struct Stroke {
    /// Half of the width, positive, µm.
    pub half_width: f64,
    /// The caps at its first and last point.
    pub caps: [Cap; 2],
    /// Largest distance between a round cap and its facets, whose corners lie on the circle, µm.
    pub chord_error: f64,
    /// How deep the outline may cross itself before it is drawn piece by piece, µm.
    pub tolerance: f64,
}

/// A half circle has at most this many facets, whatever the chord error.
const MOST_FACETS: f64 = 4096.0;

/// The outline: one ring running anticlockwise, or, where that would fold or cross itself, overlapping convex pieces whose
/// union it is. No ring where negative extensions leave nothing. Consecutive points must differ.
pub(super) fn outline(points: &[Point], stroke: &Stroke) -> Vec<Ring> {
    let segments: Vec<Segment> = points.windows(2).map(|p| Segment::new(p[0], p[1])).collect();
    if fits(&segments, stroke) {
        let ring = in_one(&segments, stroke);
        if segments.len() == 1 || crossing(&ring, stroke.tolerance).is_none() {
            return vec![ring];
        }
    }
    in_pieces(&segments, stroke)
}

#[derive(Clone, Copy, Debug)]
struct Segment {
    from: Point,
    to: Point,
    along: Point,
    length: f64,
}

impl Segment {
    fn new(from: Point, to: Point) -> Self {
        let step = [to[0] - from[0], to[1] - from[1]];
        let length = step[0].hypot(step[1]);
        Self { from, to, along: [step[0] / length, step[1] / length], length }
    }

    /// A point beside `p`: `forward` along the segment and `left` of it.
    fn beside(&self, p: Point, forward: f64, left: f64) -> Point {
        let [x, y] = self.along;
        [p[0] + forward * x - left * y, p[1] + forward * y + left * x]
    }

    /// Sine and cosine of the turn into the next segment, anticlockwise positive.
    fn turn(&self, next: &Self) -> (f64, f64) {
        let ([a, b], [c, d]) = (self.along, next.along);
        (a * d - b * c, a * c + b * d)
    }

    /// Tangent of half the turn into the next segment: the inner corner's setback over the half width.
    fn half_tangent(&self, next: &Self) -> f64 {
        let (sine, cosine) = self.turn(next);
        if cosine <= -1.0 { f64::INFINITY } else { sine.abs() / (1.0 + cosine) }
    }
}

/// Whether every segment is longer than what its inner corners take off it, so that no side folds back.
fn fits(segments: &[Segment], stroke: &Stroke) -> bool {
    let cap = |end: usize| match stroke.caps[end] {
        Cap::Straight(beyond) => -beyond,
        Cap::Round => 0.0,
    };
    let mut before = cap(0);
    segments.iter().enumerate().all(|(i, segment)| {
        let after = match segments.get(i + 1) {
            Some(next) => stroke.half_width * segment.half_tangent(next),
            None => cap(1),
        };
        let left = segment.length - before - after;
        before = after;
        left > 0.0
    })
}

fn in_one(segments: &[Segment], stroke: &Stroke) -> Ring {
    let half = stroke.half_width;
    let (mut right, mut left) = (Vec::new(), Vec::new());
    for pair in segments.windows(2) {
        join(&pair[0], &pair[1], half, -1.0, &mut right);
        join(&pair[0], &pair[1], half, 1.0, &mut left);
    }
    let mut ring = start_cap(&segments[0], stroke);
    ring.extend(right);
    ring.extend(end_cap(&segments[segments.len() - 1], stroke));
    ring.extend(left.into_iter().rev());
    ring
}

/// The corner of one side (left: `side` = 1, right: −1) where a segment meets the next.
fn join(segment: &Segment, next: &Segment, half: f64, side: f64, corner: &mut Vec<Point>) {
    let (sine, cosine) = segment.turn(next);
    let p = segment.to;
    // The outer side of a turn by more than 90°, with room for rounding, is cut off.
    if sine * side <= 0.0 && segment.half_tangent(next) > 1.0 + 1e-9 {
        corner.push(segment.beside(p, half, side * half));
        corner.push(next.beside(p, -half, side * half));
        return;
    }
    let reach = side * half / (1.0 + cosine);
    let ([a, b], [c, d]) = (segment.along, next.along);
    corner.push([p[0] - reach * (b + d), p[1] + reach * (a + c)]);
}

/// From the left side around the first point to the right side.
fn start_cap(segment: &Segment, stroke: &Stroke) -> Vec<Point> {
    let back = Segment { along: segment.along.map(|v| -v), from: segment.to, to: segment.from, ..*segment };
    cap(&back, stroke.caps[0], stroke)
}

/// From the right side around the last point to the left side.
fn end_cap(segment: &Segment, stroke: &Stroke) -> Vec<Point> {
    cap(segment, stroke.caps[1], stroke)
}

fn cap(segment: &Segment, cap: Cap, stroke: &Stroke) -> Vec<Point> {
    let half = stroke.half_width;
    match cap {
        Cap::Straight(beyond) => [-half, half].map(|left| segment.beside(segment.to, beyond, left)).to_vec(),
        Cap::Round => {
            // A facet over the angle 2a lies r (1 − cos a) inside the circle.
            let half_angle = (1.0 - (stroke.chord_error / half).min(1.0)).acos();
            let facets = (std::f64::consts::FRAC_PI_2 / half_angle).ceil().clamp(4.0, MOST_FACETS);
            let mut arc = vec![segment.beside(segment.to, 0.0, -half)];
            for k in 1..facets as usize {
                let (sine, cosine) = (std::f64::consts::PI * k as f64 / facets).sin_cos();
                arc.push(segment.beside(segment.to, half * sine, -half * cosine));
            }
            arc.push(segment.beside(segment.to, 0.0, half));
            arc
        }
    }
}

/// A rectangle for every segment (with the caps) and a wedge on the outer side of every corner. The corner points of the
/// centre line are part of both, so that neighbours share whole sides.
fn in_pieces(segments: &[Segment], stroke: &Stroke) -> Vec<Ring> {
    let half = stroke.half_width;
    let last = segments.len() - 1;
    let mut pieces = Vec::with_capacity(2 * segments.len());
    for (i, segment) in segments.iter().enumerate() {
        let straight = |at_end: bool, cap: Cap| match cap {
            Cap::Straight(beyond) if at_end => beyond,
            _ => 0.0,
        };
        let length = segment.length + straight(i == 0, stroke.caps[0]) + straight(i == last, stroke.caps[1]);
        if length > 0.0 {
            let mut ring = if i == 0 {
                start_cap(segment, stroke)
            } else {
                [half, 0.0, -half].map(|left| segment.beside(segment.from, 0.0, left)).to_vec()
            };
            ring.extend(if i == last {
                end_cap(segment, stroke)
            } else {
                [-half, 0.0, half].map(|left| segment.beside(segment.to, 0.0, left)).to_vec()
            });
            pieces.push(ring);
        }
        let Some(next) = segments.get(i + 1) else { continue };
        let (sine, cosine) = segment.turn(next);
        if sine == 0.0 && cosine > 0.0 {
            continue;
        }
        let side = if sine > 0.0 { -1.0 } else { 1.0 };
        let mut wedge = vec![segment.to, segment.beside(segment.to, 0.0, side * half)];
        join(segment, next, half, side, &mut wedge);
        wedge.push(next.beside(segment.to, 0.0, side * half));
        if side > 0.0 {
            wedge.reverse();
        }
        pieces.push(wedge);
    }
    pieces
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::geometry::ring_area;

    fn stroke(half_width: f64, begin: Cap, end: Cap) -> Stroke {
        Stroke { half_width, caps: [begin, end], chord_error: 1e-3, tolerance: 1e-6 }
    }

    const FLUSH: Cap = Cap::Straight(0.0);

    #[test]
    fn caps_of_a_straight_path() {
        let line = [[0.0, 0.0], [10.0, 0.0]];
        let one = |begin, end| outline(&line, &stroke(2.0, begin, end)).remove(0);
        assert_eq!(one(FLUSH, FLUSH), [[0.0, 2.0], [0.0, -2.0], [10.0, -2.0], [10.0, 2.0]]);
        assert_eq!(one(Cap::Straight(2.0), Cap::Straight(-1.0)), [[-2.0, 2.0], [-2.0, -2.0], [9.0, -2.0], [9.0, 2.0]]);
        let round = one(FLUSH, Cap::Round);
        // Half a regular polygon of 2 m corners on the circle, m facets.
        let facets = (round.len() - 3) as f64;
        let expected = 40.0 + 0.5 * 4.0 * facets * (std::f64::consts::PI / facets).sin();
        assert!((ring_area(&round) - expected).abs() < 1e-12);
        let sagitta = 2.0 * (1.0 - (0.5 * std::f64::consts::PI / facets).cos());
        assert!(sagitta <= 1e-3 && sagitta > 0.8e-3, "{sagitta}");
        assert!(outline(&line, &stroke(2.0, Cap::Straight(-5.0), Cap::Straight(-5.0))).is_empty());
    }

    #[test]
    fn right_angles_are_exact() {
        let rings = outline(&[[0.0, 0.0], [10.0, 0.0], [10.0, 20.0]], &stroke(2.0, FLUSH, FLUSH));
        assert_eq!(rings, [[[0.0, 2.0], [0.0, -2.0], [12.0, -2.0], [12.0, 20.0], [8.0, 20.0], [8.0, 2.0]]]);
    }

    #[test]
    fn sharp_corners_are_cut_off() {
        // A turn by 143.13° (3-4-5): tips lie half a width beyond the corner on both sides' lines.
        let rings = outline(&[[0.0, 0.0], [100.0, 0.0], [20.0, 60.0]], &stroke(1.0, FLUSH, FLUSH));
        assert_eq!(rings.len(), 1);
        assert!(rings[0].contains(&[101.0, -1.0]), "{rings:?}");
        // Just below 90° there is a tip, just above there are two corners.
        let corners =
            |x: f64| outline(&[[0.0, 0.0], [100.0, 0.0], [100.0 + x, 50.0]], &stroke(1.0, FLUSH, FLUSH))[0].len();
        assert_eq!((corners(1.0), corners(0.0), corners(-1.0)), (6, 6, 7));
        // 60°: the tip is at half width / cos 30° from the corner.
        let turn = outline(&[[0.0, 0.0], [100.0, 0.0], [150.0, 50.0 * 3f64.sqrt()]], &stroke(1.0, FLUSH, FLUSH));
        let tip = turn[0][2];
        assert!(((tip[0] - 100.0).hypot(tip[1]) - 2.0 / 3f64.sqrt()).abs() < 1e-12, "{turn:?}");
    }

    /// A path over its own start, and one with a jog shorter than its width: pieces, all running anticlockwise.
    #[test]
    fn paths_that_fold_or_cross_come_in_pieces() {
        let crossing = [[0.0, 0.0], [100.0, 0.0], [100.0, 50.0], [50.0, 50.0], [50.0, -50.0]];
        let jog = [[0.0, 0.0], [50.0, 0.0], [50.0, 3.0], [100.0, 3.0]];
        let back = [[0.0, 0.0], [100.0, 0.0], [50.0, 0.0]];
        for (points, count) in [(&crossing[..], 7), (&jog[..], 5), (&back[..], 3)] {
            let pieces = outline(points, &stroke(5.0, FLUSH, FLUSH));
            assert_eq!(pieces.len(), count, "{pieces:?}");
            assert!(pieces.iter().all(|p| ring_area(p) > 0.0), "{pieces:?}");
        }
        assert_eq!(outline(&crossing[..4], &stroke(5.0, FLUSH, FLUSH)).len(), 1);
    }
}
