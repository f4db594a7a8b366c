//! Plane geometry shared by layout, outline and mesh. Coordinates are micrometres in the layout frame: x to the right,
//! y upward, as drawn.

/// A point of the layout plane, µm.
pub type Point = [f64; 2];

/// A closed ring of points, µm; the last point is not a copy of the first.
pub type Ring = Vec<Point>;

/// A point no farther from an edge is on it, µm.
const ON_EDGE_UM: f64 = 1e-3;

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
    for [a, b] in sides(ring) {
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

    /// The same with its edges, to a nanometre.
    ///
    /// ```
    /// use modalith_mesher::geometry::Polygon;
    /// let square = Polygon::solid(vec![[0.0, 0.0], [10.0, 0.0], [10.0, 10.0], [0.0, 10.0]]);
    /// assert!([[0.0, 5.0], [10.0, 5.0], [5.0, 10.0], [10.0, 10.0]].iter().all(|p| square.touches(*p)));
    /// assert!(!square.contains([10.0, 5.0]) && !square.touches([10.01, 5.0]));
    /// ```
    pub fn touches(&self, p: Point) -> bool {
        let near = |[a, b]: [Point; 2]| distance(closest(p, a, b), p) <= ON_EDGE_UM;
        self.contains(p) || self.rings().any(|ring| sides(ring).any(near))
    }

    /// A point of the material: the middle of the widest stretch at half its height, µm.
    pub(crate) fn inner_point(&self) -> Option<Point> {
        let [low, high] = bounds(&self.outer)?;
        let y = low[1] + 0.51 * (high[1] - low[1]);
        let mut crossings: Vec<f64> = Vec::new();
        for ring in self.rings() {
            for [a, b] in sides(ring) {
                if (a[1] > y) != (b[1] > y) {
                    crossings.push(a[0] + (y - a[1]) / (b[1] - a[1]) * (b[0] - a[0]));
                }
            }
        }
        crossings.sort_by(f64::total_cmp);
        let widest = crossings.chunks_exact(2).max_by(|a, b| (a[1] - a[0]).total_cmp(&(b[1] - b[0])))?;
        Some([0.5 * (widest[0] + widest[1]), y])
    }

    /// The polygon with every point moved; which a mirror turns over.
    pub(crate) fn moved(&self, to: impl Fn(Point) -> Point) -> Self {
        let ring = |r: &Ring| r.iter().map(|p| to(*p)).collect();
        Self { outer: ring(&self.outer), holes: self.holes.iter().map(ring).collect() }
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

/// A straight line about which an outline or a mesh is its own mirror image.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct MirrorAxis {
    /// A point on the axis, µm.
    pub point: Point,
    /// Direction of the axis from the layout's x, degrees in [0, 180).
    pub angle_deg: f64,
}

/// How an axis may deviate from x or y, degrees: rounding.
const ALIGNED_DEG: f64 = 1e-9;

impl MirrorAxis {
    /// For an axis along y or x: which coordinate changes its sign (0: x, 1: y), and where the axis lies on that, µm.
    pub fn across(&self) -> Option<(usize, f64)> {
        let along = |deg: f64| (self.angle_deg - deg).abs() < ALIGNED_DEG;
        let normal = if along(0.0) || along(180.0) { 1 } else { along(90.0).then_some(0)? };
        Some((normal, self.point[normal]))
    }
}

/// Whether a point lies inside a ring (even-odd; the border counts as either).
pub(crate) fn inside(ring: &[Point], p: Point) -> bool {
    let mut within = false;
    for [a, b] in sides(ring) {
        if (a[1] > p[1]) != (b[1] > p[1]) && p[0] < a[0] + (p[1] - a[1]) / (b[1] - a[1]) * (b[0] - a[0]) {
            within = !within;
        }
    }
    within
}

/// Distance of two points, µm.
pub fn distance(a: Point, b: Point) -> f64 {
    (a[0] - b[0]).hypot(a[1] - b[1])
}

/// The point half-way between two.
pub(crate) fn middle(a: Point, b: Point) -> Point {
    [0.5 * (a[0] + b[0]), 0.5 * (a[1] + b[1])]
}

/// Sides of a ring, from every point to the next.
pub(crate) fn sides(ring: &[Point]) -> impl Iterator<Item = [Point; 2]> + '_ {
    (0..ring.len()).map(|i| [ring[i], ring[(i + 1) % ring.len()]])
}

/// The centre of a triangle.
pub(crate) fn centroid([a, b, c]: [Point; 3]) -> Point {
    [0, 1].map(|k| (a[k] + b[k] + c[k]) / 3.0)
}

/// The share of a segment, 0 to 1, at which it is closest to `p`; 0 where its ends are one.
pub fn share_along(p: Point, a: Point, b: Point) -> f64 {
    let u = sub(b, a);
    let square = dot(u, u);
    if square > 0.0 { (dot(sub(p, a), u) / square).clamp(0.0, 1.0) } else { 0.0 }
}

/// The point of a segment closest to `p`.
pub fn closest(p: Point, a: Point, b: Point) -> Point {
    ahead(a, sub(b, a), share_along(p, a, b))
}

/// Twice the signed area of a triangle: positive when it runs anticlockwise.
pub(crate) fn twice_area(a: Point, b: Point, c: Point) -> f64 {
    (b[0] - a[0]) * (c[1] - a[1]) - (b[1] - a[1]) * (c[0] - a[0])
}

/// Unit vector from one point to another; nothing where both are one.
pub(crate) fn unit(a: Point, b: Point) -> Point {
    let l = distance(a, b).max(f64::MIN_POSITIVE);
    [(b[0] - a[0]) / l, (b[1] - a[1]) / l]
}

pub(crate) fn dot(a: Point, b: Point) -> f64 {
    a[0] * b[0] + a[1] * b[1]
}

pub(crate) fn cross(a: Point, b: Point) -> f64 {
    a[0] * b[1] - a[1] * b[0]
}

pub(crate) fn sub(a: Point, b: Point) -> Point {
    [a[0] - b[0], a[1] - b[1]]
}

/// `a + s * d`.
pub(crate) fn ahead(a: Point, d: Point, s: f64) -> Point {
    [a[0] + s * d[0], a[1] + s * d[1]]
}

/// A vector turned to the left by 90°.
pub(crate) fn left(d: Point) -> Point {
    [-d[1], d[0]]
}
