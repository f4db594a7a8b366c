//! A plate with known shapes for the tests of this folder: 100 × 40 µm, held on the left, the left half a named mass.

use modalith_mesher::mesh::Mesh;
use modalith_solver::mode::Sampled;

/// The mesh, and two shapes on its six-node triangles: `u = 1 + 0.01 x` along x; `w = sin(π x / 100)` along z.
pub fn plate() -> (Mesh, Sampled) {
    let mut mesh = Mesh::rectangle(100.0, 40.0, 4, 2).unwrap();
    mesh.hold(|p| p[0] < 1e-9);
    mesh.mass_names = vec!["left".to_owned()];
    for t in 0..mesh.triangles.len() {
        let g = mesh.geometry(t);
        let middle = (g[0][0] + g[1][0] + g[2][0]) / 3.0;
        mesh.mass_of[t] = (middle < 50.0).then_some(0);
    }
    let corners = mesh.points.len() as u32;
    let points: Vec<[f64; 2]> = mesh.points.iter().copied().chain(mesh.edges.iter().map(|e| e.middle)).collect();
    let six = |(t, e): (&[u32; 3], &[u32; 3])| [t[0], t[1], t[2], corners + e[0], corners + e[1], corners + e[2]];
    let sampled = Sampled {
        cells: mesh.triangles.iter().zip(&mesh.triangle_edges).map(six).collect(),
        triangle_of: (0..mesh.triangles.len() as u32).collect(),
        modes: vec![
            points.iter().map(|p| [1.0 + 0.01 * p[0], 0.0, 0.0]).collect(),
            points.iter().map(|p| [0.0, 0.0, (std::f64::consts::PI * p[0] / 100.0).sin()]).collect(),
        ],
        tilts: vec![vec![[0.0; 2]; points.len()]; 2],
        points,
    };
    (mesh, sampled)
}
