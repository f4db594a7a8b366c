//! Stiffness and mass of one prism of the layer: a triangle times the thickness, any law, any set of fields.
//!
//! K[(a,c,k),(b,d,l)] = Σ_ij C_cidj ∫ ∂_i(N_a P_k) ∂_j(N_b P_l) dV and M = ρ ∫ N_a N_b P_k P_l dV for c = d: one formula for
//! shells and solids, isotropic or not. Rotary inertia is the mass of the fields of degree 1.

use super::plane::PlaneIntegrals;
use super::through::{Field, Products};
use crate::material::{KEPT, Law, VOIGT, turned};
use nalgebra::{DMatrix, Matrix3, Matrix6, Vector6};

/// Shear correction of the transverse-shear plate (Reissner 1945).
pub const SHEAR_CORRECTION: f64 = 5.0 / 6.0;

/// The stiffness that a model uses, Pa, Voigt order.
#[derive(Clone, Debug, PartialEq)]
pub struct Stiffness(Matrix6<f64>);

impl Stiffness {
    /// The law of a shell: σ_zz = 0 condensed out, transverse shear strains times √κ.
    pub fn shell(law: &Law, shear_correction: f64) -> Self {
        let layer = law.layer_stiffness_pa();
        let root = shear_correction.sqrt();
        let factor = |v: usize| if v == 3 || v == 4 { root } else { 1.0 };
        let mut c = Matrix6::zeros();
        for i in 0..5 {
            for j in 0..5 {
                c[(KEPT[i], KEPT[j])] = layer[(i, j)] * factor(KEPT[i]) * factor(KEPT[j]);
            }
        }
        Self(c)
    }

    /// The full law of a solid.
    pub fn solid(law: &Law) -> Self {
        Self(law.stiffness_pa)
    }

    /// The difference of two stiffnesses: constants enter element matrices linearly.
    pub fn less(&self, other: &Self) -> Self {
        Self(self.0 - other.0)
    }

    /// Stress of a strain (Voigt order, engineering shears), Pa.
    pub fn stress(&self, strain: &Vector6<f64>) -> Vector6<f64> {
        self.0 * strain
    }

    /// Stiffness against stretch along x, Pa.
    pub fn along_x(&self) -> f64 {
        self.0[(0, 0)]
    }

    /// What resists the shears of a bar along `angle` (radians from x), Pa: xz, xy.
    pub fn shears_along(&self, angle: f64) -> [f64; 2] {
        let of_bar = self.along(angle);
        [of_bar[(4, 4)], of_bar[(5, 5)]]
    }

    fn along(&self, angle: f64) -> Matrix6<f64> {
        let (s, c) = angle.sin_cos();
        turned(&self.0, &Matrix3::new(c, s, 0.0, -s, c, 0.0, 0.0, 0.0, 1.0))
    }

    /// Only what resists the shears of a bar along `angle` (radians from x): in its plane, and through the thickness. With
    /// out-of-plane fields it is the resistance to twist: shear in the plane for flat bars, through the thickness for
    /// tall ones (Saint-Venant).
    pub fn only_shear_along(&self, angle: f64) -> Self {
        let (s, c) = angle.sin_cos();
        let axes = Matrix3::new(c, s, 0.0, -s, c, 0.0, 0.0, 0.0, 1.0);
        let of_bar = self.along(angle);
        let mut shear = Matrix6::zeros();
        // Voigt 4 is xz and 5 is xy: the shears that twist a bar along x; 3, yz, belongs to bending across it.
        shear[(4, 4)] = of_bar[(4, 4)];
        shear[(5, 5)] = of_bar[(5, 5)];
        Self(turned(&shear, &axes.transpose()))
    }
}

/// Constants of one pair of fields: the factors of the plane integrals.
#[derive(Clone, Copy, Debug)]
struct Pair {
    slope: [[f64; 2]; 2],
    mixed: [f64; 2],
    mixed_transposed: [f64; 2],
    value: f64,
    mass: f64,
}

/// A layer of one material and thickness with its fields: turns plane integrals (SI) into element matrices, stiffness in N/m and mass
/// per area in kg/m².
#[derive(Clone, Debug)]
pub struct Prism {
    fields: Vec<Field>,
    pairs: Vec<Pair>,
}

impl Prism {
    /// A layer `thickness` metres thick, density in kg/m³.
    pub fn new(fields: &[Field], stiffness: &Stiffness, density: f64, thickness: f64) -> Self {
        Self::with(fields, stiffness, density, |k, l| Products::of(k, l, thickness))
    }

    /// How such a layer's constants change with its thickness, per metre.
    pub fn thickness_rate(fields: &[Field], stiffness: &Stiffness, density: f64, thickness: f64) -> Self {
        Self::with(fields, stiffness, density, |k, l| Products::thickness_rate(k, l, thickness))
    }

    fn with(fields: &[Field], stiffness: &Stiffness, density: f64, through: impl Fn(u8, u8) -> Products) -> Self {
        let c = |axis: u8, i: usize, other: u8, j: usize| {
            stiffness.0[(VOIGT[usize::from(axis)][i], VOIGT[usize::from(other)][j])]
        };
        let mut pairs = Vec::with_capacity(fields.len() * fields.len());
        for &f in fields {
            for &g in fields {
                let z = through(f.degree, g.degree);
                pairs.push(Pair {
                    slope: [0, 1].map(|i| [0, 1].map(|j| c(f.axis, i, g.axis, j) * z.value_value)),
                    mixed: [0, 1].map(|i| c(f.axis, i, g.axis, 2) * z.value_slope),
                    mixed_transposed: [0, 1].map(|j| c(f.axis, 2, g.axis, j) * z.slope_value),
                    value: c(f.axis, 2, g.axis, 2) * z.slope_slope,
                    mass: if f.axis == g.axis { density * z.value_value } else { 0.0 },
                });
            }
        }
        Self { fields: fields.to_vec(), pairs }
    }

    /// The fields, in the order of the unknowns of one shape function.
    pub fn fields(&self) -> &[Field] {
        &self.fields
    }

    fn pair(&self, f: usize, g: usize) -> &Pair {
        &self.pairs[f * self.fields.len() + g]
    }

    /// Element stiffness, N/m, n·m square for n functions and m fields: unknown `a · m + f` for function a and field f. The
    /// displacement method (Szabó & Babuška, *Finite Element Analysis*, 1991, from memory).
    pub fn stiffness(&self, plane: &PlaneIntegrals) -> DMatrix<f64> {
        self.stiffness_between(plane, |_| true)
    }

    /// The same between the unknowns that are `kept`; zero elsewhere.
    pub fn stiffness_between(&self, plane: &PlaneIntegrals, kept: impl Fn(usize) -> bool) -> DMatrix<f64> {
        let (n, m) = (plane.value.nrows(), self.fields.len());
        let mut k = DMatrix::zeros(n * m, n * m);
        let functions: Vec<Vec<usize>> = (0..m).map(|f| (0..n).filter(|a| kept(a * m + f)).collect()).collect();
        let turned = plane.mixed.each_ref().map(DMatrix::transpose);
        let mut column = vec![0.0; n];
        for f in 0..m {
            for g in f..m {
                let p = self.pair(f, g);
                let parts = [
                    (p.slope[0][0], &plane.slope[0][0]),
                    (p.slope[0][1], &plane.slope[0][1]),
                    (p.slope[1][0], &plane.slope[1][0]),
                    (p.slope[1][1], &plane.slope[1][1]),
                    (p.mixed[0], &plane.mixed[0]),
                    (p.mixed[1], &plane.mixed[1]),
                    (p.value, &plane.value),
                    (p.mixed_transposed[0], &turned[0]),
                    (p.mixed_transposed[1], &turned[1]),
                ];
                if parts.iter().all(|(factor, _)| *factor == 0.0) {
                    continue;
                }
                for &b in &functions[g] {
                    column.fill(0.0);
                    for (factor, integral) in parts.into_iter().filter(|(factor, _)| *factor != 0.0) {
                        column.iter_mut().zip(integral.column(b).iter()).for_each(|(sum, x)| *sum += factor * x);
                    }
                    // The other triangle is its image.
                    for &a in &functions[f] {
                        k[(a * m + f, b * m + g)] = column[a];
                        k[(b * m + g, a * m + f)] = column[a];
                    }
                }
            }
        }
        k
    }

    /// Whether it has a stiffness at all: the change of a density has none.
    pub fn has_stiffness(&self) -> bool {
        self.pairs.iter().any(|p| {
            let factors = p.slope.as_flattened().iter().chain(&p.mixed).chain(&p.mixed_transposed);
            p.value != 0.0 || factors.into_iter().any(|factor| *factor != 0.0)
        })
    }

    /// Mass factor of a field: element mass is this times ∫ N_a N_b dA, kg/m².
    pub fn mass_factor(&self, f: usize) -> f64 {
        self.pair(f, f).mass
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::element::basis::Order;
    use crate::element::plane::PlaneTable;
    use crate::element::through::SHELL;
    use nalgebra::DVector;

    const SIDES: [[f64; 2]; 6] = [[0.0, 0.0], [2.0, 0.2], [0.4, 1.5], [1.0, 0.1], [1.4, 1.0], [0.2, 0.75]];

    fn law() -> Law {
        Law::isotropic(2330.0, 160e9, 0.22).unwrap()
    }

    /// Six motions without strain, no more: a free element has six zero eigenvalues (constant-strain patches included,
    /// since every other linear motion is stretched by its exact energy below).
    #[test]
    fn six_rigid_motions_and_no_spurious_ones() {
        for order in 2..=5 {
            let table = PlaneTable::new(Order::new(order).unwrap());
            let prism = Prism::new(&SHELL, &Stiffness::shell(&law(), SHEAR_CORRECTION), 2330.0, 0.3);
            let k = prism.stiffness(&table.integrate(&SIDES).unwrap());
            let eigen = k.symmetric_eigenvalues();
            let largest = eigen.amax();
            assert_eq!(eigen.iter().filter(|e| e.abs() < 1e-11 * largest).count(), 6, "order {order}");
            assert!(eigen.iter().all(|&e| e > -1e-11 * largest));
        }
    }

    /// Constant curvature: w = x²/2, tilt −x stores ½ D A per unit curvature.
    #[test]
    fn constant_curvature_has_its_exact_energy() {
        let t = 0.3;
        let table = PlaneTable::new(Order::new(4).unwrap());
        let prism = Prism::new(&SHELL, &Stiffness::shell(&law(), SHEAR_CORRECTION), 2330.0, t);
        let mut sides = SIDES;
        sides[4] = [1.2, 0.85];
        let plane = table.integrate(&sides).unwrap();
        let k = prism.stiffness(&plane);
        let n = table.order().functions();
        let mut q = DVector::zeros(n * 5);
        // The deflection x²/2 is quadratic on a straight triangle: its edge coefficient is 4 (mid − mean of ends).
        let tilt = table.linear(sides.map(|p| -p[0] * t / 2.0));
        let deflection = table.linear(sides.map(|p| p[0] * p[0] / 2.0));
        for a in 0..n {
            q[a * 5 + 2] = tilt[a];
            q[a * 5 + 4] = deflection[a];
        }
        let one = DVector::from_vec(table.linear([1.0; 6]));
        let area = one.dot(&(&plane.value * &one));
        let rigidity = 160e9 * t.powi(3) / 12.0 / (1.0 - 0.22 * 0.22);
        let energy = q.dot(&(&k * &q));
        assert!((energy / (rigidity * area) - 1.0).abs() < 1e-10, "{energy:e}");
    }
}
