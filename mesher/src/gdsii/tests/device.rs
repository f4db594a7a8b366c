//! Layers with purposes, names, windows, and plans that cannot be followed.

use crate::drawing::{Anchoring, Drawing, Film};
use crate::gdsii::encode::Encoder;
use crate::gdsii::{GdsError, LayerPlan, LayerSpec, Notes, PlanFault, Purpose, drawing, read};
use crate::geometry::Polygon;

const fn on(layer: u16) -> LayerSpec {
    LayerSpec::new(layer, 0)
}

fn plan() -> LayerPlan {
    LayerPlan {
        structure: vec![on(1)],
        holes: vec![on(2)],
        anchors: vec![on(3)],
        masses: vec![on(4)],
        electrodes: vec![on(5)],
        labels: vec![on(9)],
        ..LayerPlan::default()
    }
}

/// Two plates with a hole and an electrode each, one anchor.
fn device() -> Encoder {
    Encoder::library("test", 1e-9)
        .cell("half")
        .rectangle(1, [0, 0], [100_000, 80_000])
        .rectangle(2, [10_000, 10_000], [20_000, 20_000])
        .rectangle(4, [0, 0], [100_000, 80_000])
        .rectangle(5, [30_000, 30_000], [60_000, 60_000])
        .end_cell()
        .cell("top")
        .sref("half", 0, 1.0, 0.0, [0, 0])
        .sref("half", 0, 1.0, 180.0, [-10_000, 80_000])
        .rectangle(3, [-10_000, 30_000], [0, 50_000])
        .text(9, 0, [90_000, 70_000], "right")
        .text(9, 0, [-100_000, 70_000], "left")
        .text(9, 0, [40_000, 40_000], "plate")
        .text(9, 0, [-50_000, 40_000], "plate")
}

fn draw(stream: Encoder, plan: &LayerPlan) -> Result<(Drawing, Notes), GdsError> {
    drawing(&read(&stream.end_cell().finish()).unwrap(), plan)
}

fn area(polygons: &[Polygon]) -> f64 {
    polygons.iter().map(Polygon::area).sum()
}

#[test]
fn a_device_by_layers() {
    let (drawing, notes) = draw(device(), &plan()).unwrap();
    let Film::Drawn { structure, holes } = &drawing.film else { panic!() };
    assert_eq!((structure.len(), area(structure)), (2, 16_000.0));
    assert_eq!((holes.len(), area(holes)), (2, 200.0));
    let Anchoring::Drawn(anchors) = &drawing.anchoring else { panic!() };
    assert_eq!(area(anchors), 200.0);
    let names = |areas: &[crate::geometry::NamedArea]| -> Vec<(String, usize)> {
        areas.iter().map(|a| (a.name.clone(), a.polygons.len())).collect()
    };
    assert_eq!(names(&drawing.masses), [("left".into(), 1), ("right".into(), 1)]);
    // The left half is turned: it spans −110 … −10 µm.
    let left = crate::geometry::bounds(&drawing.masses[0].polygons[0].outer).unwrap();
    assert_eq!(left, [[-110.0, 0.0], [-10.0, 80.0]]);
    // Same names unite.
    assert_eq!(names(&drawing.electrodes), [("plate".into(), 2)]);
    assert_eq!(notes.cell, "top");
    assert_eq!(notes.polygons.len(), 5);
    assert!(notes.cut.is_empty());
}

#[test]
fn a_window_keeps_one_device() {
    let plan = LayerPlan { window: Some([[-5.0, 0.0], [50.0, 100.0]]), ..plan() };
    // The text at (90, 70) lies outside: put another inside.
    let (drawing, notes) = draw(device().text(9, 0, [5_000, 70_000], "right"), &plan).unwrap();
    let Film::Drawn { structure, .. } = &drawing.film else { panic!() };
    assert_eq!((structure.len(), area(structure)), (1, 50.0 * 80.0));
    let Anchoring::Drawn(anchors) = &drawing.anchoring else { panic!() };
    assert_eq!(area(anchors), 5.0 * 20.0);
    assert_eq!(area(&drawing.electrodes[0].polygons), 20.0 * 30.0);
    let cut: Vec<(LayerSpec, usize)> = notes.cut.iter().map(|l| (l.layer, l.count)).collect();
    assert_eq!(cut, [(on(1), 1), (on(3), 1), (on(4), 1), (on(5), 1)]);
}

#[test]
fn trenches_are_kept_whole() {
    let window = [[-50.0, 10.0], [50.0, 60.0]];
    let plan = LayerPlan {
        window: Some(window),
        trenches: vec![on(1)],
        holes: vec![on(2)],
        release_undercut_um: Some(6.0),
        ..LayerPlan::default()
    };
    let (drawing, notes) = draw(device(), &plan).unwrap();
    let Film::Trenches { trenches, window: kept } = &drawing.film else { panic!() };
    assert_eq!((trenches.len(), area(trenches), *kept), (3, 16_100.0, window));
    assert_eq!(drawing.anchoring, Anchoring::LeftByRelease { undercut_um: 6.0 });
    assert!(notes.cut.is_empty());
}

#[test]
fn names_must_match_polygons() {
    let text = |x, y, name| draw(device().text(9, 0, [x, y], name), &plan()).unwrap_err();
    assert_eq!(text(300_000, 0, "far"), GdsError::NameOverNothing { name: "far".into(), at: [300.0, 0.0] });
    let two = text(80_000, 70_000, "other");
    assert!(
        matches!(&two, GdsError::TwoNames { purpose: Purpose::Masses, names, .. } if names == &["other", "plate", "right"]),
        "{two}"
    );
    let unnamed = draw(device().rectangle(4, [0, 200_000], [1000, 201_000]), &plan()).unwrap_err();
    assert_eq!(unnamed, GdsError::Unnamed { purpose: Purpose::Masses, at: [0.0, 200.0] });
    // The same name twice in one polygon is one name.
    assert!(draw(device().text(9, 0, [80_000, 70_000], "right"), &plan()).is_ok());
}

#[test]
fn an_empty_layer_names_those_that_exist() {
    let error = draw(device(), &LayerPlan { holes: vec![on(7)], ..plan() }).unwrap_err();
    let text = error.to_string();
    assert!(matches!(error, GdsError::EmptyLayer { purpose: Purpose::Holes, .. }));
    assert!(text.contains("7/0") && text.contains("2 on 1/0") && text.contains("1 on 3/0"), "{text}");
    let labels = draw(device(), &LayerPlan { labels: vec![LayerSpec::new(9, 1)], ..plan() }).unwrap_err();
    assert!(labels.to_string().contains("4 on 9/0"), "{labels}");
    let window = Some([[500.0, 500.0], [600.0, 600.0]]);
    let outside = draw(device(), &LayerPlan { window, ..plan() }).unwrap_err();
    assert!(outside.to_string().contains("inside the window; drawn there are none"), "{outside}");
}

#[test]
fn outlines_that_cross_themselves() {
    let bow_tie = device().boundary(1, 0, &[[0, 0], [10_000, 10_000], [10_000, 0], [0, 10_000]]);
    let error = draw(bow_tie, &plan()).unwrap_err();
    assert!(matches!(&error, GdsError::SelfCrossing { at: [5.0, 5.0], cell, .. } if cell == "top"), "{error}");
    // On a layer that the plan does not use it is nobody's concern.
    assert!(draw(device().boundary(6, 0, &[[0, 0], [9000, 9000], [9000, 0], [0, 9000]]), &plan()).is_ok());
    // A hole joined to the outline by a cut line is legal.
    let keyhole = [[0, 0], [20, 0], [20, 20], [0, 20], [0, 0], [4, 4], [4, 8], [8, 8], [8, 4], [4, 4]];
    let (drawing, _) = draw(device().boundary(1, 0, &keyhole.map(|p| p.map(|v| v * 1000))), &plan()).unwrap();
    let Film::Drawn { structure, .. } = drawing.film else { panic!() };
    assert_eq!(area(&structure), 16_000.0 + 400.0 - 16.0);
}

#[test]
fn plans_that_do_not_say_one_thing() {
    let cases = [
        (LayerPlan { structure: vec![], ..plan() }, PlanFault::NoFilm),
        (LayerPlan { trenches: vec![on(1)], ..plan() }, PlanFault::TwoFilms),
        (LayerPlan { structure: vec![], trenches: vec![on(1)], ..plan() }, PlanFault::NoWindow),
        (LayerPlan { free: true, ..plan() }, PlanFault::TwoAnchorings),
        (LayerPlan { release_undercut_um: Some(5.0), ..plan() }, PlanFault::TwoAnchorings),
        (LayerPlan { anchors: vec![], ..plan() }, PlanFault::NoAnchoring),
        (LayerPlan { anchors: vec![], release_undercut_um: Some(f64::NAN), ..plan() }, PlanFault::BadUndercut),
        (LayerPlan { labels: vec![], ..plan() }, PlanFault::NoLabels),
    ];
    for (plan, fault) in cases {
        assert_eq!(draw(device(), &plan).unwrap_err(), GdsError::Plan(fault));
    }
    let free = LayerPlan { anchors: vec![], free: true, ..plan() };
    assert_eq!(draw(device(), &free).unwrap().0.anchoring, Anchoring::Free);
}
/// 200 000 release holes in one cell, from bytes to drawing. The cap only catches a wrong order of growth.
#[test]
fn a_large_mask_is_drawn_at_once() {
    let mut stream = Encoder::library("test", 1e-9).cell("top").rectangle(1, [0, 0], [5_000_000, 4_000_000]);
    for k in 0..200_000 {
        let (x, y) = (10_000 * (k % 500), 10_000 * (k / 500));
        stream = stream.rectangle(2, [x + 2000, y + 2000], [x + 5000, y + 5000]);
    }
    let bytes = stream.rectangle(3, [0, 0], [1000, 1000]).end_cell().finish();
    let started = std::time::Instant::now();
    let plan = LayerPlan { structure: vec![on(1)], holes: vec![on(2)], anchors: vec![on(3)], ..LayerPlan::default() };
    let (drawing, _) = drawing(&read(&bytes).unwrap(), &plan).unwrap();
    let seconds = started.elapsed().as_secs_f64();
    println!("{} bytes, {seconds:.3} s", bytes.len());
    let Film::Drawn { holes, .. } = &drawing.film else { panic!() };
    assert!((area(holes) - 200_000.0 * 9.0).abs() < 1e-6);
    assert!(seconds < 5.0, "{seconds}");
}
