//! A mode shape inside one triangle of the mesh: displacement at mid-layer and slope through the thickness.

use crate::element::quadrature::legendre;
use crate::system::{ElementMatrices, Motion};
use modalith_mesher::mesh::Mesh;
use nalgebra::DMatrix;

/// Displacement along x, y, z at mid-layer, and ∂u/∂z, ∂v/∂z.
pub(super) type Values = ([f64; 3], [f64; 2]);

/// Mode shapes of one motion, triangle by triangle.
pub(super) struct Inside<'a> {
    mesh: &'a Mesh,
    motion: &'a Motion,
    prisms: ElementMatrices<'a>,
}

impl<'a> Inside<'a> {
    pub(super) fn new(mesh: &'a Mesh, motion: &'a Motion) -> Self {
        Self { mesh, motion, prisms: ElementMatrices::new(mesh, &motion.layer) }
    }

    /// Coefficients of shapes on triangle `t`, a column each, for shape functions in the triangle's own direction of its edges.
    pub(super) fn coefficients(&self, t: usize, shapes: &[&[f64]]) -> DMatrix<f64> {
        let mut q = self.motion.unknowns.gather_all(self.mesh, t, shapes);
        let fields = self.prisms.of(t).fields().len();
        for (a, _) in self.prisms.flips(t).into_iter().enumerate().filter(|(_, flip)| *flip) {
            q.rows_mut(a * fields, fields).neg_mut();
        }
        q
    }

    /// Values on triangle `t` at a place where the shape functions are `functions`, from coefficients `q`.
    pub(super) fn at(&self, t: usize, functions: &[f64], q: &[f64]) -> Values {
        let (mut u, mut g) = ([0.0; 3], [0.0; 2]);
        let fields = self.prisms.of(t).fields();
        for (f, field) in fields.iter().enumerate() {
            let sum: f64 = functions.iter().enumerate().map(|(a, v)| v * q[a * fields.len() + f]).sum();
            let (middle, slope) = legendre(usize::from(field.degree), 0.0);
            let axis = usize::from(field.axis);
            u[axis] += middle * sum;
            if axis < 2 {
                g[axis] += 2.0 / self.motion.layer.thickness_m * slope * sum;
            }
        }
        (u, g)
    }
}
