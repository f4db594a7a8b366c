//! A flexure as a chain of Timoshenko beams. In: nodes along its centre-line, sections, what joints add to its flexibility.
//! Out: element stiffnesses and mass points in the layout's axes, SI.
//!
//! Mass follows the static shapes of [`crate::element::beam`] and is scaled to the true area of the flexure.

use crate::element::beam::{Beam, BeamError};
use crate::element::quadrature::gauss;
use crate::rigid::axes_at;
use crate::section::Section;
use nalgebra::{Matrix3x6, Matrix6, SMatrix, SVector};

/// Gauss points along an element: squares of its cubic shapes are exact.
const ALONG: usize = 4;

/// A piece of mass that moves with the two nodes of an element.
#[derive(Clone, Debug)]
pub struct Particle {
    /// Mass, kg.
    pub mass_kg: f64,
    /// Where it is, layout frame, z from mid-layer, m.
    pub at_m: [f64; 3],
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
    /// A beam from `near` to `far` (m) with a section along that direction and what its joints at near and far end add to its
    /// flexibility, in the element's axes (m and rad per N and N m, 6 × 6, in the order of [`crate::section`]). `extents_m` are the section's width and thickness, `kg_per_m` its mass.
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
            let share = 0.5 * (1.0 + x);
            let shape = beam.shape(share);
            for (sy, sz) in [(-1.0, -1.0), (1.0, -1.0), (1.0, 1.0), (-1.0, 1.0)] {
                let from_middle = [-sin * sy * radii[0], cos * sy * radii[0], sz * radii[1]];
                let middle = [near[0] + share * d[0], near[1] + share * d[1], 0.0];
                let mass_kg = kg_per_m * 0.5 * w * length / 4.0;
                let at_m = [0, 1, 2].map(|k| middle[k] + from_middle[k]);
                particles.push(Particle { mass_kg, at_m, place: offset(from_middle) * shape });
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

/// A point of the material of a chain of beams.
#[derive(Clone, Debug, PartialEq)]
pub struct OnChain {
    element: usize,
    /// Displacement, and slopes ∂u/∂z and ∂v/∂z at mid-layer, per the motions of the element's nodes.
    place: SMatrix<f64, 5, 12>,
}

impl OnChain {
    /// Where a point of the layout, m, lies along elements that follow one another.
    pub fn find(elements: &[Element], at: [f64; 2]) -> Self {
        let nearest = elements.iter().enumerate().map(|(e, element)| (e, element.nearest(at)));
        let mut place = SMatrix::zeros();
        let Some((element, (share, middle, _))) = nearest.min_by(|a, b| a.1.2.total_cmp(&b.1.2)) else {
            return Self { element: 0, place };
        };
        let shape = elements[element].beam.shape(share);
        place.fixed_rows_mut::<3>(0).copy_from(&(offset([at[0] - middle[0], at[1] - middle[1], 0.0]) * shape));
        place.row_mut(3).copy_from(&shape.row(4));
        place.row_mut(4).copy_from(&(-shape.row(3)));
        Self { element, place }
    }

    /// Displacement, m, and slopes, rad, from the motions of both nodes of every element.
    pub fn moved(&self, nodes: &[SVector<f64, 12>]) -> ([f64; 3], [f64; 2]) {
        let found = nodes.get(self.element).map_or_else(SVector::zeros, |q| self.place * q);
        ([found[0], found[1], found[2]], [found[3], found[4]])
    }
}

/// A rigid appendage on one node: a finger too stiff and light to bend. Its mass points have its mass, centre and moments.
///
/// `node` is where the node is, m; `arm` its centre from there, m; `radii` its radii of gyration along and across `angle`, and through the thickness.
pub fn rigid(mass_kg: f64, node: [f64; 2], arm: [f64; 2], angle: f64, radii: [f64; 3]) -> Vec<Particle> {
    let (sin, cos) = angle.sin_cos();
    let mut out = Vec::new();
    for k in 0..8u8 {
        let s = [0, 1, 2].map(|b| if k >> b & 1 == 1 { radii[b] } else { -radii[b] });
        let at = [arm[0] + cos * s[0] - sin * s[1], arm[1] + sin * s[0] + cos * s[1], s[2]];
        let mut place = SMatrix::<f64, 3, 12>::zeros();
        place.fixed_view_mut::<3, 6>(0, 0).copy_from(&offset(at));
        let at_m = [node[0] + at[0], node[1] + at[1], at[2]];
        out.push(Particle { mass_kg: mass_kg / 8.0, at_m, place });
    }
    out
}

/// Displacement of a point that moves with a section, `r` (m) from its middle, per motion of the section: 3 × 6.
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

#[cfg(test)]
mod tests {
    use super::*;
    use crate::material::Law;
    use crate::rigid::transport;
    use nalgebra::{Vector3, Vector6};

    /// Mass points are where they say: a rigid motion of both nodes moves each by v + ω × r.
    #[test]
    fn mass_points_follow_a_rigid_motion() {
        let law = Law::isotropic(2330.0, 160e9, 0.22).unwrap();
        let section = Section::rectangle(&law, 0.0, 4e-6, 20e-6).unwrap();
        let (near, far) = ([30e-6, -20e-6], [90e-6, 60e-6]);
        let soft = Matrix6::identity() * 1e-9;
        let element = Element::new(near, far, &section, [&soft, &soft], [4e-6, 20e-6], 1e-7).unwrap();
        let whole = Vector6::new(1e-6, -2e-6, 3e-6, 0.03, -0.05, 0.07);
        let at = |r: [f64; 3]| transport(&Vector3::from(r)) * whole;
        let mut nodes = SVector::<f64, 12>::zeros();
        nodes.fixed_rows_mut::<6>(0).copy_from(&at([near[0], near[1], 0.0]));
        nodes.fixed_rows_mut::<6>(6).copy_from(&at([far[0], far[1], 0.0]));
        let finger = rigid(1e-12, near, [10e-6, 5e-6], 0.4, [8e-6, 1e-6, 6e-6]);
        for p in element.particles.iter().chain(&finger) {
            let off = p.place * nodes - at(p.at_m).fixed_rows::<3>(0);
            assert!(off.amax() < 1e-9 * 1e-5, "{off:e}");
        }
    }
}
