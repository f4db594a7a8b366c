//! Meshes of hand-made outlines: areas, topology, angles, mirror symmetry, sameness.

#![allow(clippy::unwrap_used, clippy::panic)]

mod shapes;

use modalith_mesher::drawing::{Anchoring, Drawing, Film};
use modalith_mesher::geometry::{NamedArea, Point, Polygon, Ring};
use modalith_mesher::mesh::{EdgeKind, Mesh};
use modalith_mesher::outline::{Etch, Outline};
use modalith_mesher::quality::Quality;
use modalith_mesher::triangulate::{MeshSize, TriangulateError, triangulate, triangulate_keeping};
use proptest::prelude::*;
use shapes::*;
use std::f64::consts::PI;

/// Meshes and checks what every mesh must satisfy: straight-sided area where given, χ = pieces − holes, 25°, no fold.
fn sound(outline: &Outline, size: &MeshSize, area: f64, tolerance: f64) -> (Mesh, Quality) {
    let mesh = triangulate(outline, size).unwrap();
    let q = Quality::of(&mesh);
    assert!((q.area_um2 / area - 1.0).abs() <= tolerance, "area {} for {area}", q.area_um2);
    let holes: usize = outline.parts.iter().map(|p| p.polygon.holes.len()).sum();
    let euler = q.points as i64 - q.edges as i64 + q.triangles as i64;
    assert_eq!(euler, outline.parts.len() as i64 - holes as i64);
    assert!(q.smallest_angle_deg >= 25.0, "{} at {:?}", q.smallest_angle_deg, q.smallest_angle_at);
    assert!(q.smallest_jacobian > 0.2, "{} at {:?}", q.smallest_jacobian, q.smallest_jacobian_at);
    (mesh, q)
}

#[test]
fn square() {
    let o = outline(vec![part(rect(0.0, 0.0, 10.0, 10.0))]);
    let (mesh, q) = sound(&o, &MeshSize::default(), 100.0, 1e-12);
    assert!((60..400).contains(&q.triangles), "{}", q.triangles);
    assert!(mesh.edges.iter().all(|e| e.kind == EdgeKind::Inner || e.kind == EdgeKind::Free));
    for largest in [5.0, 1.0, 0.31] {
        let (_, q) = sound(&o, &MeshSize { largest_um: Some(largest), ..MeshSize::default() }, 100.0, 1e-12);
        assert!(q.largest_edge_um <= largest * (1.0 + 1e-12), "{} for {largest}", q.largest_edge_um);
    }
}

#[test]
fn l_shape_far_from_the_origin() {
    let ring: Ring = [[0.0, 0.0], [10.0, 0.0], [10.0, 4.0], [4.0, 4.0], [4.0, 10.0], [0.0, 10.0]]
        .map(|p: Point| [p[0] + 12_345.678, p[1] - 54_321.01])
        .to_vec();
    sound(&outline(vec![part(Polygon::solid(ring))]), &MeshSize::default(), 64.0, 1e-9);
}

#[test]
fn plate_with_a_hundred_holes() {
    let mut plate = rect(0.0, 0.0, 200.0, 200.0);
    for i in 0..100 {
        let c = [10.0 + 20.0 * f64::from(i % 10), 10.0 + 20.0 * f64::from(i / 10)];
        plate.holes.push(reversed(circle(c, 4.0, 48)));
    }
    let area = 40_000.0 - 100.0 * PI * 16.0;
    let (_, q) = sound(&outline(vec![part(plate.clone())]), &MeshSize::default(), area, 2e-4);
    assert!(q.triangles < 8_000, "{}", q.triangles);
    let mut o = outline(vec![part(plate)]);
    o.mirrors = vec![
        axis([100.0, 100.0], 0.0),
        axis([100.0, 100.0], 90.0),
        axis([100.0, 100.0], 45.0),
        axis([100.0, 100.0], 135.0),
    ];
    let (mesh, _) = sound(&o, &MeshSize::default(), area, 2e-4);
    assert_eq!(mesh.mirrors.len(), 4);
    for m in &mesh.mirrors {
        symmetric(&mesh, m);
    }
}

#[test]
fn disc_follows_its_circle() {
    for n in [24, 100, 301] {
        let o = outline(vec![part(Polygon::solid(circle([3.0, 4.0], 50.0, n)))]);
        sound(&o, &MeshSize::default(), PI * 2500.0, 1e-4);
        let (mesh, _) = sound(&o, &MeshSize { largest_um: Some(3.0), ..MeshSize::default() }, PI * 2500.0, 4e-8);
        for e in mesh.edges.iter().filter(|e| e.kind == EdgeKind::Free) {
            assert!(((e.middle[0] - 3.0).hypot(e.middle[1] - 4.0) - 50.0).abs() < 1e-9);
        }
    }
}

#[test]
fn ring_with_twelve_mirrors() {
    let mut ring = Polygon::solid(circle([0.0, 0.0], 102.0, 360));
    ring.holes.push(reversed(circle([0.0, 0.0], 98.0, 360)));
    let mut o = outline(vec![part(ring)]);
    o.mirrors = (0..12).map(|k| axis([0.0, 0.0], 15.0 * f64::from(k))).collect();
    let (mesh, q) = sound(&o, &MeshSize::default(), PI * (102.0 * 102.0 - 98.0 * 98.0), 1e-8);
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
    assert!((area / (PI * 64.0) - 1.0).abs() < 1e-4, "{area}");
}

#[test]
fn unsymmetric_outline_and_sharp_corner() {
    let ring = vec![[0.0, 0.0], [30.0, 1.0], [41.0, 17.0], [22.0, 12.0], [20.0, 33.0], [-7.0, 21.0]];
    let p = Polygon::solid(ring);
    let area = p.area();
    sound(&outline(vec![part(p)]), &MeshSize::default(), area, 1e-12);
    // A 5° tip: the mesh ends, and only the tip has small angles.
    let tip = Polygon::solid(vec![[0.0, 0.0], [100.0, 0.0], [100.0, 8.75]]);
    let mesh = triangulate(&outline(vec![part(tip)]), &MeshSize::default()).unwrap();
    let q = Quality::of(&mesh);
    assert!((q.area_um2 - 437.5).abs() < 1e-9 && q.triangles < 2_000, "{q:?}");
}

#[test]
fn same_input_same_mesh() {
    let o = sensor();
    let (a, b) = (triangulate(&o, &MeshSize::default()).unwrap(), triangulate(&o, &MeshSize::default()).unwrap());
    assert_eq!(a, b);
}

/// A half disc with a root line on its diameter, of which rounding hides two corners from the sweep of a triangulation. Twenty-one
/// meshes, since an order drawn by lot may come out the same.
#[test]
fn same_half_disc_same_mesh() {
    let (half, radius) = (2.504, 2.504 + 2.0 * 12.522);
    let arc = (0..=48).map(|i| PI * (0.5 + f64::from(i) / 48.0));
    let mut ring: Ring = vec![[0.0, -half], [0.0, half]];
    ring.extend(arc.map(|a| [(radius * a.cos()).min(0.0), radius * a.sin()]));
    let o = outline(vec![part(Polygon::solid(ring))]);
    let size = MeshSize { largest_um: Some(f64::MAX), grading: 1.5, corner_ratio: 1.0, ..MeshSize::default() };
    let meshed = || triangulate_keeping(&o, &size, &[[0.0, -half], [0.0, half]]).unwrap();
    let first = meshed();
    assert!((0..20).all(|_| meshed() == first));
}

#[test]
fn a_two_mass_sensor_is_coarse() {
    let o = sensor();
    let (mesh, q) = sound(&o, &MeshSize::default(), 0.0 + o.parts[0].polygon.area(), 2e-3);
    assert!((2_000..9_000).contains(&q.triangles), "{}", q.triangles);
    for m in &mesh.mirrors {
        symmetric(&mesh, m);
    }
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

#[test]
fn a_million_triangles() {
    let mut plate = rect(0.0, 0.0, 1000.0, 1000.0);
    for i in 0..900 {
        let c = [16.0 + 33.0 * f64::from(i % 30), 16.0 + 33.0 * f64::from(i / 30)];
        plate.holes.push(reversed(circle(c, 5.0, 48)));
    }
    let size = MeshSize { largest_um: Some(2.1), ..MeshSize::default() };
    let (_, q) = sound(&outline(vec![part(plate)]), &size, 1e6 - 900.0 * PI * 25.0, 1e-5);
    assert!(q.triangles > 1_000_000, "{}", q.triangles);
}

#[test]
fn what_cannot_be_meshed_is_named() {
    let none = MeshSize::default();
    assert_eq!(triangulate(&outline(vec![]), &none), Err(TriangulateError::NoMaterial));
    let bow = Polygon::solid(vec![[0.0, 0.0], [10.0, 8.0], [10.0, 0.0], [0.0, 10.0]]);
    assert!(matches!(triangulate(&outline(vec![part(bow)]), &none), Err(TriangulateError::Crossing { .. })));
    let nan = Polygon::solid(vec![[0.0, 0.0], [f64::NAN, 0.0], [10.0, 10.0]]);
    assert!(matches!(triangulate(&outline(vec![part(nan)]), &none), Err(TriangulateError::Coordinate { .. })));
    let square = outline(vec![part(rect(0.0, 0.0, 10.0, 10.0))]);
    for largest in [0.0, -1.0, f64::NAN] {
        let size = MeshSize { largest_um: Some(largest), ..none };
        assert!(matches!(triangulate(&square, &size), Err(TriangulateError::Size { .. })));
    }
    let size = MeshSize { largest_um: Some(1e-6), ..none };
    assert!(matches!(triangulate(&square, &size), Err(TriangulateError::TooFine { .. })));
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(300))]

    #[test]
    fn star_shaped_polygons_mesh(radii in prop::collection::vec(1.0..10.0_f64, 3..24), turn in 0.0..6.0_f64) {
        let n = radii.len() as f64;
        let ring: Ring = radii
            .iter()
            .enumerate()
            .map(|(i, r)| {
                let (s, c) = (turn + 2.0 * PI * i as f64 / n).sin_cos();
                [r * c, r * s]
            })
            .collect();
        let polygon = Polygon::solid(ring);
        let area = polygon.area();
        let mesh = triangulate(&outline(vec![part(polygon)]), &MeshSize::default()).unwrap();
        let q = Quality::of(&mesh);
        prop_assert!((q.area_um2 / area - 1.0).abs() < 1e-9);
        prop_assert_eq!(q.points + q.triangles, q.edges + 1);
    }

    #[test]
    fn any_polygon_returns(points in prop::collection::vec((-9_i8..9, -9_i8..9), 0..14), mirror in 0..5_usize) {
        let ring: Ring = points.iter().map(|p| [f64::from(p.0), f64::from(p.1)]).collect();
        let mut o = outline(vec![part(Polygon::solid(ring.clone()))]);
        o.masses = vec![NamedArea { name: "m".into(), polygons: vec![Polygon::solid(ring.iter().map(|p| [p[0] + 1.0, p[1]]).collect())] }];
        o.mirrors = (0..mirror).map(|k| axis([0.0, 0.0], 45.0 * k as f64)).collect();
        if let Ok(mesh) = triangulate(&o, &MeshSize::default()) {
            prop_assert!(mesh.triangles.len() < 100_000);
        }
    }
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

/// Circles through the facets of a ring thinner than their chord error leave no room between them where an anchor cuts a facet: seen
/// to be refused as folded over.
#[test]
fn coarse_facets_of_a_thin_ring_are_meshed_as_drawn() {
    let (centre, radius, width) = ([-9.943472272459797, -10.614246318881882], 14.295959438352961, 0.4288787831505888);
    let (ends, from_deg, to_deg) = (modalith_mesher::layout::Ends::Flush, 196.35227807883757, 556.3522780788376);
    let arc = modalith_mesher::layout::LayoutShape::Arc { centre, radius, width, from_deg, to_deg, ends };
    let drawing = Drawing {
        film: Film::Drawn { structure: arc.polygons(1.0).unwrap(), holes: vec![] },
        anchoring: Anchoring::Drawn(vec![rect(-30.0, -30.0, -5.1352568293090926, -10.506088377907925)]),
        masses: vec![],
        electrodes: vec![],
    };
    let outline = Outline::build(&drawing, &Etch::default()).unwrap();
    let mesh = triangulate(&outline, &MeshSize::default()).unwrap();
    let area = (0..mesh.triangles.len()).map(|t| mesh.area(t)).sum::<f64>();
    assert!((area / outline.areas().free_um2 - 1.0).abs() < 1e-9, "{area}");
}
