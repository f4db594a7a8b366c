//! How wide the material is around each triangle, found on the mesh itself. In: a mesh, µm. Out: for every triangle that lies
//! in a slender strip the strip's width, µm.
//!
//! From the middle of every etched wall a ray is cast inward, from triangle to triangle, to the wall it faces. If the
//! material is about as narrow beside it, at two or more of four places 3/4 and 3/2 widths to either side, the triangles that the
//! ray crossed lie in a strip. A web between round holes is narrow at one place only and is none.

use crate::geometry::{Point, distance, dot, middle};
use crate::mesh::{EdgeKind, Mesh};

/// A strip is nowhere wider than so many times its width where the ray was cast.
const ALIKE: f64 = 1.3;
/// Places beside a ray at which the width is looked at, in widths.
const BESIDE: [f64; 4] = [-1.5, -0.75, 0.75, 1.5];
/// The walls of a strip face each other: at most some 25° from parallel.
const FACING: f64 = -0.9;

/// For every triangle the width of the narrowest slender strip it was seen in, µm. Triangles of a strip that no ray crosses
/// have none: look at their neighbours.
///
/// ```
/// use modalith_mesher::{mesh::Mesh, width::strip_widths};
/// let strip = Mesh::rectangle(100.0, 4.0, 20, 1)?;
/// assert_eq!(strip_widths(&strip)[20], Some(4.0));
/// let square = Mesh::rectangle(100.0, 100.0, 10, 10)?;
/// assert!(strip_widths(&square).iter().all(Option::is_none));
/// # Ok::<(), modalith_mesher::mesh::MeshError>(())
/// ```
pub fn strip_widths(mesh: &Mesh) -> Vec<Option<f64>> {
    let walk = Walk::new(mesh);
    let mut widths: Vec<Option<f64>> = vec![None; mesh.triangles.len()];
    for (t, edges) in mesh.triangle_edges.iter().enumerate() {
        for k in (0..3).filter(|&k| mesh.edges[edges[k] as usize].kind == EdgeKind::Free) {
            let ([a, b], inward) = walk.wall(t, k);
            let from = middle(a, b);
            let mut crossed = Vec::new();
            let End::Wall { distance, triangle, edge } = walk.go(t, from, inward, f64::INFINITY, &mut crossed) else {
                continue;
            };
            let (_, facing) = walk.wall(triangle, edge);
            let held = mesh.edges[mesh.triangle_edges[triangle][edge] as usize].kind == EdgeKind::Held;
            let parallel = dot(facing, inward) < FACING;
            if held || !parallel || walk.alike_beside(t, from, inward, distance) < 2 {
                continue;
            }
            for c in crossed {
                widths[c] = Some(widths[c].map_or(distance, |w: f64| w.min(distance)));
            }
        }
    }
    widths
}

/// Where a walk ended.
enum End {
    /// At a boundary edge of a triangle.
    Wall { distance: f64, triangle: usize, edge: usize },
    /// Inside a triangle, as far as it was to go.
    Inside { triangle: usize },
}

/// Straight walks over the triangles.
struct Walk<'a> {
    mesh: &'a Mesh,
    next_to: Vec<[Option<u32>; 3]>,
}

impl<'a> Walk<'a> {
    fn new(mesh: &'a Mesh) -> Self {
        Self { mesh, next_to: mesh.neighbours() }
    }

    fn corners(&self, t: usize) -> [Point; 3] {
        self.mesh.triangles[t].map(|i| self.mesh.points[i as usize])
    }

    /// Ends and inward normal of an edge of a triangle.
    fn wall(&self, t: usize, k: usize) -> ([Point; 2], Point) {
        let corners = self.corners(t);
        let (a, b) = (corners[k], corners[(k + 1) % 3]);
        let length = distance(b, a);
        ([a, b], [(a[1] - b[1]) / length, (b[0] - a[0]) / length])
    }

    /// Walks from a point of a triangle; the triangles met are added to `crossed`.
    fn go(&self, start: usize, from: Point, direction: Point, most: f64, crossed: &mut Vec<usize>) -> End {
        let (mut t, mut travelled) = (start, 0.0);
        // A straight line meets a triangle once; rounding at corners may cost a few more steps.
        for _ in 0..2 * self.mesh.triangles.len() {
            crossed.push(t);
            // The way out of a convex cell: the nearest of the sides that the ray leaves through.
            let mut way_out = (f64::INFINITY, 0);
            for k in 0..3 {
                let ([a, _], inward) = self.wall(t, k);
                let speed = dot(direction, inward);
                if speed < -1e-12 {
                    let s = ((a[0] - from[0]) * inward[0] + (a[1] - from[1]) * inward[1]) / speed;
                    if s < way_out.0 {
                        way_out = (s, k);
                    }
                }
            }
            travelled = way_out.0.max(travelled);
            if travelled >= most {
                break;
            }
            match self.next_to[t][way_out.1] {
                Some(next) => t = next as usize,
                None => return End::Wall { distance: travelled, triangle: t, edge: way_out.1 },
            }
        }
        End::Inside { triangle: t }
    }

    /// At how many of the places beside a ray the material is about as narrow as along it.
    fn alike_beside(&self, t: usize, from: Point, inward: Point, width: f64) -> usize {
        let mut crossed = Vec::new();
        let at = |p: Point, d: Point, s: f64| [p[0] + s * d[0], p[1] + s * d[1]];
        let middle = at(from, inward, 0.5 * width);
        let End::Inside { triangle } = self.go(t, from, inward, 0.5 * width, &mut crossed) else { return 0 };
        let narrow = |&&widths: &&f64| {
            let aside: f64 = widths * width;
            let along = [inward[1] * aside.signum(), -inward[0] * aside.signum()];
            let mut crossed = Vec::new();
            let End::Inside { triangle } = self.go(triangle, middle, along, aside.abs(), &mut crossed) else {
                return false;
            };
            let place = at(middle, along, aside.abs());
            let across: f64 = [inward, inward.map(|x| -x)]
                .into_iter()
                .map(|direction| match self.go(triangle, place, direction, ALIKE * width, &mut crossed) {
                    End::Wall { distance, .. } => distance,
                    End::Inside { .. } => f64::INFINITY,
                })
                .sum();
            // A strip beside a block is no sign that the block is one.
            (width / ALIKE..ALIKE * width).contains(&across)
        };
        BESIDE.iter().filter(narrow).count()
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// A strip 4 µm wide and 40 µm long between two blocks: the strip and only the strip.
    #[test]
    fn a_flexure_between_blocks() {
        let xs = [0.0, 20.0, 40.0, 44.0, 48.0, 52.0, 56.0, 60.0, 64.0, 68.0, 72.0, 76.0, 80.0, 100.0, 120.0];
        let ys = [0.0, 20.0, 24.0, 44.0];
        let mut points = Vec::new();
        ys.iter().for_each(|&y| points.extend(xs.iter().map(|&x| [x, y])));
        let at = |i: usize, j: usize| (j * xs.len() + i) as u32;
        let mut triangles = Vec::new();
        for j in 0..3 {
            for i in (0..xs.len() - 1).filter(|i| j == 1 || !(2..12).contains(i)) {
                triangles
                    .extend([[at(i, j), at(i + 1, j), at(i + 1, j + 1)], [at(i, j), at(i + 1, j + 1), at(i, j + 1)]]);
            }
        }
        let mesh = Mesh::from_triangles(points, triangles).unwrap();
        for (t, width) in strip_widths(&mesh).into_iter().enumerate() {
            let x = mesh.triangles[t].iter().map(|&c| mesh.points[c as usize][0]).sum::<f64>() / 3.0;
            match width {
                Some(w) => assert!((w - 4.0).abs() < 1e-12 && (40.0..80.0).contains(&x), "{w} at {x}"),
                None => assert!(!(45.0..75.0).contains(&x), "nothing at {x}"),
            }
        }
    }
}
