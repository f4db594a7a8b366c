//! Spots of an electrode: quadrature points over what its polygons and a triangulation have in common. In: six-node triangles and
//! polygons, µm. Out: cell, place in it, area.
//!
//! A straight triangle is clipped exactly (Sutherland & Hodgman 1974), a curved one that an edge of the electrode crosses as 64
//! straight pieces on its curve, so that what a chord misses is 1/64 of the curve's rise; one wholly covered is integrated on its
//! curved map.

use crate::element::plane::{is_straight, map};
use crate::element::quadrature::triangle;
use crate::system::common;
use modalith_mesher::boolean::union;
use modalith_mesher::geometry::{Point, Polygon, Ring, bounds, ring_area};
use rayon::prelude::*;

/// Pieces along an edge of a curved triangle.
const PIECES: usize = 8;
/// Shares of a triangle below this are rounding.
const NOTHING: f64 = 1e-12;

/// A quadrature point.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Spot {
    /// Number of the triangle.
    pub cell: usize,
    /// Its place there: x = x₀ + r (x₁ − x₀) + s (x₂ − x₀) on straight sides.
    pub at: [f64; 2],
    /// Its weight, µm². Negative ones occur where an electrode's corner cuts into a triangle; sums are exact.
    pub area_um2: f64,
}

/// Spots over what polygons and triangles (corners, then middles of the sides 0-1, 1-2, 2-0) have in common; exact for polynomials
/// up to `degree` on straight triangles. Polygons that overlap count once.
///
/// ```
/// use modalith_mesher::geometry::Polygon;
/// use modalith_solver::electrode::cover;
/// let cell = [[0.0, 0.0], [4.0, 0.0], [0.0, 4.0], [2.0, 0.0], [2.0, 2.0], [0.0, 2.0]];
/// let square = Polygon::solid(vec![[1.0, 1.0], [9.0, 1.0], [9.0, 9.0], [1.0, 9.0]]);
/// let area: f64 = cover(&[cell], &[square], 2).iter().map(|s| s.area_um2).sum();
/// assert!((area - 2.0).abs() < 1e-12);
/// ```
pub fn cover(cells: &[[Point; 6]], polygons: &[Polygon], degree: usize) -> Vec<Spot> {
    let united = union(polygons);
    let rings: Vec<(&Ring, [Point; 2])> =
        united.iter().flat_map(Polygon::rings).filter_map(|r| bounds(r).map(|b| (r, b))).collect();
    let rule = triangle(degree);
    let on_cell = |(cell, sides): (usize, &[Point; 6])| {
        let mut spots = Vec::new();
        Covered { cell, sides, rings: &rings, rule: &rule }.add_to(&mut spots);
        spots
    };
    cells.par_iter().enumerate().flat_map_iter(on_cell).collect()
}

/// A triangle of the reference triangle.
type Piece = [[f64; 2]; 3];

struct Covered<'a> {
    cell: usize,
    sides: &'a [Point; 6],
    rings: &'a [(&'a Ring, [Point; 2])],
    rule: &'a [([f64; 2], f64)],
}

impl Covered<'_> {
    fn add_to(&self, spots: &mut Vec<Spot>) {
        const WHOLE: Piece = [[0.0, 0.0], [1.0, 0.0], [0.0, 1.0]];
        if is_straight(self.sides) {
            return self.piece(WHOLE, spots);
        }
        let n = PIECES;
        let corner = |i: usize, j: usize| [i as f64 / n as f64, j as f64 / n as f64];
        let mut pieces = Vec::with_capacity(n * n);
        for j in 0..n {
            for i in 0..n - j {
                pieces.push([corner(i, j), corner(i + 1, j), corner(i, j + 1)]);
                if i + j + 1 < n {
                    pieces.push([corner(i + 1, j), corner(i + 1, j + 1), corner(i, j + 1)]);
                }
            }
        }
        let covered: Vec<(f64, Vec<Ring>)> = pieces.iter().map(|p| self.clipped(&self.corners(p))).collect();
        if covered.iter().all(|(share, _)| *share >= 1.0 - NOTHING) {
            return self.full(WHOLE, spots);
        }
        for (piece, (share, rings)) in pieces.into_iter().zip(covered) {
            self.put(piece, share, rings, spots);
        }
    }

    fn piece(&self, piece: Piece, spots: &mut Vec<Spot>) {
        let (share, rings) = self.clipped(&self.corners(&piece));
        self.put(piece, share, rings, spots);
    }

    fn put(&self, piece: Piece, share: f64, rings: Vec<Ring>, spots: &mut Vec<Spot>) {
        if share >= 1.0 - NOTHING {
            self.full(piece, spots);
        } else if share > NOTHING {
            rings.iter().for_each(|ring| self.fan(piece, ring, spots));
        }
    }

    fn corners(&self, piece: &Piece) -> [Point; 3] {
        piece.map(|at| map(self.sides, at).0)
    }

    /// What of a straight triangle is covered: its share and signed rings.
    fn clipped(&self, corners: &[Point; 3]) -> (f64, Vec<Ring>) {
        let Some([low, high]) = bounds(corners) else { return (0.0, Vec::new()) };
        let near = |b: &[Point; 2]| (0..2).all(|k| b[0][k] < high[k] && b[1][k] > low[k]);
        let rings: Vec<Ring> = self
            .rings
            .iter()
            .filter(|(_, b)| near(b))
            .map(|(ring, _)| common(ring, corners))
            .filter(|r| r.len() > 2)
            .collect();
        let share = rings.iter().map(|r| ring_area(r)).sum::<f64>() / ring_area(corners);
        (share, rings)
    }

    /// Quadrature on the curved map of a piece.
    fn full(&self, piece: Piece, spots: &mut Vec<Spot>) {
        let [a, b, c] = piece;
        let scale = (b[0] - a[0]) * (c[1] - a[1]) - (b[1] - a[1]) * (c[0] - a[0]);
        for &([r, s], weight) in self.rule {
            let at = [0, 1].map(|k| a[k] + r * (b[k] - a[k]) + s * (c[k] - a[k]));
            let (_, dx) = map(self.sides, at);
            let det = dx[0][0] * dx[1][1] - dx[1][0] * dx[0][1];
            spots.push(Spot { cell: self.cell, at, area_um2: weight * scale * det });
        }
    }

    /// Quadrature over a ring inside a piece as signed triangles around its first corner.
    fn fan(&self, piece: Piece, ring: &Ring, spots: &mut Vec<Spot>) {
        let [a, b, c] = self.corners(&piece);
        let twice = 2.0 * ring_area(&[a, b, c]);
        for k in 1..ring.len() - 1 {
            let (p, q, t) = (ring[0], ring[k], ring[k + 1]);
            let double = 2.0 * ring_area(&[p, q, t]);
            if double.abs() <= NOTHING * twice {
                continue;
            }
            for &([r, s], weight) in self.rule {
                let x = [0, 1].map(|k| p[k] + r * (q[k] - p[k]) + s * (t[k] - p[k]));
                let (dx, dy) = (x[0] - a[0], x[1] - a[1]);
                let (u, v) = (
                    (dx * (c[1] - a[1]) - dy * (c[0] - a[0])) / twice,
                    (dy * (b[0] - a[0]) - dx * (b[1] - a[1])) / twice,
                );
                let at =
                    [0, 1].map(|k| piece[0][k] + u * (piece[1][k] - piece[0][k]) + v * (piece[2][k] - piece[0][k]));
                spots.push(Spot { cell: self.cell, at, area_um2: weight * double });
            }
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn disc(radius: f64, n: usize) -> Ring {
        (0..n)
            .map(|i| {
                let a = std::f64::consts::TAU * i as f64 / n as f64;
                [radius * a.cos(), radius * a.sin()]
            })
            .collect()
    }

    /// A cross-shaped electrode with an opening over a mesh that its edges cut anywhere: area and moments exact.
    #[test]
    fn straight_triangles_are_clipped_exactly() {
        let mesh = modalith_mesher::mesh::Mesh::rectangle(10.0, 10.0, 7, 9).unwrap();
        let cells: Vec<[Point; 6]> = (0..mesh.triangles.len()).map(|t| mesh.geometry(t)).collect();
        let rect = |a: Point, b: Point| vec![a, [b[0], a[1]], b, [a[0], b[1]]];
        let mut hole = rect([4.6, 4.7], [5.2, 5.9]);
        hole.reverse();
        let bar = Polygon { outer: rect([1.3, 4.1], [9.1, 6.2]), holes: vec![hole.clone()] };
        let post = Polygon { outer: rect([4.2, -3.0], [5.7, 8.8]), holes: vec![hole] };
        let spots = cover(&cells, &[bar, post], 4);
        let sum =
            |f: &dyn Fn(Point) -> f64| spots.iter().map(|s| s.area_um2 * f(map(&cells[s.cell], s.at).0)).sum::<f64>();
        let moment = |n: i32, a: f64, b: f64| (b.powi(n + 1) - a.powi(n + 1)) / f64::from(n + 1);
        let expected = |n: i32, m: i32| {
            let rect = |x: [f64; 2], y: [f64; 2]| moment(n, x[0], x[1]) * moment(m, y[0], y[1]);
            rect([1.3, 9.1], [4.1, 6.2]) + rect([4.2, 5.7], [0.0, 4.1]) + rect([4.2, 5.7], [6.2, 8.8])
                - rect([4.6, 5.2], [4.7, 5.9])
        };
        for (n, m) in [(0, 0), (1, 0), (0, 2), (2, 2), (1, 3)] {
            let (found, exact) = (sum(&|p| p[0].powi(n) * p[1].powi(m)), expected(n, m));
            assert!((found / exact - 1.0).abs() < 1e-10, "{n} {m}: {found} {exact}");
        }
        assert!(spots.iter().all(|s| s.at[0] >= -1e-9 && s.at[1] >= -1e-9 && s.at[0] + s.at[1] < 1.0 + 1e-9));
    }

    /// Curved triangles, covered or cut: a quarter of a disc under a strip.
    #[test]
    fn curved_triangles_keep_their_curve() {
        let n = 6;
        let mut points = vec![[0.0, 0.0]];
        points.extend((0..=n).map(|i| {
            let a = std::f64::consts::FRAC_PI_2 * f64::from(i) / f64::from(n);
            [a.cos(), a.sin()]
        }));
        let triangles = (0..n as u32).map(|i| [0, i + 1, i + 2]).collect();
        let mut mesh = modalith_mesher::mesh::Mesh::from_triangles(points, triangles).unwrap();
        mesh.bend(|_, [a, b]| {
            let on_arc = |p: Point| (p[0].hypot(p[1]) - 1.0).abs() < 1e-9;
            let m = [0.5 * (a[0] + b[0]), 0.5 * (a[1] + b[1])];
            (on_arc(a) && on_arc(b)).then(|| m.map(|x| x / m[0].hypot(m[1])))
        });
        let cells: Vec<[Point; 6]> = (0..mesh.triangles.len()).map(|t| mesh.geometry(t)).collect();
        let area = |polygon: Ring| cover(&cells, &[Polygon::solid(polygon)], 6).iter().map(|s| s.area_um2).sum::<f64>();
        let whole: f64 = (0..mesh.triangles.len()).map(|t| mesh.area(t)).sum();
        assert!((area(disc(2.0, 64)) / whole - 1.0).abs() < 1e-12);
        let strip = area(vec![[-1.0, -1.0], [0.5, -1.0], [0.5, 2.0], [-1.0, 2.0]]);
        let exact = 0.5 * (0.5 * 0.75_f64.sqrt() + 0.5_f64.asin());
        assert!((strip / exact - 1.0).abs() < 3e-4, "{strip} {exact}");
        assert_eq!(cover(&cells, &[Polygon::solid(vec![[3.0, 3.0], [4.0, 3.0], [4.0, 4.0]])], 2), vec![]);
    }
}
