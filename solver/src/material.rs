//! The elastic law of the structural layer: a full stiffness tensor in the axes of the layout, whatever the material.
//!
//! Isotropic films and crystals go the same way: a 6 × 6 stiffness in Voigt order (xx, yy, zz, yz, xz, xy, engineering
//! shear strains), in pascals, turned to the layout's axes (x, y in the plane as drawn, z along the wafer's normal).

mod constants;
mod library;

pub use constants::Constants;
pub use library::{Constant, Elastic, Entry, entries, library, names};
use nalgebra::{Matrix3, Matrix5, Matrix6, Vector3};

/// How a cubic crystal lies in the layer.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Orientation {
    /// Miller indices of the wafer's normal, the layout's +z.
    pub wafer: [i32; 3],
    /// Miller indices of the direction along the layout's x before the turn; square to `wafer`.
    pub x_along: [i32; 3],
    /// Turn of the layout's x from `x_along`, degrees, anticlockwise seen from +z.
    pub x_off_deg: f64,
}

/// Why constants do not make a material.
#[derive(Clone, Debug, PartialEq, thiserror::Error)]
pub enum MaterialError {
    /// A density no solid has.
    #[error("density {0} kg/m³ is outside 10 to 30 000; give it in kg/m³ (silicon 2329, nickel 8900)")]
    Density(f64),
    /// A Young's modulus no solid has.
    #[error("Young's modulus {0:e} Pa is outside 1 MPa to 2 000 GPa; check its unit")]
    YoungsModulus(f64),
    /// A Poisson's ratio outside the stable range.
    #[error("Poisson's ratio {0} does not lie between -1 and 0.5, so the material would not be stable")]
    PoissonsRatio(f64),
    /// A constant that leaves no room to vary it.
    #[error("{} is so near its limit that how the modes move with it cannot be told; state another value", .name.replace('_', " "))]
    AtLimit {
        /// Its name.
        name: &'static str,
    },
    /// A stiffness with a direction that gives way.
    #[error(
        "the stiffness is not positive definite (smallest eigenvalue {smallest_pa:.3e} Pa): a cubic crystal needs \
         c44 > 0, c11 > |c12| and c11 + 2 c12 > 0"
    )]
    NotPositiveDefinite {
        /// Smallest eigenvalue of the 6 × 6 stiffness, Pa.
        smallest_pa: f64,
    },
    /// A crystal direction that does not lie in the wafer.
    #[error("x_along {x_along:?} does not lie in the ({wafer:?}) wafer: their scalar product must be zero")]
    NotInPlane {
        /// The wafer's normal.
        wafer: [i32; 3],
        /// The direction given for the layout's x.
        x_along: [i32; 3],
    },
    /// A crystal without an orientation.
    #[error("{0} is a crystal: say how it lies, with its wafer and the direction along x")]
    NeedsOrientation(String),
    /// An orientation for a film that has none.
    #[error("{0} is isotropic and takes no wafer or direction")]
    TakesNoOrientation(String),
    /// A name that the library does not hold.
    #[error("no material is named {name:?}; the library holds {}", names().join(", "))]
    Unknown {
        /// The name asked for.
        name: String,
    },
}

/// Stiffness and density of the layer's material in the axes of the layout.
#[derive(Clone, Debug, PartialEq)]
pub struct Law {
    /// Stiffness, Pa, Voigt order xx, yy, zz, yz, xz, xy with engineering shear strains.
    pub stiffness_pa: Matrix6<f64>,
    /// Density, kg/m³.
    pub density_kg_m3: f64,
}

/// Voigt index of a pair of tensor indices.
pub(crate) const VOIGT: [[usize; 3]; 3] = [[0, 5, 4], [5, 1, 3], [4, 3, 2]];

/// Voigt indices of a layer free of stress along z: xx, yy, xy, yz, xz.
pub(crate) const KEPT: [usize; 5] = [0, 1, 5, 3, 4];

impl Law {
    /// An isotropic material.
    ///
    /// # Errors
    /// Constants outside what any solid has; see [`MaterialError`].
    pub fn isotropic(density_kg_m3: f64, youngs_modulus_pa: f64, poissons_ratio: f64) -> Result<Self, MaterialError> {
        if !(1e6..=2e12).contains(&youngs_modulus_pa) {
            return Err(MaterialError::YoungsModulus(youngs_modulus_pa));
        }
        if !(poissons_ratio > -1.0 && poissons_ratio < 0.5) {
            return Err(MaterialError::PoissonsRatio(poissons_ratio));
        }
        let shear = youngs_modulus_pa / (2.0 * (1.0 + poissons_ratio));
        let lame = youngs_modulus_pa * poissons_ratio / ((1.0 + poissons_ratio) * (1.0 - 2.0 * poissons_ratio));
        Self::from_cubic_axes(density_kg_m3, lame + 2.0 * shear, lame, shear)
    }

    /// A cubic crystal turned to the layout's axes.
    ///
    /// # Errors
    /// An unstable stiffness, an impossible density, or a direction that does not lie in the wafer.
    ///
    /// ```
    /// use modalith_solver::material::{Law, Orientation};
    /// let lie = Orientation { wafer: [0, 0, 1], x_along: [1, 1, 0], x_off_deg: 0.0 };
    /// let law = Law::cubic(2329.0, 165.7e9, 63.9e9, 79.6e9, &lie)?;
    /// // Young's modulus along <110> is 169 GPa (Hopcroft, Nix & Kenny, JMEMS 19 (2010) 229).
    /// assert!((law.youngs_modulus_x_pa() / 169.1e9 - 1.0).abs() < 1e-3);
    /// # Ok::<(), modalith_solver::material::MaterialError>(())
    /// ```
    pub fn cubic(
        density_kg_m3: f64,
        c11_pa: f64,
        c12_pa: f64,
        c44_pa: f64,
        lie: &Orientation,
    ) -> Result<Self, MaterialError> {
        let axes = lie.axes()?;
        Ok(Self::from_cubic_axes(density_kg_m3, c11_pa, c12_pa, c44_pa)?.turned(&axes))
    }

    fn from_cubic_axes(density_kg_m3: f64, c11: f64, c12: f64, c44: f64) -> Result<Self, MaterialError> {
        if !(10.0..=30_000.0).contains(&density_kg_m3) {
            return Err(MaterialError::Density(density_kg_m3));
        }
        let smallest = (c11 - c12).min(c11 + 2.0 * c12).min(c44);
        if !smallest.is_finite() || smallest <= 0.0 {
            return Err(MaterialError::NotPositiveDefinite { smallest_pa: smallest });
        }
        let mut c = Matrix6::zeros();
        for i in 0..3 {
            for j in 0..3 {
                c[(i, j)] = if i == j { c11 } else { c12 };
            }
            c[(i + 3, i + 3)] = c44;
        }
        Ok(Self { stiffness_pa: c, density_kg_m3 })
    }

    /// The same material seen from other axes; the rows of `axes` are the new axes' unit vectors in the old ones:
    /// C'ᵢⱼₖₗ = aᵢₚ aⱼ_q aₖᵣ aₗₛ Cₚ_qᵣₛ.
    pub fn turned(&self, axes: &Matrix3<f64>) -> Self {
        Self { stiffness_pa: turned(&self.stiffness_pa, axes), density_kg_m3: self.density_kg_m3 }
    }

    /// The same material with the layout turned under it by `angle_deg`, clockwise seen from +z; equivalently the
    /// crystal turned anticlockwise with a layout that was turned anticlockwise by that angle.
    pub fn turned_with_layout(&self, angle_deg: f64) -> Self {
        let (s, c) = angle_deg.to_radians().sin_cos();
        self.turned(&Matrix3::new(c, -s, 0.0, s, c, 0.0, 0.0, 0.0, 1.0))
    }

    /// Young's modulus along the layout's x, Pa: one over the compliance; zero if the stiffness is singular.
    pub fn youngs_modulus_x_pa(&self) -> f64 {
        self.stiffness_pa.try_inverse().map_or(0.0, |s| 1.0 / s[(0, 0)])
    }

    /// Stiffness of a layer free of stress along z: order xx, yy, xy, yz, xz, with σ_zz = 0 condensed out
    /// (C − c_z c_zᵀ / C_zz), Pa. A (111) wafer keeps its coupling of in-plane strain to transverse shear.
    pub fn layer_stiffness_pa(&self) -> Matrix5<f64> {
        let c = &self.stiffness_pa;
        Matrix5::from_fn(|i, j| c[(KEPT[i], KEPT[j])] - c[(KEPT[i], 2)] * c[(2, KEPT[j])] / c[(2, 2)])
    }

    /// Mass of a layer of a thickness in m, kg/m².
    pub fn kg_per_m2(&self, thickness_m: f64) -> f64 {
        self.density_kg_m3 * thickness_m
    }

    /// Mass of a piece of a layer, kg.
    pub fn piece_kg(&self, area_um2: f64, thickness_um: f64) -> f64 {
        // µm² × µm = 1e-18 m³.
        area_um2 * thickness_um * 1e-18 * self.density_kg_m3
    }

    /// Whether a plane across the axis `normal` (0: x, 1: y, 2: z) is a mirror of the material: strains that change sign in it do
    /// not couple to those that keep it. For z: in-plane and out-of-plane motion do not mix.
    pub fn has_mirror(&self, normal: usize) -> bool {
        // Voigt order: shear strain k ≥ 3 has the axes other than k − 3, and changes sign where one of them is the normal.
        let odd = |k: usize| k >= 3 && k - 3 != normal;
        let c = &self.stiffness_pa;
        let floor = 1e-12 * c[(0, 0)];
        (0..6).all(|i| (0..6).all(|j| odd(i) == odd(j) || c[(i, j)].abs() < floor))
    }
}

/// A stiffness seen from other axes, Voigt order; the rows of `axes` are the new axes' unit vectors in the old ones.
pub(crate) fn turned(stiffness: &Matrix6<f64>, axes: &Matrix3<f64>) -> Matrix6<f64> {
    // The Bond matrix: strain-like Voigt vectors in the new axes from the old ones (Auld, Acoustic Fields and
    // Waves in Solids, 1973, vol. I, ch. 3; form derived here from the tensor rule).
    let mut bond = Matrix6::zeros();
    for i in 0..3 {
        for j in i..3 {
            for p in 0..3 {
                for q in p..3 {
                    bond[(VOIGT[i][j], VOIGT[p][q])] = if p == q {
                        axes[(i, p)] * axes[(j, p)]
                    } else {
                        axes[(i, p)] * axes[(j, q)] + axes[(i, q)] * axes[(j, p)]
                    };
                }
            }
        }
    }
    let c = bond * stiffness * bond.transpose();
    0.5 * (c + c.transpose())
}

impl Orientation {
    /// Unit vectors of the layout's x, y, z in the crystal's axes, as rows.
    fn axes(&self) -> Result<Matrix3<f64>, MaterialError> {
        let vector = |m: [i32; 3]| Vector3::from(m.map(f64::from));
        let (n, x) = (vector(self.wafer), vector(self.x_along));
        if n.norm() == 0.0 || x.norm() == 0.0 || n.dot(&x) != 0.0 {
            return Err(MaterialError::NotInPlane { wafer: self.wafer, x_along: self.x_along });
        }
        let (n, x) = (n.normalize(), x.normalize());
        let y = n.cross(&x);
        let (s, c) = self.x_off_deg.to_radians().sin_cos();
        let turned_x = x * c + y * s;
        let turned_y = y * c - x * s;
        Ok(Matrix3::from_rows(&[turned_x.transpose(), turned_y.transpose(), n.transpose()]))
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn silicon(wafer: [i32; 3], x_along: [i32; 3], x_off_deg: f64) -> Law {
        Law::cubic(2329.0, 165.7e9, 63.9e9, 79.6e9, &Orientation { wafer, x_along, x_off_deg }).unwrap()
    }

    fn close(value: f64, expected: f64, relative: f64) {
        assert!((value / expected - 1.0).abs() < relative, "{value:e} against {expected:e}");
    }

    /// Johnson (1995) prints 194, 35, 64, 166, 80, 51 GPa for axes along <110>, <1-10>, [001].
    #[test]
    fn stiffness_along_110() {
        let c = silicon([0, 0, 1], [1, 1, 0], 0.0).stiffness_pa / 1e9;
        close(c[(0, 0)], 194.4, 1e-4);
        close(c[(0, 1)], 35.2, 1e-3);
        close(c[(0, 2)], 63.9, 1e-12);
        close(c[(2, 2)], 165.7, 1e-12);
        close(c[(4, 4)], 79.6, 1e-12);
        close(c[(5, 5)], 50.9, 1e-12);
    }

    /// Young's moduli of 130, 169, 188 GPa (lecture tables after Hopcroft et al. 2010), five digits derived.
    #[test]
    fn youngs_moduli_by_direction() {
        close(silicon([0, 0, 1], [1, 0, 0], 0.0).youngs_modulus_x_pa(), 130.13e9, 1e-4);
        close(silicon([0, 0, 1], [1, 1, 0], 0.0).youngs_modulus_x_pa(), 169.10e9, 1e-4);
        close(silicon([0, 0, 1], [1, 0, 0], 45.0).youngs_modulus_x_pa(), 169.10e9, 1e-4);
        close(silicon([1, -1, 0], [1, 1, 1], 0.0).youngs_modulus_x_pa(), 187.85e9, 1e-4);
    }

    /// Plane-stress constants of a (001) wafer in both usual axes; derived values.
    #[test]
    fn plane_stress_of_a_100_wafer() {
        let q = silicon([0, 0, 1], [1, 0, 0], 0.0).layer_stiffness_pa() / 1e9;
        close(q[(0, 0)], 141.06, 1e-4);
        close(q[(0, 1)], 39.26, 1e-3);
        close(q[(2, 2)], 79.6, 1e-12);
        let q = silicon([0, 0, 1], [1, 1, 0], 0.0).layer_stiffness_pa() / 1e9;
        close(q[(0, 0)], 169.76, 1e-4);
        close(q[(0, 1)], 10.56, 1e-3);
        close(q[(2, 2)], 50.9, 1e-12);
    }

    /// In the (111) plane silicon is isotropic (E 169.1 GPa, ν 0.262) and couples to transverse shear.
    #[test]
    fn the_111_wafer_has_no_z_mirror() {
        for angle in [0.0, 11.0, 30.0, 77.0] {
            let law = silicon([1, 1, 1], [1, -1, 0], angle);
            close(law.youngs_modulus_x_pa(), 169.1e9, 5e-4);
            assert!(!law.has_mirror(2));
        }
        assert!(silicon([0, 0, 1], [1, 1, 0], 17.0).has_mirror(2));
        assert!(silicon([1, 1, 0], [0, 0, 1], 17.0).has_mirror(2));
    }

    #[test]
    fn isotropic_does_not_change_under_a_turn() {
        let law = Law::isotropic(2330.0, 160e9, 0.22).unwrap();
        let turned = law.turned_with_layout(31.0);
        assert!((law.stiffness_pa - turned.stiffness_pa).norm() < 1e-12 * law.stiffness_pa.norm());
        let q = law.layer_stiffness_pa();
        close(q[(0, 0)], 160e9 / (1.0 - 0.22 * 0.22), 1e-12);
        close(q[(2, 2)], 160e9 / 2.44, 1e-12);
    }

    /// A layout turned by 30° with its crystal: x along <100> becomes 30° off, and the law seen from the layout's old
    /// direction is the old one.
    #[test]
    fn turning_with_the_layout() {
        let law = silicon([0, 0, 1], [1, 0, 0], 0.0);
        let with_layout = law.turned_with_layout(30.0);
        let crystal = silicon([0, 0, 1], [1, 0, 0], -30.0);
        assert!((with_layout.stiffness_pa - crystal.stiffness_pa).norm() < 1e-12 * law.stiffness_pa.norm());
    }

    #[test]
    fn impossible_constants_are_refused() {
        assert!(matches!(Law::isotropic(2330.0, 160e9, 0.5), Err(MaterialError::PoissonsRatio(_))));
        assert!(matches!(Law::isotropic(2330.0, 160.0, 0.2), Err(MaterialError::YoungsModulus(_))));
        assert!(matches!(Law::isotropic(2.33, 160e9, 0.2), Err(MaterialError::Density(_))));
        assert!(matches!(Law::isotropic(2330.0, f64::NAN, 0.2), Err(MaterialError::YoungsModulus(_))));
        let lie = Orientation { wafer: [0, 0, 1], x_along: [1, 0, 0], x_off_deg: 0.0 };
        assert!(matches!(Law::cubic(2330.0, 60e9, 64e9, 80e9, &lie), Err(MaterialError::NotPositiveDefinite { .. })));
        let lie = Orientation { wafer: [0, 0, 1], x_along: [1, 0, 1], x_off_deg: 0.0 };
        assert!(matches!(Law::cubic(2330.0, 166e9, 64e9, 80e9, &lie), Err(MaterialError::NotInPlane { .. })));
    }
}
