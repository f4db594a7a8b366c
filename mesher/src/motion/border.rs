//! The motion of a mesh's border: at corners where offset lines meet, between corners along with the edge. µm per µm.

use crate::geometry::{Point, distance, dot, middle};
use crate::mesh::{EdgeKind, Mesh};
use std::collections::BTreeMap;

/// A turn of the border sharper than this is a corner, rad; mid-side points on a circle leave far less.
const CORNER: f64 = 0.05;
/// Edges of different speed that meet at less than this have no offset lines that meet nearby, rad.
const FLAT: f64 = 0.35;
/// 1 + cosine of the angle between the normals of the sharpest corner that keeps its point, 10°.
const SHARPEST: f64 = 0.0152;

/// An edge of the border with the material on its left.
struct Side {
    edge: u32,
    ends: [u32; 2],
    /// Outward unit normals at its ends.
    normals: [Point; 2],
    length: f64,
    held: bool,
}

/// The border of a mesh.
pub(super) struct Border {
    sides: Vec<Side>,
    /// For every corner of the mesh the side that ends and the side that starts there; none inside the mesh and where
    /// parts touch in a point.
    at: Vec<Option<[usize; 2]>>,
    /// Corners on the border.
    on: Vec<bool>,
}

/// Along the border, material on the left.
fn along(normal: Point) -> Point {
    [-normal[1], normal[0]]
}

impl Border {
    pub fn new(mesh: &Mesh) -> Self {
        let mut sides = Vec::new();
        let mut met = vec![[None, None]; mesh.points.len()];
        let mut pinched = vec![false; mesh.points.len()];
        for (corners, edges) in mesh.triangles.iter().zip(&mesh.triangle_edges) {
            for k in 0..3 {
                let edge = &mesh.edges[edges[k] as usize];
                if !matches!(edge.kind, EdgeKind::Free | EdgeKind::Held) {
                    continue;
                }
                let ends = [corners[k], corners[(k + 1) % 3]];
                let ([a, b], m) = (ends.map(|c| mesh.points[c as usize]), edge.middle);
                // Slopes of the quadratic edge at its ends.
                let slope = |from: Point, to: Point| [0, 1].map(|c| 4.0 * m[c] - 3.0 * from[c] - to[c]);
                let (first, last) = (slope(a, b), slope(b, a).map(|x| -x));
                let normal = |d: Point| [d[1] / d[0].hypot(d[1]), -d[0] / d[0].hypot(d[1])];
                for (end, c) in [1, 0].into_iter().zip(ends) {
                    pinched[c as usize] |= met[c as usize][end].replace(sides.len()).is_some();
                }
                sides.push(Side {
                    edge: edges[k],
                    ends,
                    normals: [normal(first), normal(last)],
                    length: distance(b, a),
                    held: edge.kind == EdgeKind::Held,
                });
            }
        }
        let whole = |(met, pinched): (&[Option<usize>; 2], &bool)| match met {
            [Some(ends), Some(starts)] if !pinched => Some([*ends, *starts]),
            _ => None,
        };
        let at = met.iter().zip(&pinched).map(whole).collect();
        Self { sides, at, on: met.iter().map(|m| m.iter().any(Option::is_some)).collect() }
    }

    /// Motion of the corners on the border, µm per µm of the parameter; `None` inside. Points in which parts touch stay. `reach` in µm;
    /// `speed` is how far an edge of the mesh moves outward, by its number, likewise per µm.
    pub fn motion(
        &self,
        mesh: &Mesh,
        reach: f64,
        speed: &dyn Fn(usize) -> f64,
        pinned: &BTreeMap<u32, Point>,
    ) -> Vec<Option<Point>> {
        let speeds: Vec<f64> = self.sides.iter().map(|s| if s.held { 0.0 } else { speed(s.edge as usize) }).collect();
        let mut motion: Vec<Option<Point>> = self.on.iter().map(|on| on.then_some([0.0; 2])).collect();
        let mut is_break = vec![false; mesh.points.len()];
        for (c, at) in self.at.iter().enumerate() {
            let Some([before, after]) = *at else {
                is_break[c] = self.on[c];
                continue;
            };
            let (n, s) =
                ([self.sides[before].normals[1], self.sides[after].normals[0]], [speeds[before], speeds[after]]);
            let turns = dot(n[0], n[1]) < CORNER.cos();
            is_break[c] = turns || s[0] != s[1];
            let stays = self.sides[before].held != self.sides[after].held && dot(n[0], n[1]) > FLAT.cos();
            motion[c] = Some(if stays { [0.0; 2] } else { meeting(n, s) });
        }
        for (&c, &v) in pinned {
            (motion[c as usize], is_break[c as usize]) = (Some(v), true);
        }
        for start in 0..self.sides.len() {
            if is_break[self.sides[start].ends[0] as usize] {
                self.slide(start, reach, &is_break, &mut motion);
            }
        }
        motion
    }

    /// Adds to the corners of one run of sides, from a break to the next, what the breaks move along it.
    fn slide(&self, start: usize, reach: f64, is_break: &[bool], motion: &mut [Option<Point>]) {
        let mut run = vec![start];
        loop {
            let last = &self.sides[run[run.len() - 1]];
            match self.at[last.ends[1] as usize] {
                Some([_, next]) if !is_break[last.ends[1] as usize] && run.len() <= self.sides.len() => run.push(next),
                _ => break,
            }
        }
        let length: f64 = run.iter().map(|&s| self.sides[s].length).sum();
        let speed_at = |side: usize, end: usize| {
            let v = motion[self.sides[side].ends[end] as usize].unwrap_or_default();
            dot(v, along(self.sides[side].normals[end]))
        };
        let (first, last) = (speed_at(start, 0), speed_at(run[run.len() - 1], 1));
        let fade = |from: f64| (1.0 - from / reach.min(length)).max(0.0);
        let linear = length <= 2.0 * reach;
        let mut from = 0.0;
        for pair in run.windows(2) {
            from += self.sides[pair[0]].length;
            let shares = if linear { [1.0 - from / length, from / length] } else { [fade(from), fade(length - from)] };
            let slides = first * shares[0] + last * shares[1];
            let t = along(self.sides[pair[1]].normals[0]);
            let v = &mut motion[self.sides[pair[1]].ends[0] as usize];
            *v = v.map(|v| [v[0] + slides * t[0], v[1] + slides * t[1]]);
        }
    }

    /// Gives the mid-side points of curved sides the speed across the chord that the ends have across the curve.
    pub fn bend(&self, mesh: &Mesh, points: &[Point], middles: &mut [Point]) {
        for side in &self.sides {
            let [a, b] = side.ends.map(|c| mesh.points[c as usize]);
            let chord = [(b[1] - a[1]) / side.length, (a[0] - b[0]) / side.length];
            let [v, w] = side.ends.map(|c| points[c as usize]);
            let across = 0.5 * (dot(v, side.normals[0]) + dot(w, side.normals[1]));
            let straight = middle(v, w);
            let rise = across - dot(straight, chord);
            // Exact means on straight sides keep them straight.
            if chord != side.normals[0] || chord != side.normals[1] {
                middles[side.edge as usize] = [straight[0] + rise * chord[0], straight[1] + rise * chord[1]];
            }
        }
    }
}

/// Where the offset lines of two edges with these normals and speeds meet; where there is no such point nearby, the mean
/// speed's.
fn meeting(n: [Point; 2], s: [f64; 2]) -> Point {
    let cos = dot(n[0], n[1]);
    let half = 0.5 * (s[0] - s[1]);
    let both = 0.5 * (s[0] + s[1]) / (1.0 + cos).max(SHARPEST);
    let apart = if cos > FLAT.cos() { 0.0 } else { half / (1.0 - cos) };
    [0, 1].map(|k| both * (n[0][k] + n[1][k]) + apart * (n[0][k] - n[1][k]))
}
