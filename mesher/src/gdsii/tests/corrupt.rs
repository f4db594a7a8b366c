//! Bytes that are no sound stream: cut off anywhere, changed anywhere, or made up. Nothing may panic, hang or grow.

use crate::gdsii::encode::Encoder;
use crate::gdsii::record::kind;
use crate::gdsii::{GdsError, LayerPlan, LayerSpec, Limits, Selection, drawing, flatten, read};
use proptest::prelude::*;
use proptest::test_runner::RngAlgorithm;

/// A small stream with every record that is read.
fn sample() -> Vec<u8> {
    Encoder::library("test", 1e-9)
        .cell("leaf")
        .boundary(1, 0, &[[0, 0], [300, 0], [0, 400]])
        .box_element(1, 0, [0, 0], [50, 60])
        .path(1, 4, 20, Some([3, 4]), &[[0, 0], [100, 0], [100, 100], [40, 60], [40, -60]])
        .path(1, 1, -30, None, &[[0, 0], [100, 0]])
        .text(9, 0, [20, 20], "name")
        .end_cell()
        .cell("top")
        .sref("leaf", 0x8000, 1.5, 30.0, [100, -200])
        .aref("leaf", 90.0, [2, 3], [[0, 0], [2000, 0], [0, 3000]])
        .end_cell()
        .finish()
}

/// Everything that can be done with some bytes.
fn use_all(bytes: &[u8]) -> Result<(), GdsError> {
    let library = read(bytes)?;
    // Tight limits: what they let through is quick to draw.
    let all = Selection { limits: Limits { placements: 10_000, points: 50_000 }, ..Selection::default() };
    flatten(&library, None, &Selection { window: Some([[-0.1, -0.1], [0.2, 0.2]]), ..all })?;
    flatten(&library, None, &all)?;
    let plan = LayerPlan {
        structure: vec![LayerSpec::new(1, 0)],
        masses: vec![LayerSpec::new(1, 0)],
        labels: vec![LayerSpec::new(9, 0)],
        free: true,
        ..LayerPlan::default()
    };
    let drawn = drawing(&library, &plan).map(|_| ());
    if let Err(error) = &drawn {
        assert!(!error.to_string().is_empty());
    }
    drawn
}

#[test]
fn a_stream_cut_off_anywhere_is_an_error() {
    let whole = sample();
    assert!(read(&whole).is_ok());
    for length in 0..whole.len() {
        let error = read(&whole[..length]).unwrap_err();
        assert!(matches!(error, GdsError::Stream { offset, .. } if offset <= length), "{length}: {error}");
    }
}

/// Always the same sequence, so that a failure comes back.
fn config(cases: u32) -> ProptestConfig {
    ProptestConfig {
        cases,
        failure_persistence: None,
        rng_algorithm: RngAlgorithm::ChaCha,
        rng_seed: proptest::test_runner::RngSeed::Fixed(2),
        ..ProptestConfig::default()
    }
}

proptest! {
    #![proptest_config(config(100_000))]
    #[test]
    fn changed_bytes(edits in prop::collection::vec((any::<prop::sample::Index>(), any::<u8>()), 1..4)) {
        let mut bytes = sample();
        let length = bytes.len();
        for (at, value) in edits {
            bytes[at.index(length)] = value;
        }
        let _ = use_all(&bytes);
    }
}

proptest! {
    #![proptest_config(config(10_000))]
    #[test]
    fn made_up_bytes(garbage in prop::collection::vec(any::<u8>(), 0..300)) {
        let _ = use_all(&garbage);
        // The same inside an element of a sound stream.
        let inside = Encoder::library("test", 1e-9).cell("a").empty(kind::PATH);
        let _ = use_all(&[inside.0, garbage].concat());
    }

    /// Records that are sound one by one, in any order and with any numbers.
    #[test]
    fn made_up_records(records in prop::collection::vec((0_u8..0x3C, prop::collection::vec(any::<u8>(), 0..5)), 0..40)) {
        let mut stream = Encoder::library("test", 1e-9).cell("a");
        for (number, data) in records {
            stream = match number {
                kind::LAYER..=kind::DATATYPE | kind::TEXTTYPE | kind::BOXTYPE | kind::PATHTYPE =>
                    stream.shorts(number, &[data.len() as i16]),
                kind::XY | kind::WIDTH | kind::BGNEXTN | kind::ENDEXTN =>
                    stream.longs(number, &data.iter().map(|&b| i32::from(b) << (b % 24)).collect::<Vec<_>>()),
                kind::STRNAME | kind::SNAME | kind::STRING => stream.text_record(number, "a"),
                _ => stream.record(number, 0, &[]),
            };
        }
        let _ = use_all(&stream.end_cell().finish());
    }
}

/// Polygons with enormous coordinates, and a path whose round ends would need a million facets.
#[test]
fn extreme_numbers() {
    let (low, high) = (i32::MIN, i32::MAX);
    let bytes = Encoder::library("test", 1e-9)
        .cell("a")
        .boundary(1, 0, &[[low, low], [high, low], [high, high], [low, high]])
        .path(1, 1, high, None, &[[low, low], [high, high], [low, high], [0, low]])
        .path(1, 1, low, None, &[[low, 0], [high, 0]])
        .text(9, 0, [0, 0], "whole")
        .end_cell()
        .finish();
    let flat = flatten(&read(&bytes).unwrap(), None, &Selection::default()).unwrap();
    assert_eq!(flat.polygons.values().flatten().next().unwrap().ring[0], [-2_147_483.648, -2_147_483.648]);
    assert!(use_all(&bytes).is_ok());
}
