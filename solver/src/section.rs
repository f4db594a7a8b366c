//! Section constants of straight prismatic beams: the 6 × 6 compliance, stiffness and mass of a section, for any law.
//!
//! In: a law in the layout's axes, the direction of the beam, a quadrilateral section in metres. Out: SI.
//!
//! # Axes and signs
//! x along the beam, y in the wafer's plane to the left of x, z along the wafer's normal. The reference point is the mid
//! point: y = z = 0 at mid-width (of a rectangle, or at mid-layer height) and mid-layer.
//! - Resultants on the section that faces +x, in this order: N = ∫ σ_xx, V_y = ∫ σ_xy, V_z = ∫ σ_xz,
//!   T = ∫ (y σ_xz − z σ_xy), M_y = ∫ z σ_xx, M_z = −∫ y σ_xx: the force and moment of the tractions about the mid point.
//! - Along an unloaded beam M_y' = V_z and M_z' = −V_y.
//! - Generalized strains, in the same order: u_x', u_y' − φ_z, u_z' + φ_y, φ_x', φ_y', φ_z', where (u, φ) is the motion of the
//!   section that the resultants do work on.
//!
//! So M_z = E I_zz φ_z' with I_zz = ∫ y² bends in the plane of the wafer, M_y = E I_yy φ_y' with I_yy = ∫ z² out of it, and
//! M_y = −E I_yz φ_z' couples them where a wall leans, I_yz = ∫ y z.

mod central;
mod error;
mod moments;
mod patch;
mod rectangle;

use crate::material::Law;
use crate::rigid::{axes_at, transport};
use central::{Central, motion_at};
pub use error::SectionError;
pub use moments::TractionMoments;
use nalgebra::{Matrix2, Matrix6, Vector2, Vector3};
use patch::Patch;
pub use rectangle::{Moduli, torsion_constant};

/// A section of a prismatic beam. Axes, order and signs: see the module.
#[derive(Clone, Debug, PartialEq)]
pub struct Section {
    /// Generalized strains per resultants, symmetric: m/m and rad/m per N and N m.
    pub compliance: Matrix6<f64>,
    /// Resultants per generalized strains, the inverse of `compliance`: N and N m per m/m and rad/m.
    pub stiffness: Matrix6<f64>,
    /// Mass per length about the mid point, with rotary inertia: kg/m, kg, kg m. The rate of momentum per motion
    /// (u_x, u_y, u_z, φ_x, φ_y, φ_z).
    pub mass_per_length: Matrix6<f64>,
    solution: Option<Solution>,
}

/// What is known of a section whose constants were computed.
#[derive(Clone, Debug, PartialEq)]
struct Solution {
    /// Central solutions on coordinates over `length_m` and stiffness over `stiffness_pa`.
    central: Central,
    length_m: f64,
    stiffness_pa: f64,
    area_m2: f64,
    /// G_xy and G_xz of the material, from its compliance, Pa.
    shear_moduli_pa: [f64; 2],
}

/// Constants of a section that couples nothing, with its centres in the mid point.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Constants {
    /// E A, N.
    pub axial_n: f64,
    /// κ G A along y and z, N.
    pub shear_n: [f64; 2],
    /// G J, N m².
    pub torsion_nm2: f64,
    /// E I_yy (bending out of the plane) and E I_zz (in it), N m².
    pub bending_nm2: [f64; 2],
    /// ρ A, kg/m.
    pub mass_kg_m: f64,
    /// ρ I_yy and ρ I_zz, kg m; their sum resists twist.
    pub rotary_kgm: [f64; 2],
}

/// Corners (y, z), anticlockwise from the lower left, of a layer's flexure: `width_m` at mid-layer, both walls leaning to +y with
/// +z by `lean_rad`, and each wall leaning inwards by `taper_rad` on top of that (the wide side is below).
///
/// ```
/// use modalith_solver::section::etched;
/// let [lower_left, ..] = etched(4e-6, 20e-6, 0.0, 0.01);
/// assert!((lower_left[0] + 2e-6 + 10e-6 * 0.01_f64.tan()).abs() < 1e-18);
/// ```
pub fn etched(width_m: f64, thickness_m: f64, lean_rad: f64, taper_rad: f64) -> [[f64; 2]; 4] {
    let (lean, taper) = (lean_rad.tan(), taper_rad.tan());
    let (y, z) = (0.5 * width_m, 0.5 * thickness_m);
    let left = |z: f64| [-y + z * (lean + taper), z];
    let right = |z: f64| [y + z * (lean - taper), z];
    [left(-z), right(-z), right(z), left(z)]
}

impl Section {
    /// A rectangle, `width_m` in the plane by `thickness_m` along the normal. `law` is in the layout's axes; the beam points
    /// `angle` radians from the layout's x, anticlockwise seen from +z.
    ///
    /// # Errors
    /// A size that is not positive, or a law that is not positive definite.
    ///
    /// ```
    /// use modalith_solver::{material::Law, section::Section};
    /// let law = Law::isotropic(2330.0, 160e9, 0.22)?;
    /// let section = Section::rectangle(&law, 0.0, 4e-6, 20e-6)?;
    /// // J = β a b³ with β(5) = 0.291317 (Saint-Venant).
    /// let expected = 160e9 / 2.44 * 0.291317 * 20e-6 * 4e-6_f64.powi(3);
    /// assert!((section.torsion_stiffness_nm2() / expected - 1.0).abs() < 1e-5);
    /// # Ok::<(), Box<dyn std::error::Error>>(())
    /// ```
    pub fn rectangle(law: &Law, angle: f64, width_m: f64, thickness_m: f64) -> Result<Self, SectionError> {
        if !(width_m > 0.0 && thickness_m > 0.0 && width_m.is_finite() && thickness_m.is_finite()) {
            return Err(SectionError::Size { width_m, thickness_m });
        }
        Self::quadrilateral(law, angle, etched(width_m, thickness_m, 0.0, 0.0))
    }

    /// A convex quadrilateral with corners (y, z) in metres, anticlockwise with y right and z up. Law and angle as for
    /// [`Section::rectangle`].
    ///
    /// # Errors
    /// Corners that do not go round a convex quadrilateral, or a law that is not positive definite.
    pub fn quadrilateral(law: &Law, angle: f64, corners_m: [[f64; 2]; 4]) -> Result<Self, SectionError> {
        for k in 0..4 {
            let [before, here, after] =
                [corners_m[(k + 3) % 4], corners_m[k], corners_m[(k + 1) % 4]].map(Vector2::from);
            let turn = (here - before).perp(&(after - here));
            if !(turn > 0.0 && turn.is_finite()) {
                return Err(SectionError::NotConvex(k));
            }
        }
        let [a, b, c, d] = corners_m.map(Vector2::from);
        let area_m2 = 0.5 * (c - a).perp(&(d - b));
        // Coordinates, stiffness and resultants of order one: bending and stretching differ by a length squared.
        let length_m = area_m2.sqrt();
        let law_here = law.turned(&axes_at(angle));
        let stiffness_pa = law_here.stiffness_pa.amax();
        let corners = corners_m.map(|p| p.map(|x| x / length_m));
        let central = Central::solve(&(law_here.stiffness_pa / stiffness_pa), corners)?;
        let scale = scale_by_row(length_m);
        let compliance = central.compliance.component_mul(&scale) / (stiffness_pa * area_m2);

        let patch = Patch::new(corners);
        let mut mass_per_length = Matrix6::zeros();
        for (point, weight) in patch.rule() {
            let at = patch.at(point);
            let motion = motion_at(at.position.map(|x| x * length_m));
            mass_per_length += motion.tr_mul(&motion) * (weight * at.stretch * area_m2 * law.density_kg_m3);
        }
        let by_strain = law_here.stiffness_pa.try_inverse().ok_or(SectionError::NotPositiveDefinite)?;
        let shear_moduli_pa = [1.0 / by_strain[(5, 5)], 1.0 / by_strain[(4, 4)]];
        let solution = Solution { central, length_m, stiffness_pa, area_m2, shear_moduli_pa };
        Ok(Self { solution: Some(solution), ..Self::from_matrices(&compliance, &mass_per_length)? })
    }

    /// A section from its compliance and mass about the mid point, both symmetric; without stresses.
    ///
    /// # Errors
    /// [`SectionError::NotPositiveDefinite`].
    pub fn from_matrices(compliance: &Matrix6<f64>, mass_per_length: &Matrix6<f64>) -> Result<Self, SectionError> {
        let scaled = |m: &Matrix6<f64>| {
            let root = m.diagonal().map(|d| 1.0 / d.sqrt());
            m.component_mul(&(root * root.transpose()))
                .cholesky()
                .map(|c| c.inverse().component_mul(&(root * root.transpose())))
        };
        let stiffness = scaled(compliance).ok_or(SectionError::NotPositiveDefinite)?;
        scaled(mass_per_length).ok_or(SectionError::NotPositiveDefinite)?;
        Ok(Self { compliance: *compliance, stiffness, mass_per_length: *mass_per_length, solution: None })
    }

    /// A section from given constants, without couplings or stresses.
    ///
    /// # Errors
    /// [`SectionError::NotPositiveDefinite`] if one is not positive.
    pub fn from_constants(given: &Constants) -> Result<Self, SectionError> {
        let [y, z] = given.bending_nm2;
        let stiffness = [given.axial_n, given.shear_n[0], given.shear_n[1], given.torsion_nm2, y, z];
        let (mass, [about_y, about_z]) = (given.mass_kg_m, given.rotary_kgm);
        let inertia = [mass, mass, mass, about_y + about_z, about_y, about_z];
        Self::from_matrices(
            &Matrix6::from_diagonal(&stiffness.map(|s| 1.0 / s).into()),
            &Matrix6::from_diagonal(&inertia.into()),
        )
    }

    /// Compliance with motions and resultants taken about another point (y, z), m, of the section.
    pub fn compliance_about(&self, [y, z]: [f64; 2]) -> Matrix6<f64> {
        let there = transport(&Vector3::new(0.0, y, z));
        there * self.compliance * there.transpose()
    }

    /// Centre of mass (y, z), m.
    pub fn centroid_m(&self) -> [f64; 2] {
        let m = &self.mass_per_length;
        [-m[(0, 5)] / m[(0, 0)], m[(0, 4)] / m[(0, 0)]]
    }

    /// Where a pull along the beam bends nothing, (y, z), m: the centroid, unless the law couples stretch to bending.
    pub fn elastic_centre_m(&self) -> [f64; 2] {
        let bending = self.compliance.fixed_view::<2, 2>(4, 4).into_owned();
        let by_pull = self.compliance.fixed_view::<2, 1>(4, 0).into_owned();
        let moment = bending.try_inverse().unwrap_or_default() * by_pull;
        [moment[1], -moment[0]]
    }

    /// Where a shear force does no work on twist, and so twists nothing, (y, z), m (Trefftz, ZAMM 15 (1935) 220).
    pub fn shear_centre_m(&self) -> [f64; 2] {
        let f = &self.compliance;
        [-f[(3, 2)] / f[(3, 3)], f[(3, 1)] / f[(3, 3)]]
    }

    /// E A, N, with nothing else held.
    pub fn axial_stiffness_n(&self) -> f64 {
        1.0 / self.compliance_about(self.elastic_centre_m())[(0, 0)]
    }

    /// Moments (M_y, M_z) per curvatures (φ_y', φ_z') without pull, N m²: \[\[E I_yy, −E I_yz\], \[−E I_yz, E I_zz\]\] of a
    /// material without couplings.
    pub fn bending_stiffness_nm2(&self) -> Matrix2<f64> {
        self.compliance.fixed_view::<2, 2>(4, 4).into_owned().try_inverse().unwrap_or_default()
    }

    /// Torque per twist, free to bend and stretch, N m².
    pub fn torsion_stiffness_nm2(&self) -> f64 {
        1.0 / self.compliance[(3, 3)]
    }

    /// κ G A along y and z, N: shear forces through the shear centre per shear strains of the same energy.
    pub fn shear_stiffness_n(&self) -> [f64; 2] {
        let f = self.compliance_about(self.shear_centre_m());
        [1.0 / f[(1, 1)], 1.0 / f[(2, 2)]]
    }

    /// κ along y and z, without unit, by static energy, on G_xy and G_xz of the material; `None` for a section from given constants.
    pub fn shear_coefficients(&self) -> Option<[f64; 2]> {
        let Solution { area_m2, shear_moduli_pa: [xy, xz], .. } = self.solution.as_ref()?;
        let [y, z] = self.shear_stiffness_n();
        Some([y / (xy * area_m2), z / (xz * area_m2)])
    }

    /// Tractions (σ_xx, σ_xy, σ_xz), Pa, at a point (y, z), m, of the section under each of the six unit resultants
    /// (1 N, 1 N m) there: Saint-Venant's solutions. Their resultants are exactly the unit ones.
    ///
    /// A unit V_y or V_z has no moment at this section. `None` for a section from given constants.
    pub fn tractions(&self, y: f64, z: f64) -> Option<[[f64; 3]; 6]> {
        self.stress(y, z).map(|s| [0, 1, 2, 3, 4, 5].map(|k| [s[(0, k)], s[(5, k)], s[(4, k)]]))
    }

    /// Degree of the tractions along y, and half of the section's extent there, m; (1, 1) for a section from given constants.
    fn across(&self) -> (usize, f64) {
        self.solution.as_ref().map_or((1, 1.0), |s| {
            let (degree, half) = s.central.across();
            (degree, half * s.length_m)
        })
    }

    /// All stresses there, Pa, Voigt order xx, yy, zz, yz, xz, xy, a column each unit resultant.
    pub fn stress(&self, y: f64, z: f64) -> Option<Matrix6<f64>> {
        let Solution { central, length_m, .. } = self.solution.as_ref()?;
        let mut stress = central.stress([y / length_m, z / length_m]) / (length_m * length_m);
        stress.fixed_columns_mut::<3>(3).scale_mut(1.0 / length_m);
        Some(stress)
    }

    /// Warping (u_x, u_y, u_z), m, at a point (y, z), m, under each of the six unit resultants: what the section's points
    /// do beyond its motion, on which the tractions of no unit resultant do work. `None` as above.
    pub fn warping(&self, y: f64, z: f64) -> Option<[[f64; 3]; 6]> {
        let Solution { central, length_m, stiffness_pa, .. } = self.solution.as_ref()?;
        let mut warping = central.warping([y / length_m, z / length_m]) / (stiffness_pa * length_m);
        warping.fixed_columns_mut::<3>(3).scale_mut(1.0 / length_m);
        Some([0, 1, 2, 3, 4, 5].map(|k| warping.column(k).into_owned().into()))
    }
}

/// Powers of the length in the compliance: 1 between forces and strains, 1/length for every moment or curvature.
fn scale_by_row(length_m: f64) -> Matrix6<f64> {
    let power = |i: usize| if i < 3 { 1.0 } else { 1.0 / length_m };
    Matrix6::from_fn(|i, j| power(i) * power(j))
}

#[cfg(test)]
mod tests;
