use super::*;
use std::f64::consts::PI;

fn area(polygons: &[Polygon]) -> f64 {
    polygons.iter().map(Polygon::area).sum()
}

#[test]
fn areas_against_closed_forms() -> Result<(), LayoutError> {
    let e = 1e-3;
    let rect = LayoutShape::Rect { corners: [[3.0, 5.0], [-1.0, 2.0]] };
    assert_eq!(area(&rect.polygons(e)?), 12.0);
    // A faceted circle of n corners: n/2 r² sin(2π/n), every corner on the circle, sagitta below the chord error.
    for (r, e) in [(5.0, 1e-3), (200.0, 1e-3), (200.0, 0.1), (0.3, 1e-3)] {
        let disc = LayoutShape::Circle { centre: [7.0, -2.0], radius: r }.polygons(e)?;
        let n = disc[0].outer.len() as f64;
        assert_eq!(disc[0].outer.len() % 24, 0);
        assert!(r * (1.0 - (PI / n).cos()) <= e);
        assert!((area(&disc) - 0.5 * n * r * r * (2.0 * PI / n).sin()).abs() < 1e-9 * r * r);
        assert!(disc[0].outer.iter().all(|p| ((p[0] - 7.0).hypot(p[1] + 2.0) - r).abs() < 1e-12 * r));
        assert_eq!(disc[0].outer[0], [7.0 + r, -2.0]);
    }
    let ring = LayoutShape::Ring { centre: [0.0, 0.0], inner: 90.0, outer: 100.0 }.polygons(1e-4)?;
    assert!((area(&ring) / (PI * 1900.0) - 1.0).abs() < 2e-5);
    for (ends, more) in [(Ends::Flush, 0.0), (Ends::Square, 8.0 * 8.0), (Ends::Round, 16.0 * PI)] {
        let [centre, from_deg, to_deg] = [1.0, 200.0, 310.0];
        let arc = LayoutShape::Arc { centre: [centre, 2.0], radius: 50.0, width: 8.0, from_deg, to_deg, ends };
        let exact = 110f64.to_radians() * 50.0 * 8.0 + more;
        assert!((area(&arc.polygons(1e-5)?) / exact - 1.0).abs() < 1e-6);
        let path = LayoutShape::Path { points: vec![[0.0, 0.0], [30.0, 40.0]], width: 8.0, ends };
        assert!((area(&path.polygons(1e-5)?) / (400.0 + more) - 1.0).abs() < 1e-6);
    }
    Ok(())
}

#[test]
fn arcs_hit_their_angles_exactly() -> Result<(), LayoutError> {
    let arc = LayoutShape::Arc {
        centre: [0.0, 0.0],
        radius: 10.0,
        width: 2.0,
        from_deg: 350.0,
        to_deg: 90.0,
        ends: Ends::Flush,
    };
    let ring = arc.polygons(1e-3)?.remove(0).outer;
    assert!(ring.contains(&[0.0, 11.0]) && ring.contains(&[0.0, 9.0]));
    let start = ring[0];
    assert!((start[1].atan2(start[0]).to_degrees() + 10.0).abs() < 1e-12);
    Ok(())
}

#[test]
fn circles_are_exactly_symmetric() -> Result<(), LayoutError> {
    let ring = LayoutShape::Circle { centre: [0.0, 0.0], radius: 37.3 }.polygons(1e-3)?.remove(0).outer;
    for p in &ring {
        for image in [[-p[0], p[1]], [p[0], -p[1]], [p[1], p[0]]] {
            assert!(ring.contains(&image), "{p:?} has no image {image:?}");
        }
    }
    Ok(())
}

#[test]
fn path_joins() -> Result<(), LayoutError> {
    let outline = |points: &[Point], width| path::outline(points, width, Ends::Flush, 0.0, 0.0, 1e-3);
    // A 60° turn and a right angle are mitred: area = length × width whatever the turn.
    for points in [[[0.0f64, 0.0], [50.0, 0.0], [50.0, 30.0]], [[0.0, 0.0], [50.0, 0.0], [75.0, 43.30127018922193]]] {
        let length: f64 = points.windows(2).map(|w| (w[1][0] - w[0][0]).hypot(w[1][1] - w[0][1])).sum();
        let bent = outline(&points, 4.0)?;
        assert_eq!(bent[0].outer.len(), 6);
        assert!((area(&bent) - 4.0 * length).abs() < 1e-9);
    }
    // A turn of 150° is bevelled: two strips, less the kite they share, plus the bevel's triangle. Half width 2:
    // kite 4 tan 75°, triangle 2 sin 150°, the bevel reaches 2 sin 30° past the corner.
    let sharp = outline(&[[0.0, 0.0], [50.0, 0.0], [50.0 - 43.30127018922193, 25.0]], 4.0)?;
    let reach = sharp[0].outer.iter().map(|p| p[0]).fold(0.0, f64::max);
    assert!((reach - 51.0).abs() < 1e-4, "{reach}");
    assert!((area(&sharp) - (400.0 - 4.0 * 75f64.to_radians().tan() + 1.0)).abs() < 1e-3, "{}", area(&sharp));
    // A closed loop that runs over its own start: a frame with one opening.
    let frame = path::outline(
        &[[0.0, 0.0], [20.0, 0.0], [20.0, 20.0], [0.0, 20.0], [0.0, 0.0]],
        2.0,
        Ends::Square,
        0.0,
        0.0,
        1e-3,
    )?;
    assert_eq!((frame.len(), frame[0].holes.len()), (1, 1));
    assert!((area(&frame) - (22.0 * 22.0 - 18.0 * 18.0)).abs() < 1e-4);
    // GDSII's own end extensions.
    let long = path::outline(&[[0.0, 0.0], [0.0, 10.0]], 2.0, Ends::Flush, 1.0, 3.0, 1e-3)?;
    assert_eq!(crate::geometry::bounds(&long[0].outer), Some([[-1.0, -1.0], [1.0, 13.0]]));
    Ok(())
}

#[test]
fn arrays_and_mirrors() -> Result<(), LayoutError> {
    let comb = Placed {
        shape: LayoutShape::Rect { corners: [[1.0, 0.0], [2.0, 10.0]] },
        array: Some(Array { columns: 3, rows: 2, column_step: [4.0, 0.0], row_step: [0.0, 20.0] }),
        mirror: Some(Mirroring { line: Line::Vertical(0.0), keep_original: true }),
    };
    let polygons = comb.polygons(1e-3)?;
    assert_eq!(polygons.len(), 12);
    assert!(polygons.iter().all(|p| (p.area() - 10.0).abs() < 1e-12));
    let all = crate::geometry::bounds(polygons.iter().flat_map(|p| p.outer.iter()));
    assert_eq!(all, Some([[-10.0, 0.0], [10.0, 30.0]]));
    let diagonal = Placed {
        mirror: Some(Mirroring { line: Line::Through([0.0, 0.0], [1.0, 1.0]), keep_original: false }),
        ..Placed::from(LayoutShape::Rect { corners: [[1.0, 0.0], [2.0, 10.0]] })
    };
    assert_eq!(crate::geometry::bounds(&diagonal.polygons(1e-3)?[0].outer), Some([[0.0, 1.0], [10.0, 2.0]]));
    Ok(())
}

#[test]
fn every_flaw_is_named_with_its_place() {
    let polygon = |outer: &[Point]| LayoutShape::Polygon { outer: outer.to_vec(), holes: vec![] };
    let error = |shape: LayoutShape| shape.polygons(1e-3).unwrap_err();
    assert_eq!(
        error(polygon(&[[0.0, 0.0], [4.0, 4.0], [4.0, 0.0], [0.0, 4.0]])),
        LayoutError::Crossing { at: [2.0, 2.0] }
    );
    assert!(matches!(
        error(polygon(&[[5.0, 1.0], [6.0, 1.0], [5.0, 1.0]])),
        LayoutError::TooFewPoints { found: 2, needed: 3, at: [5.0, 1.0] }
    ));
    assert_eq!(error(polygon(&[[5.0, 1.0], [6.0, 1.0], [7.0, 1.0]])), LayoutError::NoArea { at: [5.0, 1.0] });
    assert!(matches!(error(polygon(&[[0.0, 0.0], [f64::NAN, 0.0], [1.0, 1.0]])), LayoutError::NotALength { .. }));
    let hole = vec![[20.0, 1.0], [21.0, 1.0], [21.0, 2.0]];
    let outside = LayoutShape::Polygon { outer: vec![[0.0, 0.0], [9.0, 0.0], [9.0, 9.0]], holes: vec![hole] };
    assert!(matches!(error(outside), LayoutError::HoleOutside { at } if at[0] >= 20.0));
    let flat = LayoutShape::Rect { corners: [[1.0, 2.0], [3.0, 2.0]] };
    assert!(matches!(error(flat), LayoutError::NotPositive { value: 0.0, at: [1.0, 2.0], .. }));
    let centre = [3.0, 4.0];
    assert!(matches!(
        error(LayoutShape::Circle { centre, radius: -1.0 }),
        LayoutError::NotPositive { value: -1.0, .. }
    ));
    assert_eq!(
        error(LayoutShape::Ring { centre, inner: 5.0, outer: 5.0 }),
        LayoutError::NothingLeft { inner: 5.0, outer: 5.0, at: centre }
    );
    let ends = Ends::Flush;
    let arc = LayoutShape::Arc { centre, radius: 9.0, width: 2.0, from_deg: 0.0, to_deg: 400.0, ends };
    assert!(matches!(error(arc), LayoutError::Sweep { sweep_deg: 400.0, .. }));
    let path = LayoutShape::Path { points: vec![centre, centre], width: 2.0, ends };
    assert_eq!(error(path), LayoutError::TooFewPoints { found: 1, needed: 2, at: centre });
    assert!(matches!(LayoutShape::Circle { centre, radius: 1.0 }.polygons(0.0), Err(LayoutError::ChordError { .. })));
    let mut placed = Placed::from(LayoutShape::Circle { centre, radius: 1.0 });
    placed.array = Some(Array { columns: 2000, rows: 2000, column_step: centre, row_step: centre });
    assert_eq!(placed.polygons(1e-3), Err(LayoutError::Copies { columns: 2000, rows: 2000 }));
    placed.shape = LayoutShape::Circle { centre, radius: 1e5 };
    placed.array = Some(Array { columns: 1000, rows: 1000, column_step: centre, row_step: centre });
    assert_eq!(placed.polygons(1e-3), Err(LayoutError::Copies { columns: 1000, rows: 1000 }));
    placed.array = None;
    placed.mirror = Some(Mirroring { line: Line::Through(centre, centre), keep_original: true });
    assert_eq!(placed.polygons(1e-3), Err(LayoutError::MirrorLine { at: centre }));
}

#[test]
fn a_bow_tie_with_a_corner_at_its_crossing_is_refused_there() {
    let polygon =
        |outer: &[Point], holes: Vec<Ring>| LayoutShape::Polygon { outer: outer.to_vec(), holes }.polygons(1e-3);
    // Both strands have a corner at the crossing.
    let bow = [[0.0, 0.0], [30.0, 0.0], [15.0, 15.0], [-5.0, 35.0], [35.0, 35.0], [15.0, 15.0]];
    assert_eq!(polygon(&bow, vec![]), Err(LayoutError::Crossing { at: [15.0, 15.0] }));
    // One has.
    let bow = [[0.0, 0.0], [30.0, 0.0], [15.0, 15.0], [-5.0, 35.0], [35.0, 35.0]];
    assert_eq!(polygon(&bow, vec![]), Err(LayoutError::Crossing { at: [15.0, 15.0] }));
    // Two turns around the same place meet in a corner.
    let twice = [[0.0, 0.0], [9.0, 0.0], [9.0, 9.0], [0.0, 9.0], [0.0, 0.0], [4.0, 0.0], [4.0, 4.0], [0.0, 4.0]];
    assert!(matches!(polygon(&twice, vec![]), Err(LayoutError::Crossing { .. })));
    // Two lobes that only touch in a corner lose nothing.
    let kiss = [[0.0, 0.0], [30.0, 0.0], [15.0, 15.0], [35.0, 35.0], [-5.0, 35.0], [15.0, 15.0]];
    assert!((area(&polygon(&kiss, vec![]).unwrap()) - (225.0 + 400.0)).abs() < 1e-9);
    // Openings over one another: what another polygon adds there would be lost.
    let square = [[0.0, 0.0], [30.0, 0.0], [30.0, 30.0], [0.0, 30.0]];
    let hole = |x: f64| vec![[x, 5.0], [x + 10.0, 5.0], [x + 10.0, 15.0], [x, 15.0]];
    assert!(polygon(&square, vec![hole(2.0), hole(12.0)]).is_ok());
    let overlap = polygon(&square, vec![hole(2.0), hole(7.0)]);
    assert_eq!(overlap, Err(LayoutError::HolesOverlap { at: [2.0, 15.0] }));
}

#[test]
fn keyholes_touch_themselves_and_are_allowed() -> Result<(), LayoutError> {
    // A ring drawn as one boundary with a cut of no width, the way GDSII draws holes.
    let outer = vec![
        [0.0, 0.0],
        [10.0, 0.0],
        [10.0, 10.0],
        [0.0, 10.0],
        [0.0, 5.0],
        [3.0, 5.0],
        [3.0, 7.0],
        [7.0, 7.0],
        [7.0, 3.0],
        [3.0, 3.0],
        [3.0, 5.0],
        [0.0, 5.0],
    ];
    let polygons = LayoutShape::Polygon { outer, holes: vec![] }.polygons(1e-3)?;
    let united = crate::boolean::union(&polygons);
    assert_eq!((united.len(), united[0].holes.len()), (1, 1));
    assert!((area(&united) - 84.0).abs() < 1e-9);
    Ok(())
}
