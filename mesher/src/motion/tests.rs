use super::*;
use crate::drawing::{Anchoring, Drawing, Film};
use crate::layout::LayoutShape;
use crate::outline::{Etch, Outline};
use crate::triangulate::{MeshSize, triangulate};

fn rect(a: Point, b: Point) -> Vec<crate::geometry::Polygon> {
    LayoutShape::Rect { corners: [a, b] }.polygons(0.001).unwrap()
}

/// A plate with a round hole on two flexures, one of them flush with the plate's side.
fn outline(bias: f64) -> Outline {
    let mut structure = rect([0.0, 0.0], [100.0, 60.0]);
    structure.extend(rect([40.0, 60.0], [46.0, 130.0]));
    structure.extend(rect([100.0, 0.0], [170.0, 5.0]));
    let holes = LayoutShape::Circle { centre: [50.0, 30.0], radius: 12.0 }.polygons(0.001).unwrap();
    let mut anchors = rect([30.0, 130.0], [60.0, 150.0]);
    anchors.extend(rect([170.0, -10.0], [190.0, 20.0]));
    let drawing = Drawing {
        film: Film::Drawn { structure, holes },
        anchoring: Anchoring::Drawn(anchors),
        masses: vec![],
        electrodes: vec![],
    };
    Outline::build(&drawing, &Etch { edge_bias_um: bias, ..Etch::default() }).unwrap()
}

fn area(mesh: &Mesh) -> f64 {
    (0..mesh.triangles.len()).map(|t| mesh.area(t)).sum()
}

/// The moved mesh has the outline of the biased drawing: area, and corners within a grid step.
#[test]
fn edges_move_as_bias_moves_them() {
    let drawn = outline(0.0);
    let mesh = triangulate(&drawn, &MeshSize::default()).unwrap();
    let motion = MeshMotion::edges(&mesh, 5.0);
    for bias in [-0.3, 0.3] {
        let moved = motion.moved(&mesh, bias);
        assert!(motion.smallest_jacobian(&mesh, bias) > 0.2, "{}", motion.smallest_jacobian(&mesh, bias));
        let biased = outline(bias);
        // The circle's facets of the drawing are circles to the mesh.
        let expected = area(&triangulate(&biased, &MeshSize::default()).unwrap());
        assert!((area(&moved) / expected - 1.0).abs() < 2e-6, "{} {expected}", area(&moved));
        for p in biased.parts.iter().flat_map(|p| &p.polygon.outer) {
            let nearest = moved.points.iter().map(|q| (p[0] - q[0]).hypot(p[1] - q[1])).fold(f64::INFINITY, f64::min);
            assert!(nearest < 1e-4, "no corner of the moved mesh at {p:?}: {nearest}");
        }
    }
}

/// Anchored edges stay on their line, and the motion is gone some reaches inside.
#[test]
fn anchors_stay_and_the_inside_too() {
    let mesh = triangulate(&outline(0.0), &MeshSize::default()).unwrap();
    let motion = MeshMotion::edges(&mesh, 2.0);
    for edge in mesh.edges.iter().filter(|e| e.kind == EdgeKind::Held) {
        let across = if mesh.points[edge.ends[0] as usize][0] > 150.0 { 0 } else { 1 };
        for c in edge.ends {
            assert!(motion.points[c as usize][across].abs() < 1e-12);
        }
    }
    let far = |p: &Point| p[0] > 10.0 && p[0] < 30.0 && p[1] > 14.0 && p[1] < 46.0;
    let left = mesh.points.iter().zip(&motion.points).filter(|(p, _)| far(p)).map(|(_, v)| v[0].hypot(v[1]));
    assert!(left.fold(0.0, f64::max) < 0.1);
}

/// The two walls' motions add up to the widened flexure's: area grows by the clear length on each side.
#[test]
fn walls_of_a_flexure() {
    let drawn = outline(0.0);
    let mesh = triangulate(&drawn, &MeshSize::default()).unwrap();
    assert_eq!(drawn.flexures.len(), 2);
    for (f, flexure) in drawn.flexures.iter().enumerate() {
        let step = 0.02;
        for wall in [Wall::Left, Wall::Right] {
            let motion = MeshMotion::of_wall(&mesh, f, flexure, wall, 5.0);
            let grown = (area(&motion.moved(&mesh, step)) - area(&mesh)) / step;
            // A wall that continues that of the plate fades over one edge of the mesh.
            assert!((grown / flexure.length_um - 1.0).abs() < 0.06, "{f} {wall:?}: {grown} {}", flexure.length_um);
            let [low, high] = bounds(&flexure.area.outer).unwrap();
            let inside = |p: &Point| (0..2).all(|k| p[k] > low[k] - 60.0 && p[k] < high[k] + 60.0);
            let stays = |(p, v): (&Point, &Point)| inside(p) || *v == [0.0; 2];
            assert!(mesh.points.iter().zip(&motion.points).all(stays));
        }
    }
}
