//! The shapes of a device file as written, µm.

use crate::geometry::{Point, Ring};

/// How a path or an arc ends.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub enum Ends {
    /// Cut square at the last point.
    #[default]
    Flush,
    /// Cut square half a width beyond the last point.
    Square,
    /// A half circle around the last point.
    Round,
}

/// One drawn shape, µm, angles in degrees anticlockwise from x.
#[derive(Clone, Debug, PartialEq)]
pub enum LayoutShape {
    /// A rectangle by two opposite corners.
    Rect {
        /// Opposite corners.
        corners: [Point; 2],
    },
    /// A polygon with openings, in either direction.
    Polygon {
        /// Outer boundary.
        outer: Ring,
        /// Openings inside it.
        holes: Vec<Ring>,
    },
    /// A line with a width.
    Path {
        /// Points of the middle line.
        points: Vec<Point>,
        /// Full width.
        width: f64,
        /// Both ends.
        ends: Ends,
    },
    /// A disc.
    Circle {
        /// Centre.
        centre: Point,
        /// Radius.
        radius: f64,
    },
    /// A disc with a round opening.
    Ring {
        /// Centre.
        centre: Point,
        /// Radius of the opening.
        inner: f64,
        /// Outer radius.
        outer: f64,
    },
    /// A bent bar, anticlockwise from one angle to the other.
    Arc {
        /// Centre.
        centre: Point,
        /// Radius of the middle line.
        radius: f64,
        /// Full width.
        width: f64,
        /// Where it starts.
        from_deg: f64,
        /// Where it ends; less than the start means a turn further.
        to_deg: f64,
        /// Both ends.
        ends: Ends,
    },
}
