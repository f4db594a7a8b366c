//! What flexures end on: joints, shuttles with combs, frames, plates with many holes; and bodies that have none.

use super::case::{Case, area, circle, drawn, folded, mass, path, rect, ring};
use modalith_mesher::drawing::{Anchoring, Drawing, Film};
use modalith_mesher::geometry::Polygon;
use modalith_mesher::layout::LayoutShape;
use modalith_mesher::outline::{Etch, Joins, Outline};
use std::time::Instant;

#[test]
fn joints() {
    // Three beams of one width: two to anchors, one to the mass.
    let tee = vec![
        path(&[[-100.0, 0.0], [100.0, 0.0]], 4.0),
        path(&[[0.0, 0.0], [0.0, 80.0]], 4.0),
        vec![rect(-50.0, 80.0, 50.0, 160.0)],
    ];
    let anchors = vec![rect(-120.0, -20.0, -100.0, 20.0), rect(100.0, -20.0, 120.0, 20.0)];
    let flexures = [(98.0, 4.0), (98.0, 4.0), (78.0, 4.0)];
    for outline in Case::new(tee, anchors, &flexures).check("T") {
        let joints = outline.flexures.iter().flat_map(|f| &f.ends).filter(|e| matches!(e.joins, Joins::Flexure(_)));
        assert_eq!(joints.count(), 3);
        // The block between them and the mass are left.
        assert_eq!(outline.bodies(&[0, 1, 2], true, None).parts.len(), 2);
    }
    // A crossing, and a joint of three at 120°.
    let cross = vec![
        path(&[[-100.0, 0.0], [100.0, 0.0]], 4.0),
        path(&[[0.0, -100.0], [0.0, 80.0]], 4.0),
        vec![rect(-50.0, 80.0, 50.0, 160.0)],
    ];
    let anchors =
        vec![rect(-120.0, -20.0, -100.0, 20.0), rect(100.0, -20.0, 120.0, 20.0), rect(-20.0, -120.0, 20.0, -100.0)];
    Case::new(cross, anchors, &[(98.0, 4.0), (98.0, 4.0), (98.0, 4.0), (78.0, 4.0)]).check("cross");
    let arm = |deg: f64| {
        let (s, c) = f64::to_radians(deg).sin_cos();
        let at = |r: f64, h: f64| [r * c - h * s, r * s + h * c];
        vec![Polygon::solid(vec![at(-1.0, -2.0), at(100.0, -2.0), at(100.0, 2.0), at(-1.0, 2.0)])]
    };
    let hub = drawn(LayoutShape::Ring { centre: [0.0, 0.0], inner: 90.0, outer: 120.0 });
    let clear = (90f64.powi(2) - 4.0).sqrt() - 2.0 / 3f64.sqrt();
    Case::new(vec![arm(90.0), arm(210.0), arm(330.0)], hub, &[(clear, 4.0); 3]).check("Y");
}

#[test]
fn combs_holes_and_frames_around() {
    // A shuttle with a comb on either side, release holes, on folded flexures.
    let mut case = folded(2.0, 10.0);
    for k in 0..8 {
        let y = -18.0 + 5.0 * f64::from(k);
        case.structure.extend([rect(40.0, y, 70.0, y + 2.0), rect(-70.0, y, -40.0, y + 2.0)]);
    }
    case.anchors = vec![rect(-90.0, 25.0, -70.0, 45.0), rect(70.0, 25.0, 90.0, 45.0)];
    case.flexures = vec![[200.0, 2.0, 2.0], [200.0, 2.0, 2.0], [175.0, 2.0, 2.0], [175.0, 2.0, 2.0]];
    case.structure.retain(|p| !(p.outer[0][0].abs() > 70.0 && p.outer[0][1] == 20.0));
    case.structure.extend([rect(-80.0, 45.0, -78.0, 220.0), rect(78.0, 45.0, 80.0, 220.0)]);
    for (i, j) in (0..7).flat_map(|i| (0..3).map(move |j| (f64::from(i), f64::from(j)))) {
        case.holes.push(rect(-33.0 + 10.0 * i, -14.0 + 11.0 * j, -28.0 + 10.0 * i, -9.0 + 11.0 * j));
    }
    case.fingers = 16;
    for outline in case.check("comb drive") {
        assert!(outline.fingers.iter().all(|f| (f.length_um - 30.0).abs() < 0.3 && (f.width_um - 2.0).abs() < 0.02));
        let bodies = outline.bodies(&[0, 1, 2, 3], true, Some(8.0));
        assert_eq!((bodies.parts.len(), bodies.filled_holes.len()), (2, 21));
        assert!((area(&bodies.filled_holes) - 525.0).abs() < 0.01);
        let kept = outline.bodies(&[0, 1, 2, 3], true, Some(7.0));
        assert!(kept.filled_holes.is_empty());
    }
    // A frame on narrower flexures at its corners, and a mass inside it on narrower ones still.
    let frame = Polygon { holes: vec![rect(-90.0, -90.0, 90.0, 90.0).outer], ..rect(-105.0, -105.0, 105.0, 105.0) };
    let inner = path(&[[-90.0, 0.0], [90.0, 0.0]], 3.0);
    let outer = [path(&[[0.0, 105.0], [0.0, 165.0]], 5.0), path(&[[0.0, -105.0], [0.0, -165.0]], 5.0)].concat();
    let structure = vec![vec![frame], mass(), inner, outer];
    let anchors = vec![rect(-20.0, 165.0, 20.0, 185.0), rect(-20.0, -185.0, 20.0, -165.0)];
    Case::new(structure, anchors, &[(30.0, 3.0), (30.0, 3.0), (60.0, 5.0), (60.0, 5.0)]).check("gimbal");
}

#[test]
fn no_flexures() {
    let hold = |r: &[Polygon]| r.to_vec();
    Case::new(vec![circle(150.0)], drawn(LayoutShape::Ring { centre: [0.0, 0.0], inner: 150.0, outer: 180.0 }), &[])
        .check("diaphragm");
    Case::new(vec![mass()], vec![rect(-80.0, -50.0, -60.0, 50.0)], &[]).check("held plate");
    Case::new(vec![path(&[[0.0, 0.0], [100.0, 0.0]], 4.0)], vec![rect(-20.0, -20.0, 0.0, 20.0)], &[])
        .check("cantilever");
    // A plate with a window, on two torsion bars: its rim is no flexure.
    let plate = Polygon { holes: vec![rect(-90.0, -90.0, 90.0, 90.0).outer], ..rect(-100.0, -100.0, 100.0, 100.0) };
    let bars = [path(&[[0.0, 100.0], [0.0, 160.0]], 4.0), path(&[[0.0, -100.0], [0.0, -160.0]], 4.0)].concat();
    let anchors = vec![rect(-20.0, 160.0, 20.0, 180.0), rect(-20.0, -180.0, 20.0, -160.0)];
    Case::new(vec![vec![plate], bars.clone()], anchors.clone(), &[(60.0, 4.0); 2]).check("window");
    // Long windows beside one edge leave a rim as narrow as the bars.
    let plate = Polygon { holes: vec![rect(-90.0, 60.0, 90.0, 96.0).outer], ..rect(-100.0, -100.0, 100.0, 100.0) };
    let bars = [path(&[[-98.0, 100.0], [-98.0, 160.0]], 4.0), path(&[[0.0, -100.0], [0.0, -160.0]], 4.0)].concat();
    let mut case = Case::new(vec![vec![plate], bars], anchors, &[(60.0, 4.0); 2]);
    case.anchors[0] = rect(-120.0, 160.0, 20.0, 180.0);
    case.check("rim");
    // Rings: the ring of a ring resonator stays a body, whatever its spokes' width.
    let spoke = |deg: f64, w: f64| {
        let (s, c) = f64::to_radians(deg).sin_cos();
        let at = |r: f64, h: f64| [r * c - h * s, r * s + h * c];
        vec![Polygon::solid(vec![at(0.0, -0.5 * w), at(195.0, -0.5 * w), at(195.0, 0.5 * w), at(0.0, 0.5 * w)])]
    };
    for (width, name) in [(5.0, "thin spokes"), (18.0, "spokes as wide as the ring")] {
        let h = 0.5 * width;
        let clear = (180f64.powi(2) - h * h).sqrt() - (40f64.powi(2) - h * h).sqrt();
        let mut structure: Vec<Vec<Polygon>> = (0..8).map(|k| spoke(45.0 * f64::from(k), width)).collect();
        structure.extend([ring(180.0, 200.0), circle(40.0)]);
        Case::new(structure, hold(&circle(40.0)), &[(clear, width); 8]).check(name);
    }
}

#[test]
fn fast_with_many_holes() {
    let hole = |i: usize, j: usize| {
        let (x, y) = (-790.0 + 5.0 * i as f64, -790.0 + 5.0 * j as f64);
        rect(x, y, x + 2.5, y + 2.5)
    };
    let seconds = |n: usize| {
        let bars = [path(&[[0.0, 800.0], [0.0, 900.0]], 8.0), path(&[[0.0, -800.0], [0.0, -900.0]], 8.0)].concat();
        let structure = [vec![rect(-800.0, -800.0, 800.0, 800.0)], bars].concat();
        let holes = (0..n).flat_map(|i| (0..n).map(move |j| hole(i, j))).collect();
        let anchors = vec![rect(-30.0, 900.0, 30.0, 930.0), rect(-30.0, -930.0, 30.0, -900.0)];
        let drawing = Drawing {
            film: Film::Drawn { structure, holes },
            anchoring: Anchoring::Drawn(anchors),
            masses: vec![],
            electrodes: vec![],
        };
        let outline = Outline::build(&drawing, &Etch::default()).unwrap();
        let start = Instant::now();
        let found = modalith_mesher::flexure::find(&outline);
        let bodies = outline.bodies(&[0, 1], true, Some(4.0));
        let time = start.elapsed().as_secs_f64();
        assert_eq!((found.flexures.len(), bodies.parts.len(), bodies.filled_holes.len()), (2, 1, n * n));
        time
    };
    let (few, many) = (seconds(100), seconds(316));
    // Ten times the holes; twice that leaves room for a busy machine, a quadratic search would take a hundred times.
    assert!(many < 25.0 * few + 0.05, "{few} s, {many} s");
    println!("10 000 holes {few:.3} s, 100 000 holes {many:.3} s");
}
