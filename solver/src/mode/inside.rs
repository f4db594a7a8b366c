//! A mode shape inside one triangle of the mesh: displacement at mid-layer and slope through the thickness.

use crate::element::quadrature::legendre;
use crate::element::through::Field;
use crate::system::{Motion, Prisms};
use modalith_mesher::mesh::Mesh;

/// Displacement along x, y, z at mid-layer, and ∂u/∂z, ∂v/∂z.
pub(super) type Values = ([f64; 3], [f64; 2]);

/// Mode shapes of one motion, triangle by triangle.
pub(super) struct Inside<'a> {
    mesh: &'a Mesh,
    motion: &'a Motion,
    prisms: Prisms<'a>,
    /// By field: axis, what mid-layer sees of it, what the slope sees of it in m⁻¹.
    seen: Vec<(usize, f64, f64)>,
}

impl<'a> Inside<'a> {
    pub(super) fn new(mesh: &'a Mesh, motion: &'a Motion) -> Self {
        let slope = 2.0 / motion.layer.thickness_m;
        let seen = |field: &Field| match *field {
            Field::TILT_X | Field::TILT_Y => (usize::from(field.axis), 0.0, slope),
            // P_k(0): of the higher degrees only the even ones reach mid-layer.
            Field { axis, degree } => (usize::from(axis), legendre(usize::from(degree), 0.0).0, 0.0),
        };
        let seen = motion.unknowns.fields().iter().map(seen).collect();
        Self { mesh, motion, prisms: Prisms::new(mesh, &motion.layer), seen }
    }

    /// Coefficients of a shape on triangle `t`, for shape functions in the triangle's own direction of its edges.
    pub(super) fn coefficients(&self, t: usize, shape: &[f64]) -> Vec<f64> {
        let mut q = self.motion.unknowns.gather(self.mesh, t, shape);
        let fields = self.seen.len();
        for (a, _) in self.prisms.flips(t).into_iter().enumerate().filter(|(_, flip)| *flip) {
            q[a * fields..(a + 1) * fields].iter_mut().for_each(|x| *x = -*x);
        }
        q
    }

    /// Values at a place where the shape functions are `functions`, from coefficients `q`.
    pub(super) fn at(&self, functions: &[f64], q: &[f64]) -> Values {
        let (mut u, mut g) = ([0.0; 3], [0.0; 2]);
        for (f, &(axis, middle, slope)) in self.seen.iter().enumerate() {
            let sum: f64 = functions.iter().enumerate().map(|(a, v)| v * q[a * self.seen.len() + f]).sum();
            if slope == 0.0 {
                u[axis] += middle * sum;
            } else {
                g[axis] += slope * sum;
            }
        }
        (u, g)
    }
}
