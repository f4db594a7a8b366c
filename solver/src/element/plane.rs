//! Integrals of shape functions over one triangle of the plane, straight or curved: all that mechanics needs of the
//! triangle. SI: lengths in metres.

use super::basis::{Order, Values, evaluate};
use super::quadrature::triangle;
use nalgebra::DMatrix;

/// Corners and mid-side points of a triangle, m; mid-side point k lies on the edge from corner k to corner k + 1.
pub type Sides = [[f64; 2]; 6];

/// Integrals over a triangle of products of shape functions, rows by the first, columns by the second function.
#[derive(Clone, Debug)]
pub struct PlaneIntegrals {
    /// ∫ N_a N_b dA, m².
    pub value: DMatrix<f64>,
    /// ∫ ∂N_a/∂x_i N_b dA, m, for i = x, y.
    pub mixed: [DMatrix<f64>; 2],
    /// ∫ ∂N_a/∂x_i ∂N_b/∂x_j dA, at `[i][j]`, without unit.
    pub slope: [[DMatrix<f64>; 2]; 2],
}

/// Tables of one order, shared by all triangles: values at quadrature points (r, s) with their weights, and the integrals, n × n with
/// n = [`Order::functions`], of the triangle (0, 0), (1, 0), (0, 1); all without unit.
#[derive(Clone, Debug)]
pub struct PlaneTable {
    order: Order,
    curved: Vec<(Values, [f64; 2], f64)>,
    straight: PlaneIntegrals,
}

/// A triangle whose quadratic map folds over.
#[derive(Clone, Copy, Debug, PartialEq, thiserror::Error)]
#[error("a curved triangle near ({:.3e}, {:.3e}) m folds over; its mesh edge is too long for the curve", .0[0], .0[1])]
pub struct Folded(pub [f64; 2]);

/// The quadratic map of a triangle at (r, s): point, and its derivatives along r and s.
pub fn map(sides: &Sides, [r, s]: [f64; 2]) -> ([f64; 2], [[f64; 2]; 2]) {
    let l = [1.0 - r - s, r, s];
    const SLOPE: [[f64; 2]; 3] = [[-1.0, -1.0], [1.0, 0.0], [0.0, 1.0]];
    let (mut x, mut dx) = ([0.0; 2], [[0.0; 2]; 2]);
    for k in 0..3 {
        let m = (k + 1) % 3;
        for c in 0..2 {
            // Linear part plus the rise of the mid-side point: exact zeros for straight sides.
            let rise = 4.0 * (sides[3 + k][c] - 0.5 * (sides[k][c] + sides[m][c]));
            x[c] += l[k] * sides[k][c] + rise * l[k] * l[m];
            for d in 0..2 {
                dx[d][c] += SLOPE[k][d] * sides[k][c] + rise * (SLOPE[k][d] * l[m] + l[k] * SLOPE[m][d]);
            }
        }
    }
    (x, dx)
}

/// Whether a triangle's mid-side points lie half-way along its sides, to rounding.
pub(crate) fn is_straight(sides: &Sides) -> bool {
    (0..3).all(|k| {
        let (a, b, m) = (sides[k], sides[(k + 1) % 3], sides[3 + k]);
        let length = (b[0] - a[0]).hypot(b[1] - a[1]);
        (m[0] - 0.5 * (a[0] + b[0])).hypot(m[1] - 0.5 * (a[1] + b[1])) < 1e-9 * length
    })
}

impl PlaneTable {
    /// Tables for triangles of this order.
    pub fn new(order: Order) -> Self {
        let p = order.degree();
        // A quadratic map makes slopes rational; two degrees beyond the straight triangle's 2p leave an error far
        // below the element's own.
        let curved = triangle(2 * p + 2).into_iter().map(|(at, w)| (evaluate(order, at), at, w)).collect();
        let n = order.functions();
        let mut straight = PlaneIntegrals::zeros(n);
        for (at, w) in triangle(2 * p) {
            straight.add(&evaluate(order, at), &[[1.0, 0.0], [0.0, 1.0]], w);
        }
        straight.mirror();
        Self { order, curved, straight }
    }

    /// Quadrature points of curved triangles: functions there, place in the triangle (0, 0), (1, 0), (0, 1), weight.
    pub(crate) fn places(&self) -> &[(Values, [f64; 2], f64)] {
        &self.curved
    }

    /// The order of the triangles.
    pub fn order(&self) -> Order {
        self.order
    }

    /// Integrals over a triangle.
    ///
    /// # Errors
    /// [`Folded`] where the map of a curved triangle is not one to one.
    pub fn integrate(&self, sides: &Sides) -> Result<PlaneIntegrals, Folded> {
        if is_straight(sides) { self.integrate_straight(sides) } else { self.integrate_curved(sides) }
    }

    fn integrate_straight(&self, sides: &Sides) -> Result<PlaneIntegrals, Folded> {
        let (inverse, det) = invert(&map(sides, [1.0 / 3.0; 2]).1).ok_or(Folded(sides[0]))?;
        let mixed = |i: usize| inverse[i].map(|x| x * det);
        let slope = |i: usize, j: usize| [0, 1].map(|r| [0, 1].map(|s| inverse[i][r] * inverse[j][s] * det));
        Ok(self.straight.combined(det, mixed, slope))
    }

    fn integrate_curved(&self, sides: &Sides) -> Result<PlaneIntegrals, Folded> {
        let mut sum = PlaneIntegrals::zeros(self.order.functions());
        for (values, at, w) in &self.curved {
            let (x, dx) = map(sides, *at);
            let (inverse, det) = invert(&dx).ok_or(Folded(x))?;
            sum.add(values, &inverse, w * det);
        }
        sum.mirror();
        Ok(sum)
    }

    /// How the integrals change as the sides move: their exact derivative along a velocity of the corners and mid-side points
    /// (m per unit of what moves them), by the chain rule on the map.
    ///
    /// # Errors
    /// [`Folded`] where the map of a curved triangle is not one to one.
    pub fn derivative(&self, sides: &Sides, velocity: &Sides) -> Result<PlaneIntegrals, Folded> {
        if is_straight(sides) && is_straight(&moved(sides, velocity)) {
            self.derivative_straight(sides, velocity)
        } else {
            self.derivative_curved(sides, velocity)
        }
    }

    fn derivative_straight(&self, sides: &Sides, velocity: &Sides) -> Result<PlaneIntegrals, Folded> {
        let at = [1.0 / 3.0; 2];
        let (inverse, det) = invert(&map(sides, at).1).ok_or(Folded(sides[0]))?;
        let (slope_of, det_of) = rates(&inverse, det, &map(velocity, at).1);
        let mixed = |i: usize| [0, 1].map(|r| slope_of[i][r] * det + inverse[i][r] * det_of);
        let slope = |i: usize, j: usize| {
            let turns = |r: usize, s: usize| slope_of[i][r] * inverse[j][s] + inverse[i][r] * slope_of[j][s];
            [0, 1].map(|r| [0, 1].map(|s| turns(r, s) * det + inverse[i][r] * inverse[j][s] * det_of))
        };
        Ok(self.straight.combined(det_of, mixed, slope))
    }

    fn derivative_curved(&self, sides: &Sides, velocity: &Sides) -> Result<PlaneIntegrals, Folded> {
        let mut sum = PlaneIntegrals::zeros(self.order.functions());
        for (values, at, w) in &self.curved {
            let (x, dx) = map(sides, *at);
            let (inverse, det) = invert(&dx).ok_or(Folded(x))?;
            let (slope_of, det_of) = rates(&inverse, det, &map(velocity, *at).1);
            sum.add(values, &inverse, w * det_of);
            // Integrals are at most quadratic in the inverse: their central difference over any step is their derivative.
            let size = |m: &[[f64; 2]; 2]| m.iter().flatten().map(|x| x.abs()).fold(0.0, f64::max);
            let step = size(&inverse) / size(&slope_of);
            if step.is_finite() {
                let stepped = |s: f64| [0, 1].map(|i| [0, 1].map(|r| inverse[i][r] + s * slope_of[i][r]));
                sum.add(values, &stepped(step), 0.5 * w * det / step);
                sum.add(values, &stepped(-step), -0.5 * w * det / step);
            }
        }
        sum.mirror();
        Ok(sum)
    }

    /// Coefficients, over this triangle's functions, of a function linear in x and y, from its values at the three
    /// corners and the three mid-side points: exact, since the map itself is quadratic.
    pub fn linear(&self, at_points: [f64; 6]) -> Vec<f64> {
        let mut q = vec![0.0; self.order.functions()];
        q[..3].copy_from_slice(&at_points[..3]);
        if self.order.per_edge() > 0 {
            for k in 0..3 {
                let rise = at_points[3 + k] - 0.5 * (at_points[k] + at_points[(k + 1) % 3]);
                q[3 + k * self.order.per_edge()] = 4.0 * rise;
            }
        }
        q
    }
}

/// Inverse and determinant of the map's derivative; `inverse[i][r]` = ∂r/∂x_i. `None` unless the determinant is positive.
pub(crate) fn invert(dx: &[[f64; 2]; 2]) -> Option<([[f64; 2]; 2], f64)> {
    let det = dx[0][0] * dx[1][1] - dx[1][0] * dx[0][1];
    (det > 0.0).then(|| ([[dx[1][1] / det, -dx[0][1] / det], [-dx[1][0] / det, dx[0][0] / det]], det))
}

/// Derivatives of the inverse, −J⁻¹ J̇ J⁻¹, and of the determinant, det tr(J⁻¹ J̇).
fn rates(inverse: &[[f64; 2]; 2], det: f64, speed: &[[f64; 2]; 2]) -> ([[f64; 2]; 2], f64) {
    // By place: how ∂x_c/∂ξ_r changes, seen along x_i.
    let turned = [0, 1].map(|i| [0, 1].map(|c| inverse[i][0] * speed[0][c] + inverse[i][1] * speed[1][c]));
    let slope = [0, 1].map(|i| [0, 1].map(|r| -(turned[i][0] * inverse[0][r] + turned[i][1] * inverse[1][r])));
    (slope, det * (turned[0][0] + turned[1][1]))
}

/// The sides after a step that moves no point by more than the shortest side.
fn moved(sides: &Sides, velocity: &Sides) -> Sides {
    let shortest = (0..3)
        .map(|k| (sides[(k + 1) % 3][0] - sides[k][0]).hypot(sides[(k + 1) % 3][1] - sides[k][1]))
        .fold(f64::INFINITY, f64::min);
    let fastest = velocity.iter().map(|v| v[0].hypot(v[1])).fold(0.0, f64::max);
    let step = if fastest > 0.0 { 0.1 * shortest / fastest } else { 0.0 };
    std::array::from_fn(|k| [0, 1].map(|c| sides[k][c] + step * velocity[k][c]))
}

impl PlaneIntegrals {
    fn zeros(n: usize) -> Self {
        let zero = || DMatrix::zeros(n, n);
        Self { value: zero(), mixed: [zero(), zero()], slope: [[zero(), zero()], [zero(), zero()]] }
    }

    /// Linear combinations of integrals in reference coordinates: of the values, for every i of both mixed ones, for every i and j
    /// of the four products of slopes.
    fn combined(
        &self,
        value: f64,
        mixed: impl Fn(usize) -> [f64; 2],
        slope: impl Fn(usize, usize) -> [[f64; 2]; 2],
    ) -> Self {
        let [of_r, of_s] = &self.mixed;
        let [[rr, rs], [sr, ss]] = &self.slope;
        Self {
            value: &self.value * value,
            mixed: [0, 1].map(|i| {
                let [r, s] = mixed(i);
                of_r.zip_map(of_s, |a, b| r * a + s * b)
            }),
            slope: [0, 1].map(|i| {
                [0, 1].map(|j| {
                    let [[a, b], [c, d]] = slope(i, j);
                    let mut sum = rr.zip_map(rs, |x, y| a * x + b * y);
                    sum.zip_zip_apply(sr, ss, |sum, x, y| *sum += c * x + d * y);
                    sum
                })
            }),
        }
    }

    /// Adds one quadrature point to the independent entries.
    fn add(&mut self, values: &Values, inverse: &[[f64; 2]; 2], weight: f64) {
        let n = values.value.len();
        let slopes: Vec<[f64; 2]> =
            values.slope.iter().map(|d| [0, 1].map(|i| inverse[i][0] * d[0] + inverse[i][1] * d[1])).collect();
        for b in 0..n {
            let (vb, sb) = (weight * values.value[b], slopes[b].map(|s| weight * s));
            for (a, slope) in slopes.iter().enumerate() {
                self.mixed[0][(a, b)] += slope[0] * vb;
                self.mixed[1][(a, b)] += slope[1] * vb;
                self.slope[0][1][(a, b)] += slope[0] * sb[1];
                if a <= b {
                    self.value[(a, b)] += values.value[a] * vb;
                    self.slope[0][0][(a, b)] += slope[0] * sb[0];
                    self.slope[1][1][(a, b)] += slope[1] * sb[1];
                }
            }
        }
    }

    /// Fills in the entries that follow by symmetry.
    fn mirror(&mut self) {
        let n = self.value.nrows();
        for m in [&mut self.value] {
            for b in 0..n {
                for a in b + 1..n {
                    m[(a, b)] = m[(b, a)];
                }
            }
        }
        for i in 0..2 {
            for b in 0..n {
                for a in b + 1..n {
                    self.slope[i][i][(a, b)] = self.slope[i][i][(b, a)];
                }
            }
        }
        self.slope[1][0] = self.slope[0][1].transpose();
    }

    /// Changes the sign of every row and column whose `flip` is set.
    pub fn flip(&mut self, flip: &[bool]) {
        let mut all: Vec<&mut DMatrix<f64>> = vec![&mut self.value];
        all.extend(self.mixed.iter_mut());
        all.extend(self.slope.iter_mut().flatten());
        for m in all {
            for (a, _) in flip.iter().enumerate().filter(|(_, f)| **f) {
                m.row_mut(a).neg_mut();
                m.column_mut(a).neg_mut();
            }
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn sides(bulge: f64) -> Sides {
        let (a, b, c) = ([0.2, 0.1], [1.3, 0.4], [0.5, 1.2]);
        let mid = |p: [f64; 2], q: [f64; 2]| [0.5 * (p[0] + q[0]), 0.5 * (p[1] + q[1])];
        let mut e = mid(b, c);
        e[0] += bulge;
        e[1] += bulge;
        [a, b, c, mid(a, b), e, mid(c, a)]
    }

    #[test]
    fn straight_and_curved_paths_agree() {
        let table = PlaneTable::new(Order::new(4).unwrap());
        let (fast, slow) = (table.integrate(&sides(0.0)).unwrap(), table.integrate_curved(&sides(0.0)).unwrap());
        assert!((&fast.value - &slow.value).amax() < 1e-14);
        assert!((&fast.mixed[1] - &slow.mixed[1]).amax() < 1e-13);
        assert!((&fast.slope[0][1] - &slow.slope[0][1]).amax() < 1e-12);
        assert!((&fast.slope[1][0] - &slow.slope[1][0]).amax() < 1e-12);
    }

    /// A linear function has exact gradient energy and a constant its exact area, curved sides or not.
    #[test]
    fn linear_functions_are_exact() {
        for (order, bulge) in [(2, 0.0), (2, 0.15), (4, 0.15), (5, -0.1)] {
            let table = PlaneTable::new(Order::new(order).unwrap());
            let s = sides(bulge);
            let m = table.integrate(&s).unwrap();
            let one = nalgebra::DVector::from_vec(table.linear([1.0; 6]));
            let x = nalgebra::DVector::from_vec(table.linear(s.map(|p| p[0])));
            let y = nalgebra::DVector::from_vec(table.linear(s.map(|p| p[1])));
            let area = one.dot(&(&m.value * &one));
            let straight = 0.5 * (1.1 * 1.1 - 0.3 * 0.3);
            let chord = [-0.8, 0.8];
            let expected = straight + 2.0 / 3.0 * bulge * (chord[1] - chord[0]);
            assert!((area - expected).abs() < 1e-13, "{area} {expected}");
            assert!((x.dot(&(&m.slope[0][0] * &x)) - area).abs() < 1e-12);
            assert!(x.dot(&(&m.slope[1][1] * &x)).abs() < 1e-12);
            assert!((x.dot(&(&m.slope[0][1] * &y)) - area).abs() < 1e-12);
            assert!((y.dot(&(&m.mixed[1] * &one)) - area).abs() < 1e-12);
        }
    }

    /// Against differences of the integrals: straight and curved triangles, one that bends and one that stays straight.
    #[test]
    fn derivative_along_a_motion() {
        let table = PlaneTable::new(Order::new(4).unwrap());
        let mut velocity: Sides = [[0.3, -0.2], [-0.1, 0.5], [0.4, 0.1], [0.0; 2], [0.0; 2], [0.0; 2]];
        for k in 0..3 {
            velocity[3 + k] = [0, 1].map(|c| 0.5 * (velocity[k][c] + velocity[(k + 1) % 3][c]));
        }
        for (bulge, bends) in [(0.0, 0.0), (0.0, 0.2), (0.15, 0.2)] {
            let mut velocity = velocity;
            velocity[4][1] += bends;
            let h = 1e-5;
            let at = |s: f64| {
                let s: Sides = std::array::from_fn(|k| [0, 1].map(|c| sides(bulge)[k][c] + s * velocity[k][c]));
                table.integrate(&s).unwrap()
            };
            let (found, plus, minus) = (table.derivative(&sides(bulge), &velocity).unwrap(), at(h), at(-h));
            let off = |found: &DMatrix<f64>, p: &DMatrix<f64>, m: &DMatrix<f64>| {
                (found - (p - m) / (2.0 * h)).amax() / found.amax()
            };
            assert!(off(&found.value, &plus.value, &minus.value) < 1e-8);
            for i in 0..2 {
                assert!(off(&found.mixed[i], &plus.mixed[i], &minus.mixed[i]) < 1e-8);
                for j in 0..2 {
                    assert!(off(&found.slope[i][j], &plus.slope[i][j], &minus.slope[i][j]) < 1e-8, "{bulge} {i} {j}");
                }
            }
        }
    }

    #[test]
    fn a_folded_triangle_is_refused() {
        assert!(PlaneTable::new(Order::DEFAULT).integrate(&sides(-0.6)).is_err());
    }
}
