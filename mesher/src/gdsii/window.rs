//! A rectangular window on the layout, µm.

use super::fault::GdsError;
use crate::geometry::{Point, Ring, bounds, ring_area, sides};

/// What a window leaves of a ring.
#[derive(Clone, Debug, PartialEq)]
pub(super) enum Cut {
    /// The ring lies inside.
    Inside,
    /// Nothing: it lies outside, or shares no area with the window.
    Outside,
    /// The ring crosses the border; this part of it lies inside. Parts that hang together only through the outside are
    /// joined by coincident lines along the border.
    Crossing(Ring),
}

/// Checks that a window is a rectangle.
pub(super) fn check(window: [Point; 2]) -> Result<(), GdsError> {
    let [low, high] = window;
    let sound = (0..2).all(|k| low[k].is_finite() && high[k].is_finite() && low[k] < high[k]);
    if sound { Ok(()) } else { Err(GdsError::BadWindow { window }) }
}

/// Whether the inside of two boxes have a point in common.
pub(super) fn meets(window: [Point; 2], extent: [Point; 2]) -> bool {
    (0..2).all(|k| extent[0][k] < window[1][k] && extent[1][k] > window[0][k])
}

/// Whether a point lies in the window, its border included.
pub(super) fn holds(window: [Point; 2], p: Point) -> bool {
    (0..2).all(|k| window[0][k] <= p[k] && p[k] <= window[1][k])
}

/// Cuts an anticlockwise ring to the window, one border after the other (Sutherland and Hodgman, Communications of the ACM
/// 17 (1974) 32).
pub(super) fn cut(ring: &[Point], window: [Point; 2]) -> Cut {
    let Some(extent) = bounds(ring) else { return Cut::Outside };
    if !meets(window, extent) {
        return Cut::Outside;
    }
    if holds(window, extent[0]) && holds(window, extent[1]) {
        return Cut::Inside;
    }
    let mut left = ring.to_vec();
    for (corner, sign) in window.into_iter().zip([1.0, -1.0]) {
        for (axis, limit) in corner.into_iter().enumerate() {
            left = cut_at(&left, axis, limit, sign);
        }
    }
    left.dedup();
    if left.first() == left.last() {
        left.pop();
    }
    if left.len() < 3 || ring_area(&left) <= 0.0 { Cut::Outside } else { Cut::Crossing(left) }
}

/// Keeps the part with sign × (coordinate − limit) ≥ 0.
fn cut_at(ring: &[Point], axis: usize, limit: f64, sign: f64) -> Ring {
    let mut kept = Vec::with_capacity(ring.len() + 4);
    for [p, q] in sides(ring) {
        let (a, b) = (sign * (p[axis] - limit), sign * (q[axis] - limit));
        if a >= 0.0 {
            kept.push(p);
        }
        if (a > 0.0 && b < 0.0) || (a < 0.0 && b > 0.0) {
            let other = 1 - axis;
            let mut at = [limit; 2];
            at[other] = p[other] + a / (a - b) * (q[other] - p[other]);
            kept.push(at);
        }
    }
    kept
}

#[cfg(test)]
mod tests {
    use super::*;

    const WINDOW: [Point; 2] = [[0.0, 0.0], [10.0, 10.0]];

    #[test]
    fn inside_outside_crossing() {
        let square = |x: f64, y: f64, s: f64| [[x, y], [x + s, y], [x + s, y + s], [x, y + s]];
        assert_eq!(cut(&square(0.0, 0.0, 10.0), WINDOW), Cut::Inside);
        assert_eq!(cut(&square(10.0, 0.0, 5.0), WINDOW), Cut::Outside);
        assert_eq!(cut(&square(8.0, 8.0, 5.0), WINDOW), Cut::Crossing(square(8.0, 8.0, 2.0).to_vec()));
        // The box of this triangle meets the window, the triangle does not.
        assert_eq!(cut(&[[9.0, -20.0], [40.0, -20.0], [40.0, 11.0]], WINDOW), Cut::Outside);
        let Cut::Crossing(whole) = cut(&square(-5.0, -5.0, 20.0), WINDOW) else { panic!() };
        assert_eq!(ring_area(&whole), 100.0);
        // A U whose legs reach in from the right: two pieces of 4 µm × 2 µm.
        let u = [[6.0, 1.0], [20.0, 1.0], [20.0, 8.0], [6.0, 8.0], [6.0, 6.0], [18.0, 6.0], [18.0, 3.0], [6.0, 3.0]];
        let Cut::Crossing(legs) = cut(&u, WINDOW) else { panic!() };
        assert_eq!(ring_area(&legs), 16.0);
    }

    #[test]
    fn upside_down_windows_are_refused() {
        assert!(check(WINDOW).is_ok());
        assert!(check([[0.0, 10.0], [10.0, 0.0]]).is_err());
        assert!(check([[0.0, 0.0], [f64::NAN, 1.0]]).is_err());
    }
}
