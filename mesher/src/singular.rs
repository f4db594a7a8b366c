//! Corners of a mesh where stress is singular, and the material around them. In: a mesh, µm. Out: marks on corners and triangles.

use crate::geometry::distance;
use crate::mesh::{EdgeKind, Mesh};
use crate::width::strip_widths;
use std::f64::consts::PI;

/// Corners of the mesh where stress is singular: re-entrant ones, and where held meets free.
pub fn singular_corners(mesh: &Mesh) -> Vec<bool> {
    let mut angle = vec![0.0; mesh.points.len()];
    for t in 0..mesh.triangles.len() {
        let g = mesh.geometry(t);
        for k in 0..3 {
            // Direction of a quadratic side at its end.
            let along = |other: usize, middle: usize| [0, 1].map(|c| 4.0 * g[middle][c] - 3.0 * g[k][c] - g[other][c]);
            let (a, b) = (along((k + 1) % 3, 3 + k), along((k + 2) % 3, 3 + (k + 2) % 3));
            angle[mesh.triangles[t][k] as usize] += (a[0] * b[1] - a[1] * b[0]).atan2(a[0] * b[0] + a[1] * b[1]);
        }
    }
    let mut kinds = vec![[false; 2]; mesh.points.len()];
    for edge in &mesh.edges {
        let kind = match edge.kind {
            EdgeKind::Free => 0,
            EdgeKind::Held => 1,
            EdgeKind::Inner | EdgeKind::Interface => continue,
        };
        edge.ends.iter().for_each(|&c| kinds[c as usize][kind] = true);
    }
    (0..mesh.points.len())
        .map(|c| kinds[c] == [true; 2] || (kinds[c] != [false; 2] && angle[c] > PI + PI / 12.0))
        .collect()
}

/// Triangles of which every point lies nearer to a singular corner at the root of a slender strip than `reach` times the
/// strip's width. There sizes shrink towards the corner, and what a high order adds is small.
///
/// ```
/// use modalith_mesher::{mesh::Mesh, singular::at_roots};
/// let mut strip = Mesh::rectangle(100.0, 4.0, 200, 8)?;
/// strip.hold(|middle| middle[0] == 0.0);
/// let near = at_roots(&strip, 0.25);
/// // Two triangles of a quarter circle of 1 µm around either corner, on a grid of 0.5 µm.
/// assert!(near.iter().filter(|t| **t).count() > 4 && !near[20]);
/// # Ok::<(), modalith_mesher::mesh::MeshError>(())
/// ```
pub fn at_roots(mesh: &Mesh, reach: f64) -> Vec<bool> {
    let (singular, widths, next_to) = (singular_corners(mesh), strip_widths(mesh), mesh.neighbours());
    let mut narrowest = vec![f64::INFINITY; mesh.points.len()];
    for (corners, width) in mesh.triangles.iter().zip(&widths) {
        corners.iter().filter(|&&c| singular[c as usize]).for_each(|&c| {
            narrowest[c as usize] = narrowest[c as usize].min(width.unwrap_or(f64::INFINITY));
        });
    }
    let mut near = vec![false; mesh.triangles.len()];
    for (t, corners) in mesh.triangles.iter().enumerate() {
        for corner in corners.map(|c| c as usize).into_iter().filter(|&c| narrowest[c].is_finite()) {
            let radius = reach * narrowest[corner];
            let inside = |t: usize| {
                let own = mesh.triangles[t].map(|c| mesh.points[c as usize]);
                own.into_iter().all(|p| distance(p, mesh.points[corner]) <= radius)
            };
            let mut open = vec![t];
            while let Some(t) = open.pop() {
                if !near[t] && inside(t) {
                    near[t] = true;
                    open.extend(next_to[t].iter().flatten().map(|&n| n as usize));
                }
            }
        }
    }
    near
}
