use super::*;
use crate::geometry::Point;
use proptest::prelude::*;
use std::f64::consts::{PI, TAU};

fn rect(a: Point, b: Point) -> Polygon {
    Polygon::solid(vec![a, [b[0], a[1]], b, [a[0], b[1]]])
}

fn area(polygons: &[Polygon]) -> f64 {
    polygons.iter().map(Polygon::area).sum()
}

/// A regular polygon turned by `deg`.
fn regular(centre: Point, radius: f64, n: u32, deg: f64) -> Polygon {
    let at = |k: u32| TAU * f64::from(k) / f64::from(n) + deg.to_radians();
    Polygon::solid((0..n).map(|k| [centre[0] + radius * at(k).cos(), centre[1] + radius * at(k).sin()]).collect())
}

#[test]
fn turned_square_moves_its_sides_exactly() {
    // crates.md measures the side error of offsets on a 10 µm square turned by 30° and shrunk by 100 nm.
    for (um, side) in [(-0.1, 9.8), (0.1, 10.2), (-0.05, 9.9)] {
        let turned = regular([0.0, 0.0], 5.0 * 2f64.sqrt(), 4, 75.0);
        let moved = offset(&[turned], um, Join::Mitre);
        assert_eq!((moved.len(), moved[0].outer.len()), (1, 4));
        let ring = &moved[0].outer;
        for i in 0..4 {
            let (a, b) = (ring[i], ring[(i + 1) % 4]);
            assert!(((b[0] - a[0]).hypot(b[1] - a[1]) - side).abs() < 3e-5);
            // Distance of the side from the centre.
            let d = (a[0] * b[1] - a[1] * b[0]) / (b[0] - a[0]).hypot(b[1] - a[1]);
            assert!((d - 0.5 * side).abs() < 1e-5, "side at {d}");
        }
    }
}

#[test]
fn faceted_ring_moves_every_facet_by_the_offset() {
    let n = 480;
    let mut ring = regular([100.0, -50.0], 60.0, n, 0.0);
    let mut hole = regular([100.0, -50.0], 50.0, n, 0.0).outer;
    hole.reverse();
    ring.holes.push(hole);
    let moved = offset(&[ring], 0.2, Join::Mitre);
    assert_eq!(moved[0].outer.len(), n as usize);
    assert_eq!(moved[0].holes[0].len(), n as usize);
    // Apothem r cos(π/n) ± 0.2; a regular polygon of apothem a has area n a² tan(π/n).
    let c = (PI / f64::from(n)).cos();
    let (outer, inner) = (60.0 * c + 0.2, 50.0 * c - 0.2);
    let exact = f64::from(n) * (PI / f64::from(n)).tan() * (outer * outer - inner * inner);
    // Half a grid step along both circles.
    assert!((area(&moved) - exact).abs() < 0.5e-5 * TAU * 110.0, "{} against {exact}", area(&moved));
}

#[test]
fn results_are_canonical_in_any_order() {
    let polygons = vec![
        rect([0.0, 0.0], [4.0, 4.0]),
        rect([2.0, 1.0], [9.0, 2.0]),
        rect([20.0, -3.0], [21.0, 5.0]),
        Polygon {
            outer: vec![[30.0, 0.0], [30.0, 9.0], [39.0, 9.0], [39.0, 0.0]],
            holes: vec![vec![[32.0, 2.0], [35.0, 2.0], [35.0, 5.0]]],
        },
    ];
    let forward = union(&polygons);
    let mut turned = polygons;
    turned.reverse();
    for p in &mut turned {
        p.outer.rotate_left(2);
    }
    assert_eq!(forward, union(&turned));
    for p in &forward {
        assert!(ring_area(&p.outer) > 0.0);
        assert!(p.holes.iter().all(|h| ring_area(h) < 0.0));
        assert!(p.outer.iter().all(|q| (q[1], q[0]) >= (p.outer[0][1], p.outer[0][0])));
    }
    assert!(forward.windows(2).all(|w| by_start(&w[0].outer, &w[1].outer).is_lt()));
}

#[test]
fn abutting_turned_strips_leave_no_seam() {
    let (c, s) = (17f64.to_radians().cos(), 17f64.to_radians().sin());
    let turn =
        |p: Polygon| Polygon::solid(p.outer.iter().map(|q| [c * q[0] - s * q[1], s * q[0] + c * q[1]]).collect());
    let strips: Vec<Polygon> =
        (0..10).map(|k| turn(rect([f64::from(k) * 7.1, 0.0], [f64::from(k + 1) * 7.1, 3.0]))).collect();
    let one = union(&strips);
    assert_eq!((one.len(), one[0].outer.len()), (1, 4));
    assert!((area(&one) - 213.0).abs() < 1e-3);
}

#[test]
fn needles_and_seams_go_marks_stay() {
    let at = |x, y| Node::new(x, y);
    // A square with a needle on its right side that overshoots, and a seam in its top.
    let ring = vec![
        (at(0, 0), 1),
        (at(1000, 0), 2),
        (at(1000, 700), 2),
        (at(1001, 400), 3),
        (at(1000, 1000), 4),
        (at(500, 1001), 4),
        (at(0, 1000), 5),
    ];
    let clean = vec![(at(0, 0), 1), (at(1000, 0), 2), (at(1001, 400), 3), (at(1000, 1000), 4), (at(0, 1000), 5)];
    assert_eq!(canonical(ring), clean);
    // A needle's tip at the very start.
    let square = vec![(at(0, 0), 1), (at(1000, 0), 2), (at(1000, 1000), 3), (at(1, 1000), 4)];
    assert_eq!(canonical([vec![(at(0, -900), 7)], square.clone()].concat()), square);
}

#[test]
fn coarser_grid_for_a_wide_drawing() {
    let wide = [rect([-40_000.0, -10.0], [40_000.0, 10.0]), rect([0.0, 0.0], [5.0, 20.0])];
    assert!((area(&union(&wide)) - 1_600_050.0).abs() < 1e-3);
}

fn blobs() -> impl Strategy<Value = Vec<Polygon>> {
    let blob = (-50.0..50.0f64, -50.0..50.0f64, 0.5..30.0f64, 3..12u32, 0.0..360.0f64);
    prop::collection::vec(blob, 1..8)
        .prop_map(|v| v.into_iter().map(|(x, y, r, n, deg)| regular([x, y], r, n, deg)).collect())
}

proptest! {
    #[test]
    fn union_and_intersection_share_out_the_area(a in blobs(), b in blobs()) {
        let (a, b) = (union(&a), union(&b));
        let both: Vec<Polygon> = a.iter().chain(&b).cloned().collect();
        let (sum, u, i) = (area(&a) + area(&b), area(&union(&both)), area(&intersection(&a, &b)));
        // Rounding moves an edge by a grid step at most.
        prop_assert!((u + i - sum).abs() < 1e-5 * 2000.0, "{u} + {i} against {sum}");
        let d = area(&difference(&a, &b));
        prop_assert!((d + i - area(&a)).abs() < 1e-5 * 2000.0);
    }

    #[test]
    fn growing_and_shrinking_nest(a in blobs(), um in 0.01..2.0f64) {
        let a = union(&a);
        let (smaller, larger) = (offset(&a, -um, Join::Mitre), offset(&a, um, Join::Mitre));
        prop_assert!(area(&smaller) <= area(&a) && area(&a) <= area(&larger));
        prop_assert!(area(&difference(&smaller, &a)) < 1e-2);
        prop_assert!(area(&difference(&a, &larger)) < 1e-2);
    }
}
