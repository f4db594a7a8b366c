//! A mesh that covers the anchors too. In: an outline whose anchors' footprints were cut away. Out: the mesh of the free material
//! and of the footprints it touches, with nothing held, and the triangles that lie on footprints. µm.

use super::error::TriangulateError;
use super::{MeshSize, triangulate};
use crate::boolean::union;
use crate::geometry::{NamedArea, Polygon};
use crate::mesh::Mesh;
use crate::mirror;
use crate::outline::{Outline, Part};

/// Meshes an outline together with the footprints of its anchors; for anchors held from below only, where the film over a
/// footprint moves too.
///
/// The second value lists the triangles on footprints, whose borders the mesh follows.
///
/// # Errors
/// See [`TriangulateError`].
///
/// ```
/// use modalith_mesher::geometry::Polygon;
/// use modalith_mesher::outline::{Outline, Part};
/// use modalith_mesher::triangulate::{MeshSize, triangulate_clamped_below};
/// let rect = |x0: f64, x1: f64| Polygon::solid(vec![[x0, 0.0], [x1, 0.0], [x1, 10.0], [x0, 10.0]]);
/// let part = Part { polygon: rect(0.0, 40.0), held: vec![vec![false, false, false, true]] };
/// let outline = Outline { parts: vec![part], anchors: vec![rect(-10.0, 0.0)], ..Outline::default() };
/// let (mesh, clamped_below) = triangulate_clamped_below(&outline, &MeshSize::default())?;
/// let on_anchor: f64 = clamped_below.iter().map(|&t| mesh.area(t as usize)).sum();
/// assert!((on_anchor - 100.0).abs() < 1e-9);
/// # Ok::<(), modalith_mesher::triangulate::TriangulateError>(())
/// ```
pub fn triangulate_clamped_below(outline: &Outline, size: &MeshSize) -> Result<(Mesh, Vec<u32>), TriangulateError> {
    let together: Vec<Polygon> = outline.parts.iter().map(|p| &p.polygon).chain(&outline.anchors).cloned().collect();
    let parts = union(&together)
        .into_iter()
        .map(|polygon| Part { held: polygon.rings().map(|r| vec![false; r.len()]).collect(), polygon })
        .collect();
    // The mesher keeps the borders of named areas, so the footprints are one of them for as long as it works.
    let footprints = NamedArea { name: String::new(), polygons: union(&outline.anchors) };
    let number = outline.masses.len();
    let mut whole = Outline {
        parts,
        masses: outline.masses.iter().cloned().chain([footprints]).collect(),
        flexures: outline.flexures.clone(),
        fingers: outline.fingers.clone(),
        ..Outline::default()
    };
    whole.mirrors = mirror::axes(&whole);
    let mut mesh = triangulate(&whole, size)?;
    mesh.mass_names.truncate(number);
    let mut clamped_below = Vec::new();
    for (t, mass) in mesh.mass_of.iter_mut().enumerate() {
        if mass.is_some_and(|m| usize::from(m) == number) {
            *mass = None;
            clamped_below.push(t as u32);
        }
    }
    Ok((mesh, clamped_below))
}
