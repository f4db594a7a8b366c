//! Meshes of hand-made outlines: areas, topology, angles, mirror symmetry, sameness.

#![allow(clippy::unwrap_used, clippy::panic)]

mod any_polygon;
mod masses;
mod mirrors;
#[path = "../shapes/mod.rs"]
mod shapes;

use modalith_mesher::drawing::{Anchoring, Drawing, Film};
use modalith_mesher::geometry::{Point, Polygon, Ring};
use modalith_mesher::mesh::{EdgeKind, Mesh};
use modalith_mesher::outline::{Etch, Outline};
use modalith_mesher::quality::Quality;
use modalith_mesher::triangulate::{MeshSize, triangulate, triangulate_keeping};
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
    let area = plate.area();
    let (_, q) = sound(&outline(vec![part(plate.clone())]), &MeshSize::default(), area, 1e-9);
    assert!(q.triangles < 8_000, "{}", q.triangles);
    let mut o = outline(vec![part(plate)]);
    o.mirrors = vec![
        axis([100.0, 100.0], 0.0),
        axis([100.0, 100.0], 90.0),
        axis([100.0, 100.0], 45.0),
        axis([100.0, 100.0], 135.0),
    ];
    let (mesh, _) = sound(&o, &MeshSize::default(), area, 1e-9);
    assert_eq!(mesh.mirrors.len(), 4);
    for m in &mesh.mirrors {
        symmetric(&mesh, m);
    }
}

/// Facets on a circle are meshed as its arcs, with the facets' area: no device weighs more than what is drawn.
#[test]
fn disc_follows_its_circle_and_has_the_area_drawn() {
    for n in [24, 100, 301] {
        let facets = Polygon::solid(circle([3.0, 4.0], 50.0, n));
        let area = facets.area();
        let o = outline(vec![part(facets)]);
        sound(&o, &MeshSize::default(), area, 1e-9);
        let (mesh, _) = sound(&o, &MeshSize { largest_um: Some(3.0), ..MeshSize::default() }, area, 1e-9);
        let sagitta = 50.0 * (1.0 - (PI / n as f64).cos());
        for e in mesh.edges.iter().filter(|e| e.kind == EdgeKind::Free) {
            let off = 50.0 - (e.middle[0] - 3.0).hypot(e.middle[1] - 4.0);
            assert!((-0.1 * sagitta - 1e-6..=1.01 * sagitta).contains(&off), "{n}: {off} of {sagitta}");
        }
    }
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
fn a_million_triangles() {
    let mut plate = rect(0.0, 0.0, 1000.0, 1000.0);
    for i in 0..900 {
        let c = [16.0 + 33.0 * f64::from(i % 30), 16.0 + 33.0 * f64::from(i / 30)];
        plate.holes.push(reversed(circle(c, 5.0, 48)));
    }
    let size = MeshSize { largest_um: Some(2.1), ..MeshSize::default() };
    let area = plate.area();
    let (_, q) = sound(&outline(vec![part(plate)]), &size, area, 1e-9);
    assert!(q.triangles > 1_000_000, "{}", q.triangles);
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
