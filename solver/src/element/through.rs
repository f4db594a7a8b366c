//! Through the thickness: which displacement fields a model has, and the integrals of their Legendre polynomials.

use super::quadrature::{gauss, legendre};

/// One displacement field: an axis, and the degree of its Legendre polynomial in ζ = 2z/t.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub struct Field {
    /// Axis of the displacement: 0, 1, 2 for x, y, z.
    pub axis: u8,
    /// Degree through the thickness.
    pub degree: u8,
}

impl Field {
    /// In-plane stretch along x, `u`.
    pub const STRETCH_X: Self = Self { axis: 0, degree: 0 };
    /// In-plane stretch along y, `v`.
    pub const STRETCH_Y: Self = Self { axis: 1, degree: 0 };
    /// Displacement along x of the upper face against mid-layer: t/2 times the turn about y.
    pub const TILT_X: Self = Self { axis: 0, degree: 1 };
    /// Displacement along y of the upper face against mid-layer: −t/2 times the turn about x.
    pub const TILT_Y: Self = Self { axis: 1, degree: 1 };
    /// Deflection out of the plane, `w`.
    pub const DEFLECTION: Self = Self { axis: 2, degree: 0 };

    /// Whether the field belongs to in-plane motion: even under the mirror z → −z.
    pub fn is_in_plane(self) -> bool {
        self.degree.is_multiple_of(2) == (self.axis < 2)
    }
}

/// Fields of the shear-flexible shell.
pub const SHELL: [Field; 5] = [Field::STRETCH_X, Field::STRETCH_Y, Field::TILT_X, Field::TILT_Y, Field::DEFLECTION];

/// Integrals over z of products of two fields' polynomials and their z-derivatives, for a layer of thickness t.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Products {
    /// ∫ P_k P_l dz, m.
    pub value_value: f64,
    /// ∫ P_k ∂P_l/∂z dz, dimensionless.
    pub value_slope: f64,
    /// ∫ ∂P_k/∂z P_l dz, dimensionless.
    pub slope_value: f64,
    /// ∫ ∂P_k/∂z ∂P_l/∂z dz, m⁻¹.
    pub slope_slope: f64,
}

impl Products {
    /// Products of degrees k and l in a layer `thickness` metres thick, exact.
    pub fn of(k: u8, l: u8, thickness: f64) -> Self {
        let (k, l) = (usize::from(k), usize::from(l));
        let mut sum = Self { value_value: 0.0, value_slope: 0.0, slope_value: 0.0, slope_slope: 0.0 };
        for (x, w) in gauss((k + l) / 2 + 1) {
            let ((p, dp), (q, dq)) = (legendre(k, x), legendre(l, x));
            sum.value_value += w * p * q * 0.5 * thickness;
            sum.value_slope += w * p * dq;
            sum.slope_value += w * dp * q;
            sum.slope_slope += w * dp * dq * 2.0 / thickness;
        }
        // Legendre polynomials are orthogonal: exact zeros keep the mass matrix sparse.
        if k != l {
            sum.value_value = 0.0;
        }
        sum
    }

    /// How the products change with the thickness (m), per m.
    pub fn thickness_rate(k: u8, l: u8, thickness: f64) -> Self {
        let own = Self::of(k, l, thickness);
        Self {
            value_value: own.value_value / thickness,
            value_slope: 0.0,
            slope_value: 0.0,
            slope_slope: -own.slope_slope / thickness,
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn shell_products() {
        let t = 3.0;
        let stretch = Products::of(0, 0, t);
        assert!((stretch.value_value - t).abs() < 1e-14 && stretch.slope_slope == 0.0);
        let tilt = Products::of(1, 1, t);
        assert!((tilt.value_value - t / 3.0).abs() < 1e-14, "(t/2)² t/3 = t³/12 per squared slope");
        assert!((tilt.slope_slope - 4.0 / t).abs() < 1e-14);
        assert!((Products::of(1, 0, t).slope_value - 2.0).abs() < 1e-14);
        assert_eq!(Products::of(0, 2, t).value_value, 0.0);
    }

    #[test]
    fn parity() {
        assert!(Field::STRETCH_X.is_in_plane() && !Field::TILT_Y.is_in_plane() && !Field::DEFLECTION.is_in_plane());
        assert!(Field { axis: 2, degree: 1 }.is_in_plane());
    }
}
