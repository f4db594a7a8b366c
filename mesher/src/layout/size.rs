//! How many corners a shape is drawn with, known before anything is drawn.

use super::curve;
use super::limits::CHORD_ERROR_UM;
use super::shape::{Ends, LayoutShape};

impl LayoutShape {
    /// Corners of the shape as drawn, at most; of a path that runs over itself as if it did not. Never an error: what cannot
    /// be drawn has the corners of what was written.
    ///
    /// ```
    /// use modalith_mesher::layout::LayoutShape;
    /// assert_eq!(LayoutShape::Rect { corners: [[0.0, 0.0], [3.0, 4.0]] }.most_corners(0.001), 4);
    /// ```
    pub fn most_corners(&self, chord_error_um: f64) -> u64 {
        let e = if chord_error_um > 0.0 { chord_error_um } else { CHORD_ERROR_UM };
        let circle = |radius: f64| u64::from(curve::corners(radius.max(f64::MIN_POSITIVE), e));
        match self {
            Self::Rect { .. } => 4,
            Self::Polygon { outer, holes } => (outer.len() + holes.iter().map(Vec::len).sum::<usize>()) as u64,
            Self::Path { points, width, ends } => {
                // Two at every join of either side, and both ends.
                let caps = if *ends == Ends::Round { circle(0.5 * width) } else { 0 };
                4 * points.len() as u64 + caps
            }
            Self::Circle { radius, .. } => circle(*radius),
            Self::Ring { outer, .. } => 2 * circle(*outer),
            Self::Arc { radius, width, from_deg, to_deg, ends, .. } => {
                let caps = if *ends == Ends::Round { circle(0.5 * width) } else { 0 };
                let sweep = if to_deg > from_deg { to_deg - from_deg } else { to_deg - from_deg + 360.0 };
                let side = (sweep.clamp(0.0, 360.0) / 360.0 * circle(radius + 0.5 * width) as f64).ceil() as u64 + 1;
                2 * side + 4 + caps
            }
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::geometry::Polygon;

    #[test]
    fn no_shape_has_more_corners_than_said() {
        let bent = vec![[0.0, 0.0], [40.0, 0.0], [40.0, 30.0], [45.0, -20.0], [90.0, 3.0]];
        let straight = vec![[0.0, 0.0], [40.0, 0.0], [40.0, 30.0]];
        let mut shapes = vec![
            LayoutShape::Rect { corners: [[0.0, 0.0], [1.0, 1.0]] },
            LayoutShape::Circle { centre: [0.0, 0.0], radius: 30.0 },
            LayoutShape::Ring { centre: [0.0, 0.0], inner: 20.0, outer: 30.0 },
        ];
        for ends in [Ends::Flush, Ends::Square, Ends::Round] {
            for points in [&bent, &straight] {
                shapes.push(LayoutShape::Path { points: points.clone(), width: 4.0, ends });
            }
            for to_deg in [1.0, 90.0, 333.0, 360.0] {
                shapes.push(LayoutShape::Arc {
                    centre: [0.0; 2],
                    radius: 50.0,
                    width: 3.0,
                    from_deg: 0.0,
                    to_deg,
                    ends,
                });
            }
        }
        for shape in shapes {
            for e in [0.1, 1e-3, 1e-5] {
                let drawn: usize = shape.polygons(e).unwrap().iter().flat_map(Polygon::rings).map(Vec::len).sum();
                let said = shape.most_corners(e);
                assert!(drawn as u64 <= said, "{shape:?} {e}: {drawn} {said}");
                assert!(said <= 80 * drawn as u64, "{shape:?} {e}: {drawn} {said}");
            }
        }
    }
}
