//! Moments through the thickness of a section's end tractions, which weigh the unknowns of a root line.
//!
//! In: a section, the highest Legendre degree. Out: ∫ τ P_k dz at any place across the section. Along y the tractions of a rectangle
//! are polynomials of the degree of its central solutions, so values at as many Chebyshev points and one give them exactly
//! (barycentric interpolation: Berrut & Trefethen, SIAM Review 46 (2004) 501).

use super::Section;
use crate::element::quadrature::{gauss, legendre};
use std::f64::consts::PI;

/// Gauss points through the thickness: tractions have at most the highest degree of a section, fields at most 8.
const POINTS: usize = 16;

/// (σ_xx, σ_xy, σ_xz) of each of the six unit resultants, times P_k and integrated over the thickness, Pa m.
type Moment = [[f64; 3]; 6];

/// ∫ τ P_k dz of a section, Pa m, τ the tractions of its six unit resultants (1 N, 1 N m), as polynomials across it, y in m.
#[derive(Clone, Debug, PartialEq)]
pub struct TractionMoments {
    /// Chebyshev points (y, m) with their barycentric weights.
    nodes: Vec<(f64, f64)>,
    /// At each of them, by degree k.
    values: Vec<Vec<Moment>>,
    degrees: usize,
}

impl TractionMoments {
    /// Moments up to `degree` of a rectangle over the thickness of a layer, m; zero of a section from given constants, which has
    /// no tractions.
    pub fn new(section: &Section, thickness_m: f64, degree: usize) -> Self {
        let (across, half_width) = section.across();
        let node = |j: usize| {
            let end = if j == 0 || j == across { 0.5 } else { 1.0 };
            let sign = if j.is_multiple_of(2) { 1.0 } else { -1.0 };
            (half_width * (PI * j as f64 / across as f64).cos(), sign * end)
        };
        let nodes: Vec<(f64, f64)> = (0..=across).map(node).collect();
        let half = 0.5 * thickness_m;
        let through = gauss(POINTS);
        let values = nodes.iter().map(|&(y, _)| {
            let mut by_degree = vec![Moment::default(); degree + 1];
            for &(zeta, weight) in &through {
                let tractions = section.tractions(y, half * zeta).unwrap_or_default();
                for (k, sum) in by_degree.iter_mut().enumerate() {
                    let p = legendre(k, zeta).0 * weight * half;
                    sum.as_flattened_mut().iter_mut().zip(tractions.as_flattened()).for_each(|(s, t)| *s += p * t);
                }
            }
            by_degree
        });
        Self { values: values.collect(), nodes, degrees: degree + 1 }
    }

    /// The moments at a place across the section, m from its middle, by degree.
    pub fn at(&self, y: f64) -> Vec<Moment> {
        if let Some(j) = self.nodes.iter().position(|n| n.0 == y) {
            return self.values[j].clone();
        }
        let shares: Vec<f64> = self.nodes.iter().map(|(at, weight)| weight / (y - at)).collect();
        let whole: f64 = shares.iter().sum();
        let mut out = vec![Moment::default(); self.degrees];
        for (share, values) in shares.iter().zip(&self.values) {
            for (sum, value) in out.iter_mut().zip(values) {
                let own = value.as_flattened().iter();
                sum.as_flattened_mut().iter_mut().zip(own).for_each(|(s, v)| *s += share / whole * v);
            }
        }
        out
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::material::Law;

    /// Between the Chebyshev points the moments are those of the tractions themselves.
    #[test]
    fn moments_are_those_of_the_tractions() {
        let law = Law::isotropic(2330.0, 160e9, 0.22).unwrap();
        for (width, thickness) in [(4e-6, 20e-6), (30e-6, 2e-6)] {
            let section = Section::rectangle(&law, 0.3, width, thickness).unwrap();
            let moments = TractionMoments::new(&section, thickness, 4);
            let mut largest = [0.0_f64; 18];
            let mut off = [0.0_f64; 18];
            for y in [-0.5, -0.31, 0.0, 0.07, 0.4999].map(|s| s * width) {
                for (k, found) in moments.at(y).iter().enumerate() {
                    let mut exact = Moment::default();
                    for (zeta, weight) in gauss(20) {
                        let own = section.tractions(y, 0.5 * thickness * zeta).unwrap();
                        for (sum, t) in exact.as_flattened_mut().iter_mut().zip(own.as_flattened()) {
                            *sum += 0.5 * thickness * weight * legendre(k, zeta).0 * t;
                        }
                    }
                    for (i, (a, b)) in found.as_flattened().iter().zip(exact.as_flattened()).enumerate() {
                        off[i] = off[i].max((a - b).abs());
                        largest[i] = largest[i].max(b.abs());
                    }
                }
            }
            let scale = largest.iter().copied().fold(0.0, f64::max);
            for (off, largest) in off.iter().zip(&largest) {
                assert!(*off < 1e-10 * largest.max(1e-6 * scale), "{off:e} of {largest:e}");
            }
        }
    }
}
