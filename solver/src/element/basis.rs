//! Hierarchic shape functions of a triangle: corners, edges, interior (Szabó & Babuška, *Finite Element Analysis*,
//! 1991, ch. 6; the kernels here are derivatives of Legendre polynomials, scaled at will: the solver scales unknowns).
//!
//! With barycentric coordinates λ₀, λ₁, λ₂ the functions are, in this order:
//! - corners: λ_k;
//! - edge k, from corner k to corner k + 1, degree j = 2 … p: λ_k λ_{k+1} P'_{j-1}(λ_{k+1} − λ_k); a function of odd
//!   degree changes sign with the direction of the edge;
//! - interior, i + j ≤ p − 3: λ₀ λ₁ λ₂ P_i(λ₁ − λ₀) P_j(2 λ₂ − 1).

use super::quadrature::legendre;
use nalgebra::DMatrix;

/// Order of a triangle in the plane, 1 to 8.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub struct Order(u8);

impl Order {
    /// The order that the shell uses by default: the lowest that does not lock at length/thickness 10 000; order 5 needs
    /// fewer unknowns on smooth plates but twice the seconds on a device's default mesh (validation/ELEMENTS.md).
    pub const DEFAULT: Self = Self(4);

    /// An order from 1 to 8; `None` outside.
    pub fn new(p: u8) -> Option<Self> {
        (1..=8).contains(&p).then_some(Self(p))
    }

    /// One order more: what error estimates compare with.
    pub(crate) fn raised(self) -> Self {
        Self(self.0 + 1)
    }

    /// So many orders less, at least 1.
    pub(crate) fn lowered(self, by: u8) -> Self {
        Self(self.0.saturating_sub(by).max(1))
    }

    /// The polynomial degree p.
    pub fn degree(self) -> usize {
        usize::from(self.0)
    }

    /// Functions that belong to one edge: p − 1.
    pub fn per_edge(self) -> usize {
        self.degree() - 1
    }

    /// Functions that belong to one interior: (p − 1)(p − 2)/2.
    pub fn per_interior(self) -> usize {
        self.degree().saturating_sub(1) * self.degree().saturating_sub(2) / 2
    }

    /// All functions of a triangle: (p + 1)(p + 2)/2.
    pub fn functions(self) -> usize {
        (self.degree() + 1) * (self.degree() + 2) / 2
    }

    /// Whether function `a` flips its sign when its edge is walked the other way, and which local edge that is.
    pub fn odd_edge(self, a: usize) -> Option<usize> {
        let on_edges = 3 * self.per_edge();
        (3..3 + on_edges)
            .contains(&a)
            .then(|| ((a - 3) / self.per_edge(), (a - 3) % self.per_edge()))
            .and_then(|(edge, j)| (j % 2 == 1).then_some(edge))
    }
}

/// Value and derivatives along r and s (λ₁ = r, λ₂ = s, λ₀ = 1 − r − s) of every function at a point.
#[derive(Clone, Debug, Default)]
pub struct Values {
    /// N_a, without unit.
    pub value: Vec<f64>,
    /// ∂N_a/∂r, ∂N_a/∂s.
    pub slope: Vec<[f64; 2]>,
}

/// Evaluates all shape functions at (r, s).
pub fn evaluate(order: Order, [r, s]: [f64; 2]) -> Values {
    const SLOPE: [[f64; 2]; 3] = [[-1.0, -1.0], [1.0, 0.0], [0.0, 1.0]];
    let lambda = [1.0 - r - s, r, s];
    let mut out = Values { value: Vec::with_capacity(order.functions()), slope: Vec::with_capacity(order.functions()) };
    for k in 0..3 {
        out.value.push(lambda[k]);
        out.slope.push(SLOPE[k]);
    }
    for k in 0..3 {
        let m = (k + 1) % 3;
        let along = lambda[m] - lambda[k];
        for j in 2..=order.degree() {
            let (kernel, kernel_slope) = legendre_slope(j - 1, along);
            let bubble = lambda[k] * lambda[m];
            out.value.push(bubble * kernel);
            out.slope.push([0, 1].map(|d| {
                (SLOPE[k][d] * lambda[m] + lambda[k] * SLOPE[m][d]) * kernel
                    + bubble * kernel_slope * (SLOPE[m][d] - SLOPE[k][d])
            }));
        }
    }
    for total in 3..=order.degree() {
        for i in 0..=total - 3 {
            let j = total - 3 - i;
            let (p, dp) = legendre(i, lambda[1] - lambda[0]);
            let (q, dq) = legendre(j, 2.0 * lambda[2] - 1.0);
            let bubble = lambda[0] * lambda[1] * lambda[2];
            out.value.push(bubble * p * q);
            out.slope.push([0, 1].map(|d| {
                let bubble_slope = SLOPE[0][d] * lambda[1] * lambda[2]
                    + lambda[0] * SLOPE[1][d] * lambda[2]
                    + lambda[0] * lambda[1] * SLOPE[2][d];
                bubble_slope * p * q
                    + bubble * dp * (SLOPE[1][d] - SLOPE[0][d]) * q
                    + bubble * p * dq * 2.0 * SLOPE[2][d]
            }));
        }
    }
    out
}

/// What the interior functions of a triangle are in those of its image: q' = T q, where corner k of the image is that of
/// corner `corners[k]`. Found by collocation at the (p − 1)(p − 2)/2 inner points of the lattice of step 1/p, which decide
/// a bubble times a polynomial of degree p − 3. `None` where they do not (never, for the orders there are).
pub(crate) fn interior_turned(order: Order, corners: [usize; 3]) -> Option<DMatrix<f64>> {
    let (n, p) = (order.per_interior(), order.degree());
    let lattice = (1..p).flat_map(|i| (1..p - i).map(move |j| [p - i - j, i, j].map(|c| c as f64 / p as f64)));
    let places: Vec<[f64; 3]> = lattice.collect();
    let interior = |lambda: [f64; 3]| {
        let value = evaluate(order, [lambda[1], lambda[2]]).value;
        value[value.len() - n..].to_vec()
    };
    let (mut image, mut original) = (DMatrix::zeros(n, n), DMatrix::zeros(n, n));
    for (row, lambda) in places.into_iter().enumerate() {
        let mut there = [0.0; 3];
        (0..3).for_each(|k| there[corners[k]] = lambda[k]);
        for (column, (a, b)) in interior(lambda).into_iter().zip(interior(there)).enumerate() {
            (image[(row, column)], original[(row, column)]) = (a, b);
        }
    }
    if n == 0 { Some(image) } else { image.lu().solve(&original) }
}

/// First and second derivative of the Legendre polynomial of degree n.
fn legendre_slope(n: usize, x: f64) -> (f64, f64) {
    // P''_n from the recurrence P''_{k+1} = P''_{k-1} + (2k + 1) P'_k.
    let (mut before, mut now) = (0.0, 0.0);
    for k in 1..n {
        (before, now) = (now, before + (2 * k + 1) as f64 * legendre(k, x).1);
    }
    (legendre(n, x).1, now)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn slopes_agree_with_differences() {
        for p in 1..=8 {
            let order = Order::new(p).unwrap();
            let (at, h) = ([0.21, 0.33], 1e-6);
            let here = evaluate(order, at);
            assert_eq!(here.value.len(), order.functions());
            for d in 0..2 {
                let shifted = |step: f64| {
                    let mut q = at;
                    q[d] += step;
                    evaluate(order, q).value
                };
                for (a, (plus, minus)) in shifted(h).iter().zip(shifted(-h)).enumerate() {
                    let difference = (plus - minus) / (2.0 * h);
                    assert!((difference - here.slope[a][d]).abs() < 1e-7, "order {p}, function {a}");
                }
            }
        }
    }

    /// On an edge only its own corners and its own functions live, and the odd ones are odd.
    #[test]
    fn edges_see_only_their_own_functions() {
        let order = Order::new(5).unwrap();
        let (one, other) = (evaluate(order, [0.3, 0.0]), evaluate(order, [0.7, 0.0]));
        for a in 0..order.functions() {
            let own = a < 2 || (3..3 + order.per_edge()).contains(&a);
            assert_eq!(own, one.value[a].abs() > 1e-14, "function {a}");
            if a >= 3 && own {
                let sign = if order.odd_edge(a).is_some() { -1.0 } else { 1.0 };
                assert!((one.value[a] - sign * other.value[a]).abs() < 1e-14);
            }
        }
    }
}
