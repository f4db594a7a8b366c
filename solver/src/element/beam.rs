//! Two-node shear-flexible beam (Timoshenko, Phil. Mag. 41 (1921) 744) with any coupling of its section.
//!
//! In: a [`Section`] and a length, m. Out: 12 × 12 stiffness and mass, SI; unknowns (u_x, u_y, u_z, φ_x, φ_y, φ_z) of the near end,
//! then of the far end, in the section's axes, x from near to far.
//!
//! The stiffness is the inverse of the flexibility of a clamped segment, integrated in closed form (Przemieniecki, *Theory of Matrix
//! Structural Analysis*, 1968, ch. 5), so one element is exact under end loads whatever its length, and nothing locks. The mass is
//! consistent with the exact static shapes, rotary inertia included, so frequencies converge from above: with the fourth
//! power of the length while elements are longer than deep, with the second where they are shorter, because the shear
//! force of a static shape is constant.
//!
//! Elements that suffice for 0.1 % in modes 1, 2, 3 of one beam under the worst of the usual supports (validation/tests/published/timoshenko.rs):
//! 12, 32, 48 at length/depth 5; 8, 24, 32 at 10; 6, 12, 24 at 20; 6, 8, 12 at 50.

use super::quadrature::gauss;
use crate::rigid::{transport, turn};
use crate::section::Section;
use nalgebra::{Matrix3, Matrix6, SMatrix, SVector, Vector3};

/// A matrix of the beam's twelve unknowns.
pub type Matrix12 = SMatrix<f64, 12, 12>;
/// A section's motion per the beam's twelve unknowns.
pub type SectionMotion = SMatrix<f64, 6, 12>;

/// Why a beam cannot be made.
#[derive(Clone, Debug, PartialEq, thiserror::Error)]
pub enum BeamError {
    /// A length, m, that is not positive and finite.
    #[error("a beam {:.4} µm long cannot be: its length must be positive", .0 * 1e6)]
    Length(f64),
    /// End corrections that take more flexibility away than the beam has; its length, m.
    #[error("a stretch {:.3} µm long is outweighed by the corrections at its ends: it is too short for a beam", 1e6 * .0)]
    Corrections(f64),
}

/// A beam between two nodes.
#[derive(Clone, Debug, PartialEq)]
pub struct Beam {
    /// Loads per unknowns: N, N m per m, rad.
    pub stiffness: Matrix12,
    /// Consistent mass: kg, kg m, kg m².
    pub mass: Matrix12,
    static_shape: Static,
}

/// The static shape of a beam under end loads, in the axes of its unknowns.
#[derive(Clone, Debug, PartialEq)]
struct Static {
    length_m: f64,
    compliance: Matrix6<f64>,
    near: Matrix6<f64>,
    /// Resultants at the far end per unknowns.
    load: SectionMotion,
    /// The beam's axes among those of the unknowns.
    axes: Matrix6<f64>,
}

impl Static {
    fn at(&self, x: f64) -> SectionMotion {
        let across = along(self.length_m);
        let bent = along(x) * self.near * across.transpose() + deflection(&self.compliance, x, self.length_m);
        let mut shape = bent * self.load;
        let mut rigid = shape.fixed_columns_mut::<6>(0);
        rigid += along(x) * self.axes;
        self.axes.transpose() * shape
    }
}

/// Motion at a distance further along x per motion.
fn along(distance: f64) -> Matrix6<f64> {
    transport(&Vector3::new(distance, 0.0, 0.0))
}

/// Motion at `x` per load at the far end `length` of a segment clamped at its near end:
/// ∫₀ˣ R(x − s) F R(L − s)ᵀ ds, where the resultants at s are R(L − s)ᵀ times the load and R is linear in its distance.
fn deflection(f: &Matrix6<f64>, x: f64, length: f64) -> Matrix6<f64> {
    let slope = along(1.0) - Matrix6::identity();
    f * x
        + slope * f * (0.5 * x * x)
        + f * slope.transpose() * (x * (length - 0.5 * x))
        + slope * f * slope.transpose() * (x * x * (0.5 * length - x / 6.0))
}

/// Motion of the far end per load there, the near end clamped, of a segment `length` metres long: m, rad per N, N m.
///
/// ```
/// use modalith_solver::{element::beam::flexibility, material::Law, section::Section};
/// let section = Section::rectangle(&Law::isotropic(2330.0, 160e9, 0.22)?, 0.0, 4e-6, 20e-6)?;
/// let long = 1e-3_f64;
/// let bent = flexibility(&section, long)[(1, 1)];
/// let slender = long.powi(3) / (3.0 * section.bending_stiffness_nm2()[(1, 1)]);
/// assert!((bent / slender - 1.0).abs() < 1e-4);
/// # Ok::<(), Box<dyn std::error::Error>>(())
/// ```
pub fn flexibility(section: &Section, length_m: f64) -> Matrix6<f64> {
    deflection(&section.compliance, length_m, length_m)
}

impl Beam {
    /// A beam between two sections that move rigidly with their nodes.
    ///
    /// # Errors
    /// [`BeamError::Length`].
    pub fn new(section: &Section, length_m: f64) -> Result<Self, BeamError> {
        Self::with_end_corrections(section, length_m, &Matrix6::zeros(), &Matrix6::zeros())
    }

    /// A beam whose ends give more (or less) than beam theory says: motions of the end sections against their nodes, per
    /// resultants on them, in series with the beam.
    ///
    /// Both `extra_near` and `extra_far` are symmetric flexibilities in the beam's axes, x from near to far, about the end's
    /// own section. They may be indefinite; their sum with the beam's own flexibility may not. A correction found in axes
    /// that point out of a root at the far end must be turned by π about z first ([`crate::rigid::turn`]). m and rad per N and N m,
    /// 6 × 6, in the order of [`crate::section`].
    ///
    /// # Errors
    /// [`BeamError::Length`], or [`BeamError::Corrections`] if the sum is not positive definite.
    pub fn with_end_corrections(
        section: &Section,
        length_m: f64,
        extra_near: &Matrix6<f64>,
        extra_far: &Matrix6<f64>,
    ) -> Result<Self, BeamError> {
        if !(length_m > 0.0 && length_m.is_finite()) {
            return Err(BeamError::Length(length_m));
        }
        let across = along(length_m);
        let sum = flexibility(section, length_m) + across * extra_near * across.transpose() + extra_far;
        // Unit diagonal, so that metres and radians weigh alike.
        let root = sum.diagonal().map(|d| 1.0 / d.sqrt());
        let unit = root * root.transpose();
        let far = sum.component_mul(&unit).cholesky().ok_or(BeamError::Corrections(length_m))?.inverse();
        let far = far.component_mul(&unit);

        // Far load per unknowns, far (u₂ − R u₁); the near end carries Rᵀ times its opposite.
        let mut relative = SectionMotion::zeros();
        relative.fixed_columns_mut::<6>(0).copy_from(&-across);
        relative.fixed_columns_mut::<6>(6).copy_from(&Matrix6::identity());
        let load = far * relative;
        let stiffness = relative.tr_mul(&load);

        let (compliance, near) = (section.compliance, *extra_near);
        let static_shape = Static { length_m, compliance, near, load, axes: Matrix6::identity() };
        let mut mass = Matrix12::zeros();
        // Shapes are cubic, so their products are of degree six: four points are exact.
        for (point, weight) in gauss(4) {
            let shape = static_shape.at(0.5 * length_m * (1.0 + point));
            mass += shape.tr_mul(&(section.mass_per_length * shape)) * (0.5 * length_m * weight);
        }
        Ok(Self { stiffness: symmetric(&stiffness), mass: symmetric(&mass), static_shape })
    }

    /// Motion of the section at a share of the length from the near end, per unknowns, under end loads.
    pub fn shape(&self, share: f64) -> SectionMotion {
        self.static_shape.at(share * self.static_shape.length_m)
    }

    /// Twice the strain energy of twist for some unknowns: the torque's work on the section's own compliance.
    pub fn twist(&self, unknowns: &SVector<f64, 12>) -> f64 {
        let torque = (self.static_shape.load * unknowns)[3];
        torque * torque * self.static_shape.compliance[(3, 3)] * self.static_shape.length_m
    }

    /// The same beam with unknowns in other axes: the rows of `axes` are the beam's axes in them.
    pub fn in_frame(&self, axes: &Matrix3<f64>) -> Self {
        let mut q = Matrix12::zeros();
        for k in 0..4 {
            q.fixed_view_mut::<3, 3>(3 * k, 3 * k).copy_from(axes);
        }
        let seen = |m: &Matrix12| symmetric(&(q.transpose() * m * q));
        let static_shape = Static {
            load: self.static_shape.load * q,
            axes: self.static_shape.axes * turn(axes),
            ..self.static_shape.clone()
        };
        Self { stiffness: seen(&self.stiffness), mass: seen(&self.mass), static_shape }
    }
}

fn symmetric(m: &Matrix12) -> Matrix12 {
    0.5 * (m + m.transpose())
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::material::{Law, Orientation, library};
    use crate::rigid::axes_at;
    use crate::section::etched;

    /// A crystal at an odd angle with a leaning, tapered wall: everything coupled with everything.
    fn coupled() -> Section {
        let law =
            library("silicon", Some(&Orientation { wafer: [0, 0, 1], x_along: [1, 0, 0], x_off_deg: 0.0 })).unwrap();
        Section::quadrilateral(&law, 0.3, etched(4e-6, 9e-6, 0.05, 0.03)).unwrap()
    }

    /// Unit diagonal by that of `scale`.
    fn share(m: &Matrix12, scale: &Matrix12) -> Matrix12 {
        Matrix12::from_fn(|i, j| m[(i, j)] / (scale[(i, i)] * scale[(j, j)]).sqrt())
    }

    /// Cantilever with a force at its tip: L³/3EI + L/κGA and the turn L²/2EI, and the turn's sign.
    #[test]
    fn cantilever() {
        let law = Law::isotropic(2330.0, 160e9, 0.3).unwrap();
        let section = Section::rectangle(&law, 0.0, 2e-6, 3e-6).unwrap();
        let (l, [ga, _], ei) = (9e-6, section.shear_stiffness_n(), section.bending_stiffness_nm2()[(1, 1)]);
        let f = flexibility(&section, l);
        assert!((f[(1, 1)] / (l.powi(3) / (3.0 * ei) + l / ga) - 1.0).abs() < 1e-9);
        assert!((f[(5, 1)] / (l * l / (2.0 * ei)) - 1.0).abs() < 1e-9);
        assert!(f[(4, 2)] < 0.0, "pushed along z, the tip turns about −y");
    }

    #[test]
    fn six_rigid_motions_without_strain() {
        let beam = Beam::new(&coupled(), 50e-6).unwrap();
        let mut rigid = SMatrix::<f64, 12, 6>::zeros();
        rigid.fixed_rows_mut::<6>(0).copy_from(&Matrix6::identity());
        rigid.fixed_rows_mut::<6>(6).copy_from(&along(50e-6));
        let size = beam.stiffness.abs() * rigid.abs();
        assert!((beam.stiffness * rigid).component_div(&size.map(|x| x.max(1e-30))).amax() < 1e-12);
        let unit = share(&beam.stiffness, &beam.stiffness);
        let eigen = unit.symmetric_eigenvalues();
        assert_eq!(eigen.iter().filter(|&&e| e > 1e-9).count(), 6, "{eigen}");
        assert!(share(&beam.mass, &beam.mass).symmetric_eigenvalues().min() > 0.0);
        // Rigid motions have the beam's own momentum: mass and moment of inertia.
        let mass = rigid.tr_mul(&(beam.mass * rigid));
        let (total, l) = (coupled().mass_per_length[(0, 0)] * 50e-6, 50e-6);
        assert!((mass[(1, 1)] / total - 1.0).abs() < 1e-9);
        let turning = total * l * l / 3.0 + coupled().mass_per_length[(5, 5)] * l;
        assert!((mass[(5, 5)] / turning - 1.0).abs() < 1e-9);
    }

    /// One beam and three shorter ones in its place, inner nodes condensed out, are as stiff.
    #[test]
    fn exact_whatever_the_length() {
        let section = coupled();
        let parts = [10e-6, 35e-6, 5e-6];
        let mut chain = nalgebra::DMatrix::<f64>::zeros(24, 24);
        for (k, l) in parts.into_iter().enumerate() {
            let mut view = chain.view_mut((6 * k, 6 * k), (12, 12));
            view += Beam::new(&section, l).unwrap().stiffness;
        }
        let order: Vec<usize> = (0..6).chain(18..24).chain(6..18).collect();
        let sorted = nalgebra::DMatrix::from_fn(24, 24, |i, j| chain[(order[i], order[j])]);
        let inner = sorted.view((12, 12), (12, 12)).into_owned().try_inverse().unwrap();
        let condensed =
            sorted.view((0, 0), (12, 12)) - sorted.view((0, 12), (12, 12)) * inner * sorted.view((12, 0), (12, 12));
        let whole = Beam::new(&section, 50e-6).unwrap().stiffness;
        let off = Matrix12::from_fn(|i, j| condensed[(i, j)] - whole[(i, j)]);
        assert!(share(&off, &whole).amax() < 1e-9, "{:.1e}", share(&off, &whole).amax());
    }

    /// Corrections that are the flexibility of more beam make a longer beam, at either end; negative ones a shorter one.
    #[test]
    fn corrections_in_series() {
        let section = coupled();
        let (l, more) = (40e-6, 7e-6);
        let extra = flexibility(&section, more);
        let none = Matrix6::zeros();
        // The near node sits `more` before the section, the far node `more` behind it.
        for (near, far) in [(1.0, 0.0), (0.0, 1.0)] {
            let node = along(-more);
            let (at_near, at_far) = (extra, node * extra * node.transpose());
            let beam = Beam::with_end_corrections(&section, l, &(at_near * near), &(at_far * far)).unwrap();
            let longer = Beam::new(&section, l + more).unwrap();
            // From the longer beam's nodes to sections: rigid arms from the node to where the section is.
            let mut arms = Matrix12::identity();
            if near > 0.0 {
                arms.fixed_view_mut::<6, 6>(0, 0).copy_from(&along(-more));
            } else {
                arms.fixed_view_mut::<6, 6>(6, 6).copy_from(&along(more));
            }
            let expected = arms.transpose() * longer.stiffness * arms;
            let off = share(&(beam.stiffness - expected), &expected).amax();
            assert!(off < 1e-9, "{near} {far}: {off:.1e}");
        }
        let shorter = Beam::with_end_corrections(&section, l, &(-0.5 * extra), &none).unwrap();
        assert!(shorter.stiffness[(1, 1)] > Beam::new(&section, l).unwrap().stiffness[(1, 1)]);
        let too_much = flexibility(&section, l) * -1.1;
        assert_eq!(Beam::with_end_corrections(&section, l, &none, &too_much).unwrap_err(), BeamError::Corrections(l));
        assert_eq!(Beam::new(&section, 0.0).unwrap_err(), BeamError::Length(0.0));
    }

    /// Static shapes carry the corrections too: whatever they are, the mass of a rigid motion stays.
    #[test]
    fn mass_with_corrections() {
        let section = coupled();
        let l = 40e-6;
        let extra = flexibility(&section, 5e-6);
        let beam = Beam::with_end_corrections(&section, l, &extra, &(-0.3 * extra)).unwrap();
        let mut rigid = SVector::<f64, 12>::zeros();
        (rigid[1], rigid[7]) = (1.0, 1.0);
        let mass = rigid.dot(&(beam.mass * rigid));
        assert!((mass / (section.mass_per_length[(0, 0)] * l) - 1.0).abs() < 1e-12);
        assert!(share(&beam.mass, &beam.mass).symmetric_eigenvalues().min() > 0.0);
    }

    /// A beam turned by an angle answers a turned motion with the turned load.
    #[test]
    fn turned() {
        let beam = Beam::new(&coupled(), 30e-6).unwrap();
        let axes = axes_at(0.7);
        let seen = beam.in_frame(&axes);
        let q = turn(&axes);
        let local = beam.stiffness.fixed_view::<6, 6>(0, 6).into_owned();
        let expected = q.transpose() * local * q;
        assert!((seen.stiffness.fixed_view::<6, 6>(0, 6) - expected).norm() < 1e-12 * expected.norm());
    }
}
