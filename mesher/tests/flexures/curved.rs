//! Flexures whose direction or width changes along them.

use super::case::{Case, along, arc, path, rect};
use modalith_mesher::geometry::{Point, Polygon};
use std::f64::consts::PI;

#[test]
fn curved() {
    let quarter = vec![arc([0.0, 0.0], 100.0, 4.0, 0.0, 90.0), vec![rect(60.0, -80.0, 140.0, 0.0)]];
    Case::new(quarter, vec![rect(-30.0, 90.0, 0.0, 110.0)], &[(50.0 * PI, 4.0)]).check("quarter");
    let half = vec![arc([0.0, 0.0], 40.0, 3.0, 0.0, 180.0), vec![rect(10.0, -80.0, 90.0, 0.0)]];
    Case::new(half, vec![rect(-60.0, -20.0, -20.0, 0.0)], &[(40.0 * PI, 3.0)]).check("half");
    // Straight, round the corner, straight; two alike side by side.
    let bent = |r: f64| {
        [
            path(&[[r, 0.0], [r, 60.0]], 3.0),
            arc([0.0, 60.0], r, 3.0, 0.0, 90.0),
            path(&[[0.0, 60.0 + r], [-70.0, 60.0 + r]], 3.0),
        ]
        .concat()
    };
    let structure = vec![bent(30.0), bent(24.0), vec![rect(0.0, -80.0, 80.0, 0.0)]];
    let anchors = vec![rect(-90.0, 75.0, -70.0, 100.0)];
    Case::new(structure, anchors, &[(130.0 + 15.0 * PI, 3.0), (130.0 + 12.0 * PI, 3.0)]).check("bent pair");
    // A spiral of two turns, whose radius grows all the way; both ends drawn into what holds them.
    let spiral = |from: f64, to: f64| -> Vec<Point> {
        let at = |a: f64| [(30.0 + 3.0 * a) * a.cos(), (30.0 + 3.0 * a) * a.sin()];
        (0..=400).map(|k| at(from + (to - from) * f64::from(k) / 400.0)).collect()
    };
    let structure = vec![path(&spiral(-0.1, 4.0 * PI + 0.1), 4.0), vec![rect(56.0, 0.0, 140.0, 70.0)]];
    let clear = along(&spiral(0.0, 4.0 * PI));
    Case::new(structure, vec![rect(20.0, -12.0, 36.0, 0.0)], &[(clear, 4.0)]).check("spiral");
}

#[test]
fn tapered() {
    let taper = |a: f64, b: f64, length: f64| {
        vec![Polygon::solid(vec![[-0.5 * a, 0.0], [0.5 * a, 0.0], [0.5 * b, length], [-0.5 * b, length]])]
    };
    for (a, b, length) in [(3.0, 6.0, 100.0), (8.0, 4.0, 120.0), (4.0, 10.0, 40.0)] {
        let structure = vec![taper(a, b, length), vec![rect(-60.0, length, 60.0, length + 80.0)]];
        let mut case = Case::new(structure, vec![rect(-20.0, -20.0, 20.0, 0.0)], &[]);
        case.flexures = vec![[length, a.min(b), a.max(b)]];
        case.check(&format!("taper {a} {b}"));
    }
}
