//! The modes' momenta by pairs of axes, by exact integration on the elements: triangles times Legendre polynomials in z,
//! which are orthogonal, so only equal degrees meet. Products between uncoupled motions are in: drive in the plane and
//! sense out of it is the commonest device of all.

use super::Coriolis;
use crate::element::through::Products;
use crate::modal::Modal;
use crate::system::{ElementMatrices, Motion, SystemError};
use modalith_mesher::mesh::Mesh;
use nalgebra::DMatrix;
use rayon::prelude::*;

/// Pieces into which the triangles are cut, summed in order: results do not depend on threads, memory on the mesh.
const PIECES: usize = 32;

/// Pairs of axes: squares, then (y, z), (z, x), (x, y).
const PAIRS: [(usize, usize); 6] = [(0, 0), (1, 1), (2, 2), (1, 2), (2, 0), (0, 1)];

/// Integrals for each of [`PAIRS`].
type Sums = [DMatrix<f64>; 6];

/// How the modes numbered `which` (from 0, in this order) couple by rotation. `added` must be the mass with which the modes
/// were found.
///
/// # Errors
/// A curved triangle that folds over; an added mass that is none.
///
/// ```
/// use modalith_mesher::mesh::Mesh;
/// use modalith_solver::{material::Law, modal::{Wanted, modes}, rotation::coriolis};
/// use modalith_solver::system::{Layer, Structure, Supports};
/// // A free square plate: sliding along x, turning with the frame about z, leads along y.
/// let plate = Mesh::rectangle(100.0, 100.0, 2, 2)?;
/// let layer = Layer::shell(&Law::isotropic(2330.0, 160e9, 0.2)?, 5.0);
/// let modal = modes(&Structure::new(plate, layer, Supports::none()), Wanted::Lowest(6), &|_| {})?;
/// let slides: Vec<usize> = (0..6).filter(|&i| modal.modes[i].effective_mass_kg()[2] < 1e-15).collect();
/// let g = coriolis(&modal, &slides)?.about(2);
/// assert!(g == -g.transpose() && g.amax() < 2.0 + 1e-12);
/// # Ok::<(), Box<dyn std::error::Error>>(())
/// ```
pub fn coriolis(modal: &Modal, which: &[usize]) -> Result<Coriolis, SystemError> {
    let (mesh, added) = (modal.structure.mesh(), modal.structure.added_mass());
    let Some(first) = modal.motions.first() else {
        return Ok(Coriolis::from_momenta(
            [0, 1, 2].map(|_| DMatrix::zeros(0, 0)),
            [0, 1, 2].map(|_| DMatrix::zeros(0, 0)),
        ));
    };
    let momenta = Momenta { mesh, modal, which, degrees: degrees(&modal.motions) };
    // All motions have the same triangles; only their fields differ.
    let prisms = ElementMatrices::new(mesh, &first.layer);
    let per_volume = first.layer.density_kg_m3;
    let through: Vec<f64> = (0..momenta.degrees)
        .map(|k| per_volume * Products::of(k as u8, k as u8, first.layer.thickness_m).value_value)
        .collect();
    let triangles: Vec<usize> = (0..mesh.triangles.len()).collect();
    let partial = triangles
        .par_chunks(triangles.len().div_ceil(PIECES).max(1))
        .map(|piece| {
            let mut sums = momenta.zeros();
            for &t in piece {
                let plane = prisms.integrate(t)?;
                for (k, shape) in momenta.on_triangle(t).iter().enumerate() {
                    let layer = through[k] * added.solid(t) + if k == 0 { added.per_area(t) } else { 0.0 };
                    for (sum, (b, c)) in sums.iter_mut().zip(PAIRS) {
                        if let (Some(b), Some(c)) = (&shape[b], &shape[c]) {
                            sum.gemm(layer, &b.transpose(), &(&plane.value * c), 1.0);
                        }
                    }
                }
            }
            Ok(sums)
        })
        .collect::<Result<Vec<Sums>, SystemError>>()?;
    let mut sums = momenta.zeros();
    for part in &partial {
        sums.iter_mut().zip(part).for_each(|(sum, part)| *sum += part);
    }
    for &(corner, kilograms) in added.points(mesh)? {
        let u = momenta.at_corner(corner);
        for (sum, (b, c)) in sums.iter_mut().zip(PAIRS) {
            sum.gemm(kilograms, &u[b].transpose(), &u[c], 1.0);
        }
    }
    momenta.add_beams(&mut sums);
    let [xx, yy, zz, yz, zx, xy] = sums;
    Ok(Coriolis::from_momenta([xx, yy, zz], [yz, zx, xy]))
}

fn degrees(motions: &[Motion]) -> usize {
    motions.iter().flat_map(|m| m.unknowns.fields()).map(|f| usize::from(f.degree) + 1).max().unwrap_or(0)
}

/// The coefficients of all modes, triangle by triangle.
struct Momenta<'a> {
    mesh: &'a Mesh,
    modal: &'a Modal,
    which: &'a [usize],
    degrees: usize,
}

impl Momenta<'_> {
    fn zeros(&self) -> Sums {
        let n = self.which.len();
        [0, 1, 2, 3, 4, 5].map(|_| DMatrix::zeros(n, n))
    }

    /// Adds what hangs on the mesh, mass point by mass point.
    fn add_beams(&self, sums: &mut Sums) {
        let mut masses = Vec::new();
        let moved: Vec<Vec<[f64; 3]>> = (0..self.which.len())
            .map(|i| {
                let (motion, shape) = self.of(i);
                let mut own = Vec::new();
                masses.clear();
                motion.beams.particles(&[shape], |particle, u| {
                    masses.push(particle.mass_kg);
                    own.extend_from_slice(u);
                });
                own
            })
            .collect();
        for (i, a) in moved.iter().enumerate() {
            for (j, b) in moved.iter().enumerate() {
                for (sum, (p, q)) in sums.iter_mut().zip(PAIRS) {
                    let products = masses.iter().zip(a.iter().zip(b)).map(|(m, (u, v))| m * u[p] * v[q]);
                    sum[(i, j)] += products.sum::<f64>();
                }
            }
        }
    }

    fn of(&self, mode: usize) -> (&Motion, &[f64]) {
        let i = self.which[mode];
        (&self.modal.motions[self.modal.motion_of[i]], &self.modal.modes[i].shape)
    }

    /// By degree and axis: coefficients, row by shape function and column by mode; `None` where no mode has the field.
    fn on_triangle(&self, t: usize) -> Vec<[Option<DMatrix<f64>>; 3]> {
        let mut shapes = vec![[None, None, None]; self.degrees];
        for mode in 0..self.which.len() {
            let (motion, shape) = self.of(mode);
            let q = motion.unknowns.gather(self.mesh, t, shape);
            let fields = motion.layer.fields_of(t);
            let functions = q.len() / fields.len();
            for (f, field) in fields.iter().enumerate() {
                let all = shapes[usize::from(field.degree)][usize::from(field.axis)]
                    .get_or_insert_with(|| DMatrix::zeros(functions, self.which.len()));
                for a in 0..functions {
                    all[(a, mode)] = q[a * fields.len() + f];
                }
            }
        }
        shapes
    }

    /// Displacement of the modes at a corner, mid-layer, by axis: one row, column by mode. A point mass sits on the fields
    /// of degree 0, as in the mass matrix.
    fn at_corner(&self, corner: u32) -> [DMatrix<f64>; 3] {
        let mut u = [0, 1, 2].map(|_| DMatrix::zeros(1, self.which.len()));
        for mode in 0..self.which.len() {
            let (motion, shape) = self.of(mode);
            for (field, value) in motion.unknowns.at_corner(corner, shape) {
                if field.degree == 0 {
                    u[usize::from(field.axis)][(0, mode)] = value;
                }
            }
        }
        u
    }
}
