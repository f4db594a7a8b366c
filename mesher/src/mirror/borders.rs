//! Whether an outline is its own mirror image: edge by edge, and by the area in which the two differ. In: an outline and an
//! axis (µm, degrees). Out: the largest distance of its borders from their images, and whether the material is the same.
//!
//! Free walls must fall on free walls, held ones on held ones, anchors on anchors, borders of masses on borders of masses, along
//! the whole of every edge. Since a mirror undoes itself, the distance of the images from the borders is that of the borders
//! from the images too.

use super::near::Near;
use crate::boolean::{Grid, Region};
use crate::geometry::{MirrorAxis, Point, Polygon, bounds, distance, sides};
use crate::outline::Outline;

/// Axes that the outline misses by more are not listed, µm.
pub const LISTED_UM: f64 = 0.1;

/// Corners tried before whole edges are.
const FIRST_CORNERS: usize = 256;

/// Cosine and sine of twice an angle in degrees, exact on the layout's axes and diagonals.
fn double(deg: f64) -> Point {
    match (2.0 * deg).rem_euclid(360.0) {
        0.0 => [1.0, 0.0],
        90.0 => [0.0, 1.0],
        180.0 => [-1.0, 0.0],
        270.0 => [0.0, -1.0],
        twice => [twice.to_radians().cos(), twice.to_radians().sin()],
    }
}

/// The image of a point in an axis.
fn image(axis: &MirrorAxis, p: Point) -> Point {
    let [c, s] = double(axis.angle_deg);
    let r = [p[0] - axis.point[0], p[1] - axis.point[1]];
    [axis.point[0] + c * r[0] + s * r[1], axis.point[1] + s * r[0] - c * r[1]]
}

/// Edges of one kind, which must fall on edges of the same kind.
struct EdgeSet {
    edges: Vec<[Point; 2]>,
    near: Near,
}

impl EdgeSet {
    fn of(edges: Vec<[Point; 2]>) -> Self {
        Self { near: Near::new(edges.clone(), 2.0 * LISTED_UM), edges }
    }

    /// The largest distance of some mirrored starts of edges from the edges.
    fn starts_stray(&self, axis: &MirrorAxis) -> f64 {
        let some = self.edges.iter().step_by((self.edges.len() / FIRST_CORNERS).max(1));
        some.map(|e| self.near.distance(image(axis, e[0]))).fold(0.0, f64::max)
    }

    /// The largest distance of mirrored edges from the edges; stops above `enough`.
    fn edges_stray(&self, axis: &MirrorAxis, enough: f64) -> f64 {
        let mut worst: f64 = 0.0;
        for [a, b] in &self.edges {
            worst = worst.max(self.near.farthest(image(axis, *a), image(axis, *b), enough));
            if worst > enough {
                break;
            }
        }
        worst
    }
}

/// An area that must be its own image.
struct Area<'a> {
    polygons: Vec<&'a Polygon>,
    perimeter_um: f64,
}

/// The borders of an outline by kind, and its areas.
pub(crate) struct Borders<'a> {
    kinds: [EdgeSet; 4],
    areas: [Area<'a>; 3],
}

impl<'a> Borders<'a> {
    pub(crate) fn of(outline: &'a Outline) -> Self {
        let (mut free, mut held) = (Vec::new(), Vec::new());
        for part in &outline.parts {
            for (r, ring) in part.polygon.rings().enumerate() {
                let marks = part.held.get(r);
                for (i, edge) in sides(ring).enumerate() {
                    let is_held = marks.and_then(|m| m.get(i)).copied().unwrap_or(false);
                    if is_held { held.push(edge) } else { free.push(edge) }
                }
            }
        }
        let all =
            |polygons: &[&Polygon]| polygons.iter().flat_map(|p| p.rings()).flat_map(|r| sides(r)).collect::<Vec<_>>();
        let parts: Vec<&Polygon> = outline.parts.iter().map(|p| &p.polygon).collect();
        let anchors: Vec<&Polygon> = outline.anchors.iter().collect();
        let masses: Vec<&Polygon> = outline.masses.iter().flat_map(|m| &m.polygons).collect();
        let kinds = [free, held, all(&anchors), all(&masses)].map(EdgeSet::of);
        let areas = [parts, anchors, masses].map(|polygons| {
            let perimeter_um = all(&polygons).iter().map(|[a, b]| distance(*a, *b)).sum();
            Area { polygons, perimeter_um }
        });
        Self { kinds, areas }
    }

    /// Largest distance between the borders and their images in an axis, µm; above [`LISTED_UM`] where they do not belong
    /// together.
    pub(crate) fn deviation_um(&self, axis: &MirrorAxis) -> f64 {
        let starts = self.kinds.iter().map(|k| k.starts_stray(axis)).fold(0.0, f64::max);
        if starts > LISTED_UM {
            return starts;
        }
        self.kinds.iter().map(|k| k.edges_stray(axis, LISTED_UM)).fold(0.0, f64::max)
    }

    /// Whether material, anchors and masses cover their images but for a strip as wide along all borders as the borders deviate.
    /// Borders alone do not tell: a narrow ring has nearly the border of a disc.
    pub(crate) fn covers_its_image(&self, axis: &MirrorAxis, deviation_um: f64) -> bool {
        self.areas.iter().all(|area| {
            let images: Vec<Polygon> = area.polygons.iter().map(|p| p.moved(|q| image(axis, q))).collect();
            let corners = area.polygons.iter().copied().chain(&images).flat_map(|p| &p.outer);
            let grid = Grid::around(bounds(corners), 0.0);
            let own = Region::of_apart(grid, area.polygons.iter().copied());
            let strip_um = 2.0 * (deviation_um + 2.0 * grid.step());
            own.differs_um2(&Region::of_apart(grid, &images)) <= strip_um * area.perimeter_um
        })
    }
}
