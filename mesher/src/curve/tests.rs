//! Circles, slots, polygons and facets cut short are told apart.

use super::*;
use crate::geometry::{cross, ring_area, sides};
use std::f64::consts::TAU;

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
        let (centre, radius) = pieces[0].facets().unwrap().circle();
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
    let drawn: f64 = sides(&ring).map(|[a, b]| distance(a, b)).sum();
    assert!((length - drawn).abs() < 1e-9, "{length}, drawn {drawn}");
}

#[test]
fn edges_hold_the_area_of_the_facets_wherever_they_are_cut() {
    for (n, sense) in [(16, 1.0), (40, -1.0), (400, 1.0)] {
        let ring: Vec<Point> = circle(n, 20.0, [3.0, -2.0]).into_iter().map(|p| [p[0], sense * p[1]]).collect();
        let piece = &pieces_of_ring(&ring, &vec![false; n])[0];
        let facets = piece.facets().unwrap();
        for edges in [9, 23, 61, 1000] {
            let at = |i: usize| piece.at(piece.to_corner(i as f64 / edges as f64, 1.0 / edges as f64));
            let (mut twice, mut length) = (0.0, 0.0);
            for i in 0..edges {
                let (a, b) = (at(i), at(i + 1));
                let m = facets.mid_side(a, b);
                twice += cross(a, b) + 4.0 / 3.0 * twice_area(a, m, b);
                length += facets.measure(a, b).1;
                // Cut half-way they hold as much.
                let h = facets.half_way(a, b);
                let halves = facets.measure(a, h).0 + facets.measure(h, b).0 + 0.5 * twice_area(a, h, b);
                assert!((facets.measure(a, b).0 - halves).abs() < 1e-10, "{n} {edges} {i}");
                assert!((facets.measure(a, b).0 + facets.measure(b, a).0).abs() < 1e-10, "{n} {edges} {i}");
            }
            assert!((0.5 * twice - ring_area(&ring)).abs() < 1e-9, "{n} {edges}: {}", 0.5 * twice);
            assert!((length - piece.length()).abs() < 1e-9, "{n} {edges}: {length}");
        }
    }
}

#[test]
fn an_edge_on_one_facet_is_straight() {
    let ring = circle(16, 20.0, [0.0, 0.0]);
    let piece = &pieces_of_ring(&ring, &[false; 16])[0];
    let facets = piece.facets().unwrap();
    let (a, b) = (ahead(ring[3], sub(ring[4], ring[3]), 0.2), ahead(ring[3], sub(ring[4], ring[3]), 0.7));
    let m = facets.mid_side(a, b);
    assert!(distance(m, ahead(a, sub(b, a), 0.5)) < 1e-12, "{m:?}");
}

#[test]
fn polygons_and_dense_lines_stay_straight() {
    let square = [[0.0, 0.0], [4.0, 0.0], [4.0, 4.0], [0.0, 4.0]];
    assert!(pieces_of_ring(&square, &[false; 4]).iter().all(|p| p.is_straight()));
    let mut ring: Vec<Point> = (0..=40).map(|i| [f64::from(i), 0.0005 * f64::from(i % 2)]).collect();
    ring.extend([[40.0, 30.0], [0.0, 30.0]]);
    let pieces = pieces_of_ring(&ring, &vec![false; ring.len()]);
    assert!(pieces.iter().all(|p| p.is_straight()));
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
