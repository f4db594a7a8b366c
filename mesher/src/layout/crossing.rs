//! Whether a drawn ring crosses itself: touching itself, or running along itself as a keyhole does, is allowed. A crossing at a
//! corner looks like a touch; it is told by the area, since what lies behind a crossing winds the other way or twice.

use crate::boolean::area_lost;
use crate::geometry::{Point, Polygon, Ring, distance, twice_area};
use rstar::primitives::{GeomWithData, Line, Rectangle};
use rstar::{AABB, PointDistance, RTree};
use std::f64::consts::TAU;

/// A corner this close to a side lies on it, µm: the grid of areas.
const NEAR_UM: f64 = 2e-5;

/// Where two segments properly cross: each has the ends of the other on opposite sides.
fn cross([a, b]: [Point; 2], [c, d]: [Point; 2]) -> Option<Point> {
    let (sc, sd, sa, sb) = (twice_area(a, b, c), twice_area(a, b, d), twice_area(c, d, a), twice_area(c, d, b));
    // A corner within rounding of a segment touches it, no more.
    let size = |p: Point, q: Point| distance(q, p);
    let (tiny_ab, tiny_cd) = (1e-9 * size(a, b), 1e-9 * size(c, d));
    let apart = |s: f64, t: f64, tiny: f64| s.abs() > tiny && t.abs() > tiny && (s > 0.0) != (t > 0.0);
    if !apart(sc, sd, tiny_ab) || !apart(sa, sb, tiny_cd) {
        return None;
    }
    let t = sa / (sa - sb);
    Some([a[0] + t * (b[0] - a[0]), a[1] + t * (b[1] - a[1])])
}

/// The first point at which a closed ring crosses itself, between its corners or at one, µm; `None` for a simple ring, also when
/// it touches itself.
///
/// ```
/// let bow_tie = vec![[0.0, 0.0], [2.0, 2.0], [2.0, 0.0], [0.0, 2.0]];
/// assert_eq!(modalith_mesher::layout::self_crossing(&bow_tie), Some([1.0, 1.0]));
/// ```
pub fn self_crossing(ring: &Ring) -> Option<Point> {
    between_corners(ring).or_else(|| at_corner(ring, 0.0))
}

/// A ring of five corners or more that meets itself at a corner and counts some area twice or backwards crosses there. An area
/// no larger than the longest side times `slack` is rounding.
pub(crate) fn at_corner(ring: &[Point], slack: f64) -> Option<Point> {
    if ring.len() < 5 {
        return None;
    }
    let lost = area_lost(&Polygon::solid(ring.to_vec()))?;
    let side =
        |i: usize| (ring[i][0] - ring[(i + 1) % ring.len()][0]).hypot(ring[i][1] - ring[(i + 1) % ring.len()][1]);
    if lost.abs() <= slack * (0..ring.len()).map(side).fold(0.0, f64::max) {
        return None;
    }
    let touch = touches(ring);
    touch.iter().find(|(i, j)| interleave(ring, *i, *j)).or_else(|| touch.first()).map(|(i, _)| ring[*i])
}

/// Corners that lie on another side of the ring: the corner, and the corner where that side starts.
fn touches(ring: &[Point]) -> Vec<(usize, usize)> {
    let n = ring.len();
    let sides = (0..n).map(|j| GeomWithData::new(Line::new(ring[j], ring[(j + 1) % n]), j));
    let tree = RTree::bulk_load(sides.collect());
    let mut found = Vec::new();
    for (i, &p) in ring.iter().enumerate() {
        let reach = NEAR_UM;
        let near = AABB::from_corners(p.map(|x| x - reach), p.map(|x| x + reach));
        for side in tree.locate_in_envelope_intersecting(&near) {
            let j = side.data;
            if j != i && (j + 1) % n != i && side.geom().distance_2(&p) <= reach * reach {
                found.push((i, j));
            }
        }
    }
    found.sort_unstable();
    found
}

/// Whether the ring, where its corner `i` lies on side `j`, comes from one side of the other strand and leaves on the other.
fn interleave(ring: &[Point], i: usize, j: usize) -> bool {
    let n = ring.len();
    let p = ring[i];
    let is_corner = |k: usize| (ring[k][0] - p[0]).hypot(ring[k][1] - p[1]) <= NEAR_UM;
    let (mut from, mut to) = (j, (j + 1) % n);
    if is_corner(from) {
        from = (from + n - 1) % n;
    } else if is_corner(to) {
        to = (to + 1) % n;
    }
    let angle = |q: Point| (q[1] - p[1]).atan2(q[0] - p[0]);
    let start = angle(ring[from]);
    let ahead = |q: Point| (angle(q) - start).rem_euclid(TAU);
    let other = ahead(ring[to]);
    let (before, after) = (ahead(ring[(i + n - 1) % n]), ahead(ring[(i + 1) % n]));
    (before < other) != (after < other)
}

/// The first point at which two sides of a ring properly cross.
fn between_corners(ring: &Ring) -> Option<Point> {
    let n = ring.len();
    let segment = |i: usize| [ring[i], ring[(i + 1) % n]];
    let neighbours = |i: usize, j: usize| i.abs_diff(j) <= 1 || i.abs_diff(j) == n - 1;
    if n <= 48 {
        return (0..n)
            .flat_map(|i| (i + 2..n).map(move |j| (i, j)))
            .filter(|&(i, j)| !neighbours(i, j))
            .find_map(|(i, j)| cross(segment(i), segment(j)));
    }
    let boxes = (0..n).map(|i| {
        let [a, b] = segment(i);
        GeomWithData::new(Rectangle::from_corners(a, b), i)
    });
    let tree = RTree::bulk_load(boxes.collect());
    (0..n).find_map(|i| {
        let [a, b] = segment(i);
        let hits = tree.locate_in_envelope_intersecting(&AABB::from_corners(a, b));
        let first = hits.map(|h| h.data).filter(|&j| j > i && !neighbours(i, j) && cross([a, b], segment(j)).is_some());
        first.min().and_then(|j| cross([a, b], segment(j)))
    })
}
