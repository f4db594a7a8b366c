//! Polynomials on a quadrilateral: tensor products of Lobatto functions (Szabó & Babuška, *Finite Element Analysis*, 1991,
//! ch. 6) on the bilinear image of the square [-1, 1]².
//!
//! In: four corners, anticlockwise, any unit of length. Out: values and slopes at points, integrals of their products.

use crate::element::quadrature::{gauss, legendre};
use nalgebra::{DMatrix, Matrix2, Vector2};

/// Signs of (ξ, η) at the corners.
const SIGNS: [[f64; 2]; 4] = [[-1.0, -1.0], [1.0, -1.0], [1.0, 1.0], [-1.0, 1.0]];

/// Degree across a square; enough for torsion to 1e-5.
const DEGREE: f64 = 8.0;
/// More degrees along the longer side: the disturbance at its ends decays over the shorter side, and Legendre polynomials
/// of degree p resolve layers of 1/p² of an interval.
const DEGREE_PER_ROOT_RATIO: f64 = 3.0;
/// Cap of the degree along the longer side.
const HIGHEST: f64 = 24.0;

/// A quadrilateral with its polynomials. Functions are numbered a = i (q + 1) + j for function i along ξ and j along η;
/// functions 0 and 1 along a side are linear, the others vanish at its ends.
#[derive(Clone, Debug, PartialEq)]
pub(super) struct Patch {
    corners: [[f64; 2]; 4],
    degrees: [usize; 2],
}

/// The functions at one point.
pub(super) struct At {
    /// (y, z).
    pub position: [f64; 2],
    /// Area per area of the square.
    pub stretch: f64,
    /// Values, slopes along y, slopes along z.
    pub functions: [Vec<f64>; 3],
}

impl Patch {
    /// Corners anticlockwise; degrees follow the shape.
    pub fn new(corners: [[f64; 2]; 4]) -> Self {
        let side = |a: usize, b: usize| (corners[b][0] - corners[a][0]).hypot(corners[b][1] - corners[a][1]);
        let (xi, eta) = (side(0, 1) + side(3, 2), side(1, 2) + side(0, 3));
        let degree =
            |ratio: f64| (DEGREE + DEGREE_PER_ROOT_RATIO * (ratio.max(1.0).sqrt() - 1.0)).min(HIGHEST).ceil() as usize;
        Self { corners, degrees: [degree(xi / eta), degree(eta / xi)] }
    }

    /// Number of functions.
    pub fn functions(&self) -> usize {
        (self.degrees[0] + 1) * (self.degrees[1] + 1)
    }

    /// Degree along ξ, and half of the extent along y.
    pub fn across(&self) -> (usize, f64) {
        let ends = self.corners.iter().fold([f64::INFINITY, f64::NEG_INFINITY], |[l, h], c| [l.min(c[0]), h.max(c[0])]);
        (self.degrees[0], 0.5 * (ends[1] - ends[0]))
    }

    /// The corners, and the number of the function that is 1 at each.
    pub fn corner_functions(&self) -> [([f64; 2], usize); 4] {
        let stride = self.degrees[1] + 1;
        let numbers = [0, stride, stride + 1, 1];
        std::array::from_fn(|k| (self.corners[k], numbers[k]))
    }

    /// Position (y, z) and its derivatives along ξ (first column) and η.
    fn map(&self, at: Vector2<f64>) -> (Vector2<f64>, Matrix2<f64>) {
        let (mut position, mut slopes) = (Vector2::zeros(), Matrix2::zeros());
        for (corner, sign) in self.corners.iter().zip(SIGNS) {
            let corner = Vector2::from(*corner);
            let (a, b) = (1.0 + sign[0] * at.x, 1.0 + sign[1] * at.y);
            position += 0.25 * a * b * corner;
            slopes += 0.25 * corner * Vector2::new(sign[0] * b, sign[1] * a).transpose();
        }
        (position, slopes)
    }

    /// (ξ, η) of a point of the section, by Newton's method; exact at once where opposite sides are parallel.
    pub fn locate(&self, point: [f64; 2]) -> [f64; 2] {
        let target = Vector2::from(point);
        let mut at = Vector2::zeros();
        for _ in 0..30 {
            let (position, slopes) = self.map(at);
            let Some(step) = slopes.try_inverse().map(|inverse| inverse * (target - position)) else { break };
            at += step;
            if step.norm() < 1e-14 {
                break;
            }
        }
        at.into()
    }

    /// The functions at (ξ, η).
    pub fn at(&self, [xi, eta]: [f64; 2]) -> At {
        let (position, slopes) = self.map(Vector2::new(xi, eta));
        let determinant = slopes.determinant();
        let (along_xi, along_eta) = (lobatto(self.degrees[0], xi), lobatto(self.degrees[1], eta));
        let mut functions = [const { Vec::new() }; 3];
        functions.iter_mut().for_each(|f| f.reserve(self.functions()));
        for (v, dv) in &along_xi {
            for (w, dw) in &along_eta {
                let (d_xi, d_eta) = (dv * w / determinant, v * dw / determinant);
                functions[0].push(v * w);
                functions[1].push(slopes[(1, 1)] * d_xi - slopes[(1, 0)] * d_eta);
                functions[2].push(slopes[(0, 0)] * d_eta - slopes[(0, 1)] * d_xi);
            }
        }
        At { position: position.into(), stretch: determinant, functions }
    }

    /// Points (ξ, η) and weights of a rule that integrates products of two functions.
    pub fn rule(&self) -> Vec<([f64; 2], f64)> {
        // Two more than exact on a parallelogram: elsewhere slopes are divided by the map's determinant.
        let (along_xi, along_eta) = (gauss(self.degrees[0] + 3), gauss(self.degrees[1] + 3));
        along_xi.iter().flat_map(|&(xi, v)| along_eta.iter().map(move |&(eta, w)| ([xi, eta], v * w))).collect()
    }

    /// ∫ ∂_α N_a ∂_β N_b dA by \[α\]\[β\], functions × functions, rows by a: 0 is the value, 1 and 2 the slopes along y and z. In the corners' unit of
    /// length squared, to the first power with one slope, without unit with two.
    pub fn products(&self) -> [[DMatrix<f64>; 3]; 3] {
        let rule = self.rule();
        let mut tables = [(); 3].map(|()| DMatrix::zeros(rule.len(), self.functions()));
        for (row, &(point, weight)) in rule.iter().enumerate() {
            let at = self.at(point);
            let root = (weight * at.stretch).sqrt();
            for (table, values) in tables.iter_mut().zip(&at.functions) {
                for (column, value) in values.iter().enumerate() {
                    table[(row, column)] = root * value;
                }
            }
        }
        let [[vv, vy, vz], [_, yy, yz], [_, _, zz]] = [0, 1, 2]
            .map(|a| [0, 1, 2].map(|b| if a <= b { tables[a].tr_mul(&tables[b]) } else { DMatrix::zeros(0, 0) }));
        let (yv, zv, zy) = (vy.transpose(), vz.transpose(), yz.transpose());
        [[vv, vy, vz], [yv, yy, yz], [zv, zy, zz]]
    }
}

/// Values and slopes of the Lobatto functions up to degree p: (1 ∓ x)/2, then (P_k − P_{k−2})/√(2(2k − 1)), k = 2 … p.
fn lobatto(p: usize, x: f64) -> Vec<(f64, f64)> {
    let polynomials: Vec<f64> = (0..=p).map(|k| legendre(k, x).0).collect();
    let mut functions = vec![(0.5 * (1.0 - x), -0.5), (0.5 * (1.0 + x), 0.5)];
    for k in 2..=p {
        let odd = (2 * k - 1) as f64;
        functions.push((
            (polynomials[k] - polynomials[k - 2]) / (2.0 * odd).sqrt(),
            (0.5 * odd).sqrt() * polynomials[k - 1],
        ));
    }
    functions
}

#[cfg(test)]
mod tests {
    use super::*;

    const CORNERS: [[f64; 2]; 4] = [[-1.0, -2.0], [1.5, -1.5], [1.0, 2.0], [-0.5, 1.0]];

    #[test]
    fn points_are_found_again() {
        let patch = Patch::new(CORNERS);
        for point in [[0.3, -0.8], [-1.0, 1.0], [0.99, 0.2]] {
            let at = patch.at(point);
            let found = patch.locate(at.position);
            assert!((found[0] - point[0]).abs() + (found[1] - point[1]).abs() < 1e-13);
        }
    }

    #[test]
    fn slopes_are_those_of_the_values() {
        let patch = Patch::new(CORNERS);
        let (at, step) = (patch.at([0.2, -0.4]), 1e-6);
        for axis in 0..2 {
            let ends = [-step, step].map(|s| {
                let mut point = at.position;
                point[axis] += s;
                patch.at(patch.locate(point)).functions[0].clone()
            });
            for ((low, high), slope) in ends[0].iter().zip(&ends[1]).zip(&at.functions[axis + 1]) {
                assert!(((high - low) / (2.0 * step) - slope).abs() < 1e-7);
            }
        }
    }

    /// The corner functions add up to 1, so their products add up to the area (shoelace formula).
    #[test]
    fn area_and_corners() {
        let patch = Patch::new(CORNERS);
        let products = patch.products();
        let corners = patch.corner_functions();
        let sum: f64 = corners.iter().flat_map(|a| corners.iter().map(|b| products[0][0][(a.1, b.1)])).sum();
        let area: f64 = (0..4)
            .map(|k| 0.5 * (CORNERS[k][0] * CORNERS[(k + 1) % 4][1] - CORNERS[(k + 1) % 4][0] * CORNERS[k][1]))
            .sum();
        assert!((sum / area - 1.0).abs() < 1e-13);
        for ((position, function), sign) in corners.iter().zip(SIGNS) {
            let at = patch.at(sign);
            assert_eq!(at.position, *position);
            assert!((at.functions[0][*function] - 1.0).abs() < 1e-15);
        }
    }
}
