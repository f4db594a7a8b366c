//! Random edits of a valid device file never panic and never hang: the reader says yes or gives a placed error.

// A helper that cannot go on fails its test.
#![allow(clippy::unwrap_used)]

use modalith::device::Device;
use modalith::device::document::Document;
use modalith_tests::SEE_SAW;
use proptest::prelude::*;
use serde_json::{Value, json};
use std::path::Path;

/// A device with every kind of shape and key.
const RICH: &str = include_str!("rich_device.json");

fn read(bytes: Vec<u8>) -> Result<(), modalith::device::InputError> {
    let device = Device::from_document(Document::from_bytes(Path::new("device.json"), bytes)?)?;
    device.drawing().map(|_| ())
}

fn edited(text: &str, edits: &[(usize, usize, Vec<u8>)]) -> Vec<u8> {
    let mut bytes = text.as_bytes().to_vec();
    for (place, cut, new) in edits {
        let start = place % (bytes.len() + 1);
        let end = (start + cut).min(bytes.len());
        bytes.splice(start..end, new.iter().copied());
    }
    bytes
}

/// Bytes that keep the text nearly JSON go further into the reader than others.
fn telling_bytes() -> impl Strategy<Value = Vec<u8>> {
    prop_oneof![
        prop::collection::vec(any::<u8>(), 0..4),
        prop::sample::select(vec![
            "-", "0", "9", "e9", "null", "[]", "{}", "\"\"", ",", "1e308", "-0.0", "true", "\\u0000", "[[0,0]]"
        ])
        .prop_map(|s| s.as_bytes().to_vec()),
    ]
}

#[test]
fn the_devices_are_valid_before_the_edits() {
    read(SEE_SAW.into()).unwrap();
    read(RICH.into()).unwrap();
}

proptest! {
    #![proptest_config(ProptestConfig { cases: 1000, failure_persistence: None, ..ProptestConfig::default() })]

    #[test]
    fn edits_give_a_device_or_a_placed_error(
        rich in any::<bool>(),
        edits in prop::collection::vec((any::<usize>(), 0_usize..6, telling_bytes()), 1..4),
    ) {
        if let Err(error) = read(edited(if rich { RICH } else { SEE_SAW }, &edits)) {
            prop_assert!(!error.what.is_empty() && !error.hint.is_empty(), "{error:?}");
            prop_assert!(error.to_string().starts_with("device.json"), "{error}");
        }
    }

    /// Values put in the place of others get past the parser, down to the outline.
    #[test]
    fn other_values_give_an_outline_or_a_placed_error(
        rich in any::<bool>(),
        changes in prop::collection::vec((any::<prop::sample::Index>(), other_value()), 1..3),
    ) {
        let mut device: Value = serde_json::from_str(if rich { RICH } else { SEE_SAW }).unwrap();
        for (at, value) in changes {
            let places = places(&device);
            *device.pointer_mut(&places[at.index(places.len())]).unwrap() = value;
        }
        let text = serde_json::to_vec(&device).unwrap();
        let document = Document::from_bytes(Path::new("device.json"), text);
        let outline = document
            .and_then(Device::from_document)
            .and_then(|d| d.drawing().and_then(|(drawing, _)| d.outline(&drawing)).map(|_| ()));
        if let Err(error) = outline {
            prop_assert!(!error.what.is_empty() && !error.hint.is_empty(), "{error:?}");
            prop_assert!(error.line_column.is_some() || error.what.contains("object"), "no place: {error}");
        }
    }
}

/// Pointers of all values inside another.
fn places(value: &Value) -> Vec<String> {
    let inside = |key: String, v: &Value| {
        let inner = places(v).into_iter().map(|p| format!("/{key}{p}")).collect::<Vec<_>>();
        std::iter::once(format!("/{key}")).chain(inner).collect::<Vec<_>>()
    };
    match value {
        Value::Object(members) => members.iter().flat_map(|(k, v)| inside(k.clone(), v)).collect(),
        Value::Array(list) => list.iter().enumerate().flat_map(|(n, v)| inside(n.to_string(), v)).collect(),
        _ => Vec::new(),
    }
}

fn other_value() -> impl Strategy<Value = Value> {
    let fixed = vec![
        json!(null),
        json!(true),
        json!(""),
        json!([]),
        json!({}),
        json!([[0, 0], [1, 1]]),
        json!({"circle": [0, 0], "radius": 3}),
        json!("100"),
        json!("111"),
        json!("+x"),
        json!(0),
        json!(-1),
        json!(1e-300),
        json!(1e300),
        json!(-1e6),
        json!(1e6),
        json!(u64::MAX),
    ];
    prop_oneof![
        prop::sample::select(fixed),
        (-2e5..2e5).prop_map(|x: f64| json!(x)),
        (-20..20).prop_map(|x: i32| json!(x))
    ]
}
