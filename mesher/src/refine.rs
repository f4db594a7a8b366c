//! Meshes nested in another: the triangles around corners cut finer, their curved sides kept, so that a system on the finer
//! mesh holds all that one on the coarse mesh holds. Sizes that shrink in a geometric progression serve singular corners
//! (I. Babuška, B. Q. Guo, SIAM J. Numer. Anal. 25, 1988, 837–861).
//!
//! In: a mesh (µm), corners. Out: a mesh of the same material, with masses, flexures and held edges where they were.

use crate::geometry::Point;
use crate::mesh::{Edge, EdgeKind, Mesh, MeshError};
use std::collections::HashMap;

/// Ratio of sizes from layer to layer.
const RATIO: f64 = 0.2;

/// A finer mesh, and for each of its triangles the one of the coarse mesh it was cut from.
pub type Finer = (Mesh, Vec<usize>);

/// The triangles around some corners, numbered as the mesh's points, cut `layers` times, each time at a fifth of the way from
/// the corner.
///
/// # Errors
/// A curved triangle so bent that a part of it has no area.
pub fn graded(mesh: &Mesh, corners: &[bool], layers: usize) -> Result<Finer, MeshError> {
    let (mut finer, mut from) = (mesh.clone(), (0..mesh.triangles.len()).collect::<Vec<usize>>());
    for _ in 0..layers {
        let mut left: Vec<bool> = corners.to_vec();
        while left.contains(&true) {
            let (next, parents) = one_layer(&finer, &mut left)?;
            from = parents.iter().map(|&t| from[t]).collect();
            finer = next;
        }
    }
    Ok((finer, from))
}

/// Cuts around as many of the corners as share no triangle, and takes them off the list.
fn one_layer(mesh: &Mesh, left: &mut [bool]) -> Result<Finer, MeshError> {
    let wanted = |c: u32| left.get(c as usize) == Some(&true);
    let mut barred = vec![false; mesh.points.len()];
    let mut crowd: HashMap<u32, Vec<u32>> = HashMap::new();
    for corners in &mesh.triangles {
        for &c in corners.iter().filter(|&&c| wanted(c)) {
            crowd.entry(c).or_default().extend(corners.iter().filter(|&&o| o != c && wanted(o)));
        }
    }
    let mut chosen: Vec<u32> = crowd.keys().copied().collect();
    chosen.sort_unstable();
    chosen.retain(|c| {
        let free = !barred[*c as usize];
        if free {
            crowd[c].iter().for_each(|&o| barred[o as usize] = true);
        }
        free
    });
    let is_chosen = |c: u32| chosen.binary_search(&c).is_ok();
    let mut cut = Cut::new(mesh);
    for (t, corners) in mesh.triangles.iter().enumerate() {
        let Some(k) = (0..3).find(|&k| is_chosen(corners[k])) else {
            cut.child(t, 0, [0, 1, 2].map(|n| (corners[n], [[0.0, 0.0], [1.0, 0.0], [0.0, 1.0]][n])));
            continue;
        };
        let [v, a, b] = [0, 1, 2].map(|n| corners[(k + n) % 3]);
        let share = |e: u32| if mesh.edges[e as usize].ends[0] == v { RATIO } else { 1.0 - RATIO };
        let (first, last) = (mesh.triangle_edges[t][k], mesh.triangle_edges[t][(k + 2) % 3]);
        let (p, q) = (cut.point_on(first, share(first)), cut.point_on(last, share(last)));
        let (v, a, b) = ((v, [0.0, 0.0]), (a, [1.0, 0.0]), (b, [0.0, 1.0]));
        let (p, q) = ((p, [RATIO, 0.0]), (q, [0.0, RATIO]));
        for child in [[v, p, q], [p, a, b], [p, b, q]] {
            cut.child(t, k, child);
        }
    }
    let finer = cut.mesh()?;
    chosen.iter().for_each(|&c| left[c as usize] = false);
    Ok(finer)
}

/// A mesh being cut.
struct Cut<'a> {
    mesh: &'a Mesh,
    points: Vec<Point>,
    on_edge: HashMap<u32, u32>,
    triangles: Vec<[u32; 3]>,
    parents: Vec<usize>,
    middles: HashMap<[u32; 2], Point>,
    kinds: HashMap<[u32; 2], EdgeKind>,
}

impl<'a> Cut<'a> {
    fn new(mesh: &'a Mesh) -> Self {
        let kinds = mesh.edges.iter().map(|e| (e.ends, e.kind)).collect();
        Self {
            mesh,
            points: mesh.points.clone(),
            on_edge: HashMap::new(),
            triangles: Vec::new(),
            parents: Vec::new(),
            middles: HashMap::new(),
            kinds,
        }
    }

    /// The corner that cuts an edge at a share from its first end; one an edge.
    fn point_on(&mut self, e: u32, share: f64) -> u32 {
        let Edge { ends, middle, kind } = self.mesh.edges[e as usize];
        *self.on_edge.entry(e).or_insert_with(|| {
            let [a, b] = ends.map(|c| self.mesh.points[c as usize]);
            let rise = |c: usize| 4.0 * (middle[c] - 0.5 * (a[c] + b[c])) * share * (1.0 - share);
            self.points.push([0, 1].map(|c| a[c] + share * (b[c] - a[c]) + rise(c)));
            let new = (self.points.len() - 1) as u32;
            ends.iter().for_each(|&end| {
                self.kinds.insert([end, new], kind);
            });
            new
        })
    }

    /// A part of triangle `t`: corners with their places (r, s) in the triangle turned by `turn` corners.
    fn child(&mut self, t: usize, turn: usize, corners: [(u32, [f64; 2]); 3]) {
        let g = self.mesh.geometry(t);
        let place = |[r, s]: [f64; 2]| -> Point {
            let l = [1.0 - r - s, r, s];
            [0, 1].map(|c| {
                (0..3).fold(0.0, |sum, n| {
                    let (k, m) = ((turn + n) % 3, (turn + n + 1) % 3);
                    let rise = 4.0 * (g[3 + k][c] - 0.5 * (g[k][c] + g[m][c]));
                    sum + l[n] * g[k][c] + rise * l[n] * l[(n + 1) % 3]
                })
            })
        };
        for n in 0..3 {
            let ((i, a), (j, b)) = (corners[n], corners[(n + 1) % 3]);
            self.middles.insert([i.min(j), i.max(j)], place([0, 1].map(|c| 0.5 * (a[c] + b[c]))));
        }
        self.triangles.push(corners.map(|c| c.0));
        self.parents.push(t);
    }

    fn mesh(self) -> Result<Finer, MeshError> {
        let mut finer = Mesh::from_triangles(self.points, self.triangles)?;
        for edge in &mut finer.edges {
            if let Some(middle) = self.middles.get(&edge.ends) {
                edge.middle = *middle;
            }
            edge.kind = self.kinds.get(&edge.ends).copied().unwrap_or(EdgeKind::Inner);
        }
        finer.mirrors.clone_from(&self.mesh.mirrors);
        finer.mass_names.clone_from(&self.mesh.mass_names);
        finer.mass_of = self.parents.iter().map(|&t| self.mesh.mass_of[t]).collect();
        finer.flexure_of = self.parents.iter().map(|&t| self.mesh.flexure_of[t]).collect();
        finer.long_in = self.parents.iter().map(|&t| self.mesh.long_in[t]).collect();
        Ok((finer, self.parents))
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Two neighbouring corners of a triangle with a bent side: area, held edges and conformity are kept, sizes shrink.
    #[test]
    fn layers_keep_the_material_and_its_walls() {
        let mut mesh = Mesh::rectangle(10.0, 10.0, 2, 2).unwrap();
        mesh.hold(|m| m[0] == 0.0);
        mesh.bend(|e, [a, b]| (a[1] == 10.0 && b[1] == 10.0).then(|| [e.middle[0], 10.6]));
        let corners: Vec<bool> = mesh.points.iter().map(|p| p[1] == 10.0).collect();
        let (finer, from) = graded(&mesh, &corners, 3).unwrap();
        let area = |m: &Mesh| (0..m.triangles.len()).map(|t| m.area(t)).sum::<f64>();
        assert!((area(&finer) / area(&mesh) - 1.0).abs() < 1e-13);
        let of_parent = |p: usize| (0..from.len()).filter(|&t| from[t] == p).map(|t| finer.area(t)).sum::<f64>();
        (0..mesh.triangles.len()).for_each(|p| assert!((of_parent(p) / mesh.area(p) - 1.0).abs() < 1e-12));
        let length = |m: &Mesh, kind: EdgeKind| {
            let ends = m.edges.iter().filter(|e| e.kind == kind).map(|e| e.ends.map(|c| m.points[c as usize]));
            ends.map(|[a, b]| (b[0] - a[0]).hypot(b[1] - a[1])).sum::<f64>()
        };
        assert!((length(&finer, EdgeKind::Held) - 10.0).abs() < 1e-12);
        let boundary = finer.neighbours().iter().flatten().filter(|n| n.is_none()).count();
        assert_eq!(boundary, finer.edges.iter().filter(|e| e.kind != EdgeKind::Inner).count());
        // Around one corner alone: a fifth of a side of 5, three times.
        let one: Vec<bool> = mesh.points.iter().map(|p| *p == [0.0, 10.0]).collect();
        let (finer, _) = graded(&mesh, &one, 3).unwrap();
        let least = finer.edges.iter().map(|e| e.ends.map(|c| finer.points[c as usize]));
        let least = least.map(|[a, b]| (b[0] - a[0]).hypot(b[1] - a[1])).fold(f64::INFINITY, f64::min);
        assert!((least / (5.0 * 0.2_f64.powi(3)) - 1.0).abs() < 0.3, "{least}");
    }
}
