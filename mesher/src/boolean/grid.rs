//! The integer grid on which areas are united, cut and moved: points in µm in, corners in steps out, and back.

use crate::geometry::{Point, Polygon};
use i_overlay::i_float::int::point::IntPoint;

/// A corner on the grid.
pub(crate) type Node = IntPoint<i32>;

/// A ring on the grid.
pub(crate) type NodeRing = Vec<Node>;

/// Half extent of the grid; `i_overlay` is exact up to twice as much, which leaves room for offsets.
const HALF_EXTENT: f64 = (1u32 << 29) as f64;

/// The integer grid of one drawing.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(crate) struct Grid {
    /// Grid steps per µm, a power of ten.
    per_um: f64,
    /// Where the grid's origin lies, in whole steps.
    centre: Point,
}

impl Grid {
    /// A grid for everything within a box that may still grow by `margin_um`.
    pub(crate) fn around(bounds: Option<[Point; 2]>, margin_um: f64) -> Self {
        let [a, b] = bounds.unwrap_or_default();
        let half = 0.5 * (b[0] - a[0]).max(b[1] - a[1]) + margin_um;
        let mut per_um = 1e5;
        while half * per_um > HALF_EXTENT && per_um > 1e-300 {
            per_um /= 10.0;
        }
        let centre = [0, 1].map(|k| (0.5 * (a[k] + b[k]) * per_um).round());
        Self { per_um, centre }
    }

    /// One step, µm.
    pub(crate) fn step(&self) -> f64 {
        1.0 / self.per_um
    }

    /// A length in whole steps, never beyond the grid.
    pub(crate) fn steps(&self, um: f64) -> i32 {
        (um * self.per_um).round().clamp(-HALF_EXTENT, HALF_EXTENT) as i32
    }

    pub(crate) fn node(&self, p: Point) -> Node {
        let [x, y] = [0, 1].map(|k| self.coordinate(p[k], k));
        Node::new(x, y)
    }

    fn coordinate(&self, v: f64, k: usize) -> i32 {
        (v * self.per_um - self.centre[k]).round().clamp(-2.0 * HALF_EXTENT, 2.0 * HALF_EXTENT - 1.0) as i32
    }

    pub(crate) fn point(&self, n: Node) -> Point {
        // A sum of whole numbers divided once: decimal coordinates come back as the nearest double.
        [(self.centre[0] + f64::from(n.x)) / self.per_um, (self.centre[1] + f64::from(n.y)) / self.per_um]
    }
}

/// Twice the signed area of a ring in steps².
pub(crate) fn twice_area(ring: &[Node]) -> i128 {
    (0..ring.len())
        .map(|i| {
            let (a, b) = (ring[i], ring[(i + 1) % ring.len()]);
            i128::from(a.x) * i128::from(b.y) - i128::from(b.x) * i128::from(a.y)
        })
        .sum()
}

/// The rings of a polygon on the grid, the outer one anticlockwise, holes clockwise.
pub(crate) fn rings_on<'a>(grid: &Grid, polygon: &'a Polygon) -> impl Iterator<Item = NodeRing> + use<'a> {
    let grid = *grid;
    polygon.rings().enumerate().map(move |(k, ring)| {
        let mut nodes: NodeRing = ring.iter().map(|p| grid.node(*p)).collect();
        if (twice_area(&nodes) < 0) == (k == 0) {
            nodes.reverse();
        }
        nodes
    })
}
