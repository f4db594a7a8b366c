use super::*;
use crate::drawing::{Anchoring, Drawing, Film};
use crate::layout::{Array, Ends, LayoutShape, Mirroring, Placed};
use crate::outline::Etch;

fn rect(a: Point, b: Point) -> Polygon {
    Polygon::solid(vec![a, [b[0], a[1]], b, [a[0], b[1]]])
}

fn found(structure: Vec<Polygon>, holes: Vec<Polygon>, anchors: Vec<Polygon>) -> Vec<Flexure> {
    let film = Film::Drawn { structure, holes };
    let drawing = Drawing { film, anchoring: Anchoring::Drawn(anchors), masses: vec![], electrodes: vec![] };
    Outline::build(&drawing, &Etch::default()).unwrap().flexures
}

fn assert_sizes(flexures: &[Flexure], expected: &[(f64, f64)], within: f64) {
    let sizes: Vec<(f64, f64)> = flexures.iter().map(|f| (f.length_um, f.width_um)).collect();
    assert_eq!(sizes.len(), expected.len(), "{sizes:?}");
    for (s, e) in sizes.iter().zip(expected) {
        assert!((s.0 / e.0 - 1.0).abs() < within && (s.1 / e.1 - 1.0).abs() < within, "{sizes:?}");
    }
}

#[test]
fn torsion_bars_of_a_perforated_plate() {
    let structure = vec![rect([-150.0, -80.0], [150.0, 80.0]), rect([-4.0, -140.0], [4.0, 140.0])];
    let anchors = vec![rect([-20.0, 140.0], [20.0, 170.0]), rect([-20.0, -170.0], [20.0, -140.0])];
    let holes = Placed {
        array: Some(Array { columns: 29, rows: 15, column_step: [10.0, 0.0], row_step: [0.0, 10.0] }),
        ..Placed::from(LayoutShape::Rect { corners: [[-144.0, -74.0], [-137.0, -67.0]] })
    };
    let flexures = found(structure, holes.polygons(0.001).unwrap(), anchors);
    assert_sizes(&flexures, &[(60.0, 8.0), (60.0, 8.0)], 1e-3);
    assert!((flexures[0].centre_line[0][0]).abs() < 1e-6 && flexures[0].centre_line.len() == 2);
    assert!((flexures[0].area.area() - 480.0).abs() < 0.1);
}

#[test]
fn guided_beams_but_no_comb_fingers() {
    // A shuttle on four beams with twenty fingers.
    let beams = Placed {
        shape: LayoutShape::Rect { corners: [[-60.0, 50.0], [-57.0, 250.0]] },
        array: Some(Array { columns: 2, rows: 1, column_step: [117.0, 0.0], row_step: [0.0, 0.0] }),
        mirror: Some(Mirroring { line: crate::layout::Line::Horizontal(0.0), keep_original: true }),
    };
    let fingers = Placed {
        array: Some(Array { columns: 1, rows: 20, column_step: [0.0, 0.0], row_step: [0.0, 4.5] }),
        ..Placed::from(LayoutShape::Rect { corners: [[60.0, -45.0], [100.0, -43.0]] })
    };
    let mut structure = vec![rect([-60.0, -50.0], [60.0, 50.0])];
    structure.extend(beams.polygons(0.001).unwrap());
    structure.extend(fingers.polygons(0.001).unwrap());
    let anchors = vec![rect([-80.0, 250.0], [80.0, 280.0]), rect([-80.0, -280.0], [80.0, -250.0])];
    assert_sizes(&found(structure, vec![], anchors), &[(200.0, 3.0); 4], 1e-3);
}

/// Folded flexure: two inner beams from the shuttle to the truss, two outer ones from the truss to anchors.
fn folded(truss: f64) -> Vec<Flexure> {
    let beam = |x: f64| rect([x, 20.0], [x + 2.0, 220.0]);
    let mut structure = vec![rect([-30.0, -20.0], [30.0, 20.0]), rect([-80.0, 220.0], [80.0, 220.0 + truss])];
    structure.extend([-80.0, -30.0, 28.0, 78.0].map(beam));
    found(structure, vec![], vec![rect([-90.0, 0.0], [-70.0, 20.0]), rect([70.0, 0.0], [90.0, 20.0])])
}

#[test]
fn folded_beams_with_a_wide_and_with_an_equal_truss() {
    assert_sizes(&folded(10.0), &[(200.0, 2.0); 4], 1e-3);
    // The truss is as narrow as the beams: outer beams go on round the corner to the joint with the inner ones.
    assert_sizes(&folded(2.0), &[(250.0, 2.0), (200.0, 2.0), (200.0, 2.0), (250.0, 2.0), (56.0, 2.0)], 1e-3);
}

#[test]
fn serpentine_is_one_long_flexure() {
    let points =
        vec![[0.0, 0.0], [0.0, 10.0], [60.0, 10.0], [60.0, 20.0], [0.0, 20.0], [0.0, 30.0], [60.0, 30.0], [60.0, 45.0]];
    let centre: f64 = points.windows(2).map(|w| distance(w[0], w[1])).sum();
    let path = LayoutShape::Path { points, width: 3.0, ends: Ends::Flush }.polygons(0.001).unwrap();
    let structure = [path, vec![rect([-100.0, 45.0], [100.0, 145.0])]].concat();
    let flexures = found(structure, vec![], vec![rect([-20.0, -20.0], [20.0, 0.0])]);
    assert_sizes(&flexures, &[(centre, 3.0)], 0.02);
}

#[test]
fn ring_segment_and_turned_beam() {
    let arc = LayoutShape::Arc {
        centre: [0.0, 0.0],
        radius: 100.0,
        width: 4.0,
        from_deg: 0.0,
        to_deg: 90.0,
        ends: Ends::Flush,
    };
    let structure = [arc.polygons(0.001).unwrap(), vec![rect([80.0, -60.0], [140.0, 0.0])]].concat();
    let flexures = found(structure, vec![], vec![rect([-30.0, 90.0], [0.0, 110.0])]);
    assert_sizes(&flexures, &[(50.0 * std::f64::consts::PI, 4.0)], 0.002);
    let (s, c) = 30f64.to_radians().sin_cos();
    let turn =
        |p: Polygon| Polygon::solid(p.outer.iter().map(|q| [c * q[0] - s * q[1], s * q[0] + c * q[1]]).collect());
    let beam = [rect([0.0, 0.0], [90.0, 5.0]), rect([90.0, -40.0], [160.0, 45.0])].map(turn).to_vec();
    let flexures = found(beam, vec![], vec![turn(rect([-30.0, -20.0], [0.0, 25.0]))]);
    assert_sizes(&flexures, &[(90.0, 5.0)], 1e-3);
}

#[test]
fn a_stubby_neck_is_no_flexure() {
    let structure = vec![rect([0.0, 0.0], [100.0, 100.0]), rect([100.0, 40.0], [120.0, 50.0])];
    assert_eq!(found(structure, vec![], vec![rect([120.0, 0.0], [150.0, 100.0])]), vec![]);
}

/// A bar from one radius to another, at an angle.
fn spoke(deg: f64, from: f64, to: f64, width: f64) -> Polygon {
    let (s, c) = deg.to_radians().sin_cos();
    let p = |r: f64, h: f64| [r * c - h * s, r * s + h * c];
    Polygon::solid(vec![p(from, -0.5 * width), p(to, -0.5 * width), p(to, 0.5 * width), p(from, 0.5 * width)])
}

#[test]
fn ring_on_spokes_lists_the_spokes() {
    let ring = LayoutShape::Ring { centre: [0.0, 0.0], inner: 180.0, outer: 200.0 }.polygons(0.001).unwrap();
    let hub = LayoutShape::Circle { centre: [0.0, 0.0], radius: 40.0 }.polygons(0.001).unwrap();
    let spokes = (0..8).map(|k| spoke(45.0 * f64::from(k), 0.0, 190.0, 5.0)).collect::<Vec<_>>();
    // Sides of a spoke run from circle to circle at a distance of 2.5 from the middle.
    let clear = (180f64.powi(2) - 2.5f64.powi(2)).sqrt() - (40f64.powi(2) - 2.5f64.powi(2)).sqrt();
    let flexures = found([ring, spokes, hub.clone()].concat(), vec![], hub);
    assert_sizes(&flexures, &[(clear, 5.0); 8], 0.005);
}

#[test]
fn nested_gimbals_list_their_four_torsion_bars() {
    let mirror = rect([-100.0, -100.0], [100.0, 100.0]);
    let frame = Polygon {
        outer: rect([-160.0, -160.0], [160.0, 160.0]).outer,
        holes: vec![rect([-130.0, -130.0], [130.0, 130.0]).outer],
    };
    let bars = [
        rect([-130.0, -2.0], [-100.0, 2.0]),
        rect([100.0, -2.0], [130.0, 2.0]),
        rect([-3.0, 160.0], [3.0, 210.0]),
        rect([-3.0, -210.0], [3.0, -160.0]),
    ];
    let structure = [vec![mirror, frame], bars.to_vec()].concat();
    let anchors = vec![rect([-30.0, 210.0], [30.0, 240.0]), rect([-30.0, -240.0], [30.0, -210.0])];
    assert_sizes(&found(structure, vec![], anchors), &[(50.0, 6.0), (30.0, 4.0), (30.0, 4.0), (50.0, 6.0)], 1e-3);
}

/// A bar with so many stubs or fingers of a length on it.
fn comb(count: usize, length: f64) -> Outline {
    let long = 4.0 * count as f64;
    let finger = |i: usize| {
        let x = 4.0 * i as f64;
        rect([x, 20.0], [x + 2.0, 20.0 + length])
    };
    let structure: Vec<Polygon> = (0..count).map(finger).chain([rect([-10.0, 0.0], [long + 10.0, 20.0])]).collect();
    let film = Film::Drawn { structure, holes: vec![] };
    let anchoring = Anchoring::Drawn(vec![rect([-20.0, 0.0], [-10.0, 20.0])]);
    let drawing = Drawing { film, anchoring, masses: vec![], electrodes: vec![] };
    Outline::build(&drawing, &Etch::default()).unwrap()
}

/// Sixteen thousand of either lie beside each other without being paired each with each: a guard against hanging only.
#[test]
fn fingers_and_stubs_on_one_bar_are_found() {
    let count = 16_000;
    for length in [3.0, 20.0] {
        let outline = comb(count, length);
        let clock = std::time::Instant::now();
        assert_eq!(find(&outline).fingers.len(), if length > 10.0 { count } else { 0 });
        assert!(clock.elapsed().as_secs_f64() < 120.0, "{:?}", clock.elapsed());
    }
}

/// Halves of a bar that is the mass itself, and tines of a fork, have free ends and are no fingers. Seen: beams on shells took both halves of
/// a proof mass for rigid fingers.
#[test]
fn what_most_of_a_part_is_made_of_is_no_finger() {
    let legs = [-20.0, 20.0]
        .map(|x| [rect([x - 2.0, 15.0], [x + 2.0, 115.0]), rect([x - 2.0, -115.0], [x + 2.0, -15.0])])
        .concat();
    let ends = [-20.0, 20.0]
        .map(|x| [rect([x - 15.0, 115.0], [x + 15.0, 145.0]), rect([x - 15.0, -145.0], [x + 15.0, -115.0])])
        .concat();
    let drawing = Drawing {
        film: Film::Drawn { structure: [vec![rect([-260.0, -15.0], [260.0, 15.0])], legs].concat(), holes: vec![] },
        anchoring: Anchoring::Drawn(ends),
        masses: vec![],
        electrodes: vec![],
    };
    let found = find(&Outline::build(&drawing, &Etch::default()).unwrap());
    assert_eq!((found.flexures.len(), found.fingers.len()), (4, 0));
}
