//! Circles, slots, polygons and facets cut short are told apart.

use super::*;

fn circle(n: usize, r: f64, c: Point) -> Vec<Point> {
    (0..n)
        .map(|i| {
            let a = TAU * (i as f64 + 0.3) / n as f64;
            [c[0] + r * a.cos(), c[1] + r * a.sin()]
        })
        .collect()
}

#[test]
fn a_circle_on_a_nanometre_grid_is_one_arc() {
    for n in [16, 24, 64, 200] {
        let ring: Vec<Point> =
            circle(n, 7.0, [3.0, -2.0]).iter().map(|p| p.map(|x| (x * 1000.0).round() / 1000.0)).collect();
        let pieces = pieces_of_ring(&ring, &vec![false; n]);
        assert_eq!(pieces.len(), 1, "{n}");
        let (centre, radius) = pieces[0].circle().unwrap();
        assert!((radius - 7.0).abs() < 5e-4 && distance(centre, [3.0, -2.0]) < 5e-4, "{n}: {radius}");
    }
}

#[test]
fn a_slot_is_two_lines_and_two_half_circles() {
    let mut ring = Vec::new();
    for i in 0..=30 {
        let a = -TAU / 4.0 + TAU / 2.0 * f64::from(i) / 30.0;
        ring.push([40.0 + 5.0 * a.cos(), 5.0 * a.sin()]);
    }
    for i in 0..=30 {
        let a = TAU / 4.0 + TAU / 2.0 * f64::from(i) / 30.0;
        ring.push([-40.0 + 5.0 * a.cos(), 5.0 * a.sin()]);
    }
    let pieces = pieces_of_ring(&ring, &vec![false; ring.len()]);
    assert_eq!(pieces.len(), 4, "{pieces:?}");
    let length: f64 = pieces.iter().map(Piece::length).sum();
    assert!((length - (160.0 + TAU * 5.0)).abs() < 1e-9, "{length}");
}

#[test]
fn polygons_and_dense_lines_stay_straight() {
    let square = [[0.0, 0.0], [4.0, 0.0], [4.0, 4.0], [0.0, 4.0]];
    assert!(pieces_of_ring(&square, &[false; 4]).iter().all(|p| p.shape == CurveShape::Straight));
    let mut ring: Vec<Point> = (0..=40).map(|i| [f64::from(i), 0.0005 * f64::from(i % 2)]).collect();
    ring.extend([[40.0, 30.0], [0.0, 30.0]]);
    let pieces = pieces_of_ring(&ring, &vec![false; ring.len()]);
    assert!(pieces.iter().all(|p| p.shape == CurveShape::Straight));
    assert_eq!(pieces.len(), ring.len());
    let octagon = circle(8, 5.0, [0.0, 0.0]);
    assert_eq!(pieces_of_ring(&octagon, &[false; 8]).len(), 8);
}

#[test]
fn collinear_vertices_are_joined_but_not_across_a_held_mark() {
    let ring = [[0.0, 0.0], [2.0, 0.0], [4.0, 0.0], [4.0, 4.0], [0.0, 4.0], [0.0, 2.0]];
    assert_eq!(pieces_of_ring(&ring, &[false; 6]).len(), 4);
    assert_eq!(pieces_of_ring(&ring, &[true, false, false, false, false, false]).len(), 5);
}

#[test]
fn a_facet_cut_short_by_a_union_belongs_to_its_arc() {
    // A half circle whose last facets were cut at x = 0.1 by a wall.
    let mut ring = Vec::new();
    for i in -9..=9 {
        let a = f64::from(i) * 0.17;
        ring.push([10.0 * a.cos(), 10.0 * a.sin()]);
    }
    let cut = |a: Point, b: Point| {
        let t = 0.45;
        [a[0] + t * (b[0] - a[0]), a[1] + t * (b[1] - a[1])]
    };
    let n = ring.len();
    ring[n - 1] = cut(ring[n - 2], ring[n - 1]);
    ring[0] = cut(ring[1], ring[0]);
    let (top, bottom) = (ring[n - 1], ring[0]);
    ring.extend([[-30.0, top[1]], [-30.0, bottom[1]]]);
    let pieces = pieces_of_ring(&ring, &vec![false; ring.len()]);
    assert_eq!(pieces.len(), 4, "{pieces:#?}");
}
