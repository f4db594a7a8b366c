//! Straight flexures, alone and folded.

use super::case::{Case, along, folded, guided, mass, path, rect};
use modalith_mesher::geometry::{NamedArea, Polygon};
use modalith_mesher::outline::Joins;

#[test]
fn straight_guided() {
    guided(2.0, 200.0).check("thin");
    guided(6.0, 60.0).check("stout");
    guided(6.0, 19.0).check("just slender");
    Case { flexures: vec![], ..guided(6.0, 16.0) }.check("necks");
    // Flush with the mass's sides, on a frame, with a corner on one side only.
    let mut flush = guided(3.0, 150.0);
    flush.structure = vec![rect(-41.5, -50.0, 41.5, 50.0)];
    flush.structure.extend(
        [(-40.0, 1.0), (40.0, 1.0), (-40.0, -1.0), (40.0, -1.0)]
            .iter()
            .flat_map(|&(x, s)| path(&[[x, 50.0 * s], [x, 200.0 * s]], 3.0)),
    );
    flush.anchors = vec![rect(-70.0, 200.0, 70.0, 220.0), rect(-70.0, -220.0, 70.0, -200.0)];
    flush.flexures = vec![[150.0, 3.0, 3.0]; 4];
    flush.check("flush");
}

#[test]
fn joins_are_named() {
    let mut case = guided(3.0, 100.0);
    case.masses = vec![NamedArea { name: "shuttle".into(), polygons: mass() }];
    for outline in case.check("named") {
        for f in &outline.flexures {
            let joins: Vec<Joins> = f.ends.iter().map(|e| e.joins).collect();
            assert!(joins.contains(&Joins::Anchor) && joins.contains(&Joins::Mass(0)), "{joins:?}");
        }
        // Without them the mass is alone, and free.
        let bodies = outline.bodies(&[0, 1, 2, 3], true, None);
        assert_eq!(bodies.parts.len(), 1);
        assert!(!bodies.parts[0].held.iter().flatten().any(|h| *h));
        assert!((bodies.parts[0].polygon.area() - 12000.0).abs() < 0.1);
    }
}

#[test]
fn between_anchors() {
    let case = Case::new(
        vec![path(&[[0.0, 0.0], [200.0, 0.0]], 4.0)],
        vec![rect(-20.0, -20.0, 0.0, 20.0), rect(200.0, -20.0, 220.0, 20.0)],
        &[(200.0, 4.0)],
    );
    for outline in case.check("clamped at both ends") {
        assert!(outline.bodies(&[0], true, None).parts.is_empty());
    }
}

#[test]
fn folded_with_truss() {
    folded(2.0, 10.0).check("stiff truss");
    folded(3.0, 4.5).check("slim truss");
    // A truss as narrow as the beams: the outer ones go round the corner to a joint.
    let mut equal = folded(2.0, 2.0);
    equal.flexures = vec![[250.0, 2.0, 2.0], [250.0, 2.0, 2.0], [200.0, 2.0, 2.0], [200.0, 2.0, 2.0], [56.0, 2.0, 2.0]];
    for outline in equal.check("soft truss") {
        let joints = outline.flexures.iter().flat_map(|f| &f.ends).filter(|e| matches!(e.joins, Joins::Flexure(_)));
        assert_eq!(joints.count(), 6);
    }
}

/// Legs to and fro from an anchor below to a mass above.
fn serpentine(legs: usize, width: f64, gap: f64, reach: f64) -> Case {
    let mut points = vec![[0.0, 0.0], [0.0, 10.0]];
    for k in 0..legs {
        let y = 10.0 + k as f64 * (gap + width);
        let x = if k % 2 == 0 { reach } else { 0.0 };
        points.extend([[x, y], [x, y + gap + width]]);
    }
    points.pop();
    let [x, y] = points[points.len() - 1];
    points.push([x, y + 15.0]);
    let length = along(&points);
    let structure = vec![path(&points, width), vec![rect(-100.0, y + 15.0, 160.0, y + 135.0)]];
    Case::new(structure, vec![rect(-20.0, -20.0, 20.0, 0.0)], &[(length, width)])
}

#[test]
fn serpentines() {
    for (legs, width, gap) in
        [(1, 3.0, 7.0), (2, 3.0, 7.0), (3, 2.0, 2.0), (4, 4.0, 2.0), (5, 3.0, 12.0), (6, 2.0, 1.0)]
    {
        serpentine(legs, width, gap, 60.0).check(&format!("{legs} legs {width} wide {gap} apart"));
    }
    for outline in serpentine(4, 3.0, 6.0, 50.0).check("points") {
        // Two ends and two corners a leg; the corners are where the middle lines cross.
        assert_eq!(outline.flexures[0].centre_line.len(), 10);
        let corners = &outline.flexures[0].centre_line;
        assert!(
            (along(&corners[1..3]) - 50.0).abs() < 1e-3 || (along(&corners[1..3]) - 9.0).abs() < 1e-3,
            "{corners:?}"
        );
    }
}

#[test]
fn crab_legs() {
    for (thigh, shin, ratio) in [(100.0, 40.0, 1.0), (60.0, 120.0, 1.3)] {
        let (w, v) = (4.0, 4.0 * ratio);
        let mut structure = vec![mass()];
        let mut anchors = Vec::new();
        for (sx, sy) in [(1.0, 1.0), (-1.0, 1.0), (1.0, -1.0), (-1.0, -1.0)] {
            // Up from the mass's top near its side, then out.
            let (x, y) = (sx * 50.0, sy * (50.0 + shin));
            let leg = [
                rect(x - 0.5 * w, sy * 50.0, x + 0.5 * w, y + sy * 0.5 * v),
                rect(x - sx * 0.5 * w, y - 0.5 * v, x + sx * thigh, y + 0.5 * v),
            ];
            structure.push(leg.map(ordered).to_vec());
            anchors.push(ordered(rect(x + sx * thigh, y - 12.0, x + sx * (thigh + 20.0), y + 12.0)));
        }
        let mut case = Case::new(structure, anchors, &[]);
        case.flexures = vec![[thigh + shin, w, v]; 4];
        case.check(&format!("crab-leg {thigh} {shin} {ratio}"));
    }
}

/// The rectangle with its corners in order.
fn ordered(p: Polygon) -> Polygon {
    let [a, b] = modalith_mesher::geometry::bounds(&p.outer).unwrap();
    rect(a[0], a[1], b[0], b[1])
}
