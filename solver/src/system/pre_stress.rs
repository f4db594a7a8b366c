//! The stress that is in a structure before it vibrates: what a film is grown with, less what the structure relaxes of it.
//!
//! In: the film's stress and the displacement that balances it. Out: the load of the film's stress on a motion's unknowns, the stress
//! at any place, and the geometric stiffness of every triangle. SI.

use super::unknowns::foot_pairs;
use super::{ElementMatrices, Layer, SystemError, Unknowns};
use crate::element::basis::{Values, evaluate};
use crate::element::geometric::{StressedPlace, TripleProducts, geometric_stiffness};
use crate::element::plane::{invert, map};
use crate::element::through::Field;
use modalith_mesher::mesh::Mesh;
use nalgebra::{DMatrix, DVector, Vector6};
use rayon::prelude::*;
use std::sync::Arc;

/// Degrees that an enriched layer may have beyond the layer's own.
const RICHER: usize = 3;

/// What a film would carry if nothing moved, tension positive.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub struct FilmStress {
    /// σ_xx, σ_yy, σ_xy at mid-layer, Pa.
    pub tensor_pa: [f64; 3],
    /// What stresses along x and y rise by upwards, Pa/m.
    pub gradient_pa_per_m: f64,
}

impl FilmStress {
    /// Whether there is any.
    pub fn acts(&self) -> bool {
        self.gradient_pa_per_m != 0.0 || self.tensor_pa.iter().any(|s| *s != 0.0)
    }

    /// Whether it has the mirrors across x and across y.
    pub fn has_mirrors(&self) -> bool {
        self.tensor_pa[2] == 0.0
    }

    /// Whether it has the mirror z → −z.
    pub fn is_even(&self) -> bool {
        self.gradient_pa_per_m == 0.0
    }

    /// Legendre coefficients through a layer `thickness` metres thick, Pa: σ_xx, σ_yy, σ_xy.
    fn by_degree(&self, thickness: f64) -> [[f64; 3]; 2] {
        let rise = 0.5 * thickness * self.gradient_pa_per_m;
        [self.tensor_pa, [rise, rise, 0.0]]
    }

    /// The load, N, that it puts on the unknowns of a layer on a mesh: −∫ ε(v) : σ dV.
    ///
    /// # Errors
    /// A curved triangle that folds over.
    pub(crate) fn load(&self, mesh: &Mesh, layer: &Layer, unknowns: &Unknowns) -> Result<DVector<f64>, SystemError> {
        let prisms = ElementMatrices::new(mesh, layer);
        let one = DVector::from_vec(prisms.table().linear([1.0; 6]));
        let stress = self.by_degree(layer.thickness_m);
        let of_triangle = |t: usize| -> Result<Vec<f64>, SystemError> {
            let plane = prisms.integrate(t)?;
            let slopes = plane.mixed.each_ref().map(|mixed| mixed * &one);
            let fields = layer.fields_of(t);
            let (n, m) = (one.len(), fields.len());
            let mut load = vec![0.0; n * m];
            for (f, field) in fields.iter().enumerate() {
                let degree = usize::from(field.degree);
                let (Some(s), true) = (stress.get(degree), field.axis < 2) else { continue };
                let along = if field.axis == 0 { [s[0], s[2]] } else { [s[2], s[1]] };
                // ∫ P_k² dz.
                let through = layer.thickness_m / (2.0 * degree as f64 + 1.0);
                for a in 0..n {
                    load[a * m + f] = -through * (along[0] * slopes[0][a] + along[1] * slopes[1][a]);
                }
            }
            if let Some(clamped) = unknowns.clamped_below_functions(mesh, t) {
                for (a, _) in clamped.iter().enumerate().filter(|(_, clamped)| **clamped) {
                    for (f, constant, sign) in foot_pairs(fields) {
                        load[a * m + f] += sign * load[a * m + constant];
                    }
                }
            }
            Ok(load)
        };
        let loads = (0..mesh.triangles.len()).into_par_iter().map(of_triangle).collect::<Result<Vec<_>, _>>()?;
        let mut sum = DVector::zeros(unknowns.len());
        for (t, load) in loads.iter().enumerate() {
            for (number, force) in unknowns.of_triangle(mesh, t).into_iter().zip(load) {
                if let Some(number) = number {
                    sum[number as usize] += force;
                }
            }
        }
        Ok(sum)
    }
}

/// The stress in a structure, triangle by triangle.
#[derive(Clone, Debug)]
pub struct PreStress {
    film: FilmStress,
    layer: Layer,
    products: Arc<TripleProducts>,
    /// For every triangle the coefficients of the displacement over its functions and fields, edges as the triangle itself walks them.
    rest: Arc<Vec<Vec<f64>>>,
}

impl PreStress {
    /// A film's stress in a layer on a mesh in which nothing has moved.
    pub(crate) fn held(film: FilmStress, mesh: &Mesh, layer: &Layer) -> Self {
        let layer = layer.clone();
        let degrees = layer.fields.iter().map(|f| usize::from(f.degree)).max().unwrap_or(0) + 1 + RICHER;
        let products = Arc::new(TripleProducts::below(degrees, layer.thickness_m));
        let rest =
            (0..mesh.triangles.len()).map(|t| vec![0.0; layer.order.functions() * layer.fields_of(t).len()]).collect();
        Self { film, layer, products, rest: Arc::new(rest) }
    }

    /// The same with a displacement, m, over the unknowns of a layer with some of its fields.
    #[must_use]
    pub(crate) fn moved(&self, mesh: &Mesh, (layer, unknowns): (&Layer, &Unknowns), values: &[f64]) -> Self {
        let prisms = ElementMatrices::new(mesh, layer);
        let own = |(t, rest): (usize, &Vec<f64>)| {
            let (fields, all) = (layer.fields_of(t), self.layer.fields_of(t));
            let (flips, mut rest) = (prisms.flips(t), rest.clone());
            for (place, value) in unknowns.gather(mesh, t, values).into_iter().enumerate() {
                let (a, f) = (place / fields.len(), place % fields.len());
                if let Some(f) = all.iter().position(|field| *field == fields[f]) {
                    rest[a * all.len() + f] += if flips[a] { -value } else { value };
                }
            }
            rest
        };
        Self { rest: Arc::new(self.rest.par_iter().enumerate().map(own).collect()), ..self.clone() }
    }

    /// Mean stress in a mesh, Pa: σ_xx, σ_yy, σ_xy.
    ///
    /// # Errors
    /// A curved triangle that folds over.
    pub fn mean_pa(&self, mesh: &Mesh) -> Result<[f64; 3], SystemError> {
        let prisms = ElementMatrices::new(mesh, &self.layer);
        let (mut sum, mut area) = ([0.0; 3], 0.0);
        for t in 0..mesh.triangles.len() {
            for place in self.places(&prisms, t)? {
                area += place.area;
                let s = place.stress[0];
                sum.iter_mut().zip([s[0], s[1], s[5]]).for_each(|(sum, s)| *sum += place.area * s);
            }
        }
        Ok(sum.map(|s| s / area))
    }

    /// The film's stress, before anything moved.
    pub(crate) fn film(&self) -> &FilmStress {
        &self.film
    }

    /// The same on some of the triangles, in their order.
    pub(super) fn on(&self, triangles: &[u32]) -> Self {
        let rest = triangles.iter().map(|&t| self.rest[t as usize].clone()).collect();
        Self { layer: self.layer.on(triangles), rest: Arc::new(rest), ..self.clone() }
    }

    /// Legendre coefficients through the thickness of the stress at a place of a triangle, Pa, Voigt order; `inverse[i][r]` = ∂r/∂x_i.
    fn at(&self, triangle: usize, at: [f64; 2], inverse: &[[f64; 2]; 2]) -> Vec<Vector6<f64>> {
        let (fields, rest, thickness) = (self.layer.fields_of(triangle), &self.rest[triangle], self.layer.thickness_m);
        let degrees = fields.iter().map(|f| usize::from(f.degree)).max().map_or(0, |d| d + 1).max(2);
        let mut strain = vec![Vector6::zeros(); degrees];
        let functions = evaluate(self.layer.order, at);
        for (f, field) in fields.iter().enumerate() {
            let (mut value, mut slope) = (0.0, [0.0; 2]);
            for (a, (own, along)) in functions.value.iter().zip(&functions.slope).enumerate() {
                let q = rest[a * fields.len() + f];
                value += q * own;
                (0..2).for_each(|r| slope[r] += q * along[r]);
            }
            let slope = [0, 1].map(|i| inverse[i][0] * slope[0] + inverse[i][1] * slope[1]);
            strained(&mut strain, *field, value, slope, thickness);
        }
        let mut stress: Vec<Vector6<f64>> = strain.iter().map(|e| self.layer.stress_pa(e)).collect();
        for (sum, film) in stress.iter_mut().zip(self.film.by_degree(thickness)) {
            [(0, film[0]), (1, film[1]), (5, film[2])].into_iter().for_each(|(v, s)| sum[v] += s);
        }
        stress
    }

    /// Geometric stiffness of a triangle, N/m, over its functions and the fields that `prisms` has there.
    ///
    /// # Errors
    /// A curved triangle that folds over.
    pub(super) fn geometric(&self, prisms: &ElementMatrices, triangle: usize) -> Result<DMatrix<f64>, SystemError> {
        let places = self.places(prisms, triangle)?;
        Ok(geometric_stiffness(prisms.of(triangle).fields(), &self.products, &places))
    }

    /// The quadrature points of a triangle with the stress there.
    fn places(&self, prisms: &ElementMatrices, triangle: usize) -> Result<Vec<StressedPlace>, SystemError> {
        let (sides, flips) = (prisms.sides_m(triangle), prisms.flips(triangle));
        let place = |(functions, at, weight): &(Values, [f64; 2], f64)| {
            let (x, dx) = map(&sides, *at);
            let folded = || SystemError::Folded { triangle, at_um: x.map(|x| x * 1e6) };
            let (inverse, det) = invert(&dx).ok_or_else(folded)?;
            let function = |((value, slope), flip): ((&f64, &[f64; 2]), &bool)| {
                let [x, y] = [0, 1].map(|i| inverse[i][0] * slope[0] + inverse[i][1] * slope[1]);
                if *flip { [-x, -y, -value] } else { [x, y, *value] }
            };
            let own = functions.value.iter().zip(&functions.slope).zip(&flips).map(function).collect();
            Ok(StressedPlace { area: weight * det, functions: own, stress: self.at(triangle, *at, &inverse) })
        };
        prisms.table().places().iter().map(place).collect()
    }
}

/// Adds what a field with this value (m) and these slopes strains, by degree, Voigt order with engineering shears.
fn strained(strain: &mut [Vector6<f64>], field: Field, value: f64, [x, y]: [f64; 2], thickness: f64) {
    let degree = usize::from(field.degree);
    let own = &mut strain[degree];
    match field.axis {
        0 => (own[0], own[5]) = (own[0] + x, own[5] + y),
        1 => (own[1], own[5]) = (own[1] + y, own[5] + x),
        _ => (own[4], own[3]) = (own[4] + x, own[3] + y),
    }
    // ∂P_k/∂z = (2/t) Σ (2j + 1) P_j over j = k − 1, k − 3, …
    let along_z = [4, 3, 2][usize::from(field.axis)];
    for j in (0..degree).rev().step_by(2) {
        strain[j][along_z] += 2.0 / thickness * (2 * j + 1) as f64 * value;
    }
}
