//! Benchmark meshes, µm: graded grids, mapped grids, discs and rings with their edges on the circle.

use modalith_mesher::geometry::Point;
use modalith_mesher::mesh::{Mesh, MeshError};

/// Coordinates from 0 to `length`: `inner` equal steps in the middle, and at both ends `layers` steps that shrink
/// geometrically by `ratio` towards the end (towards clamped corners and edge layers of plates).
pub fn graded(length: f64, inner: u32, layers: u32, ratio: f64) -> Vec<f64> {
    let step = 1.0 / f64::from(inner);
    let mut end = vec![0.0];
    for k in (0..layers).rev() {
        end.push(step * ratio.powi(k as i32 + 1));
    }
    let mut all = end.clone();
    all.extend((1..inner).map(|i| step * f64::from(i)));
    all.extend(end.iter().rev().map(|x| 1.0 - x));
    all.iter().map(|x| length * x).collect()
}

/// A grid of rectangles over `xs` × `ys`, each cut in two, diagonals alternating.
///
/// # Errors
/// Coordinates that do not ascend.
pub fn grid(xs: &[f64], ys: &[f64]) -> Result<Mesh, MeshError> {
    let plain = Mesh::rectangle(1.0, 1.0, (xs.len() - 1) as u32, (ys.len() - 1) as u32)?;
    let points = ys.iter().flat_map(|&y| xs.iter().map(move |&x| [x, y])).collect();
    Mesh::from_triangles(points, plain.triangles)
}

/// The same triangles with every point moved; all edges straight.
///
/// # Errors
/// A motion that folds a triangle.
pub fn moved(mesh: &Mesh, to: impl Fn(Point) -> Point) -> Result<Mesh, MeshError> {
    Mesh::from_triangles(mesh.points.iter().map(|&p| to(p)).collect(), mesh.triangles.clone())
}

/// The mirror image about the y axis: triangles turned round to run anticlockwise again.
///
/// # Errors
/// None for a valid mesh.
pub fn mirrored(mesh: &Mesh) -> Result<Mesh, MeshError> {
    let points = mesh.points.iter().map(|p| [-p[0], p[1]]).collect();
    Mesh::from_triangles(points, mesh.triangles.iter().map(|&[a, b, c]| [a, c, b]).collect())
}

/// A disc about the origin of `rings` rings of triangles, six more in each; boundary edges on the circle.
///
/// # Errors
/// A radius that is not positive.
pub fn disc(radius: f64, rings: u32) -> Result<Mesh, MeshError> {
    let mut points: Vec<Point> = vec![[0.0, 0.0]];
    for k in 1..=rings {
        for i in 0..6 * k {
            let angle = std::f64::consts::TAU * f64::from(i) / f64::from(6 * k);
            let r = radius * f64::from(k) / f64::from(rings);
            points.push([r * angle.cos(), r * angle.sin()]);
        }
    }
    // Point i of ring k, going round; ring 0 is the centre.
    let at = |k: u32, i: u32| if k == 0 { 0 } else { 1 + 3 * k * (k - 1) + i % (6 * k) };
    let mut triangles = Vec::new();
    for k in 1..=rings {
        for sector in 0..6 {
            for i in 0..k {
                let (outer, inner) = (sector * k + i, sector * (k - 1) + i);
                triangles.push([at(k - 1, inner), at(k, outer), at(k, outer + 1)]);
                if i + 1 < k {
                    triangles.push([at(k - 1, inner), at(k, outer + 1), at(k - 1, inner + 1)]);
                }
            }
        }
    }
    let mut mesh = Mesh::from_triangles(points, triangles)?;
    mesh.bend(|_, [a, b]| Some(middle_on_circle(radius, a, b)));
    Ok(mesh)
}

/// A ring about the origin, `around` cells round and `across` cells wide; inner and outer edges on their circles.
///
/// # Errors
/// Radii that do not make a ring.
pub fn ring(inner: f64, outer: f64, around: u32, across: u32) -> Result<Mesh, MeshError> {
    let mut points: Vec<Point> = Vec::new();
    for j in 0..=across {
        let r = inner + (outer - inner) * f64::from(j) / f64::from(across);
        for i in 0..around {
            let angle = std::f64::consts::TAU * f64::from(i) / f64::from(around);
            points.push([r * angle.cos(), r * angle.sin()]);
        }
    }
    let at = |i: u32, j: u32| j * around + i % around;
    let mut triangles = Vec::new();
    for j in 0..across {
        for i in 0..around {
            let (a, b, c, d) = (at(i, j), at(i, j + 1), at(i + 1, j + 1), at(i + 1, j));
            triangles.extend([[a, b, c], [a, c, d]]);
        }
    }
    let mut mesh = Mesh::from_triangles(points, triangles)?;
    mesh.bend(|_, [a, b]| Some(middle_on_circle(a[0].hypot(a[1]), a, b)));
    Ok(mesh)
}

/// The point half-way between two on a circle about the origin, the short way round.
fn middle_on_circle(radius: f64, a: Point, b: Point) -> Point {
    let sum = [a[0] + b[0], a[1] + b[1]];
    sum.map(|x| radius * x / sum[0].hypot(sum[1]))
}
