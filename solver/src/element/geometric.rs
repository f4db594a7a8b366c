//! Geometric stiffness of a prism: what a stress that is there before a motion adds to its stiffness,
//! K_G(u, v) = ∫ σ_ij ∂_i u_k ∂_j v_k dV over all three displacements k (O. C. Zienkiewicz & R. L. Taylor, *The Finite Element
//! Method* vol. 2, from memory).
//!
//! In: stresses at places of the plane as Legendre coefficients through the thickness, and slopes of the shape functions there. Out: the
//! matrix between functions for every pair of degrees, the same for every axis.

use super::quadrature::{gauss, legendre};
use super::through::Field;
use nalgebra::{DMatrix, Matrix3, Vector6};

/// ∫ of three Legendre polynomials or their slopes through a layer.
#[derive(Clone, Debug)]
pub struct TripleProducts {
    degrees: usize,
    /// By (k, l, m): ∫ P_k P_l P_m dz, ∫ ∂P_k P_l P_m dz, ∫ ∂P_k ∂P_l P_m dz; m, 1, m⁻¹.
    products: Vec<[f64; 3]>,
}

impl TripleProducts {
    /// Of all degrees below `degrees` in a layer `thickness` metres thick, exact.
    pub fn below(degrees: usize, thickness: f64) -> Self {
        let points: Vec<(f64, Vec<(f64, f64)>)> = gauss(3 * degrees / 2 + 1)
            .into_iter()
            .map(|(x, w)| (w, (0..degrees).map(|k| legendre(k, x)).collect()))
            .collect();
        let mut products = Vec::with_capacity(degrees.pow(3));
        for k in 0..degrees {
            for l in 0..degrees {
                for m in 0..degrees {
                    let mut sum = [0.0; 3];
                    for (w, p) in &points {
                        let along = w * p[m].0;
                        sum[0] += along * p[k].0 * p[l].0 * 0.5 * thickness;
                        sum[1] += along * p[k].1 * p[l].0;
                        sum[2] += along * p[k].1 * p[l].1 * 2.0 / thickness;
                    }
                    products.push(sum);
                }
            }
        }
        Self { degrees, products }
    }

    /// How many degrees it has.
    pub fn degrees(&self) -> usize {
        self.degrees
    }

    fn of(&self, k: usize, l: usize, m: usize) -> &[f64; 3] {
        &self.products[(k * self.degrees + l) * self.degrees + m]
    }

    /// ∫ σ_ij P_k P_l dz with the slope of P along z where i or j is z, N/m, N/m² where one of them is, N/m³ where both are: what multiplies ∂_i N_a ∂_j N_b, N in the place of
    /// ∂_z N. `stress` by degree, Pa, Voigt order.
    fn weighed(&self, k: usize, l: usize, stress: &[Vector6<f64>]) -> Matrix3<f64> {
        let mut sum = Matrix3::zeros();
        for (m, s) in stress.iter().enumerate() {
            let ([plain, of_k, both], of_l) = (self.of(k, l, m), self.of(l, k, m)[1]);
            sum += Matrix3::new(
                s[0] * plain,
                s[5] * plain,
                s[4] * of_l,
                s[5] * plain,
                s[1] * plain,
                s[3] * of_l,
                s[4] * of_k,
                s[3] * of_k,
                s[2] * both,
            );
        }
        sum
    }
}

/// A place in the plane of an element.
pub struct StressedPlace {
    /// Area that it stands for, m².
    pub area: f64,
    /// ∂N_a/∂x, ∂N_a/∂y (m⁻¹) and N_a of every function.
    pub functions: Vec<[f64; 3]>,
    /// Legendre coefficients through the thickness of the stress, Pa, Voigt order xx, yy, zz, yz, xz, xy.
    pub stress: Vec<Vector6<f64>>,
}

/// Geometric stiffness of an element, N/m: unknown `a · m + f` for function a and field f of m, as the stiffness of
/// [`super::prism::Prism`]. Degrees of fields and stresses below those of the products.
pub fn geometric_stiffness(fields: &[Field], products: &TripleProducts, places: &[StressedPlace]) -> DMatrix<f64> {
    let (n, m) = (places.first().map_or(0, |p| p.functions.len()), fields.len());
    let mut k_g = DMatrix::zeros(n * m, n * m);
    // Rows: the three slopes at a place, place by place.
    let slopes = DMatrix::from_fn(3 * places.len(), n, |row, a| places[row / 3].functions[a][row % 3]);
    let turned = slopes.transpose();
    let degrees = fields.iter().map(|f| usize::from(f.degree)).max().map_or(0, |d| d + 1);
    for k in 0..degrees {
        for l in k..degrees {
            let pairs: Vec<(usize, usize)> = pairs(fields, k, l);
            if pairs.is_empty() {
                continue;
            }
            let mut loaded = DMatrix::zeros(3 * places.len(), n);
            for (p, place) in places.iter().enumerate() {
                let block = products.weighed(k, l, &place.stress) * place.area;
                let own = block * slopes.rows(3 * p, 3);
                loaded.rows_mut(3 * p, 3).copy_from(&own);
            }
            let between = &turned * loaded;
            for (f, g) in pairs {
                for b in 0..n {
                    for a in 0..n {
                        // Exactly symmetric, whatever the order of the sums.
                        let value = if k == l { 0.5 * (between[(a, b)] + between[(b, a)]) } else { between[(a, b)] };
                        k_g[(a * m + f, b * m + g)] = value;
                        k_g[(b * m + g, a * m + f)] = value;
                    }
                }
            }
        }
    }
    k_g
}

/// Places of fields of degrees k and l that have an axis in common.
fn pairs(fields: &[Field], k: usize, l: usize) -> Vec<(usize, usize)> {
    let of = |degree: usize| fields.iter().enumerate().filter(move |(_, f)| usize::from(f.degree) == degree);
    of(k).flat_map(|(f, own)| of(l).filter(move |(_, g)| g.axis == own.axis).map(move |(g, _)| (f, g))).collect()
}
