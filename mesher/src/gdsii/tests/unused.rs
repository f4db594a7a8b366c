//! Whatever the named cell does not use is not judged: streams of real layout programs carry cells of their own.

use crate::gdsii::encode::Encoder;
use crate::gdsii::record::kind;
use crate::gdsii::{GdsError, LayerPlan, LayerSpec, Selection, drawing, flatten, read};

/// A square of 100 µm on layer 1 in cell "used", with `more` beside it.
fn used(more: impl Fn(Encoder) -> Encoder) -> Encoder {
    more(Encoder::library("test", 1e-9).cell("used").rectangle(1, [0, 0], [100_000, 100_000])).end_cell()
}

fn plan(window: Option<[[f64; 2]; 2]>) -> LayerPlan {
    let structure = vec![LayerSpec::new(1, 0)];
    LayerPlan { cell: Some("used".into()), structure, window, free: true, ..LayerPlan::default() }
}

fn drawn(stream: Encoder) -> Result<(), GdsError> {
    drawing(&read(&stream.finish())?, &plan(None)).map(|_| ())
}

/// What is wrong, and the records that make it so.
type Fault = (&'static str, fn(Encoder) -> Encoder);

/// Elements and records at fault, each on layer 2 where it has a layer.
fn faults() -> Vec<Fault> {
    vec![
        ("a boundary of one point, as programs write their own data", |s| s.boundary(2, 0, &[[0, 0]])),
        ("a path of one point", |s| s.path(2, 0, 4, None, &[[0, 0]])),
        ("a path type of another format", |s| s.path(2, 3, 4, None, &[[0, 0], [9, 0]])),
        ("a record outside the format in an element", |s| {
            let s = s.empty(kind::BOUNDARY).shorts(kind::LAYER, &[2]).shorts(kind::DATATYPE, &[0]);
            s.empty(0x77).longs(kind::XY, &[0, 0, 9, 0, 9, 9]).empty(kind::ENDEL)
        }),
        ("a text without a string", |s| {
            let s = s.empty(kind::TEXT).shorts(kind::LAYER, &[2]).shorts(kind::TEXTTYPE, &[0]);
            s.longs(kind::XY, &[0, 0]).empty(kind::ENDEL)
        }),
        ("coordinates of another data type", |s| {
            let s = s.empty(kind::BOUNDARY).shorts(kind::LAYER, &[2]).shorts(kind::DATATYPE, &[0]);
            s.shorts(kind::XY, &[0, 0, 9, 0]).empty(kind::ENDEL)
        }),
        ("an outline that crosses itself", |s| s.boundary(2, 0, &[[0, 0], [9_000, 9_000], [9_000, 0], [0, 9_000]])),
    ]
}

/// Faults that leave a cell without a known content.
fn faults_of_a_cell() -> Vec<Fault> {
    vec![
        ("an element without a layer", |s| s.empty(kind::BOUNDARY).longs(kind::XY, &[0, 0]).empty(kind::ENDEL)),
        ("a reference to a cell that is not there", |s| s.sref("gone", 0, 1.0, 0.0, [0, 0])),
        ("a reference magnified by nothing", |s| s.sref("gone", 0, 0.0, 0.0, [0, 0])),
        ("an array of no columns", |s| s.aref("gone", 0.0, [0, 1], [[0, 0]; 3])),
        ("a record outside the format", |s| s.empty(0x77)),
        ("coordinates outside an element", |s| s.longs(kind::XY, &[0, 0])),
    ]
}

#[test]
fn faults_in_cells_that_are_not_placed_do_not_matter() {
    for (what, fault) in faults().into_iter().chain(faults_of_a_cell()) {
        assert_eq!(drawn(fault(used(|s| s).cell("$$$metadata")).end_cell()), Ok(()), "{what}");
        // Placed by the named cell they do, where a layer is taken or unknown.
        let placed = fault(used(|s| s.sref("part", 0, 1.0, 0.0, [0, 0])).cell("part")).end_cell();
        let library = read(&placed.finish()).unwrap();
        let all = drawing(&library, &LayerPlan { holes: vec![LayerSpec::new(2, 0)], ..plan(None) });
        assert!(all.is_err(), "{what}");
    }
}

#[test]
fn faults_on_layers_that_are_not_taken_do_not_matter() {
    for (what, fault) in faults() {
        assert_eq!(drawn(used(fault)), Ok(()), "{what}");
    }
    for (what, fault) in faults_of_a_cell() {
        assert!(drawn(used(fault)).is_err(), "{what}");
    }
}

#[test]
fn two_cells_of_one_name_matter_where_it_is_used() {
    let twice = |s: Encoder| s.cell("part").end_cell().cell("part").end_cell();
    assert_eq!(drawn(twice(used(|s| s))), Ok(()));
    let placed = drawn(twice(used(|s| s.sref("part", 0, 1.0, 0.0, [0, 0]))));
    assert!(matches!(placed, Err(GdsError::DuplicateCell { name, .. }) if name == "part"));
}

#[test]
fn a_crossing_outside_the_window_does_not_matter() {
    let bow_tie = [[300_000, 0], [340_000, 40_000], [340_000, 0], [300_000, 40_000]];
    let library = read(&used(|s| s.boundary(1, 0, &bow_tie)).finish()).unwrap();
    let inside = |window| drawing(&library, &plan(window)).map(|_| ());
    assert_eq!(inside(Some([[0.0, 0.0], [200.0, 200.0]])), Ok(()));
    assert!(matches!(inside(None), Err(GdsError::SelfCrossing { .. })));
    assert!(matches!(inside(Some([[0.0, 0.0], [320.0, 200.0]])), Err(GdsError::SelfCrossing { .. })));
}

#[test]
fn an_empty_layer_is_named_beside_faults_on_others() {
    let library = read(&used(|s| s.boundary(2, 0, &[[0, 0]])).finish()).unwrap();
    let missing = LayerPlan { holes: vec![LayerSpec::new(7, 0)], ..plan(None) };
    assert!(matches!(drawing(&library, &missing), Err(GdsError::EmptyLayer { .. })));
    // Whoever takes all layers takes the faults.
    assert!(flatten(&library, None, &Selection::default()).is_err());
}
