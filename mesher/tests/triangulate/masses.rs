//! Borders of named masses in the mesh.

use super::shapes::*;
use super::sound;
use modalith_mesher::drawing::{Anchoring, Drawing, Film};
use modalith_mesher::geometry::{NamedArea, Polygon};
use modalith_mesher::mesh::EdgeKind;
use modalith_mesher::outline::{Etch, Outline};
use modalith_mesher::triangulate::MeshSize;
use std::f64::consts::PI;

#[test]
fn named_masses_have_interfaces() {
    let mut o = outline(vec![part(rect(-20.0, -10.0, 20.0, 10.0))]);
    let named = |name: &str, p| NamedArea { name: name.into(), polygons: vec![p] };
    o.masses = vec![named("left", rect(-20.0, -10.0, -5.0, 10.0)), named("right", rect(5.0, -10.0, 20.0, 10.0))];
    for mirrors in [vec![], vec![axis([0.0, 0.0], 0.0), axis([0.0, 0.0], 90.0)]] {
        o.mirrors = mirrors;
        let (mesh, q) = sound(&o, &MeshSize::default(), 800.0, 1e-12);
        assert_eq!(mesh.mass_names, ["left", "right"]);
        for (m, want) in [(Some(0), 300.0), (Some(1), 300.0), (None, 200.0)] {
            let area: f64 = (0..mesh.triangles.len()).filter(|&t| mesh.mass_of[t] == m).map(|t| mesh.area(t)).sum();
            assert!((area - want).abs() < 1e-9, "{m:?}: {area}");
        }
        assert!(q.interface_edges >= 8);
        for e in mesh.edges.iter().filter(|e| e.kind == EdgeKind::Interface) {
            assert!((e.middle[0].abs() - 5.0).abs() < 1e-12);
        }
    }
    // Masses that meet on a mirror axis, and masses that only one of the mirrors keeps.
    o.masses = vec![named("left", rect(-20.0, -10.0, 0.0, 10.0)), named("right", rect(0.0, -10.0, 20.0, 10.0))];
    let (mesh, q) = sound(&o, &MeshSize::default(), 800.0, 1e-12);
    assert!(q.interface_edges > 2 && mesh.mirrors.len() == 2);
    o.masses = vec![named("one", rect(-20.0, -10.0, -7.0, 10.0))];
    let (mesh, _) = sound(&o, &MeshSize::default(), 800.0, 1e-12);
    assert_eq!(mesh.mirrors.len(), 1);
    // A mass drawn on walls that an edge bias then moved makes no slivers.
    o.mirrors.clear();
    o.masses = vec![named("biased", rect(-19.95, -9.95, -5.0, 9.95))];
    let (_, q) = sound(&o, &MeshSize::default(), 800.0, 1e-12);
    assert!(q.triangles < 300, "{}", q.triangles);
}

#[test]
fn round_mass_inside_a_plate() {
    let mut o = outline(vec![part(rect(-20.0, -20.0, 20.0, 20.0))]);
    o.masses = vec![NamedArea { name: "disc".into(), polygons: vec![Polygon::solid(circle([1.0, 0.0], 8.0, 64))] }];
    let (mesh, _) = sound(&o, &MeshSize::default(), 1600.0, 1e-12);
    let area: f64 = (0..mesh.triangles.len()).filter(|&t| mesh.mass_of[t].is_some()).map(|t| mesh.area(t)).sum();
    let drawn = o.masses[0].polygons[0].area();
    assert!((area / drawn - 1.0).abs() < 1e-9, "{area}");
}

#[test]
fn an_edge_bias_changes_little() {
    // The sensor drawn from rectangles and circles, its walls moved off the borders of its masses.
    let mut structure = Vec::new();
    let (mut holes, mut anchors, mut masses) = (Vec::new(), Vec::new(), Vec::new());
    for (name, side) in [("left", -1.0), ("right", 1.0)] {
        let spread = |x0: f64, y0: f64, x1: f64, y1: f64| {
            if side > 0.0 { rect(x0, y0, x1, y1) } else { rect(-x1, y0, -x0, y1) }
        };
        structure.push(spread(60.0, -150.0, 300.0, 150.0));
        masses.push(NamedArea { name: name.into(), polygons: vec![spread(60.0, -150.0, 300.0, 150.0)] });
        for x in [100.0, 178.0, 256.0] {
            structure.push(spread(x, -260.0, x + 4.0, 260.0));
            anchors.extend([spread(x - 8.0, 250.0, x + 12.0, 270.0), spread(x - 8.0, -270.0, x + 12.0, -250.0)]);
        }
        for i in 0..30 {
            let c = [side * (100.0 + 40.0 * f64::from(i % 5)), -125.0 + 50.0 * f64::from(i / 5)];
            holes.push(Polygon::solid(circle(c, 4.0, 40)));
        }
    }
    structure.extend([rect(-60.0, 98.0, 60.0, 102.0), rect(-60.0, -102.0, 60.0, -98.0)]);
    let drawing = Drawing {
        film: Film::Drawn { structure, holes },
        anchoring: Anchoring::Drawn(anchors),
        masses,
        electrodes: vec![],
    };
    let counts: Vec<usize> = [-0.4, -0.1, 0.0, 0.01, 0.137, 0.4]
        .iter()
        .map(|&edge_bias_um| {
            let o = Outline::build(&drawing, &Etch { edge_bias_um, ..Etch::default() }).unwrap();
            let area = o.parts[0].polygon.area();
            let (mesh, q) = sound(&o, &MeshSize::default(), area, 1e-3);
            assert_eq!((mesh.mirrors.len(), o.flexures.len()), (2, 14), "bias {edge_bias_um}");
            for m in &mesh.mirrors {
                symmetric(&mesh, m);
            }
            assert!(mesh.flexure_of.iter().flatten().max() == Some(&13));
            let of_mass: f64 =
                (0..mesh.triangles.len()).filter(|&t| mesh.mass_of[t] == Some(0)).map(|t| mesh.area(t)).sum();
            let (a, r) = (240.0 + 2.0 * edge_bias_um, 4.0 - edge_bias_um);
            let want = a * (300.0 + 2.0 * edge_bias_um) - 30.0 * PI * r * r;
            assert!((of_mass / want - 1.0).abs() < 2e-3, "bias {edge_bias_um}: {of_mass}, {want}");
            q.triangles
        })
        .collect();
    assert!(counts.iter().all(|&n| (3_000..9_000).contains(&n)), "{counts:?}");
}
