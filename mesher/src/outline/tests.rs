use super::*;
use crate::drawing::{Anchoring, Drawing, Film};
use crate::geometry::{Point, bounds, distance};
use crate::layout::{Array, LayoutShape, Placed};
use proptest::prelude::*;
use std::f64::consts::PI;

fn rect(a: Point, b: Point) -> Polygon {
    Polygon::solid(vec![a, [b[0], a[1]], b, [a[0], b[1]]])
}

fn drawing(structure: Vec<Polygon>, holes: Vec<Polygon>, anchors: Vec<Polygon>) -> Drawing {
    Drawing {
        film: Film::Drawn { structure, holes },
        anchoring: Anchoring::Drawn(anchors),
        masses: vec![],
        electrodes: vec![],
    }
}

fn etch(edge_bias_um: f64) -> Etch {
    Etch { edge_bias_um, ..Etch::default() }
}

fn build(structure: Vec<Polygon>, anchors: Vec<Polygon>, bias: f64) -> Result<Outline, OutlineError> {
    Outline::build(&drawing(structure, vec![], anchors), &etch(bias))
}

fn turned(p: &Polygon, deg: f64) -> Polygon {
    let (s, c) = deg.to_radians().sin_cos();
    let ring = |r: &Vec<Point>| r.iter().map(|q| [c * q[0] - s * q[1], s * q[0] + c * q[1]]).collect();
    Polygon { outer: ring(&p.outer), holes: p.holes.iter().map(ring).collect() }
}

fn held_length(part: &Part) -> f64 {
    let rings = part.polygon.rings().zip(&part.held);
    rings
        .flat_map(|(ring, held)| {
            (0..ring.len()).filter(|&i| held[i]).map(|i| distance(ring[i], ring[(i + 1) % ring.len()]))
        })
        .sum()
}

/// The see-saw plate of the contract: a plate on two torsion bars.
fn see_saw() -> (Vec<Polygon>, Vec<Polygon>) {
    (
        vec![
            rect([-150.0, -80.0], [150.0, 80.0]),
            rect([-4.0, 80.0], [4.0, 140.0]),
            rect([-4.0, -140.0], [4.0, -80.0]),
        ],
        vec![rect([-20.0, 140.0], [20.0, 170.0]), rect([-20.0, -170.0], [20.0, -140.0])],
    )
}

#[test]
fn plate_on_torsion_bars() -> Result<(), OutlineError> {
    let (structure, anchors) = see_saw();
    let idle = rect([300.0, 0.0], [320.0, 20.0]);
    let mut with_hole = drawing(structure, vec![], [anchors.clone(), vec![idle.clone()]].concat());
    let Film::Drawn { holes, .. } = &mut with_hole.film else { unreachable!() };
    *holes = LayoutShape::Circle { centre: [0.0, 0.0], radius: 5.0 }.polygons(0.001).unwrap();
    let hole_area = holes[0].area();
    for (bias, hole) in
        [(0.0, hole_area), (0.2, hole_area * (4.8f64 / 5.0).powi(2)), (-0.2, hole_area * 1.04f64.powi(2))]
    {
        let outline = Outline::build(&with_hole, &etch(bias))?;
        assert_eq!((outline.parts.len(), outline.anchors.len()), (1, 2));
        assert_eq!(outline.idle_anchors, vec![idle.clone()]);
        let exact = (300.0 + 2.0 * bias) * (160.0 + 2.0 * bias) + 2.0 * (60.0 - bias) * (8.0 + 2.0 * bias) - hole;
        // Facets of the hole move by the bias; its corners by the bias over cos(π/n).
        assert!((outline.areas().free_um2 - exact).abs() < 1e-2, "{} {exact}", outline.areas().free_um2);
        assert!((held_length(&outline.parts[0]) - 2.0 * (8.0 + 2.0 * bias)).abs() < 1e-9);
        assert_eq!(outline.parts[0].polygon.outer.len(), 12);
    }
    Ok(())
}

#[test]
fn turned_layout_keeps_its_joints() -> Result<(), OutlineError> {
    let (structure, anchors) = see_saw();
    let turn = |v: &[Polygon]| v.iter().map(|p| turned(p, 17.0)).collect::<Vec<_>>();
    for bias in [0.0, 0.15, -0.15] {
        let outline = build(turn(&structure), turn(&anchors), bias)?;
        let straight = build(structure.clone(), anchors.clone(), bias)?;
        assert_eq!((outline.parts.len(), outline.anchors.len()), (1, 2));
        assert_eq!(outline.parts[0].polygon.outer.len(), 12);
        assert!((outline.areas().free_um2 - straight.areas().free_um2).abs() < 1e-2);
        assert!((held_length(&outline.parts[0]) - held_length(&straight.parts[0])).abs() < 1e-3);
    }
    // Corners rounded to a nanometre, as a flattened stream has them, still meet.
    let nm = |v: &[Polygon]| {
        let mut v = turn(v);
        v.iter_mut().flat_map(|p| p.outer.iter_mut()).for_each(|p| *p = p.map(|x| (x * 1e3).round() / 1e3));
        v
    };
    let rounded = build(nm(&structure), nm(&anchors), 0.0)?;
    assert_eq!((rounded.parts.len(), rounded.anchors.len()), (1, 2));
    Ok(())
}

#[test]
fn symmetric_drawing_gives_an_exactly_symmetric_outline() -> Result<(), OutlineError> {
    let (mut structure, anchors) = see_saw();
    structure.extend(LayoutShape::Circle { centre: [-150.0, 0.0], radius: 33.3 }.polygons(0.001).unwrap());
    structure.extend(LayoutShape::Circle { centre: [150.0, 0.0], radius: 33.3 }.polygons(0.001).unwrap());
    let outline = build(structure, anchors, 0.0)?;
    for p in &outline.parts[0].polygon.outer {
        for image in [[-p[0], p[1]], [p[0], -p[1]]] {
            let near = outline.parts[0].polygon.outer.iter().map(|q| distance(*q, image)).fold(1.0, f64::min);
            assert!(near < 3e-5, "{p:?} misses its image by {near}");
        }
    }
    Ok(())
}

#[test]
fn bias_makes_no_skirt_around_anchors() -> Result<(), OutlineError> {
    // Flush ends, an anchor under the structure's own pad, a beam along an anchor's whole edge: nothing may grow
    // around the anchor.
    let flush = build(vec![rect([0.0, 0.0], [100.0, 4.0])], vec![rect([-20.0, 0.0], [0.0, 4.0])], 0.1)?;
    assert!((flush.areas().free_um2 - 100.1 * 4.2).abs() < 1e-3, "{}", flush.areas().free_um2);
    let pad = rect([-20.0, -10.0], [0.0, 14.0]);
    let under = build(vec![pad.clone(), rect([0.0, 0.0], [100.0, 4.0])], vec![pad.clone()], 0.1)?;
    assert!((under.areas().free_um2 - 100.1 * 4.2).abs() < 1e-3, "{}", under.areas().free_um2);
    let shelf = build(vec![rect([0.0, 0.0], [100.0, 10.0])], vec![rect([0.0, -10.0], [100.0, 0.0])], 0.1)?;
    assert!((shelf.areas().free_um2 - 100.2 * 10.1).abs() < 1e-3, "{}", shelf.areas().free_um2);
    // The anchor itself does not move.
    assert_eq!(shelf.anchors, vec![rect([0.0, -10.0], [100.0, 0.0])]);
    Ok(())
}

#[test]
fn islands_are_set_aside() -> Result<(), OutlineError> {
    let (mut structure, mut anchors) = see_saw();
    let stator = rect([200.0, -50.0], [240.0, 50.0]);
    structure.push(stator.clone());
    anchors.push(rect([198.0, -52.0], [242.0, 52.0]));
    let outline = build(structure, anchors, 0.1)?;
    assert_eq!(outline.islands, vec![rect([198.0, -52.0], [242.0, 52.0])]);
    assert_eq!((outline.parts.len(), outline.anchors.len(), outline.idle_anchors.len()), (1, 2, 0));
    Ok(())
}

#[test]
fn release_undercut_holds_what_is_wide() -> Result<(), OutlineError> {
    // A trench mask: a window 200 × 200, a beam of 4 µm between a 60 µm pad and a 60 µm pad, all in one moat; the field
    // around the moat is film too.
    let moat = Polygon { outer: rect([30.0, 50.0], [170.0, 150.0]).outer, holes: vec![] };
    let film =
        [rect([35.0, 70.0], [75.0, 130.0]), rect([125.0, 70.0], [165.0, 130.0]), rect([75.0, 98.0], [125.0, 102.0])];
    let trenches = crate::boolean::difference(&[moat], &film);
    let mut drawing = drawing(vec![], vec![], vec![]);
    drawing.film = Film::Trenches { trenches, window: [[0.0, 0.0], [200.0, 200.0]] };
    drawing.anchoring = Anchoring::LeftByRelease { undercut_um: 6.0 };
    for bias in [0.0, 0.2, -0.2] {
        let outline = Outline::build(&drawing, &etch(bias))?;
        assert_eq!((outline.parts.len(), outline.anchors.len(), outline.islands.len()), (1, 2, 1));
        // Every pad keeps (40 − 12 + 2 bias) × (60 − 12 + 2 bias), plus what the beam's root hides from the front.
        let bond = (28.0 + 2.0 * bias) * (48.0 + 2.0 * bias);
        for a in &outline.anchors {
            assert!(a.area() >= bond - 1e-6 && a.area() < bond + 1.0, "{} {bond}", a.area());
        }
        let film = 2.0 * (40.0 + 2.0 * bias) * (60.0 + 2.0 * bias) + (50.0 - 2.0 * bias) * (4.0 + 2.0 * bias);
        let areas = outline.areas();
        assert!((areas.free_um2 + areas.anchors_um2 - film).abs() < 1e-2);
        let field = 200.0 * 200.0 - (140.0 - 2.0 * bias) * (100.0 - 2.0 * bias);
        assert!((areas.islands_um2 - field).abs() < 1e-2, "{} {field}", areas.islands_um2);
    }
    Ok(())
}

#[test]
fn trench_running_out_of_the_window_keeps_no_end_wall() -> Result<(), OutlineError> {
    let mut drawing = drawing(vec![], vec![], vec![rect([0.0, 0.0], [10.0, 50.0])]);
    drawing.film =
        Film::Trenches { trenches: vec![rect([0.0, 50.0], [100.0, 60.0])], window: [[0.0, 0.0], [100.0, 60.0]] };
    let outline = Outline::build(&drawing, &etch(0.5))?;
    assert!((outline.areas().free_um2 - (90.0 * 50.5 + 10.0 * 0.5)).abs() < 6.0, "{}", outline.areas().free_um2);
    assert_eq!(bounds(&outline.parts[0].polygon.outer).map(|b| b[1]), Some([100.0, 50.5]));
    Ok(())
}

#[test]
fn masses_follow_the_biased_edges() -> Result<(), OutlineError> {
    let (structure, anchors) = see_saw();
    let mut drawing = drawing(structure, vec![], anchors);
    let half = |name: &str, a: Point, b: Point| NamedArea { name: name.into(), polygons: vec![rect(a, b)] };
    drawing.masses = vec![half("left", [-150.0, -80.0], [0.0, 80.0]), half("right", [0.0, -80.0], [150.0, 80.0])];
    for bias in [0.0, 0.2, -0.2] {
        let outline = Outline::build(&drawing, &etch(bias))?;
        assert_eq!(outline.masses.iter().map(|m| m.name.as_str()).collect::<Vec<_>>(), ["left", "right"]);
        for mass in &outline.masses {
            let area: f64 = mass.polygons.iter().map(Polygon::area).sum();
            assert!((area - (150.0 + bias) * (160.0 + 2.0 * bias)).abs() < 0.1, "{bias} {area}");
        }
    }
    drawing.masses[1].polygons[0] = rect([-30.0, -10.0], [150.0, 30.0]);
    match Outline::build(&drawing, &etch(0.0)) {
        Err(OutlineError::MassesOverlap { first, second, at }) => {
            assert_eq!((first.as_str(), second.as_str()), ("left", "right"));
            assert!(at[0] > -30.0 && at[0] < 0.0 && at[1] > -10.0 && at[1] < 30.0);
        }
        other => panic!("{other:?}"),
    }
    drawing.masses[1].polygons[0] = rect([400.0, -10.0], [450.0, 30.0]);
    let error = Outline::build(&drawing, &etch(0.0)).unwrap_err();
    assert_eq!(error, OutlineError::EmptyMass { name: "right".into(), at: Some([400.0, -10.0]) });
    Ok(())
}

#[test]
fn loose_parts_are_all_named() {
    let (mut structure, anchors) = see_saw();
    structure.push(rect([200.0, 0.0], [210.0, 10.0]));
    structure.push(rect([-230.0, 0.0], [-200.0, 10.0]));
    let parts = vec![[[-230.0, 0.0], [-200.0, 10.0]], [[200.0, 0.0], [210.0, 10.0]]];
    let error = build(structure.clone(), anchors.clone(), 0.0).unwrap_err();
    assert_eq!(error, OutlineError::Unheld { parts });
    assert!(error.to_string().contains("(-230.000, 0.000) to (-200.000, 10.000)"));
    assert!(matches!(build(structure.clone(), vec![], 0.0), Err(OutlineError::NoAnchor { drawn: 0, .. })));
    let far = vec![rect([900.0, 0.0], [910.0, 10.0])];
    assert!(matches!(build(structure.clone(), far, 0.0), Err(OutlineError::NoAnchor { drawn: 1, .. })));
    let mut floating = drawing(structure, vec![], vec![]);
    floating.anchoring = Anchoring::Free;
    assert_eq!(Outline::build(&floating, &etch(0.0)).unwrap().parts.len(), 3);
}

#[test]
fn point_contacts_are_errors() {
    let plate = rect([0.0, 0.0], [50.0, 50.0]);
    let pad = rect([-20.0, 0.0], [0.0, 50.0]);
    let at = [50.0, 50.0];
    let corner =
        build(vec![plate.clone(), rect(at, [80.0, 80.0])], vec![pad.clone(), rect([80.0, 60.0], [90.0, 70.0])], 0.0);
    assert_eq!(corner, Err(OutlineError::PointJoin { at }));
    let anchor = build(vec![plate.clone()], vec![pad.clone(), rect(at, [80.0, 80.0])], 0.0);
    assert_eq!(anchor, Err(OutlineError::PointJoin { at }));
    // A corner on the middle of an edge.
    let tip = Polygon::solid(vec![[50.0, 25.0], [70.0, 20.0], [70.0, 30.0]]);
    let middle = build(vec![plate, tip], vec![pad, rect([70.0, 0.0], [90.0, 70.0])], 0.0);
    assert_eq!(middle, Err(OutlineError::PointJoin { at: [50.0, 25.0] }));
}

#[test]
fn bias_that_cuts_or_closes_says_where() {
    let plates = [rect([0.0, 0.0], [50.0, 50.0]), rect([150.0, 0.0], [200.0, 50.0])];
    let beam = rect([50.0, 24.9], [150.0, 25.1]);
    let anchors = vec![rect([-20.0, 0.0], [0.0, 50.0]), rect([200.0, 0.0], [220.0, 50.0])];
    let structure = [plates.to_vec(), vec![beam]].concat();
    match build(structure, anchors.clone(), -0.15) {
        Err(OutlineError::BiasCuts { edge_bias_um, width_um, at }) => {
            assert_eq!(edge_bias_um, -0.15);
            assert!((width_um - 0.2).abs() < 1e-4 && (at[1] - 25.0).abs() < 1e-3 && at[0] > 49.0 && at[0] < 151.0);
        }
        other => panic!("{other:?}"),
    }
    let near = vec![rect([0.0, 0.0], [50.0, 50.0]), rect([50.3, 0.0], [200.0, 50.0])];
    match build(near, anchors.clone(), 0.2) {
        Err(OutlineError::BiasCloses { edge_bias_um, width_um, at }) => {
            assert_eq!(edge_bias_um, 0.2);
            assert!((width_um - 0.3).abs() < 1e-4 && (at[0] - 50.15).abs() < 1e-3 && at[1] > 0.0 && at[1] < 50.0);
        }
        other => panic!("{other:?}"),
    }
    // An anchor does not move, so that a gap beside it closes by one bias only.
    let beside = vec![anchors[0].clone(), rect([50.15, 10.0], [80.0, 20.0])];
    match build(vec![rect([0.0, 0.0], [50.0, 50.0])], beside.clone(), 0.2) {
        Err(OutlineError::BiasCloses { width_um, at, .. }) => {
            assert!((width_um - 0.15).abs() < 1e-4 && (at[0] - 50.075).abs() < 1e-3 && at[1] > 9.5 && at[1] < 20.5);
        }
        other => panic!("{other:?}"),
    }
    assert_eq!(build(vec![rect([0.0, 0.0], [50.0, 50.0])], beside, 0.1).unwrap().idle_anchors.len(), 1);
    // A release hole that closes altogether joins nothing; a slot that closes does.
    let closing = |hole: Polygon| {
        let plate = rect([0.0, 0.0], [200.0, 50.0]);
        Outline::build(&drawing(vec![plate], vec![hole], anchors.clone()), &etch(0.2))
    };
    assert_eq!(closing(rect([100.0, 20.0], [100.3, 20.3])).unwrap().parts[0].polygon.holes.len(), 0);
    assert!(matches!(closing(rect([100.0, 20.0], [140.0, 20.3])), Err(OutlineError::BiasCloses { .. })));
    // A comb finger that vanishes changes no connection, and is still a loss.
    let finger = vec![rect([0.0, 0.0], [50.0, 50.0]), rect([50.0, 20.0], [80.0, 20.2])];
    assert!(matches!(build(finger, anchors, -0.11), Err(OutlineError::BiasCuts { .. })));
}

#[test]
fn thin_material_is_an_error_with_its_width() {
    let anchors = vec![rect([-20.0, 0.0], [0.0, 50.0])];
    let structure =
        vec![rect([0.0, 0.0], [50.0, 50.0]), rect([50.0, 20.0], [80.0, 20.04]), rect([80.0, 0.0], [99.0, 50.0])];
    match build(structure.clone(), anchors.clone(), 0.0) {
        Err(OutlineError::TooThin { places: 1, least_um: 0.05, width_um, at }) => {
            assert!((width_um - 0.04).abs() < 1e-6 && (at[1] - 20.02).abs() < 1e-4 && at[0] > 49.9 && at[0] < 80.1);
        }
        other => panic!("{other:?}"),
    }
    let wide = Etch { edge_bias_um: 0.0, smallest_feature_um: 0.03 };
    assert!(Outline::build(&drawing(structure, vec![], anchors), &wide).is_ok());
}

#[test]
fn empty_and_impossible_drawings() {
    let plate = rect([0.0, 0.0], [50.0, 50.0]);
    let pad = rect([-20.0, 0.0], [0.0, 50.0]);
    assert_eq!(build(vec![], vec![pad.clone()], 0.0), Err(OutlineError::EmptyFilm { window: None }));
    let swallowed = drawing(vec![plate.clone()], vec![rect([-1.0, -1.0], [51.0, 51.0])], vec![pad.clone()]);
    assert_eq!(
        Outline::build(&swallowed, &etch(0.0)),
        Err(OutlineError::EmptyFilm { window: Some([[0.0, 0.0], [50.0, 50.0]]) })
    );
    let held = build(vec![plate.clone()], vec![rect([-1.0, -1.0], [60.0, 60.0])], 0.0);
    assert_eq!(held, Err(OutlineError::NothingFree { bounds: [[0.0, 0.0], [50.0, 50.0]] }));
    let nan = Polygon::solid(vec![[0.0, 0.0], [f64::NAN, 0.0], [1.0, 1.0]]);
    assert!(matches!(build(vec![nan], vec![pad.clone()], 0.0), Err(OutlineError::NotALength { what: "x", .. })));
    assert!(matches!(build(vec![plate], vec![pad], f64::INFINITY), Err(OutlineError::NotALength { .. })));
    let mut trench = drawing(vec![], vec![], vec![]);
    let window = [[5.0, 0.0], [5.0, 9.0]];
    trench.film = Film::Trenches { trenches: vec![], window };
    assert_eq!(Outline::build(&trench, &etch(0.0)), Err(OutlineError::EmptyWindow { window }));
    trench.anchoring = Anchoring::LeftByRelease { undercut_um: -1.0 };
    assert_eq!(Outline::build(&trench, &etch(0.0)), Err(OutlineError::Undercut { undercut_um: -1.0 }));
}

#[test]
fn perforated_plate_has_its_closed_form_area() -> Result<(), OutlineError> {
    let holes = Placed {
        array: Some(Array { columns: 30, rows: 20, column_step: [10.0, 0.0], row_step: [0.0, 10.0] }),
        ..Placed::from(LayoutShape::Circle { centre: [5.0, 5.0], radius: 2.0 })
    };
    let holes = holes.polygons(0.001).unwrap();
    let n = holes[0].outer.len() as f64;
    let drawing = drawing(vec![rect([0.0, 0.0], [300.0, 200.0])], holes, vec![rect([-9.0, 0.0], [0.0, 200.0])]);
    let outline = Outline::build(&drawing, &etch(0.1))?;
    assert_eq!(outline.parts[0].polygon.holes.len(), 600);
    let apothem = 2.0 * (PI / n).cos() - 0.1;
    let exact = 300.1 * 200.2 - 600.0 * n * apothem * apothem * (PI / n).tan();
    assert!(
        (outline.areas().free_um2 - exact).abs() < 600.0 * 4.0 * PI * 0.5e-5,
        "{} {exact}",
        outline.areas().free_um2
    );
    Ok(())
}

fn boxes(most: usize) -> impl Strategy<Value = Vec<Polygon>> {
    let one = (-40i32..40, -40i32..40, 1i32..40, 1i32..40, 0..3u8);
    prop::collection::vec(one, 0..most).prop_map(|v| {
        let at = |(x, y, w, h, turn): (i32, i32, i32, i32, u8)| {
            let p = rect([x.into(), y.into()], [(x + w).into(), (y + h).into()]);
            turned(&p, f64::from(turn) * 17.0)
        };
        v.into_iter().map(at).collect()
    })
}

proptest! {
    #[test]
    fn any_drawing_gives_an_outline_or_an_error(
        structure in boxes(8), holes in boxes(4), anchors in boxes(3), bias in -1.5..1.5f64, release in 0..4u8,
    ) {
        let mut drawing = drawing(structure, holes, anchors);
        if release == 0 {
            drawing.anchoring = Anchoring::LeftByRelease { undercut_um: 3.0 };
        }
        if release == 1 && let Film::Drawn { holes, .. } = &drawing.film {
            drawing.film = Film::Trenches { trenches: holes.clone(), window: [[-30.0, -30.0], [30.0, 30.0]] };
        }
        if let Ok(outline) = Outline::build(&drawing, &etch(bias)) {
            prop_assert!(outline.areas().free_um2 > 0.0);
            for part in &outline.parts {
                prop_assert!(part.held.iter().flatten().any(|h| *h));
                prop_assert!(part.polygon.rings().zip(&part.held).all(|(r, h)| r.len() == h.len() && r.len() > 2));
            }
            prop_assert_eq!(&outline, &Outline::build(&drawing, &etch(bias)).unwrap());
        }
    }
}
