//! Hierarchies laid flat, with exact polygons.

use crate::gdsii::encode::Encoder;
use crate::gdsii::{Flat, GdsError, LayerSpec, Selection, flatten, read};
use crate::geometry::{Point, Ring, ring_area};
use std::collections::BTreeSet;

const ONE: LayerSpec = LayerSpec::new(1, 0);

fn flat_of(stream: Encoder, cell: Option<&str>, selection: &Selection<'_>) -> Result<Flat, GdsError> {
    flatten(&read(&stream.finish()).unwrap(), cell, selection)
}

fn rings(stream: Encoder) -> Vec<Ring> {
    let flat = flat_of(stream, None, &Selection::default()).unwrap();
    flat.polygons.get(&ONE).into_iter().flatten().map(|p| p.ring.clone()).collect()
}

/// Starts a ring at its lowest, then leftmost corner.
fn from_lowest(mut ring: Ring) -> Ring {
    let key = |p: &Point| (p[1], p[0]);
    let first = (0..ring.len()).min_by(|&i, &j| key(&ring[i]).partial_cmp(&key(&ring[j])).unwrap()).unwrap();
    ring.rotate_left(first);
    ring
}

/// An L in the leaf cell: without any symmetry, so that every turn and mirror shows.
fn l_shape() -> Encoder {
    Encoder::library("test", 1e-9)
        .cell("leaf")
        .boundary(1, 0, &[[0, 0], [3000, 0], [3000, 1000], [1000, 1000], [1000, 2000], [0, 2000]])
        .end_cell()
        .cell("top")
}

#[test]
fn turns_and_mirrors_are_exact_and_anticlockwise() {
    let cases: [(u16, f64, Ring); 4] = [
        (0, 90.0, vec![[-2.0, 0.0], [0.0, 0.0], [0.0, 3.0], [-1.0, 3.0], [-1.0, 1.0], [-2.0, 1.0]]),
        (0, 180.0, vec![[-1.0, -2.0], [0.0, -2.0], [0.0, 0.0], [-3.0, 0.0], [-3.0, -1.0], [-1.0, -1.0]]),
        (0x8000, 0.0, vec![[0.0, -2.0], [1.0, -2.0], [1.0, -1.0], [3.0, -1.0], [3.0, 0.0], [0.0, 0.0]]),
        (0x8000, 270.0, vec![[-1.0, -3.0], [0.0, -3.0], [0.0, 0.0], [-2.0, 0.0], [-2.0, -1.0], [-1.0, -1.0]]),
    ];
    for (flags, angle, expected) in cases {
        let found = rings(l_shape().sref("leaf", flags, 1.0, angle, [10_000, 20_000]).end_cell());
        let expected: Ring = expected.iter().map(|p| [p[0] + 10.0, p[1] + 20.0]).collect();
        assert_eq!(found.into_iter().map(from_lowest).collect::<Vec<_>>(), [expected], "{flags} {angle}");
    }
}

#[test]
fn references_inside_references() {
    let stream = l_shape()
        .sref("middle", 0x8000, 2.0, 90.0, [1000, 0])
        .end_cell()
        .cell("middle")
        .sref("leaf", 0, 0.5, 90.0, [100, 200])
        .end_cell();
    // Leaf (x, y) → middle (100 − y/2, 200 + x/2) → mirrored (·, −·), doubled, turned: (1000 − 2 (−y'), 2 x').
    let place = |[x, y]: [f64; 2]| {
        let (a, b) = (100.0 - y / 2.0, 200.0 + x / 2.0);
        [(1000.0 + 2.0 * b) / 1000.0, 2.0 * a / 1000.0]
    };
    let leaf = [[0.0, 0.0], [3000.0, 0.0], [3000.0, 1000.0], [1000.0, 1000.0], [1000.0, 2000.0], [0.0, 2000.0]];
    let mut expected: Ring = leaf.map(place).to_vec();
    expected.reverse();
    assert_eq!(from_lowest(rings(stream).remove(0)), from_lowest(expected));
}

#[test]
fn arrays_step_along_their_own_directions() {
    // Skew, turned, a pitch that is no whole number of units.
    let stream = Encoder::library("test", 1e-9)
        .cell("leaf")
        .rectangle(1, [0, 0], [2000, 1000])
        .end_cell()
        .cell("top")
        .aref("leaf", 90.0, [3, 2], [[0, 0], [10_000, 0], [1000, 20_000]])
        .end_cell();
    let found: Vec<Point> = rings(stream).into_iter().map(|r| from_lowest(r)[0]).collect();
    let expected: Vec<Point> = (0..6)
        .map(|i| (f64::from(i % 3), f64::from(i / 3)))
        .map(|(c, r)| [(-1000.0 + c * 10_000.0 / 3.0 + r * 500.0) / 1000.0, r * 10.0])
        .collect();
    for (f, e) in found.iter().zip(&expected) {
        assert!((f[0] - e[0]).abs() < 1e-12 && f[1] == e[1], "{found:?}");
    }
    assert_eq!(found.len(), 6);
}

#[test]
fn path_widths_follow_the_magnification_unless_absolute() {
    let stream = |width| {
        Encoder::library("test", 1e-9)
            .cell("leaf")
            .path(1, 2, width, None, &[[0, 0], [10_000, 0]])
            .end_cell()
            .cell("top")
            .sref("leaf", 0, 3.0, 0.0, [0, 0])
            .end_cell()
    };
    let area = |width| ring_area(&rings(stream(width))[0]);
    assert!((area(2000) - 36.0 * 6.0).abs() < 1e-12);
    assert!((area(-2000) - 32.0 * 2.0).abs() < 1e-12);
}

#[test]
fn path_ends() {
    let path = |kind, extensions| {
        let stream =
            Encoder::library("test", 5e-10).cell("top").path(1, kind, 4000, extensions, &[[0, 0], [0, 20_000]]);
        from_lowest(rings(stream.end_cell()).remove(0))
    };
    let straight = |low: f64, high: f64| vec![[-1.0, low], [1.0, low], [1.0, high], [-1.0, high]];
    assert_eq!(path(0, None), straight(0.0, 10.0));
    assert_eq!(path(2, None), straight(-1.0, 11.0));
    assert_eq!(path(4, Some([-1000, 3000])), straight(0.5, 11.5));
    let round = path(1, None);
    let exact = 20.0 + std::f64::consts::PI;
    // Facets inside the circle, at most the chord error times the arc's length less.
    let lost = exact - ring_area(&round);
    assert!(lost > 0.0 && lost < 0.005 * 2.0 * std::f64::consts::PI, "{lost}");
    for p in round.iter().filter(|p| p[1] < 0.0) {
        assert!((p[0].hypot(p[1]) - 1.0).abs() < 1e-14);
    }
}

#[test]
fn database_units_layers_and_things_left_out() {
    let stream = Encoder::library("test", 5e-10)
        .cell("top")
        .rectangle(1, [0, 0], [2469, 2])
        .box_element(1, 3, [0, 0], [2, 2])
        .boundary(1, 0, &[[0, 0], [10, 0], [20, 0]])
        .path(1, 0, 0, None, &[[0, 0], [5, 0]])
        .text(9, 1, [3, 4], " name ")
        .text(9, 1, [3, 4], "  ")
        .end_cell();
    let flat = flat_of(stream.clone(), None, &Selection::default()).unwrap();
    assert_eq!(flat.polygons[&ONE].len(), 1);
    assert_eq!(flat.polygons[&ONE][0].ring[2], [1.2345, 0.001]);
    assert_eq!(flat.polygons[&LayerSpec::new(1, 3)].len(), 1);
    assert_eq!((flat.zero_area_shapes, flat.zero_width_paths, flat.empty_texts), (1, 1, 1));
    let texts = &flat.texts[&LayerSpec::new(9, 1)];
    assert_eq!((texts.len(), texts[0].at, texts[0].text.as_str()), (1, [0.0015, 0.002], "name"));
    let layers = BTreeSet::from([LayerSpec::new(1, 3)]);
    let only = flat_of(stream, None, &Selection { layers: Some(&layers), ..Selection::default() }).unwrap();
    assert_eq!((only.polygons.len(), only.texts.len(), only.zero_width_paths), (1, 0, 0));
}

/// A window must find exactly what a look through everything finds, whatever the hierarchy's boxes say.
#[test]
fn a_window_on_an_array_of_arrays() {
    let stream = l_shape()
        .aref("row", 30.0, [9, 7], [[0, 0], [180_000, 20_000], [-9000, 140_000]])
        .sref("row", 0x8004, 1.5, 77.0, [-30_000, 10_000])
        .sref("fixed", 0, 0.2, 20.0, [50_000, 50_000])
        .end_cell()
        .cell("fixed")
        .path(1, 0, -4000, None, &[[0, 0], [80_000, -30_000]])
        .end_cell()
        .cell("row")
        .aref("leaf", 10.0, [4, 2], [[0, 0], [16_000, 8000], [-9000, 9000]])
        .path(1, 1, 700, None, &[[0, 0], [8000, 3000]])
        .text(9, 0, [5000, 5000], "t")
        .end_cell();
    let all = flat_of(stream.clone(), Some("top"), &Selection::default()).unwrap();
    let points = || all.polygons.values().flatten().flat_map(|p| &p.ring);
    let [low, high] = crate::geometry::bounds(points()).unwrap();
    let cells = 14;
    let step = [0, 1].map(|k| (high[k] - low[k]) / f64::from(cells));
    let mut taken = 0;
    for number in 0..cells * cells {
        let from = [low[0] + step[0] * f64::from(number % cells), low[1] + step[1] * f64::from(number / cells)];
        let window = [from, [from[0] + step[0], from[1] + step[1]]];
        let part = flat_of(stream.clone(), Some("top"), &Selection { window: Some(window), ..Selection::default() });
        let part = part.unwrap();
        let meets = |r: &Ring| {
            let [low, high] = crate::geometry::bounds(r).unwrap();
            (0..2).all(|k| low[k] < window[1][k] && high[k] > window[0][k])
        };
        let found: Vec<&Ring> = part.polygons.values().flatten().map(|p| &p.ring).collect();
        let expected: Vec<&Ring> = all.polygons.values().flatten().map(|p| &p.ring).filter(|r| meets(r)).collect();
        assert_eq!(found, expected);
        taken += found.len();
        let inside = |p: Point| (0..2).all(|k| window[0][k] <= p[k] && p[k] <= window[1][k]);
        let texts = part.texts.values().flatten().count();
        assert_eq!(texts, all.texts.values().flatten().filter(|t| inside(t.at)).count());
    }
    assert!(taken >= all.polygons.values().flatten().count());
}

#[test]
fn absurd_hierarchies_end_at_once() {
    let mut stream = Encoder::library("test", 1e-9).cell("0").rectangle(1, [0, 0], [1, 1]).end_cell();
    for i in 1..12 {
        let below = (i - 1).to_string();
        stream = stream.cell(&i.to_string());
        stream = stream.aref(&below, 0.0, [32767, 32767], [[0, 0], [32767, 0], [0, 32767]]).end_cell();
    }
    for window in [None, Some([[0.0, 0.0], [1.0, 1.0]])] {
        let started = std::time::Instant::now();
        let error = flat_of(stream.clone(), None, &Selection { window, ..Selection::default() }).unwrap_err();
        assert!(matches!(error, GdsError::TooMuch { limit: 10_000_000, .. }), "{error}");
        assert!(started.elapsed().as_secs() < 10);
    }
    // A magnification that leaves the kilometre.
    let far = l_shape().sref("leaf", 0, 1e12, 0.0, [0, 0]).end_cell();
    assert!(matches!(flat_of(far, None, &Selection::default()), Err(GdsError::OutOfRange { .. })));
    let empty = Selection { window: Some([[1.0, 0.0], [0.0, 1.0]]), ..Selection::default() };
    assert!(matches!(flat_of(l_shape().end_cell(), Some("top"), &empty), Err(GdsError::BadWindow { .. })));
}

/// What ignores the magnification around it reaches farther than its cell's box.
#[test]
fn a_window_beside_absolute_sizes() {
    let window = Some([[4.0, 1.0], [6.0, 1.9]]);
    let scaled = |inner: Encoder| inner.end_cell().cell("top").sref("inner", 0, 0.1, 0.0, [0, 0]).end_cell();
    let wide = Encoder::library("test", 1e-9).cell("inner").path(1, 0, -4000, None, &[[0, 0], [100_000, 0]]);
    let large = Encoder::library("test", 1e-9)
        .cell("leaf")
        .rectangle(1, [0, 0], [10_000, 2000])
        .end_cell()
        .cell("inner")
        .sref("leaf", 0x0004, 1.0, 0.0, [0, 0]);
    for stream in [wide, large] {
        let flat = flat_of(scaled(stream), None, &Selection { window, ..Selection::default() }).unwrap();
        assert_eq!(flat.polygons[&ONE].len(), 1);
    }
}
