//! Meshes that have the mirror axes of their outline, exactly.

use super::shapes::*;
use super::sound;
use modalith_mesher::geometry::Polygon;
use modalith_mesher::mesh::EdgeKind;
use modalith_mesher::triangulate::{MeshSize, triangulate};

#[test]
fn ring_with_twelve_mirrors() {
    let mut ring = Polygon::solid(circle([0.0, 0.0], 102.0, 360));
    ring.holes.push(reversed(circle([0.0, 0.0], 98.0, 360)));
    let area = ring.area();
    let mut o = outline(vec![part(ring)]);
    o.mirrors = (0..12).map(|k| axis([0.0, 0.0], 15.0 * f64::from(k))).collect();
    let (mesh, q) = sound(&o, &MeshSize::default(), area, 1e-9);
    assert_eq!(mesh.mirrors.len(), 12);
    assert!(q.triangles < 500, "{}", q.triangles);
    for m in &mesh.mirrors {
        symmetric(&mesh, m);
    }
}

#[test]
fn ring_on_spokes() {
    let o = spokes();
    let (mesh, q) = sound(&o, &MeshSize::default(), o.parts[0].polygon.area(), 1e-3);
    assert_eq!(mesh.mirrors.len(), 8);
    for m in &mesh.mirrors {
        symmetric(&mesh, m);
    }
    assert_eq!(q.held_edges % 4, 0);
    assert!(q.held_edges > 0);
}

#[test]
fn guided_mass() {
    let o = guided();
    let area = o.parts[0].polygon.area();
    let (mesh, q) = sound(&o, &MeshSize::default(), area, 1e-10);
    assert_eq!(mesh.mirrors.len(), 2);
    for m in &mesh.mirrors {
        symmetric(&mesh, m);
        // Exactly so: c + d and c − d.
        let mut ys: Vec<[u64; 2]> = mesh.points.iter().map(|p| p.map(|x| (x + 0.0).to_bits())).collect();
        ys.sort_unstable();
        for &p in &mesh.points {
            let image = mirrored(m, p).map(|x| (x + 0.0).to_bits());
            assert!(ys.binary_search(&image).is_ok(), "{p:?}");
        }
    }
    let held: f64 = mesh
        .edges
        .iter()
        .filter(|e| e.kind == EdgeKind::Held)
        .map(|e| {
            let [a, b] = e.ends.map(|i| mesh.points[i as usize]);
            (a[0] - b[0]).hypot(a[1] - b[1])
        })
        .sum();
    assert!((held - 16.0).abs() < 1e-12, "{held}");
    assert!(q.triangles < 3_000, "{}", q.triangles);
    // Sizes at the root of a flexure follow the ratio: its square times the width.
    let shortest_at_root = |ratio: f64| {
        let mesh = triangulate(&o, &MeshSize { corner_ratio: ratio, ..MeshSize::default() }).unwrap();
        let root = [48.0, 30.0];
        let of_root = |e: &&modalith_mesher::mesh::Edge| e.ends.iter().any(|&i| mesh.points[i as usize] == root);
        mesh.edges
            .iter()
            .filter(of_root)
            .map(|e| {
                let [a, b] = e.ends.map(|i| mesh.points[i as usize]);
                (a[0] - b[0]).hypot(a[1] - b[1])
            })
            .fold(f64::INFINITY, f64::min)
    };
    for ratio in [0.5, 0.2, 0.1] {
        let h = shortest_at_root(ratio) / (4.0 * ratio * ratio);
        assert!((0.5..=1.5).contains(&h), "{ratio}: {h}");
    }
}

#[test]
fn a_turned_and_shifted_device_keeps_its_mirrors() {
    let mut o = guided();
    let (s, c) = 17_f64.to_radians().sin_cos();
    let centre = [1234.5, -77.7];
    for p in &mut o.parts[0].polygon.outer {
        *p = [centre[0] + c * p[0] - s * p[1], centre[1] + s * p[0] + c * p[1]];
    }
    let straight = triangulate(&guided(), &MeshSize::default()).unwrap();
    o.mirrors = vec![axis(centre, 107.0), axis(centre, 17.0)];
    let (mesh, q) = sound(&o, &MeshSize::default(), o.parts[0].polygon.area(), 1e-10);
    assert_eq!(mesh.mirrors.len(), 2);
    for m in &mesh.mirrors {
        symmetric(&mesh, m);
    }
    let ratio = q.triangles as f64 / straight.triangles.len() as f64;
    assert!((0.8..1.25).contains(&ratio), "{ratio}");
}

/// Every border of a mesh as long as the outline's, and the area: also where a stated mirror is none.
#[test]
fn a_mirror_that_the_outline_lacks_is_not_taken_from_the_list() {
    let mut o = outline(vec![part(rect(0.0, 0.0, 40.0, 20.0))]);
    o.parts[0].polygon =
        Polygon::solid(vec![[-20.0, -10.0], [20.0, -10.0], [20.0, 10.0], [0.0, 10.0], [0.0, 5.0], [-20.0, 5.0]]);
    o.parts[0].held = vec![vec![false; 6]];
    o.mirrors = vec![axis([0.0, 0.0], 0.0), axis([0.0, 0.0], 90.0), axis([0.0, 0.0], 45.0)];
    let area = o.parts[0].polygon.area();
    let (mesh, _) = sound(&o, &MeshSize::default(), area, 1e-12);
    assert_eq!(mesh.mirrors, vec![]);
    let length: f64 = mesh
        .edges
        .iter()
        .filter(|e| e.kind == EdgeKind::Free)
        .map(|e| e.ends.map(|i| mesh.points[i as usize]))
        .map(|[a, b]| (a[0] - b[0]).hypot(a[1] - b[1]))
        .sum();
    assert!((length - 120.0).abs() < 1e-9, "{length}");
}
