//! What [`crate::gdsii::read`] takes from a stream and what it refuses.

use crate::gdsii::encode::Encoder;
use crate::gdsii::record::kind;
use crate::gdsii::{GdsError, LayerSpec, PathEnd, Selection, StreamFault, flatten, read};

/// Of the frame, or of what its only cell draws.
fn fault(bytes: &[u8]) -> (usize, StreamFault) {
    match read(bytes).and_then(|library| flatten(&library, None, &Selection::default())) {
        Err(GdsError::Stream { offset, fault }) => (offset, fault),
        other => panic!("{other:?}"),
    }
}

#[test]
fn every_kind_of_element() {
    let bytes = Encoder::library("test", 1e-9)
        .cell("leaf")
        .boundary(1, 2, &[[0, 0], [10, 0], [10, 0], [0, 10]])
        .box_element(3, 4, [0, 0], [5, 6])
        .path(5, 4, -20, Some([3, -4]), &[[0, 0], [0, 0], [100, 0]])
        .path(5, 1, 20, None, &[[0, 0], [100, 0]])
        .path(5, 2, 20, None, &[[0, 0], [100, 0]])
        .path(5, 0, 0, None, &[[0, 0], [100, 0]])
        .text(-1, 7, [8, 9], "odd")
        .end_cell()
        .cell("top")
        .sref("leaf", 0x8006, 2.5, 270.0, [1, -2])
        .aref("leaf", -90.0, [2, 3], [[0, 0], [20, 0], [0, 30]])
        .end_cell()
        .finish();
    let library = read(&bytes).unwrap();
    assert_eq!(library.name, "test");
    assert!((library.database_unit_m / 1e-9 - 1.0).abs() < 1e-15);
    assert!((library.user_unit_m / 1e-6 - 1.0).abs() < 1e-15);
    let [leaf, top] = library.cells.as_slice() else { panic!() };
    assert_eq!((leaf.name.as_str(), top.name.as_str()), ("leaf", "top"));
    assert_eq!(leaf.polygons[0].layer, LayerSpec::new(1, 2));
    assert_eq!(leaf.polygons[0].points, [[0, 0], [10, 0], [0, 10]]);
    assert_eq!(leaf.polygons[1].layer, LayerSpec::new(3, 4));
    assert_eq!(leaf.polygons[1].points, [[0, 0], [5, 0], [5, 6], [0, 6]]);
    let [extended, round, square, line] = leaf.paths.as_slice() else { panic!() };
    assert_eq!(extended.end, PathEnd::Extended { begin: 3, end: -4 });
    assert_eq!((extended.width, extended.absolute_width), (20, true));
    assert_eq!(extended.points, [[0, 0], [100, 0]]);
    assert_eq!((round.end, square.end, line.end), (PathEnd::Round, PathEnd::HalfWidth, PathEnd::Flush));
    assert_eq!((round.width, round.absolute_width, line.width), (20, false, 0));
    let text = &leaf.texts[0];
    assert_eq!((text.layer, text.at, text.text.as_str()), (LayerSpec::new(65535, 7), [8, 9], "odd"));
    let [single, array] = top.references.as_slice() else { panic!() };
    assert!(single.mirrored && single.absolute_magnification && single.absolute_angle);
    assert_eq!((single.magnification, single.angle_deg, single.origin), (2.5, 270.0, [1, -2]));
    assert_eq!(single.array, None);
    let shape = array.array.unwrap();
    assert_eq!((shape.columns, shape.rows, shape.columns_end, shape.rows_end), (2, 3, [20, 0], [0, 30]));
    assert!(!array.mirrored && array.angle_deg == -90.0);
    assert_eq!(bytes[single.offset + 2], kind::SREF);
    assert_eq!(bytes[leaf.paths[1].offset + 2], kind::PATH);
}

#[test]
fn what_is_not_geometry_is_passed_over() {
    const REFLIBS: u8 = 0x1F;
    let skipped_in_library = [(REFLIBS, "a"), (0x20, "font"), (0x23, "attributes"), (0x37, "1 5-8"), (0x3A, "rules")];
    let mut stream = Encoder::library("test", 1e-9);
    for (number, text) in skipped_in_library {
        stream = stream.text_record(number, text);
    }
    let bytes = stream
        .shorts(0x22, &[3]) // GENERATIONS
        .shorts(0x36, &[1]) // FORMAT
        .empty(0x38) // ENDMASKS
        .shorts(0x39, &[9]) // LIBDIRSIZE
        .cell("a")
        .shorts(0x34, &[0]) // STRCLASS
        .empty(kind::NODE)
        .shorts(kind::LAYER, &[1])
        .shorts(0x2A, &[0]) // NODETYPE
        .longs(kind::XY, &[1, 1])
        .empty(kind::ENDEL)
        .empty(kind::BOUNDARY)
        .shorts(0x26, &[0]) // ELFLAGS
        .longs(0x2F, &[7]) // PLEX
        .shorts(kind::LAYER, &[1])
        .shorts(kind::DATATYPE, &[0])
        .longs(kind::XY, &[0, 0, 4, 0]) // in two records, not closed
        .longs(kind::XY, &[4, 4])
        .shorts(0x2B, &[1]) // PROPATTR
        .text_record(0x2C, "value") // PROPVALUE
        .empty(kind::ENDEL)
        .end_cell()
        .finish();
    let library = read(&[bytes.as_slice(), &[0; 2048]].concat()).unwrap();
    assert_eq!(library.cells[0].polygons[0].points, [[0, 0], [4, 0], [4, 4]]);
}

#[test]
fn names_in_latin_1_and_empty_strings() {
    let bytes = Encoder::library("test", 1e-9)
        .record(kind::LIBNAME, 6, &[])
        .shorts(kind::BGNSTR, &[0; 12])
        .record(kind::STRNAME, 6, b"10\xB5m\0\0")
        .text(1, 0, [0, 0], "")
        .end_cell()
        .finish();
    let library = read(&bytes).unwrap();
    assert_eq!((library.name.as_str(), library.cells[0].name.as_str()), ("", "10µm"));
    assert_eq!(library.cells[0].texts[0].text, "");
}

#[test]
fn errors_stand_at_the_record_at_fault() {
    let start = Encoder::library("test", 1e-9).cell("a");
    let at = start.0.len();
    let element = |s: Encoder| s.empty(kind::BOUNDARY);
    // Too few points, said where the element begins.
    let two = start.clone().boundary(1, 0, &[[0, 0], [5, 5]]).end_cell().finish();
    assert_eq!(fault(&two), (at, StreamFault::TooFewPoints { of: "a BOUNDARY", found: 2, needed: 3 }));
    let no_layer = element(start.clone()).empty(kind::ENDEL).end_cell().finish();
    assert_eq!(fault(&no_layer), (at, StreamFault::Missing { of: "a BOUNDARY", missing: "LAYER" }));
    // Within the element, said where the record is.
    let open = element(start.clone()).end_cell().finish();
    assert!(matches!(fault(&open), (o, StreamFault::Misplaced { record: "ENDSTR", .. }) if o == at + 4));
    let wrong = element(start.clone()).longs(kind::LAYER, &[1]).empty(kind::ENDEL).end_cell().finish();
    assert!(matches!(fault(&wrong), (o, StreamFault::WrongData { record: "LAYER", .. }) if o == at + 4));
    let two_layers = element(start.clone()).shorts(kind::LAYER, &[1, 2]).empty(kind::ENDEL).end_cell().finish();
    let expected = StreamFault::WrongCount { record: "LAYER", expected: 1, found: 2 };
    assert_eq!(fault(&two_layers), (at + 4, expected));
    let odd = [start.0.as_slice(), &[0, 5, kind::LAYER, 2, 0]].concat();
    assert_eq!(fault(&odd), (at, StreamFault::BadLength { length: 5 }));
    let unknown = start.clone().empty(0x7F).end_cell().finish();
    assert_eq!(fault(&unknown), (at, StreamFault::UnknownRecord { kind: 0x7F, data_type: 0 }));
    let path = |path_type| start.clone().path(1, path_type, 2, None, &[[0, 0], [9, 0]]).end_cell().finish();
    assert!(matches!(fault(&path(3)).1, StreamFault::BadValue { record: "PATHTYPE", .. }));
    assert!(flatten(&read(&path(4)).unwrap(), None, &Selection::default()).is_ok());
    let none = start.clone().aref("b", 0.0, [0, 3], [[0, 0]; 3]).end_cell().finish();
    assert!(matches!(fault(&none).1, StreamFault::BadValue { record: "COLROW", .. }));
    let flat = start.clone().sref("b", 0, -1.0, 0.0, [0, 0]).end_cell().finish();
    assert!(matches!(fault(&flat).1, StreamFault::BadValue { record: "MAG", .. }));
    let outside = Encoder::library("test", 1e-9).longs(kind::XY, &[0, 0]).finish();
    assert!(matches!(fault(&outside).1, StreamFault::Misplaced { record: "XY", .. }));
}

#[test]
fn errors_of_the_frame() {
    for (bytes, word) in [
        (&b""[..], "empty"),
        (b"\x1F\x8B\x08\x00", "compressed"),
        (b"%SEMI-OASIS\r\n", "OASIS"),
        (b"{\"format\":", "no GDSII"),
    ] {
        let (offset, fault) = fault(bytes);
        assert!(offset == 0 && fault.to_string().contains(word), "{fault}");
    }
    let whole = Encoder::library("test", 1e-9).finish();
    assert_eq!(read(&whole).unwrap().cells, []);
    assert_eq!(fault(&whole[..whole.len() - 4]), (whole.len() - 4, StreamFault::Ends { left: 0 }));
    let mut joined = whole.clone();
    joined.extend([0, 0, 0, 1]);
    assert_eq!(fault(&joined), (whole.len() + 3, StreamFault::AfterEnd));
    let no_units = Encoder::default().shorts(kind::HEADER, &[600]).finish();
    assert_eq!(fault(&no_units).1, StreamFault::Missing { of: "the library", missing: "UNITS" });
    let zero = Encoder::library("test", 0.0).finish();
    assert!(matches!(fault(&zero).1, StreamFault::BadValue { record: "UNITS", .. }));
    let twice = Encoder::library("test", 1e-9).cell("a").end_cell();
    let second = twice.0.len();
    let twice = read(&twice.cell("a").end_cell().finish()).unwrap();
    let error = flatten(&twice, None, &Selection::default()).unwrap_err();
    assert!(matches!(error, GdsError::DuplicateCell { second: s, .. } if s == second), "{error}");
}
