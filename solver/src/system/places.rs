//! Places inside triangles of the mesh: how their displacement at mid-layer follows from the unknowns, forces and springs
//! there. SI.

use super::unknowns::foot_pairs;
use super::{ElementMatrices, Layer, Unknowns};
use crate::element::basis::evaluate;
use crate::element::quadrature::legendre;
use modalith_mesher::mesh::Mesh;

/// A spring to the ground at a place of the mesh.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct PointSpring {
    /// Number of the triangle.
    pub triangle: usize,
    /// Place in the reference triangle (0,0), (1,0), (0,1).
    pub at: [f64; 2],
    /// Stiffness against displacement along x, y, z at mid-layer, N/m, symmetric; negative where it pulls away.
    pub stiffness: [[f64; 3]; 3],
}

/// Places in a mesh under one motion's unknowns.
pub struct Places<'a> {
    mesh: &'a Mesh,
    layer: &'a Layer,
    unknowns: &'a Unknowns,
    prisms: ElementMatrices<'a>,
}

impl<'a> Places<'a> {
    /// Places of a layer on a mesh.
    pub fn new(mesh: &'a Mesh, layer: &'a Layer, unknowns: &'a Unknowns) -> Self {
        Self { mesh, layer, unknowns, prisms: ElementMatrices::new(mesh, layer) }
    }

    /// Numbers of unknowns and the displacement along x, y, z at mid-layer that one of each gives at a place; unknowns that
    /// give none are left out.
    pub fn rows(&self, triangle: usize, at: [f64; 2]) -> Vec<(usize, [f64; 3])> {
        let functions = evaluate(self.layer.order, at).value;
        let flips = self.prisms.flips(triangle);
        let fields = self.layer.fields_of(triangle);
        let middle: Vec<f64> = fields.iter().map(|f| legendre(usize::from(f.degree), 0.0).0).collect();
        let clamped = self.unknowns.clamped_below_functions(self.mesh, triangle);
        let pairs = foot_pairs(fields);
        let numbers = self.unknowns.of_triangle(self.mesh, triangle);
        let mut rows = Vec::new();
        for (place, number) in numbers.into_iter().enumerate() {
            let (a, f) = (place / fields.len(), place % fields.len());
            let Some(number) = number else { continue };
            let mut share = middle[f];
            if clamped.as_ref().is_some_and(|clamped| clamped[a]) {
                share += pairs.iter().filter(|p| p.0 == f).map(|p| p.2).sum::<f64>();
            }
            if share != 0.0 {
                let mut u = [0.0; 3];
                u[usize::from(fields[f].axis)] = share * if flips[a] { -functions[a] } else { functions[a] };
                rows.push((number as usize, u));
            }
        }
        rows
    }

    /// Displacement, m, along x, y, z at mid-layer of a place, from values over the unknowns.
    pub fn displacement(&self, triangle: usize, at: [f64; 2], x: &[f64]) -> [f64; 3] {
        self.rows(triangle, at).iter().fold([0.0; 3], |sum, (n, u)| [0, 1, 2].map(|k| sum[k] + x[*n] * u[k]))
    }

    /// Adds a force, N, at a place to a load over the unknowns.
    pub fn force(&self, triangle: usize, at: [f64; 2], force: [f64; 3], load: &mut [f64]) {
        for (n, u) in self.rows(triangle, at) {
            load[n] += (0..3).map(|k| u[k] * force[k]).sum::<f64>();
        }
    }

    /// Calls `put` with row, column and value of the springs' stiffness matrix; springs that follow each other in one
    /// triangle are summed first.
    pub fn springs(&self, springs: &[PointSpring], mut put: impl FnMut(usize, usize, f64)) {
        for group in springs.chunk_by(|a, b| a.triangle == b.triangle) {
            let mut numbers: Vec<usize> = Vec::new();
            let mut sum: Vec<f64> = Vec::new();
            for spring in group {
                let rows = self.rows(spring.triangle, spring.at);
                if numbers.is_empty() {
                    numbers = rows.iter().map(|r| r.0).collect();
                    sum = vec![0.0; numbers.len() * numbers.len()];
                }
                let n = numbers.len();
                for (i, (_, u)) in rows.iter().enumerate() {
                    let f = [0, 1, 2].map(|k| (0..3).map(|l| u[l] * spring.stiffness[l][k]).sum::<f64>());
                    for (j, (_, v)) in rows.iter().enumerate() {
                        sum[i * n + j] += (0..3).map(|k| f[k] * v[k]).sum::<f64>();
                    }
                }
            }
            let n = numbers.len();
            for (i, &row) in numbers.iter().enumerate() {
                for (j, &column) in numbers.iter().enumerate() {
                    // Exactly symmetric, whatever the order of the sums.
                    let value = 0.5 * (sum[i * n + j] + sum[j * n + i]);
                    if value != 0.0 {
                        put(row, column, value);
                    }
                }
            }
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::material::Law;
    use crate::modal::{Wanted, modes};
    use crate::mode::Stations;
    use crate::system::Structure;

    /// Rows say the same as sampling a mode at stations, in a shell and in a solid.
    #[test]
    fn places_move_as_sampled_modes_do() {
        let mut mesh = Mesh::rectangle(100.0, 40.0, 3, 2).unwrap();
        mesh.hold(|m| m[0] == 0.0);
        let law = Law::isotropic(2330.0, 160e9, 0.22).unwrap();
        for layer in [Layer::shell(&law, 8.0), Layer::solid_by_region(&law, 30.0, &mesh)] {
            let modal = modes(&Structure::anchored(mesh.clone(), layer.clone()), Wanted::Lowest(4), &|_| {}).unwrap();
            let (triangle, at) = (5, [0.3, 0.25]);
            let [a, b, c] = mesh.triangles[triangle].map(|i| mesh.points[i as usize]);
            let point = [0, 1].map(|k| a[k] + at[0] * (b[k] - a[k]) + at[1] * (c[k] - a[k]));
            let station = Stations::new(&mesh, &[point], 1e-9).unwrap();
            for (i, mode) in modal.modes.iter().enumerate() {
                let motion = &modal.motions[modal.motion_of[i]];
                let sampled = station.sample(&mesh, motion, &[mode])[0].0[0];
                let u = Places::new(&mesh, &motion.layer, &motion.unknowns).displacement(triangle, at, &mode.shape);
                let size = sampled.iter().fold(0.0_f64, |m, x| m.max(x.abs()));
                assert!((0..3).all(|k| (u[k] - sampled[k]).abs() < 1e-10 * size), "{u:?} {sampled:?}");
            }
        }
    }
}
