//! A flexure as a chain of Timoshenko beams. In: nodes along its centre-line, sections, what joints add to its flexibility.
//! Out: element stiffnesses and mass points in the layout's axes, SI.
//!
//! Mass follows the static shapes of [`crate::element::beam`] and is scaled to the true area of the flexure.

use crate::element::beam::{Beam, BeamError};
use crate::element::quadrature::gauss;
use crate::rigid::axes_at;
use crate::section::Section;
use nalgebra::{Matrix3x6, Matrix6, SMatrix};

/// Gauss points along an element: squares of its cubic shapes are exact.
const ALONG: usize = 4;

/// A piece of mass that moves with the two nodes of an element.
#[derive(Clone, Debug)]
pub struct Particle {
    /// Mass, kg.
    pub mass_kg: f64,
    /// Displacement from the nodes' motions in the layout's axes.
    pub place: SMatrix<f64, 3, 12>,
}

/// One uniform beam between two nodes.
#[derive(Clone, Debug)]
pub struct Element {
    near: [f64; 2],
    angle: f64,
    length: f64,
    /// The beam, its unknowns in the layout's axes.
    pub beam: Beam,
    /// The mass points: four a section, at the radii of gyration, so that rotary inertia is exact.
    pub particles: Vec<Particle>,
}

impl Element {
    /// A beam from `near` to `far` (m) with a section along that direction and what its two joints add to its flexibility, in
    /// the element's axes. `extents_m` are the section's width and thickness, `kg_per_m` its mass.
    ///
    /// # Errors
    /// See [`BeamError`].
    pub fn new(
        near: [f64; 2],
        far: [f64; 2],
        section: &Section,
        joints: [&Matrix6<f64>; 2],
        extents_m: [f64; 2],
        kg_per_m: f64,
    ) -> Result<Self, BeamError> {
        let d = [far[0] - near[0], far[1] - near[1]];
        let (length, angle) = (d[0].hypot(d[1]), d[1].atan2(d[0]));
        let beam = Beam::with_end_corrections(section, length, joints[0], joints[1])?.in_frame(&axes_at(angle));
        let radii = extents_m.map(|e| e / 12f64.sqrt());
        let (sin, cos) = angle.sin_cos();
        let mut particles = Vec::with_capacity(4 * ALONG);
        for (x, w) in gauss(ALONG) {
            let shape = beam.shape(0.5 * (1.0 + x));
            for (sy, sz) in [(-1.0, -1.0), (1.0, -1.0), (1.0, 1.0), (-1.0, 1.0)] {
                let at = offset([-sin * sy * radii[0], cos * sy * radii[0], sz * radii[1]]);
                let mass_kg = kg_per_m * 0.5 * w * length / 4.0;
                particles.push(Particle { mass_kg, place: at * shape });
            }
        }
        Ok(Self { near, angle, length, beam, particles })
    }

    /// The share of the length nearest to a point (m), where that is, and the distance squared.
    pub fn nearest(&self, p: [f64; 2]) -> (f64, [f64; 2], f64) {
        let (sin, cos) = self.angle.sin_cos();
        let r = [p[0] - self.near[0], p[1] - self.near[1]];
        let share = ((r[0] * cos + r[1] * sin) / self.length).clamp(0.0, 1.0);
        let at = [self.near[0] + share * self.length * cos, self.near[1] + share * self.length * sin];
        (share, at, (p[0] - at[0]).powi(2) + (p[1] - at[1]).powi(2))
    }
}

/// A rigid appendage on one node: a finger too stiff and light to bend. Its mass points have its mass, centre and moments.
///
/// `arm` is its centre from the node, m; `radii` its radii of gyration along and across `angle`, and through the thickness.
pub fn rigid(mass_kg: f64, arm: [f64; 2], angle: f64, radii: [f64; 3]) -> Vec<Particle> {
    let (sin, cos) = angle.sin_cos();
    let mut out = Vec::new();
    for k in 0..8u8 {
        let s = [0, 1, 2].map(|b| if k >> b & 1 == 1 { radii[b] } else { -radii[b] });
        let at = [arm[0] + cos * s[0] - sin * s[1], arm[1] + sin * s[0] + cos * s[1], s[2]];
        let mut place = SMatrix::<f64, 3, 12>::zeros();
        place.fixed_view_mut::<3, 6>(0, 0).copy_from(&offset(at));
        out.push(Particle { mass_kg: mass_kg / 8.0, place });
    }
    out
}

/// Displacement of a point that moves with a section, `r` from its middle.
pub fn offset(r: [f64; 3]) -> Matrix3x6<f64> {
    let mut place = Matrix3x6::identity();
    place[(0, 4)] = r[2];
    place[(0, 5)] = -r[1];
    place[(1, 3)] = -r[2];
    place[(1, 5)] = r[0];
    place[(2, 3)] = r[1];
    place[(2, 4)] = -r[0];
    place
}
