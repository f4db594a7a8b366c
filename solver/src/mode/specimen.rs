//! Shapes in closed form at the points of a mesh, for tests.

use super::Sampled;
use modalith_mesher::mesh::Mesh;

/// One closed-form shape at the corners and mid-sides of a mesh.
pub fn sampled_by(mesh: &Mesh, shape: &dyn Fn([f64; 2]) -> [f64; 3]) -> Sampled {
    let corners = mesh.points.len() as u32;
    let points: Vec<[f64; 2]> = mesh.points.iter().copied().chain(mesh.edges.iter().map(|e| e.middle)).collect();
    let six = |(t, e): (&[u32; 3], &[u32; 3])| [t[0], t[1], t[2], corners + e[0], corners + e[1], corners + e[2]];
    let cells: Vec<[u32; 6]> = mesh.triangles.iter().zip(&mesh.triangle_edges).map(six).collect();
    Sampled {
        triangle_of: (0..cells.len() as u32).collect(),
        modes: vec![points.iter().map(|&p| shape(p)).collect()],
        tilts: vec![vec![[0.0; 2]; points.len()]],
        points,
        cells,
    }
}

/// Share of the squared displacement by direction, over the points of the first shape.
pub fn shares(sampled: &Sampled) -> [f64; 3] {
    let sum: [f64; 3] = std::array::from_fn(|k| sampled.modes[0].iter().map(|u| u[k] * u[k]).sum());
    sum.map(|s| s / sum.iter().sum::<f64>())
}
