//! Whether a drawn ring crosses itself: touching itself, or running along itself as a keyhole does, is allowed.

use crate::geometry::{Point, Ring};
use rstar::primitives::{GeomWithData, Rectangle};
use rstar::{AABB, RTree};

fn side(a: Point, b: Point, p: Point) -> f64 {
    (b[0] - a[0]) * (p[1] - a[1]) - (b[1] - a[1]) * (p[0] - a[0])
}

/// Where two segments properly cross: each has the ends of the other on opposite sides.
fn cross([a, b]: [Point; 2], [c, d]: [Point; 2]) -> Option<Point> {
    let (sc, sd, sa, sb) = (side(a, b, c), side(a, b, d), side(c, d, a), side(c, d, b));
    // A corner within rounding of a segment touches it, no more.
    let size = |p: Point, q: Point| (q[0] - p[0]).hypot(q[1] - p[1]);
    let (tiny_ab, tiny_cd) = (1e-9 * size(a, b), 1e-9 * size(c, d));
    let apart = |s: f64, t: f64, tiny: f64| s.abs() > tiny && t.abs() > tiny && (s > 0.0) != (t > 0.0);
    if !apart(sc, sd, tiny_ab) || !apart(sa, sb, tiny_cd) {
        return None;
    }
    let t = sa / (sa - sb);
    Some([a[0] + t * (b[0] - a[0]), a[1] + t * (b[1] - a[1])])
}

/// The first point at which a closed ring crosses itself, µm; `None` for a simple ring, also when it touches itself.
///
/// ```
/// let bow_tie = vec![[0.0, 0.0], [2.0, 2.0], [2.0, 0.0], [0.0, 2.0]];
/// assert_eq!(modalith_mesher::layout::self_crossing(&bow_tie), Some([1.0, 1.0]));
/// ```
pub fn self_crossing(ring: &Ring) -> Option<Point> {
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
