//! Mode shapes at points of the user's choice: electrode corners, or the points of another model's mesh.
//!
//! In: mesh and points, µm in the layout frame. Each point is looked up once: a grid over the triangles' bounding boxes names
//! candidates, Newton's method inverts their quadratic map. Out: displacement at mid-layer and slope there, for any mode.

use super::inside::{Inside, Values};
use super::{Fields, Mode};
use crate::element::basis::evaluate;
use crate::element::plane::map;
use crate::system::Motion;
use modalith_mesher::geometry::bounds;
use modalith_mesher::mesh::Mesh;
use rayon::prelude::*;

/// A point that no triangle comes near.
#[derive(Clone, Copy, Debug, PartialEq, thiserror::Error)]
#[error("point {index} at ({:.3}, {:.3}) µm lies outside the mesh, farther than {reach_um} µm from it", .at_um[0], .at_um[1])]
pub struct PointOutsideMesh {
    /// Number of the point.
    pub index: usize,
    /// Where it is, µm.
    pub at_um: [f64; 2],
    /// How far from the mesh a point may be, µm.
    pub reach_um: f64,
}

/// Points found in a mesh.
#[derive(Clone, Debug, PartialEq)]
pub struct Stations {
    /// For each point its triangle and its place in it.
    places: Vec<(usize, [f64; 2])>,
    /// For each point how far outside it was, µm.
    outside_um: Vec<f64>,
}

impl Stations {
    /// Finds points, µm. One that is outside by no more than `reach_um` (rounding, or a curve that two meshes cut into
    /// different pieces) counts as the nearest point of the nearest triangle.
    ///
    /// # Errors
    /// [`PointOutsideMesh`] for the first point that is farther away.
    ///
    /// ```
    /// use modalith_mesher::mesh::Mesh;
    /// use modalith_solver::mode::Stations;
    /// let plate = Mesh::rectangle(100.0, 50.0, 4, 2)?;
    /// assert_eq!(Stations::new(&plate, &[[10.0, 20.0], [100.0, 50.0]], 1e-6)?.len(), 2);
    /// assert!(Stations::new(&plate, &[[101.0, 20.0]], 1e-6).is_err());
    /// # Ok::<(), Box<dyn std::error::Error>>(())
    /// ```
    pub fn new(mesh: &Mesh, points: &[[f64; 2]], reach_um: f64) -> Result<Self, PointOutsideMesh> {
        let boxes: Vec<[[f64; 2]; 2]> = (0..mesh.triangles.len()).map(|t| curved_bounds(&mesh.geometry(t))).collect();
        let grid = Grid::new(&boxes, reach_um);
        let find = |(index, &at_um): (usize, &[f64; 2])| {
            let candidates = || grid.candidates(at_um).iter().map(|&t| t as usize);
            let in_box = |[low, high]: [[f64; 2]; 2]| (0..2).all(|c| low[c] <= at_um[c] && at_um[c] <= high[c]);
            let mut near = candidates().filter(|&t| in_box(boxes[t]));
            let within = |t: usize| Some(Place { triangle: t, at: inside(&mesh.geometry(t), at_um)?, outside: 0.0 });
            // The nearest edge is sought only where no triangle holds the point.
            let nearest = near.find_map(within).or_else(|| {
                candidates().map(|t| beside(mesh, t, at_um)).min_by(|a, b| a.outside.total_cmp(&b.outside))
            });
            nearest.filter(|n| n.outside <= reach_um).ok_or(PointOutsideMesh { index, at_um, reach_um })
        };
        let found = points.par_iter().enumerate().map(find).collect::<Vec<_>>();
        let (mut places, mut outside_um) = (Vec::with_capacity(points.len()), Vec::with_capacity(points.len()));
        for place in found {
            let place = place?;
            places.push((place.triangle, place.at));
            outside_um.push(place.outside);
        }
        Ok(Self { places, outside_um })
    }

    /// How many points.
    pub fn len(&self) -> usize {
        self.places.len()
    }

    /// Whether there are none.
    pub fn is_empty(&self) -> bool {
        self.places.is_empty()
    }

    /// For each point how far outside the mesh it was, µm; 0 inside.
    pub fn outside_um(&self) -> &[f64] {
        &self.outside_um
    }

    /// Modes of one motion at the points. `mesh` must be the mesh in which the points were found, `motion` the one the modes belong to.
    pub fn sample(&self, mesh: &Mesh, motion: &Motion, modes: &[&Mode]) -> Vec<Fields> {
        let inside = Inside::new(mesh, motion);
        let shapes: Vec<&[f64]> = modes.iter().map(|m| m.shape.as_slice()).collect();
        let at = |&(t, at): &(usize, [f64; 2])| -> Vec<Values> {
            let functions = evaluate(motion.layer.order, at).value;
            let all = inside.coefficients(t, &shapes);
            all.column_iter().map(|q| inside.at(t, &functions, q.as_slice())).collect()
        };
        let found: Vec<Vec<Values>> = self.places.par_iter().map(at).collect();
        (0..modes.len()).map(|k| found.iter().map(|values| values[k]).unzip()).collect()
    }
}

/// A point seen from a triangle.
struct Place {
    triangle: usize,
    /// Reference coordinates of the nearest point of the triangle.
    at: [f64; 2],
    /// Distance to it, µm.
    outside: f64,
}

/// Where in a triangle a point is; `None` outside.
fn inside(sides: &[[f64; 2]; 6], point: [f64; 2]) -> Option<[f64; 2]> {
    invert(sides, point).filter(|[r, s]| *r >= 0.0 && *s >= 0.0 && r + s <= 1.0)
}

fn beside(mesh: &Mesh, triangle: usize, point: [f64; 2]) -> Place {
    let (at, outside) = nearest_on_edges(&mesh.geometry(triangle), point);
    Place { triangle, at, outside }
}

/// Reference coordinates of a point by Newton's method, from the middle; `None` where it does not settle.
fn invert(sides: &[[f64; 2]; 6], point: [f64; 2]) -> Option<[f64; 2]> {
    let mut at = [1.0 / 3.0; 2];
    for _ in 0..20 {
        let (x, dx) = map(sides, at);
        let off = [point[0] - x[0], point[1] - x[1]];
        let det = dx[0][0] * dx[1][1] - dx[1][0] * dx[0][1];
        let step = [(off[0] * dx[1][1] - off[1] * dx[1][0]) / det, (off[1] * dx[0][0] - off[0] * dx[0][1]) / det];
        at = [at[0] + step[0], at[1] + step[1]];
        // Far outside there is nothing to find.
        if at.iter().any(|x| !x.is_finite() || x.abs() > 10.0) {
            return None;
        }
        if step.iter().all(|x| x.abs() < 1e-14) {
            return Some(at);
        }
    }
    // Rounding far from the origin may keep the last steps from vanishing.
    let (x, dx) = map(sides, at);
    let size = dx[0][0].hypot(dx[0][1]).max(dx[1][0].hypot(dx[1][1]));
    ((point[0] - x[0]).hypot(point[1] - x[1]) < 1e-9 * size).then_some(at)
}

/// The nearest point of the three edges and its distance: projection on each edge, repeated since edges may be curved.
fn nearest_on_edges(sides: &[[f64; 2]; 6], point: [f64; 2]) -> ([f64; 2], f64) {
    const CORNERS: [[f64; 2]; 3] = [[0.0, 0.0], [1.0, 0.0], [0.0, 1.0]];
    let mut nearest = ([0.0; 2], f64::INFINITY);
    for k in 0..3 {
        let (from, to) = (CORNERS[k], CORNERS[(k + 1) % 3]);
        let along = [to[0] - from[0], to[1] - from[1]];
        let mut share = 0.5;
        for _ in 0..20 {
            let at = [from[0] + share * along[0], from[1] + share * along[1]];
            let (x, dx) = map(sides, at);
            let off = [point[0] - x[0], point[1] - x[1]];
            let slope = [0, 1].map(|c| along[0] * dx[0][c] + along[1] * dx[1][c]);
            let step = (off[0] * slope[0] + off[1] * slope[1]) / (slope[0] * slope[0] + slope[1] * slope[1]);
            let next = (share + step).clamp(0.0, 1.0);
            let settled = (next - share).abs() < 1e-15;
            share = next;
            if settled {
                break;
            }
        }
        let at = [from[0] + share * along[0], from[1] + share * along[1]];
        let (x, _) = map(sides, at);
        let distance = (point[0] - x[0]).hypot(point[1] - x[1]);
        if distance < nearest.1 {
            nearest = (at, distance);
        }
    }
    nearest
}

/// Square cells over the mesh, each with the triangles whose bounding box, widened by the reach, touches it.
struct Grid {
    low: [f64; 2],
    cell: f64,
    columns: usize,
    rows: usize,
    /// Start of each cell's triangles, and the end.
    start: Vec<u32>,
    triangles: Vec<u32>,
}

impl Grid {
    fn new(boxes: &[[[f64; 2]; 2]], reach: f64) -> Self {
        let widened = |[low, high]: &[[f64; 2]; 2]| [low.map(|x| x - reach), high.map(|x| x + reach)];
        let boxes: Vec<[[f64; 2]; 2]> = boxes.iter().map(widened).collect();
        let corners: Vec<[f64; 2]> = boxes.iter().flatten().copied().collect();
        let [low, high] = bounds(&corners).unwrap_or_default();
        let size = [high[0] - low[0], high[1] - low[1]];
        // About one triangle a cell.
        let cell = (size[0] * size[1] / boxes.len().max(1) as f64).sqrt().max(f64::MIN_POSITIVE);
        let count = |length: f64| (length / cell) as usize + 1;
        let mut grid =
            Self { low, cell, columns: count(size[0]), rows: count(size[1]), start: Vec::new(), triangles: Vec::new() };
        let mut lists = vec![Vec::new(); grid.columns * grid.rows];
        for (t, [from, to]) in boxes.iter().enumerate() {
            let ([i0, j0], [i1, j1]) = (grid.cell_of(*from), grid.cell_of(*to));
            for j in j0..=j1 {
                lists[j * grid.columns + i0..=j * grid.columns + i1].iter_mut().for_each(|list| list.push(t as u32));
            }
        }
        grid.start.push(0);
        for list in lists {
            grid.triangles.extend(list);
            grid.start.push(grid.triangles.len() as u32);
        }
        grid
    }

    /// Column and row of a point; those of the nearest cell outside.
    fn cell_of(&self, point: [f64; 2]) -> [usize; 2] {
        let number = |k: usize, count: usize| (((point[k] - self.low[k]) / self.cell) as usize).min(count - 1);
        [number(0, self.columns), number(1, self.rows)]
    }

    fn candidates(&self, point: [f64; 2]) -> &[u32] {
        let [i, j] = self.cell_of(point);
        let cell = j * self.columns + i;
        &self.triangles[self.start[cell] as usize..self.start[cell + 1] as usize]
    }
}

/// A box around a triangle with quadratic edges: an edge is the Bézier curve whose middle control point is
/// twice the mid-side point less the mean of the ends, and lies within its control points.
fn curved_bounds(sides: &[[f64; 2]; 6]) -> [[f64; 2]; 2] {
    let (mut low, mut high) = ([f64::INFINITY; 2], [f64::NEG_INFINITY; 2]);
    for k in 0..3 {
        for c in 0..2 {
            let control = 2.0 * sides[3 + k][c] - 0.5 * (sides[k][c] + sides[(k + 1) % 3][c]);
            low[c] = low[c].min(sides[k][c]).min(control);
            high[c] = high[c].max(sides[k][c]).max(control);
        }
    }
    [low, high]
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::material::Law;
    use crate::modal::{Wanted, modes};
    use crate::system::{Layer, Structure};

    /// A quarter of a ring, outer and inner edges on circles.
    fn arc() -> Mesh {
        let mut points = Vec::new();
        for r in [60.0, 80.0, 100.0] {
            for i in 0..=6 {
                let a = std::f64::consts::FRAC_PI_2 * f64::from(i) / 6.0;
                points.push([r * a.cos(), r * a.sin()]);
            }
        }
        let mut triangles = Vec::new();
        for j in 0..2 {
            for i in 0..6 {
                let [a, b, c, d] = [7 * j + i, 7 * (j + 1) + i, 7 * (j + 1) + i + 1, 7 * j + i + 1];
                triangles.extend([[a, b, c], [a, c, d]]);
            }
        }
        let mut mesh = Mesh::from_triangles(points, triangles).unwrap();
        mesh.bend(|_, [a, b]| {
            let (r, s) = (a[0].hypot(a[1]), b[0].hypot(b[1]));
            let middle = [0.5 * (a[0] + b[0]), 0.5 * (a[1] + b[1])];
            ((r - s).abs() < 1e-9).then(|| middle.map(|x| x * r / middle[0].hypot(middle[1])))
        });
        mesh.hold(|m| m[1].abs() < 1e-9);
        mesh
    }

    /// The points of the sampled lattice, found again, give the sampled values: corners, edges and interiors, curved or not.
    #[test]
    fn the_lattice_is_found_again() {
        let mesh = arc();
        let layer = Layer::shell(&Law::isotropic(2330.0, 160e9, 0.22).unwrap(), 12.0);
        let modal = modes(&Structure::anchored(mesh.clone(), layer.clone()), Wanted::Lowest(4), &|_| {}).unwrap();
        let sampled = modal.sample();
        let stations = Stations::new(&mesh, &sampled.points, 1e-9).unwrap();
        assert!(stations.outside_um().iter().all(|d| *d < 1e-12), "{:?}", stations.outside_um());
        for (i, mode) in modal.modes.iter().enumerate() {
            let (u, tilt) = stations.sample(&mesh, &modal.motions[modal.motion_of[i]], &[mode]).swap_remove(0);
            let size = |values: &[f64]| values.iter().fold(0.0_f64, |m, x| m.max(x.abs()));
            let off = |a: &[f64], b: &[f64]| a.iter().zip(b).fold(0.0_f64, |m, (x, y)| m.max((x - y).abs()));
            let (a, b) = (u.as_flattened(), sampled.modes[i].as_flattened());
            assert!(off(a, b) < 1e-11 * size(b), "mode {i}: {:e}", off(a, b) / size(b));
            let (a, b) = (tilt.as_flattened(), sampled.tilts[i].as_flattened());
            assert!(off(a, b) <= 1e-11 * size(b), "mode {i}: {:e}", off(a, b) / size(b));
        }
    }

    #[test]
    fn near_points_are_drawn_in_and_far_ones_refused() {
        let mesh = arc();
        // Between two mid-side points of a chord's parabola: on the circle, a little off the mesh.
        let a = std::f64::consts::FRAC_PI_2 / 24.0;
        let on_circle = [100.0 * a.cos(), 100.0 * a.sin()];
        let stations = Stations::new(&mesh, &[on_circle, [80.0, 0.0]], 1e-2).unwrap();
        assert!(stations.outside_um()[0] < 5e-3 && stations.outside_um()[1] < 1e-12, "{:?}", stations.outside_um());
        // In the ring's opening, inside the bounding box of triangles.
        let refused = Stations::new(&mesh, &[[80.0, 0.0], [42.0, 42.0]], 0.1).unwrap_err();
        assert_eq!((refused.index, refused.at_um), (1, [42.0, 42.0]));
        assert!(Stations::new(&mesh, &[[-1e6, 3.0]], 0.1).is_err());
        assert!(Stations::new(&Mesh::default(), &[[0.0, 0.0]], 0.1).is_err());
        assert!(Stations::new(&mesh, &[[f64::NAN, 0.0]], 0.1).is_err());
    }
}
