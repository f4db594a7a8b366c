//! A published mixed element to compare with: the three-node MITC3 of Lee & Bathe, *Development of MITC isotropic
//! triangular shell finite elements*, Computers & Structures 82 (2004) 945, as a flat plate.
//!
//! In: the corners of a mesh (µm; curved edges are taken straight), an isotropic layer, which boundary edges are clamped.
//! Out: K and M in SI, on w, ψx, ψy per corner (u = zψ), clamped ones left out.
//!
//! The covariant transverse shears are tied at the edges' middles (1) r = ½, s = 0, (2) r = 0, s = ½, (3) r = s = ½:
//! e_r = e_r⁽¹⁾ + c s, e_s = e_s⁽²⁾ − c r with c = e_s⁽²⁾ − e_r⁽¹⁾ − e_s⁽³⁾ + e_r⁽³⁾, which keeps the shear along each
//! edge constant.

use modalith_mesher::mesh::{EdgeKind, Mesh};
use nalgebra::{SMatrix, SVector};
use nalgebra_sparse::{CooMatrix, CscMatrix};

/// An isotropic plate.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Plate {
    /// Young's modulus, Pa.
    pub youngs_modulus_pa: f64,
    /// Poisson's ratio.
    pub poissons_ratio: f64,
    /// Density, kg/m³.
    pub density_kg_m3: f64,
    /// Thickness, m.
    pub thickness_m: f64,
    /// Shear correction κ.
    pub shear_correction: f64,
}

/// The assembled plate.
#[derive(Clone, Debug)]
pub struct Assembled {
    /// Stiffness.
    pub k: CscMatrix<f64>,
    /// Mass.
    pub m: CscMatrix<f64>,
    /// The corner that each unknown belongs to.
    pub groups: Vec<u32>,
}

type Row = SVector<f64, 9>;
type Block = SMatrix<f64, 9, 9>;

impl Plate {
    /// K and M of a triangle with corners in m; unknowns corner by corner.
    fn element(&self, p: [[f64; 2]; 3]) -> (Block, Block) {
        let (e, nu, t) = (self.youngs_modulus_pa, self.poissons_ratio, self.thickness_m);
        let bending = e * t.powi(3) / (12.0 * (1.0 - nu * nu));
        let shear = self.shear_correction * e / (2.0 * (1.0 + nu)) * t;
        let (r, s) = ([p[1][0] - p[0][0], p[1][1] - p[0][1]], [p[2][0] - p[0][0], p[2][1] - p[0][1]]);
        let twice = r[0] * s[1] - r[1] * s[0];
        let area = 0.5 * twice;
        // Derivatives of the linear shape functions along x, y.
        let dr = [s[1] / twice, -s[0] / twice];
        let ds = [-r[1] / twice, r[0] / twice];
        let slope = [[-dr[0] - ds[0], -dr[1] - ds[1]], dr, ds];
        let (mut kx, mut ky, mut kxy) = (Row::zeros(), Row::zeros(), Row::zeros());
        for (a, d) in slope.iter().enumerate() {
            kx[3 * a + 1] = d[0];
            ky[3 * a + 2] = d[1];
            kxy[3 * a + 1] = d[1];
            kxy[3 * a + 2] = d[0];
        }
        let mut k = (kx * kx.transpose()
            + ky * ky.transpose()
            + (kx * ky.transpose() + ky * kx.transpose()) * nu
            + kxy * kxy.transpose() * (0.5 * (1.0 - nu)))
            * (bending * area);
        // Covariant shear along `side`, from corner 0 to `to`, at (r, s).
        let covariant = |side: [f64; 2], to: usize, [r, s]: [f64; 2]| {
            let mut row = Row::zeros();
            row[0] = -1.0;
            row[3 * to] = 1.0;
            for (a, n) in [1.0 - r - s, r, s].into_iter().enumerate() {
                row[3 * a + 1] = n * side[0];
                row[3 * a + 2] = n * side[1];
            }
            row
        };
        let er1 = covariant(r, 1, [0.5, 0.0]);
        let es2 = covariant(s, 2, [0.0, 0.5]);
        let c = es2 - er1 - covariant(s, 2, [0.5, 0.5]) + covariant(r, 1, [0.5, 0.5]);
        for point in [[0.5, 0.0], [0.0, 0.5], [0.5, 0.5]] {
            let (er, es) = (er1 + c * point[1], es2 - c * point[0]);
            let (gx, gy) = (er * dr[0] + es * ds[0], er * dr[1] + es * ds[1]);
            k += (gx * gx.transpose() + gy * gy.transpose()) * (shear * area / 3.0);
        }
        let mut m = Block::zeros();
        let (mass, rotary) = (self.density_kg_m3 * t, self.density_kg_m3 * t.powi(3) / 12.0);
        for a in 0..3 {
            for b in 0..3 {
                let share = area / if a == b { 6.0 } else { 12.0 };
                m[(3 * a, 3 * b)] = mass * share;
                m[(3 * a + 1, 3 * b + 1)] = rotary * share;
                m[(3 * a + 2, 3 * b + 2)] = rotary * share;
            }
        }
        (k, m)
    }

    /// Assembles K and M; boundary edges whose middle (µm) satisfies `clamped` are held.
    pub fn assemble(&self, mesh: &Mesh, clamped: impl Fn([f64; 2]) -> bool) -> Assembled {
        let mut held = vec![false; mesh.points.len()];
        for edge in mesh.edges.iter().filter(|e| matches!(e.kind, EdgeKind::Free | EdgeKind::Held)) {
            if clamped(edge.middle) {
                edge.ends.iter().for_each(|&i| held[i as usize] = true);
            }
        }
        let mut first = vec![None; mesh.points.len()];
        let mut groups = Vec::new();
        for i in (0..mesh.points.len()).filter(|&i| !held[i]) {
            first[i] = Some(groups.len());
            groups.extend([i as u32; 3]);
        }
        let n = groups.len();
        let (mut k, mut m) = (CooMatrix::new(n, n), CooMatrix::new(n, n));
        for corners in &mesh.triangles {
            let (ke, me) = self.element(corners.map(|i| mesh.points[i as usize].map(|x| x * 1e-6)));
            let at: Vec<Option<usize>> = (0..9).map(|l| first[corners[l / 3] as usize].map(|f| f + l % 3)).collect();
            for (i, row) in at.iter().enumerate() {
                for (j, column) in at.iter().enumerate() {
                    if let (Some(row), Some(column)) = (row, column) {
                        k.push(*row, *column, ke[(i, j)]);
                        m.push(*row, *column, me[(i, j)]);
                    }
                }
            }
        }
        Assembled { k: CscMatrix::from(&k), m: CscMatrix::from(&m), groups }
    }
}
