//! Stiffness of a rectangular section, straight walls: what a beam of width w in a layer of thickness t resists.
//!
//! In: the layer's law, the direction of the beam in the layout plane, w and t in metres. Out: E A, E I, G J in SI units.
//! Sources: Timoshenko & Goodier, *Theory of Elasticity*, ch. "Torsion" (series for the rectangle); Lekhnitskii, *Theory of
//! Elasticity of an Anisotropic Body* (rectangle with two shear moduli; form derived here by stretching one side).
//! Limits: of a crystal's compliance only the entries along the axis and the two shears are kept, which is exact along
//! ⟨100⟩ and ⟨110⟩ of a (100) or (110) wafer; elsewhere tension also shears and bending also twists, which is left out.

use crate::material::Law;
use nalgebra::Matrix3;
use std::f64::consts::PI;

/// Elastic constants along a beam, Pa.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Moduli {
    /// Young's modulus along the axis, one over the compliance.
    pub youngs_pa: f64,
    /// Shear of the axis against the wafer's normal.
    pub shear_normal_pa: f64,
    /// Shear of the axis in the layout plane.
    pub shear_plane_pa: f64,
}

impl Moduli {
    /// Constants along a direction in the layout plane, radians from x. Zeros if the stiffness is singular.
    pub fn along(law: &Law, angle: f64) -> Self {
        let (s, c) = angle.sin_cos();
        let turned = law.turned(&Matrix3::new(c, s, 0.0, -s, c, 0.0, 0.0, 0.0, 1.0));
        let constant = |i: usize| turned.stiffness_pa.try_inverse().map_or(0.0, |m| 1.0 / m[(i, i)]);
        Self { youngs_pa: constant(0), shear_normal_pa: constant(4), shear_plane_pa: constant(5) }
    }

    /// Torsional stiffness G J of a rectangle `width` in the plane and `thick` along the normal, N·m²:
    /// G_n √(G_n/G_p) J(w, t √(G_p/G_n)).
    ///
    /// ```
    /// use modalith_solver::section::Moduli;
    /// let steel = Moduli { youngs_pa: 200e9, shear_normal_pa: 80e9, shear_plane_pa: 80e9 };
    /// // J of a square is 0.140577 b⁴.
    /// assert!((steel.twist_nm2(1e-3, 1e-3) / (80e9 * 0.140577e-12) - 1.0).abs() < 1e-5);
    /// ```
    pub fn twist_nm2(&self, width: f64, thick: f64) -> f64 {
        let ratio = (self.shear_normal_pa / self.shear_plane_pa).sqrt();
        self.shear_normal_pa * ratio * torsion_constant(width, thick / ratio)
    }

    /// What the section resists: E A, N; G J, E I for bending out of the plane (w t³/12) and in it (t w³/12), N·m².
    pub(crate) fn resists(&self, width: f64, thick: f64) -> [f64; 4] {
        let e = self.youngs_pa;
        let tension = e * width * thick;
        [tension, self.twist_nm2(width, thick), tension * thick * thick / 12.0, tension * width * width / 12.0]
    }
}

/// Σ 1/n⁵ over odd n: 31/32 ζ(5).
const ODD_FIFTH: f64 = 1.004_523_762_795_139_6;

/// Saint-Venant's torsion constant of a rectangle with full sides `one` and `other`, in their unit to the fourth power.
///
/// J = a b³ [1/3 − (64 b/π⁵a) Σ tanh(nπa/2b)/n⁵], n odd, a ≥ b. The sum is taken as 31/32 ζ(5) less what the tanh lack of
/// one, which falls off exponentially: ten terms reach rounding.
pub fn torsion_constant(one: f64, other: f64) -> f64 {
    let (a, b) = (one.max(other), one.min(other));
    let lack = |n: i32| 2.0 / ((f64::from(n) * PI * a / b).exp() + 1.0) / f64::from(n).powi(5);
    let sum = ODD_FIFTH - (1..20).step_by(2).map(lack).sum::<f64>();
    a * b.powi(3) * (1.0 / 3.0 - 64.0 / PI.powi(5) * b / a * sum)
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::material::Orientation;

    /// β of J = β a b³, Timoshenko & Goodier's table to six digits (Saint-Venant series recomputed).
    #[test]
    fn torsion_of_rectangles() {
        let table = [(1.0, 0.140577), (1.5, 0.195761), (2.0, 0.228682), (4.0, 0.280813), (10.0, 0.312325)];
        for (ratio, beta) in table {
            assert!((torsion_constant(ratio, 1.0) - beta * ratio).abs() < 6e-7 * ratio, "{ratio}");
            assert_eq!(torsion_constant(ratio, 1.0), torsion_constant(1.0, ratio));
        }
    }

    #[test]
    fn constants_of_silicon_along_110_and_100() {
        let lie = Orientation { wafer: [0, 0, 1], x_along: [1, 1, 0], x_off_deg: 0.0 };
        let law = Law::cubic(2329.0, 165.7e9, 63.9e9, 79.6e9, &lie).unwrap();
        for (angle, expected) in
            [(0.0, [169.1, 79.6, 50.9]), (PI / 2.0, [169.1, 79.6, 50.9]), (PI / 4.0, [130.13, 79.6, 79.6])]
        {
            let m = Moduli::along(&law, angle);
            for (value, gpa) in [m.youngs_pa, m.shear_normal_pa, m.shear_plane_pa].into_iter().zip(expected) {
                assert!((value / gpa / 1e9 - 1.0).abs() < 1e-4, "{value:e} against {gpa} GPa");
            }
        }
    }
}
