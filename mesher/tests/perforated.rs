//! Openings in flexures are found, and what they leave; openings beside a flexure or ahead of its root are none of it. µm, invented.

#![allow(clippy::unwrap_used)]

use modalith_mesher::drawing::{Anchoring, Drawing, Film};
use modalith_mesher::geometry::Polygon;
use modalith_mesher::outline::{Etch, Flexure, Outline};

fn rect(x0: f64, y0: f64, x1: f64, y1: f64) -> Polygon {
    Polygon::solid(vec![[x0, y0], [x1, y0], [x1, y1], [x0, y1]])
}

/// A plate between two bars 10 µm wide, with openings.
fn flexures(holes: Vec<Polygon>) -> Vec<Flexure> {
    let structure = vec![rect(-60.0, -60.0, 60.0, 60.0), rect(-200.0, -5.0, -60.0, 5.0), rect(60.0, -5.0, 200.0, 5.0)];
    let anchors = vec![rect(-230.0, -20.0, -200.0, 20.0), rect(200.0, -20.0, 230.0, 20.0)];
    let drawing = Drawing {
        film: Film::Drawn { structure, holes },
        anchoring: Anchoring::Drawn(anchors),
        masses: vec![],
        electrodes: vec![],
    };
    Outline::build(&drawing, &Etch::default()).unwrap().flexures
}

#[test]
fn openings_inside_and_across_a_root_are_seen() {
    let ligaments = |holes| flexures(holes).iter().map(|f| f.ligament_um).collect::<Vec<_>>();
    assert_eq!(ligaments(Vec::new()), [None, None]);
    // In the middle; off the middle; two of them nearer to each other than to the walls; across the root.
    assert_eq!(ligaments(vec![rect(-132.0, -2.0, -128.0, 2.0)]), [Some(3.0), None]);
    assert_eq!(ligaments(vec![rect(-132.0, -4.0, -128.0, 0.0)]), [Some(1.0), None]);
    let two = vec![rect(100.0, -2.0, 104.0, 2.0), rect(105.5, -2.0, 109.5, 2.0)];
    assert_eq!(ligaments(two), [None, Some(1.5)]);
    assert_eq!(ligaments(vec![rect(-64.0, -2.0, -56.0, 2.0)]), [Some(3.0), None]);
    // Ahead of the root, and large ones beside the bars.
    assert_eq!(ligaments(vec![rect(-58.0, -2.0, -54.0, 2.0), rect(40.0, 10.0, 50.0, 50.0)]), [None, None]);
    let all = flexures(vec![rect(-132.0, -2.0, -128.0, 2.0)]);
    assert!(all[0].is_perforated() && all[0].narrowest_um() == 3.0 && all[1].narrowest_um() == 10.0);
}
