//! Mesh motion: where the points of a mesh go when etched edges move. In: a mesh, µm, and how fast each etched edge moves
//! outward. Out: one vector for every corner and every mid-side point, µm per µm of edge, so that the mesh plus a step times
//! the motion is the mesh of the moved edges with the same triangles.
//!
//! Along an edge the motion has the edge's own speed across it; at a corner the edges' offset lines meet; edges along
//! anchors do not move, and a free edge that meets one slides along it. What a corner moves along its edges fades over the
//! reach, and inside the motion solves v = reach² Δv, so that it is gone about one reach from the edges while the small
//! triangles of a graded corner move with it. `border` finds the motion of the border, `inside` the rest.

mod border;
mod inside;

use crate::geometry::{Point, bounds, closest, distance, middle};
use crate::mesh::{Edge, EdgeKind, Mesh};
use crate::outline::Flexure;
use crate::quality::smallest_jacobian;
use std::collections::BTreeMap;

/// How far the motion of one flexure is followed inside, in reaches: e⁻¹⁰ is left there.
const FOLLOWED: f64 = 10.0;

/// A moved mesh covers its outline as well as the mesh it was moved from, to this share.
const SAME_AREA: f64 = 1e-5;

/// What a triangle keeps of its shape when it is moved, at least.
const LEAST_JACOBIAN: f64 = 0.2;

/// One wall of a flexure.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Wall {
    /// On the left of its centre-line, seen from its first end.
    Left,
    /// On the right.
    Right,
}

/// Where the points of a mesh go, µm per µm.
#[derive(Clone, Debug, PartialEq)]
pub struct MeshMotion {
    /// Of every corner.
    pub points: Vec<Point>,
    /// Of every edge's mid-side point.
    pub middles: Vec<Point>,
}

impl MeshMotion {
    /// Every etched edge moves outward by 1 µm per µm, as edge bias moves it: holes shrink, edges along anchors stay.
    ///
    /// ```
    /// use modalith_mesher::{mesh::Mesh, motion::MeshMotion};
    /// let plate = Mesh::rectangle(40.0, 20.0, 8, 4)?;
    /// let wider = MeshMotion::edges(&plate, 4.0).moved(&plate, 0.5);
    /// let area: f64 = (0..wider.triangles.len()).map(|t| wider.area(t)).sum();
    /// assert!((area - 41.0 * 21.0).abs() < 1e-9);
    /// # Ok::<(), modalith_mesher::mesh::MeshError>(())
    /// ```
    pub fn edges(mesh: &Mesh, reach_um: f64) -> Self {
        Self::of_edges(mesh, reach_um, |_| 1.0, &BTreeMap::new())
    }

    /// The etched edges move outward at speeds of their own, by number of the edge; `pinned` corners move as they are told.
    /// Where two edges of different speed continue one another without a corner, the speed changes over the two.
    pub fn of_edges(mesh: &Mesh, reach_um: f64, speed: impl Fn(usize) -> f64, pinned: &BTreeMap<u32, Point>) -> Self {
        Self::followed(mesh, reach_um, &speed, pinned, |_| true)
    }

    /// One wall of one flexure, by its number in [`Mesh::flexure_of`], moves outward by 1 µm per µm; all other edges stay,
    /// and its ends slide along the walls it is rooted in. Both walls' motions add up to that of the widened flexure.
    pub fn of_wall(mesh: &Mesh, number: usize, flexure: &Flexure, wall: Wall, reach_um: f64) -> Self {
        let mut moves = vec![false; mesh.edges.len()];
        let mut ends = Vec::new();
        for (t, edges) in mesh.triangle_edges.iter().enumerate() {
            if mesh.flexure_of[t].map(usize::from) != Some(number) {
                continue;
            }
            for &e in edges {
                let edge = &mesh.edges[e as usize];
                if edge.kind == EdgeKind::Free && side(&flexure.centre_line, edge.middle) == wall {
                    moves[e as usize] = true;
                    ends.extend(edge.ends.map(|c| mesh.points[c as usize]));
                }
            }
        }
        let around = bounds(&ends);
        let margin = FOLLOWED * reach_um;
        let near = |p: Point| around.is_some_and(|[a, b]| (0..2).all(|k| p[k] > a[k] - margin && p[k] < b[k] + margin));
        Self::followed(mesh, reach_um, &|e| f64::from(u8::from(moves[e])), &BTreeMap::new(), near)
    }

    fn followed(
        mesh: &Mesh,
        reach_um: f64,
        speed: &dyn Fn(usize) -> f64,
        pinned: &BTreeMap<u32, Point>,
        near: impl Fn(Point) -> bool,
    ) -> Self {
        let border = border::Border::new(mesh);
        let on_border = border.motion(mesh, reach_um, speed, pinned);
        let points = inside::extended(mesh, &on_border, reach_um, near);
        let middle_of = |e: &Edge| {
            let [a, b] = e.ends.map(|c| points[c as usize]);
            middle(a, b)
        };
        let mut middles: Vec<Point> = mesh.edges.iter().map(middle_of).collect();
        border.bend(mesh, &points, &mut middles);
        Self { points, middles }
    }

    /// What moves one mesh to another of the same triangles, `apart_um` farther.
    pub fn between(from: &Mesh, to: &Mesh, apart_um: f64) -> Self {
        let rate = |(a, b): (Point, Point)| [0, 1].map(|k| (b[k] - a[k]) / apart_um);
        let points = from.points.iter().copied().zip(to.points.iter().copied()).map(rate).collect();
        let middles = from.edges.iter().zip(&to.edges).map(|(a, b)| rate((a.middle, b.middle))).collect();
        Self { points, middles }
    }

    /// The mesh moved by a step, µm.
    pub fn moved(&self, mesh: &Mesh, step_um: f64) -> Mesh {
        let mut moved = mesh.clone();
        let step = |p: &mut Point, v: &Point| *p = [p[0] + step_um * v[0], p[1] + step_um * v[1]];
        moved.points.iter_mut().zip(&self.points).for_each(|(p, v)| step(p, v));
        moved.edges.iter_mut().zip(&self.middles).for_each(|(e, v)| step(&mut e.middle, v));
        moved
    }

    /// The mesh moved by a step, µm, from an outline of area `old` to one of area `new`, µm²: `None` where it does not cover the new
    /// one as well as it did the old, or where a triangle loses its shape.
    pub fn moved_between(&self, mesh: &Mesh, step_um: f64, old: f64, new: f64) -> Option<Mesh> {
        let moved = self.moved(mesh, step_um);
        let covered = |mesh: &Mesh| (0..mesh.triangles.len()).map(|t| mesh.area(t)).sum::<f64>();
        let missing = (covered(&moved) - new) - (covered(mesh) - old);
        let whole = missing.abs() < SAME_AREA * new;
        (whole && self.smallest_jacobian(mesh, step_um) > LEAST_JACOBIAN).then_some(moved)
    }

    /// The motion of a triangle's three corners and three mid-side points, in the order of [`Mesh::geometry`].
    pub fn of_triangle(&self, mesh: &Mesh, triangle: usize) -> [Point; 6] {
        let [a, b, c] = mesh.triangles[triangle].map(|i| self.points[i as usize]);
        let [d, e, f] = mesh.triangle_edges[triangle].map(|i| self.middles[i as usize]);
        [a, b, c, d, e, f]
    }

    /// Triangles of which some point moves.
    pub fn triangles(&self, mesh: &Mesh) -> Vec<usize> {
        let moves = |t: &usize| self.of_triangle(mesh, *t).iter().any(|v| *v != [0.0; 2]);
        (0..mesh.triangles.len()).filter(moves).collect()
    }

    /// Smallest Jacobian determinant after a step, µm, as a share of the triangle's mean one before it; zero or less where a
    /// triangle folds over.
    pub fn smallest_jacobian(&self, mesh: &Mesh, step_um: f64) -> f64 {
        let moved = self.moved(mesh, step_um);
        let share = |t: usize| {
            let least = smallest_jacobian(&moved.geometry(t));
            if least > 0.0 { least * moved.area(t) / mesh.area(t) } else { least }
        };
        (0..mesh.triangles.len()).map(share).fold(f64::INFINITY, f64::min)
    }
}

/// On which side of a line of chords a point lies: that of the nearest chord.
fn side(line: &[Point], p: Point) -> Wall {
    let mut nearest = (f64::INFINITY, Wall::Left);
    for w in line.windows(2) {
        let d = [w[1][0] - w[0][0], w[1][1] - w[0][1]];
        let r = [p[0] - w[0][0], p[1] - w[0][1]];
        let off = distance(p, closest(p, w[0], w[1]));
        if off < nearest.0 {
            nearest = (off, if d[0] * r[1] - d[1] * r[0] >= 0.0 { Wall::Left } else { Wall::Right });
        }
    }
    nearest.1
}

#[cfg(test)]
mod tests;
