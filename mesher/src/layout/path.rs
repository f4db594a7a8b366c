//! The outline of a line with a width: in come the points of its middle line (µm), out come polygons (µm). Joins are
//! mitred up to [`MITRE_LIMIT`] and bevelled beyond. Paths of a stream have joins of their own (`gdsii/path.rs`).

use super::crossing::self_crossing;
use super::curve;
use super::error::{LayoutError, chord, length, point, positive};
use super::shape::Ends;
use crate::boolean;
use crate::geometry::{Point, Polygon, Ring, ahead, cross, ring_area};

/// A mitre may reach this many half widths from its corner: turns up to 120° are mitred, sharper ones are bevelled.
pub const MITRE_LIMIT: f64 = 2.0;

/// Outlines a path.
///
/// - `points`: middle line, µm; repeats are dropped.
/// - `width`: full width, µm.
/// - `ends`: both ends; `begin_ext` and `end_ext` (µm, may be negative) move flush ends further out.
/// - `chord_error`: for round ends, µm.
///
/// A path that runs over itself gives the united area.
///
/// # Errors
/// [`LayoutError`] where a number is no length, the width is not positive, or fewer than two points differ.
///
/// ```
/// use modalith_mesher::layout::{Ends, path};
/// let bent = path::outline(&[[0.0, 0.0], [10.0, 0.0], [10.0, 10.0]], 2.0, Ends::Flush, 0.0, 0.0, 1e-3)?;
/// assert!((bent[0].area() - 40.0).abs() < 1e-9);
/// # Ok::<(), modalith_mesher::layout::LayoutError>(())
/// ```
pub fn outline(
    points: &[Point],
    width: f64,
    ends: Ends,
    begin_ext: f64,
    end_ext: f64,
    chord_error: f64,
) -> Result<Vec<Polygon>, LayoutError> {
    let chord_error = chord(chord_error)?;
    let mut line: Vec<Point> = Vec::with_capacity(points.len());
    for p in points {
        let p = point(*p)?;
        if line.last() != Some(&p) {
            line.push(p);
        }
    }
    let at = line.first().copied().unwrap_or_default();
    let half = 0.5 * positive("the path's width", width, at)?;
    if line.len() < 2 {
        return Err(LayoutError::TooFewPoints { found: line.len(), needed: 2, at });
    }
    let more = if ends == Ends::Square { half } else { 0.0 };
    let n = line.len();
    let (first, last) = (direction(line[0], line[1]), direction(line[n - 2], line[n - 1]));
    line[0] = ahead(line[0], first, -(length("the path's begin extension", begin_ext)? + more));
    line[n - 1] = ahead(line[n - 1], last, length("the path's end extension", end_ext)? + more);
    let single = one_ring(&line, half, ends, chord_error);
    if let Some(ring) = single.filter(|r| ring_area(r) > 0.0 && self_crossing(r).is_none()) {
        return Ok(vec![Polygon::solid(ring)]);
    }
    Ok(boolean::union(&pieces(&line, half, ends, chord_error)))
}

fn direction(a: Point, b: Point) -> Point {
    let d = [b[0] - a[0], b[1] - a[1]];
    let l = d[0].hypot(d[1]);
    [d[0] / l, d[1] / l]
}

/// The point `half` to the left of a line.
fn left(p: Point, d: Point, half: f64) -> Point {
    [p[0] - half * d[1], p[1] + half * d[0]]
}

/// Where the left borders of two lines through `p` meet, if within the limit.
fn mitre(p: Point, d: Point, e: Point, half: f64) -> Option<Point> {
    let one_plus_cos = 1.0 + d[0] * e[0] + d[1] * e[1];
    // Reach of the mitre in half widths: 1/cos(turn/2) = √(2/(1 + cos turn)).
    if 2.0 > MITRE_LIMIT * MITRE_LIMIT * one_plus_cos * (1.0 + 1e-12) {
        return None;
    }
    Some([p[0] - half * (d[1] + e[1]) / one_plus_cos, p[1] + half * (d[0] + e[0]) / one_plus_cos])
}

/// Both borders as one ring; `None` where a segment is too short for the inner mitres at its ends.
fn one_ring(line: &[Point], half: f64, ends: Ends, chord_error: f64) -> Option<Ring> {
    let n = line.len();
    let directions: Vec<Point> = line.windows(2).map(|w| direction(w[0], w[1])).collect();
    let mut ring = Ring::new();
    for backward in [false, true] {
        // The right border forward, then the left border back: the right border of the reversed line.
        let at = |k: usize| if backward { line[n - 1 - k] } else { line[k] };
        let to = |k: usize| {
            let d = if backward { directions[n - 2 - k] } else { directions[k] };
            if backward { [-d[0], -d[1]] } else { d }
        };
        ring.push(left(at(0), to(0), -half));
        for k in 1..n - 1 {
            let (d, e) = (to(k - 1), to(k));
            let turn = cross(d, e);
            match mitre(at(k), d, e, -half) {
                Some(p) => {
                    let reach = (half * turn / (1.0 + d[0] * e[0] + d[1] * e[1])).abs();
                    let shortest = [k - 1, k].map(|i| (at(i + 1)[0] - at(i)[0]).hypot(at(i + 1)[1] - at(i)[1]));
                    if turn < 0.0 && reach > shortest[0].min(shortest[1]) {
                        return None;
                    }
                    ring.push(p);
                }
                None if turn > 0.0 => ring.extend([left(at(k), d, -half), left(at(k), e, -half)]),
                None => return None,
            }
        }
        let (end, d) = (at(n - 1), to(n - 2));
        let corner = left(end, d, -half);
        ring.push(corner);
        if ends == Ends::Round {
            ring.extend(curve::cap(end, corner, chord_error));
        }
    }
    Some(ring)
}

/// A rectangle for every segment, a wedge for every join, a disc for every round end: their union is the path.
fn pieces(line: &[Point], half: f64, ends: Ends, chord_error: f64) -> Vec<Polygon> {
    let mut out = Vec::new();
    for w in line.windows(2) {
        let d = direction(w[0], w[1]);
        out.push(vec![left(w[0], d, -half), left(w[1], d, -half), left(w[1], d, half), left(w[0], d, half)]);
    }
    for w in line.windows(3) {
        let (d, e) = (direction(w[0], w[1]), direction(w[1], w[2]));
        // The outside of a left turn is on the right.
        let outside = if d[0] * e[1] - d[1] * e[0] > 0.0 { -half } else { half };
        let mut wedge = vec![w[1], left(w[1], d, outside)];
        wedge.extend(mitre(w[1], d, e, outside));
        wedge.push(left(w[1], e, outside));
        out.push(wedge);
    }
    if ends == Ends::Round {
        out.extend([line[0], line[line.len() - 1]].map(|c| curve::circle(c, half, chord_error)));
    }
    let anticlockwise = |mut ring: Ring| {
        if ring_area(&ring) < 0.0 {
            ring.reverse();
        }
        Polygon::solid(ring)
    };
    out.into_iter().map(anticlockwise).collect()
}
