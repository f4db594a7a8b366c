//! Plane geometry shared by layout, outline and mesh. Coordinates are micrometres in the layout frame: x to the right,
//! y upward, as drawn.

use crate::layout::inside;

/// A point of the layout plane, µm.
pub type Point = [f64; 2];

/// A closed ring of points, µm; the last point is not a copy of the first.
pub type Ring = Vec<Point>;

/// A polygon with holes: `outer` runs anticlockwise, every hole clockwise.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Polygon {
    /// Outer boundary, anticlockwise.
    pub outer: Ring,
    /// Boundaries of the openings, clockwise.
    pub holes: Vec<Ring>,
}

/// A named area, such as a proof mass whose motion is reported.
#[derive(Clone, Debug, PartialEq)]
pub struct NamedArea {
    /// The user's name.
    pub name: String,
    /// The polygons of that name, united.
    pub polygons: Vec<Polygon>,
}

/// Signed area of a ring, µm²: positive when it runs anticlockwise.
///
/// ```
/// let square = vec![[0.0, 0.0], [2.0, 0.0], [2.0, 2.0], [0.0, 2.0]];
/// assert_eq!(modalith_mesher::geometry::ring_area(&square), 4.0);
/// ```
pub fn ring_area(ring: &[Point]) -> f64 {
    // Relative to the first point: the terms stay small for a device far from the origin.
    let Some(&[x0, y0]) = ring.first() else { return 0.0 };
    let mut twice = 0.0;
    for (i, a) in ring.iter().enumerate() {
        let b = ring[(i + 1) % ring.len()];
        twice += (a[0] - x0) * (b[1] - y0) - (b[0] - x0) * (a[1] - y0);
    }
    0.5 * twice
}

impl Polygon {
    /// A polygon without openings.
    pub fn solid(outer: Ring) -> Self {
        Self { outer, holes: Vec::new() }
    }

    /// Area of the material, µm².
    pub fn area(&self) -> f64 {
        self.rings().map(|r| ring_area(r)).sum()
    }

    /// Whether a point lies on the material.
    pub fn contains(&self, p: Point) -> bool {
        inside(&self.outer, p) && !self.holes.iter().any(|h| inside(h, p))
    }

    /// All rings, the outer one first.
    pub fn rings(&self) -> impl Iterator<Item = &Ring> {
        std::iter::once(&self.outer).chain(self.holes.iter())
    }
}

/// Smallest axis-parallel box around points: lower-left and upper-right corner, µm; `None` without points.
pub fn bounds<'a>(points: impl IntoIterator<Item = &'a Point>) -> Option<[Point; 2]> {
    let mut found: Option<[Point; 2]> = None;
    for p in points {
        let b = found.get_or_insert([*p, *p]);
        for k in 0..2 {
            b[0][k] = b[0][k].min(p[k]);
            b[1][k] = b[1][k].max(p[k]);
        }
    }
    found
}
