//! Mode shapes at the points of a six-node triangulation: every triangle of the mesh is cut evenly, so that order 4
//! becomes four six-node triangles on the same fifteen points, curved sides included.

use super::inside::Inside;
use super::{Fields, Mode, Sampled};
use crate::element::basis::evaluate;
use crate::element::plane::map;
use crate::system::Motion;
use modalith_mesher::mesh::Mesh;
use rayon::prelude::*;

/// Samples modes. Each mode comes with the number of its motion in `motions`.
pub fn sample(mesh: &Mesh, motions: &[Motion], modes: &[(usize, &Mode)]) -> Sampled {
    on_lattice(mesh, motions, &shapes(modes), cuts(motions))
}

/// Samples displacements, m, each over the unknowns of its motion, where [`sample`] does, or if `coarse` where [`sample_coarse`] does.
pub fn sample_shapes(mesh: &Mesh, motions: &[Motion], shapes: &[(usize, &[f64])], coarse: bool) -> Sampled {
    on_lattice(mesh, motions, shapes, if coarse { 2 } else { cuts(motions) })
}

fn cuts(motions: &[Motion]) -> usize {
    motions.first().map_or(2, |s| s.layer.order.degree().next_multiple_of(2))
}

fn shapes<'a>(modes: &[(usize, &'a Mode)]) -> Vec<(usize, &'a [f64])> {
    modes.iter().map(|(motion, mode)| (*motion, mode.shape.as_slice())).collect()
}

/// Samples modes at the corners and mid-sides of the mesh alone: the points that all models share.
pub fn sample_coarse(mesh: &Mesh, motions: &[Motion], modes: &[(usize, &Mode)]) -> Sampled {
    on_lattice(mesh, motions, &shapes(modes), 2)
}

/// The corners and mid-sides of a mesh as sampling points, no modes yet.
pub fn sampling_points(mesh: &Mesh) -> Sampled {
    empty(mesh, &Lattice::new(mesh, 2))
}

fn on_lattice(mesh: &Mesh, motions: &[Motion], shapes: &[(usize, &[f64])], cuts: usize) -> Sampled {
    let lattice = Lattice::new(mesh, cuts);
    let (shapes, tilts) = shapes.par_iter().map(|(s, shape)| one(mesh, &lattice, &motions[*s], shape)).unzip();
    Sampled { modes: shapes, tilts, ..empty(mesh, &lattice) }
}

fn empty(mesh: &Mesh, lattice: &Lattice) -> Sampled {
    let mut points = vec![[0.0; 2]; lattice.points];
    let (mut cells, mut triangle_of) = (Vec::new(), Vec::new());
    for t in 0..mesh.triangles.len() {
        let sides = mesh.geometry(t);
        let numbers = lattice.numbers(mesh, t);
        for (&node, at) in numbers.iter().zip(&lattice.places) {
            points[node] = map(&sides, *at).0;
        }
        for cell in &lattice.cells {
            cells.push(cell.map(|i| numbers[i] as u32));
            triangle_of.push(t as u32);
        }
    }
    Sampled { points, cells, triangle_of, modes: Vec::new(), tilts: Vec::new() }
}

fn one(mesh: &Mesh, lattice: &Lattice, motion: &Motion, values: &[f64]) -> Fields {
    let (mut shape, mut tilt) = (vec![[0.0; 3]; lattice.points], vec![[0.0; 2]; lattice.points]);
    let inside = Inside::new(mesh, motion);
    let functions: Vec<Vec<f64>> = lattice.places.iter().map(|&at| evaluate(motion.layer.order, at).value).collect();
    for t in 0..mesh.triangles.len() {
        let q = inside.coefficients(t, &[values]);
        for (node, value) in lattice.numbers(mesh, t).into_iter().zip(&functions) {
            (shape[node], tilt[node]) = inside.at(t, value, q.as_slice());
        }
    }
    (shape, tilt)
}

/// Evenly spaced points of all triangles, shared along edges.
struct Lattice {
    cuts: usize,
    corners: usize,
    edges: usize,
    points: usize,
    /// Reference coordinates of a triangle's points: corners, then edges from corner k to corner k + 1, then inside.
    places: Vec<[f64; 2]>,
    /// Six-node cells by local point.
    cells: Vec<[usize; 6]>,
}

impl Lattice {
    fn new(mesh: &Mesh, cuts: usize) -> Self {
        let n = cuts;
        // Whole-number coordinates (i along r, j along s).
        let mut whole = vec![[0, 0], [n, 0], [0, n]];
        for k in 0..3 {
            let (a, b): ([usize; 2], [usize; 2]) = (whole[k], whole[(k + 1) % 3]);
            for m in 1..n {
                whole.push([0, 1].map(|d| (a[d] * (n - m) + b[d] * m) / n));
            }
        }
        for j in 1..n {
            for i in 1..n - j {
                whole.push([i, j]);
            }
        }
        let find = |i: usize, j: usize| whole.iter().position(|w| *w == [i, j]).unwrap_or(0);
        let mut cells = Vec::new();
        for j in (0..n).step_by(2) {
            for i in (0..n - j).step_by(2) {
                cells.push([
                    find(i, j),
                    find(i + 2, j),
                    find(i, j + 2),
                    find(i + 1, j),
                    find(i + 1, j + 1),
                    find(i, j + 1),
                ]);
                if i + j + 2 < n {
                    cells.push([
                        find(i + 2, j),
                        find(i + 2, j + 2),
                        find(i, j + 2),
                        find(i + 2, j + 1),
                        find(i + 1, j + 2),
                        find(i + 1, j + 1),
                    ]);
                }
            }
        }
        let places = whole.iter().map(|w| w.map(|x| x as f64 / n as f64)).collect::<Vec<_>>();
        let inside = (n - 1) * (n - 2) / 2;
        let (corners, edges) = (mesh.points.len(), mesh.edges.len());
        let points = corners + edges * (n - 1) + mesh.triangles.len() * inside;
        Self { cuts, corners, edges, points, places, cells }
    }

    /// Point numbers of a triangle, in the order of `places`.
    fn numbers(&self, mesh: &Mesh, t: usize) -> Vec<usize> {
        let per_edge = self.cuts - 1;
        let corners = mesh.triangles[t];
        let mut numbers: Vec<usize> = corners.iter().map(|&c| c as usize).collect();
        for k in 0..3 {
            let start = self.corners + mesh.triangle_edges[t][k] as usize * per_edge;
            let forward = corners[k] < corners[(k + 1) % 3];
            numbers.extend((0..per_edge).map(|m| start + if forward { m } else { per_edge - 1 - m }));
        }
        let inside = self.places.len() - numbers.len();
        let start = self.corners + self.edges * per_edge + t * inside;
        numbers.extend(start..start + inside);
        numbers
    }
}
