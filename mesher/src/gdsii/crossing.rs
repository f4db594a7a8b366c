//! Whether an outline crosses itself, and where.
//!
//! Touching is not crossing: the coincident cut lines that join a hole to the outline of a GDSII polygon are legal, and so
//! is a corner that lies on another side. Crossings no deeper than a tolerance (the grid's rounding) do not count either.

use crate::geometry::Point;
use rstar::primitives::{GeomWithData, Rectangle};
use rstar::{AABB, RTree};

/// Pairs of sides looked at per side before a sweep gives way to a tree.
const PATIENCE: usize = 64;

/// A point where the closed ring crosses itself by more than `tolerance` (both in the ring's unit).
///
/// Sides are swept by their left ends; outlines with many long parallel sides go through an R-tree instead. Corners that
/// meet exactly in a crossing are not told from corners that touch: see [`crate::layout`] for these.
pub(super) fn crossing(ring: &[Point], tolerance: f64) -> Option<Point> {
    let count = ring.len();
    let side = |i: usize| [ring[i], ring[(i + 1) % count]];
    let left = |i: usize| side(i)[0][0].min(side(i)[1][0]);
    let mut by_left: Vec<usize> = (0..count).collect();
    by_left.sort_unstable_by(|&i, &j| left(i).total_cmp(&left(j)));
    let mut active: Vec<usize> = Vec::new();
    let mut looked_at = 0;
    for &i in &by_left {
        let from = left(i);
        active.retain(|&j| side(j)[0][0].max(side(j)[1][0]) >= from);
        looked_at += active.len();
        if looked_at > PATIENCE * count {
            return crossing_by_tree(ring, tolerance);
        }
        for &j in &active {
            if let Some(at) = crossing_of(side(i), side(j), tolerance) {
                return Some(at);
            }
        }
        active.push(i);
    }
    None
}

fn crossing_by_tree(ring: &[Point], tolerance: f64) -> Option<Point> {
    let side = |i: usize| [ring[i], ring[(i + 1) % ring.len()]];
    let boxed = |i: usize| GeomWithData::new(Rectangle::from_corners(side(i)[0], side(i)[1]), i);
    let tree = RTree::bulk_load((0..ring.len()).map(boxed).collect());
    for i in 0..ring.len() {
        for other in tree.locate_in_envelope_intersecting(&AABB::from_corners(side(i)[0], side(i)[1])) {
            if other.data < i
                && let Some(at) = crossing_of(side(i), side(other.data), tolerance)
            {
                return Some(at);
            }
        }
    }
    None
}

/// Where two segments cross with all four ends farther than the tolerance from the other segment's line.
fn crossing_of([a, b]: [Point; 2], [c, d]: [Point; 2], tolerance: f64) -> Option<Point> {
    let apart = |k: usize| a[k].max(b[k]) < c[k].min(d[k]) || c[k].max(d[k]) < a[k].min(b[k]);
    if apart(0) || apart(1) {
        return None;
    }
    let (from_c, from_d) = (distance(c, [a, b]), distance(d, [a, b]));
    let (from_a, from_b) = (distance(a, [c, d]), distance(b, [c, d]));
    let splits = |p: f64, q: f64| p * q < 0.0 && p.abs() > tolerance && q.abs() > tolerance;
    if !(splits(from_c, from_d) && splits(from_a, from_b)) {
        return None;
    }
    let share = from_c / (from_c - from_d);
    Some([c[0] + share * (d[0] - c[0]), c[1] + share * (d[1] - c[1])])
}

/// Signed distance of a point from a line through two others; 0 where these coincide.
fn distance(p: Point, [a, b]: [Point; 2]) -> f64 {
    let along = [b[0] - a[0], b[1] - a[1]];
    let length = along[0].hypot(along[1]);
    if length == 0.0 {
        return 0.0;
    }
    (along[0] * (p[1] - a[1]) - along[1] * (p[0] - a[0])) / length
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_bow_tie_crosses_in_its_middle() {
        assert_eq!(crossing(&[[0.0, 0.0], [10.0, 10.0], [10.0, 0.0], [0.0, 10.0]], 1.0), Some([5.0, 5.0]));
    }

    #[test]
    fn a_keyhole_does_not_cross() {
        // A square with a square hole, joined by a cut from (0, 0) to (4, 4).
        let ring = [[0, 0], [20, 0], [20, 20], [0, 20], [0, 0], [4, 4], [4, 8], [8, 8], [8, 4], [4, 4]];
        assert_eq!(crossing(&ring.map(|p| p.map(f64::from)), 1.0), None);
    }

    #[test]
    fn crossings_within_the_rounding_are_forgiven() {
        let ring = [[0.0, 0.0], [100.0, 0.0], [100.0, 100.0], [50.0, -0.8], [0.0, 100.0]];
        assert_eq!(crossing(&ring, 1.0), None);
        assert!(crossing(&ring, 0.5).is_some());
    }

    /// A comb with fingers along x defeats the sweep; its last finger bent across all others must still be found.
    #[test]
    fn long_parallel_fingers() {
        let fingers = 2000;
        let mut ring = vec![[-10.0, 0.0]];
        for i in 0..fingers {
            let y = 4.0 * f64::from(i);
            ring.extend([[0.0, y], [1000.0, y], [1000.0, y + 2.0], [0.0, y + 2.0]]);
        }
        ring.push([-10.0, 4.0 * f64::from(fingers)]);
        assert_eq!(crossing(&ring, 1.0), None);
        let tip = ring.len() - 3;
        ring[tip] = [500.0, 100.0];
        assert!(crossing(&ring, 1.0).is_some());
    }
}
