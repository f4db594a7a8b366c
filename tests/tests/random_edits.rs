//! Random edits of a valid device file never panic and never hang: the reader says yes or gives a placed error.

use modalith::device::Device;
use modalith::device::document::Document;
use modalith_tests::SEE_SAW;
use proptest::prelude::*;
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
    #![proptest_config(ProptestConfig { cases: 4000, failure_persistence: None, ..ProptestConfig::default() })]

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
}
