//! Rigid bodies: mass, centre and all six inertias of polygons with openings in a layer, exact by Green's theorem.
//!
//! In: polygons, µm; thickness and density, SI. Out: kg, m, kg·m², and 6 × 6 mass matrices for the motion of the centre
//! (along x, y, z, about x, y, z). The layer's own height is kept: a tilt moves material in the plane at z ≠ 0.

use modalith_mesher::geometry::{Point, Polygon};
use nalgebra::Matrix6;

/// Mass, centre and inertias of a rigid body in the frame of the layout; mid-layer is a mirror, so that the products
/// with z vanish.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub struct Inertia {
    /// Mass, kg.
    pub mass_kg: f64,
    /// Centre of mass, m, at mid-layer.
    pub centre_m: [f64; 2],
    /// ∫ ρ (y² + z²) dV, ∫ ρ (x² + z²) dV, ∫ ρ (x² + y²) dV about the centre, kg·m².
    pub moments_kg_m2: [f64; 3],
    /// ∫ ρ y z dV, ∫ ρ x z dV (both zero by the mirror), ∫ ρ x y dV about the centre, kg·m².
    pub products_kg_m2: [f64; 3],
}

/// Area, first and second moments (x², y², xy) of polygons about a point, µm² to µm⁴.
fn moments(area: &[Polygon], about: Point) -> [f64; 6] {
    let mut sum = [0.0; 6];
    for ring in area.iter().flat_map(Polygon::rings) {
        for (i, p) in ring.iter().enumerate() {
            let q = ring[(i + 1) % ring.len()];
            let [x0, y0, x1, y1] = [p[0] - about[0], p[1] - about[1], q[0] - about[0], q[1] - about[1]];
            let cross = x0 * y1 - x1 * y0;
            sum[0] += cross / 2.0;
            sum[1] += cross * (x0 + x1) / 6.0;
            sum[2] += cross * (y0 + y1) / 6.0;
            sum[3] += cross * (x0 * x0 + x0 * x1 + x1 * x1) / 12.0;
            sum[4] += cross * (y0 * y0 + y0 * y1 + y1 * y1) / 12.0;
            sum[5] += cross * (x0 * y1 + 2.0 * x0 * y0 + 2.0 * x1 * y1 + x1 * y0) / 24.0;
        }
    }
    sum
}

impl Inertia {
    /// Of polygons in a layer.
    ///
    /// ```
    /// use modalith_mesher::geometry::Polygon;
    /// use modalith_solver::lumped::Inertia;
    /// let bar = Polygon::solid(vec![[0.0, 0.0], [40.0, 0.0], [40.0, 10.0], [0.0, 10.0]]);
    /// let body = Inertia::of(&[bar], 2e-6, 2330.0);
    /// assert!((body.mass_kg - 2330.0 * 800e-18).abs() < 1e-24);
    /// assert!((body.moments_kg_m2[0] - body.mass_kg * (100e-12 + 4e-12) / 12.0).abs() < 1e-32);
    /// ```
    pub fn of(area: &[Polygon], thickness_m: f64, density_kg_m3: f64) -> Self {
        let Some(&first) = area.iter().find_map(|p| p.outer.first()) else { return Self::default() };
        // Twice: second moments about the centre itself keep their digits far from the origin.
        let [a, x, y, ..] = moments(area, first);
        let centre = [first[0] + x / a, first[1] + y / a];
        let [a, _, _, xx, yy, xy] = moments(area, centre);
        let per_um2 = density_kg_m3 * thickness_m * 1e-12;
        let [xx, yy, xy] = [xx, yy, xy].map(|m| per_um2 * m * 1e-12);
        let mass_kg = per_um2 * a;
        let zz = mass_kg * thickness_m * thickness_m / 12.0;
        Self {
            mass_kg,
            centre_m: centre.map(|c| c * 1e-6),
            moments_kg_m2: [yy + zz, xx + zz, xx + yy],
            products_kg_m2: [0.0, 0.0, xy],
        }
    }

    /// ∫ ρ x² dV, ∫ ρ y² dV, ∫ ρ z² dV about the centre, kg·m².
    fn spreads(&self) -> [f64; 3] {
        let [x, y, z] = self.moments_kg_m2;
        [0.5 * (y + z - x), 0.5 * (x + z - y), 0.5 * (x + y - z)]
    }

    /// Kinetic energy of motion along x, along y and along z, twice (kg, kg m, kg m²), as quadratic forms in the six motions of the
    /// centre; their sum is the mass matrix.
    pub fn by_direction(&self) -> [Matrix6<f64>; 3] {
        let [xx, yy, zz] = self.spreads();
        let xy = self.products_kg_m2[2];
        let mut of = [Matrix6::zeros(); 3];
        for (k, m) in of.iter_mut().enumerate() {
            m[(k, k)] = self.mass_kg;
        }
        // u = −θ_z y + θ_y z, v = θ_z x − θ_x z, w = θ_x y − θ_y x.
        of[0][(5, 5)] = yy;
        of[0][(4, 4)] = zz;
        of[1][(5, 5)] = xx;
        of[1][(3, 3)] = zz;
        of[2][(3, 3)] = yy;
        of[2][(4, 4)] = xx;
        of[2][(3, 4)] = -xy;
        of[2][(4, 3)] = -xy;
        of
    }

    /// ∫ ρ u_b u_c dV for (b, c) = (y, z), (z, x), (x, y), bilinear in the six motions of the centre: the left gives u_b; kg, kg m, kg m².
    pub fn crossed(&self) -> [Matrix6<f64>; 3] {
        let [xx, yy, zz] = self.spreads();
        let xy = self.products_kg_m2[2];
        let mut of = [Matrix6::zeros(); 3];
        for (k, m) in of.iter_mut().enumerate() {
            m[((k + 1) % 3, (k + 2) % 3)] = self.mass_kg;
        }
        // v w: (θ_z x − θ_x z) (θ_x y − θ_y x); w u: (θ_x y − θ_y x) (θ_y z − θ_z y); u v: (θ_y z − θ_z y) (θ_z x − θ_x z).
        of[0][(5, 3)] = xy;
        of[0][(5, 4)] = -xx;
        of[1][(3, 5)] = -yy;
        of[1][(4, 5)] = xy;
        of[2][(4, 3)] = -zz;
        of[2][(5, 5)] = -xy;
        of
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use nalgebra::{Vector3, Vector6};

    fn ring(corners: &[Point]) -> Vec<Point> {
        corners.to_vec()
    }

    /// Products of two rigid motions of a box against Gauss' rule with two points an axis, exact for squares.
    #[test]
    fn products_of_two_motions() {
        let (l, w, t) = (60e-6, 20e-6, 12e-6);
        let tilt = 0.4_f64;
        let (s, c) = tilt.sin_cos();
        let corner = |[x, y]: [f64; 2]| [1e6 * (c * x - s * y), 1e6 * (s * x + c * y)];
        let ring = [[-0.5 * l, -0.5 * w], [0.5 * l, -0.5 * w], [0.5 * l, 0.5 * w], [-0.5 * l, 0.5 * w]].map(corner);
        let body = Inertia::of(&[Polygon::solid(ring.to_vec())], t, 2330.0);
        let motions = [[1.0, -2.0, 0.5, 3e4, 5e4, -4e4], [0.3, 0.7, -1.1, -2e4, 6e4, 1e4]].map(Vector6::from);
        let moved = |m: &Vector6<f64>, r: [f64; 3]| {
            let turn = Vector3::new(m[3], m[4], m[5]).cross(&Vector3::from(r));
            [0, 1, 2].map(|k| m[k] + turn[k])
        };
        let mut sums = [0.0; 3];
        for k in 0..8u8 {
            let side = |bit: u8, extent: f64| if k >> bit & 1 == 1 { extent } else { -extent } / 12f64.sqrt();
            let (x, y, z) = (side(0, l), side(1, w), side(2, t));
            let [a, b] = motions.each_ref().map(|m| moved(m, [c * x - s * y, s * x + c * y, z]));
            for (i, sum) in sums.iter_mut().enumerate() {
                *sum += body.mass_kg / 8.0 * a[(i + 1) % 3] * b[(i + 2) % 3];
            }
        }
        for (own, sum) in body.crossed().iter().zip(sums) {
            let found = motions[0].dot(&(own * motions[1]));
            assert!((found / sum - 1.0).abs() < 1e-9, "{found:e} against {sum:e}");
        }
    }

    /// A plate 60 × 20 µm, turned by 30° far from the origin, with an opening: against the parallel-axis sums by hand.
    #[test]
    fn turned_plate_with_an_opening() {
        let (s, c) = 30_f64.to_radians().sin_cos();
        let to = |[x, y]: Point| [5000.0 + c * x - s * y, -3000.0 + s * x + c * y];
        let outer = ring(&[[0.0, 0.0], [60.0, 0.0], [60.0, 20.0], [0.0, 20.0]].map(to));
        let hole = ring(&[[10.0, 5.0], [10.0, 15.0], [20.0, 15.0], [20.0, 5.0]].map(to));
        let body = Inertia::of(&[Polygon { outer, holes: vec![hole] }], 4e-6, 1000.0);
        let area = 1200.0 - 100.0;
        let x: f64 = (1200.0 * 30.0 - 100.0 * 15.0) / area;
        let uu = 1200.0 * (300.0 + (30.0 - x).powi(2)) - 100.0 * (100.0 / 12.0 + (15.0 - x).powi(2));
        let vv: f64 = 1200.0 * 400.0 / 12.0 - 100.0 * 100.0 / 12.0;
        let unit = 1000.0 * 4e-6 * 1e-24;
        let close = |a: f64, b: f64| assert!((a / b - 1.0).abs() < 1e-9, "{a:e} against {b:e}");
        close(body.mass_kg, area * 4e-15);
        let centre = to([x, 10.0]);
        close(body.centre_m[0], centre[0] * 1e-6);
        close(body.centre_m[1], centre[1] * 1e-6);
        let zz = body.mass_kg * 16e-12 / 12.0;
        close(body.moments_kg_m2[0], unit * (s * s * uu + c * c * vv) + zz);
        close(body.moments_kg_m2[1], unit * (c * c * uu + s * s * vv) + zz);
        close(body.moments_kg_m2[2], unit * (uu + vv));
        close(body.products_kg_m2[2], unit * s * c * (uu - vv));
        let whole: Matrix6<f64> = body.by_direction().iter().sum();
        close(whole[(3, 3)], body.moments_kg_m2[0]);
        close(whole[(4, 4)], body.moments_kg_m2[1]);
        close(whole[(5, 5)], body.moments_kg_m2[2]);
        assert!(whole.cholesky().is_some());
    }
}
