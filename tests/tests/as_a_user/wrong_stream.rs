//! Wrong GDSII input: exit code 2, nothing written, and a message with both files, the place, what is wrong and what to
//! do. And a right stream, which must give the modes of the same device written out.

// A helper that cannot go on fails its test.
#![allow(clippy::unwrap_used)]

use modalith::device::Device;
use modalith_tests::stream::Stream;
use modalith_tests::{SEE_SAW, modalith};
use proptest::prelude::*;
use serde_json::Value;

const DEVICE: &str = r#"{
  "format": "modalith.device/1",
  "name": "see-saw plate",
  "layout": {"gds": "see_saw.gds", "cell": "see-saw", "layers": {
    "structure": [{"layer": 1}], "anchors": [{"layer": 3, "datatype": 0}],
    "masses": [{"layer": 4}], "labels": [{"layer": 10}]
  }},
  "process": {"thickness_um": 12.0},
  "material": {"density_kg_m3": 2330, "youngs_modulus_gpa": 160, "poissons_ratio": 0.22},
  "modes": {"count": 4}
}
"#;

/// The see-saw without its hole, with a named mass, both flexures and both anchors in a cell of their own.
fn see_saw() -> Stream {
    let plate = |s: Stream| {
        let s = s.rect(1, [-150, -80], [150, 80]).rect(4, [-140, -70], [140, 70]).text(10, [30, 30], "plate");
        s.place("flexure", [0, 0]).place("flexure", [0, -220])
    };
    let flexure = |s: Stream| s.rect(1, [-4, 80], [4, 140]);
    let anchors = |s: Stream| s.rect(3, [-20, 140], [20, 170]).rect(3, [-20, -170], [20, -140]);
    Stream::default().cell("flexure", flexure).cell("see-saw", |s| anchors(plate(s)))
}

fn refused(device: &str, stream: &[u8], said: &[&str]) {
    let folder = tempfile::tempdir().unwrap();
    std::fs::write(folder.path().join("device.json"), device).unwrap();
    std::fs::write(folder.path().join("see_saw.gds"), stream).unwrap();
    for command in ["check", "mesh", "modes"] {
        let run = modalith(folder.path(), &[command, "device.json", "--out", "out"]).unwrap();
        let all = format!("{command}: {run:?}");
        assert_eq!((run.code, run.stdout.as_str()), (Some(2), ""), "{all}");
        assert!(!folder.path().join("out").exists(), "{all}");
        assert!(run.stderr.starts_with("error: device.json:"), "{all}");
        assert!(run.stderr.lines().any(|l| l.starts_with("hint: ") && l.len() > 10), "no hint: {all}");
        for words in said {
            assert!(run.stderr.contains(words), "{words:?} is not said: {all}");
        }
    }
}

/// The stream with more in its main cell.
fn with(more: impl Fn(Stream) -> Stream) -> Vec<u8> {
    see_saw().cell("top", |s| more(s.place("see-saw", [0, 0]))).finish()
}

fn device(from: &str, to: &str) -> String {
    assert_eq!(DEVICE.matches(from).count(), 1, "{from:?}");
    DEVICE.replace(from, to)
}

#[test]
fn a_stream_gives_the_modes_of_the_same_shapes() {
    let folder = tempfile::tempdir().unwrap();
    let written_out = SEE_SAW.replace("\"holes\":     [{\"circle\": [0, 0], \"radius\": 5}],", "");
    let written_out = written_out
        .replace("\"modes\":", "\"masses\": {\"plate\": [{\"rect\": [[-140, -70], [140, 70]]}]}, \"modes\":")
        .replace("\"count\": 12", "\"count\": 4");
    for (name, bytes) in
        [("gds.json", DEVICE.as_bytes()), ("see_saw.gds", &see_saw().finish()), ("shapes.json", written_out.as_bytes())]
    {
        std::fs::write(folder.path().join(name), bytes).unwrap();
    }
    let frequencies = |device: &str, out: &str| -> Vec<f64> {
        let run = modalith(folder.path(), &["modes", device, "--out", out, "--json"]).unwrap();
        assert_eq!(run.code, Some(0), "{run:?}");
        let result: Value = serde_json::from_str(&run.stdout).unwrap();
        result["modes"].as_array().unwrap().iter().map(|m| m["frequency_hz"].as_f64().unwrap()).collect()
    };
    let (stream, shapes) = (frequencies("gds.json", "a"), frequencies("shapes.json", "b"));
    assert_eq!(stream.len(), 4);
    for (a, b) in stream.iter().zip(&shapes) {
        assert!((a / b - 1.0).abs() < 1e-9, "{stream:?} {shapes:?}");
    }
}

#[test]
fn a_stream_that_is_not_there_or_not_one() {
    refused(&device("\"see_saw.gds\"", "\"gone.gds\""), b"", &["/layout/gds", "gone.gds cannot be read"]);
    refused(&device("\"see_saw.gds\"", "\"\""), b"", &["/layout/gds", "is empty"]);
    refused(DEVICE, b"", &["device.json:4:21", "/layout/gds", "see_saw.gds"]);
    refused(DEVICE, SEE_SAW.as_bytes(), &["/layout/gds", "HEADER"]);
}

#[test]
fn truncated_and_corrupt_streams() {
    let whole = see_saw().finish();
    refused(DEVICE, &whole[..whole.len() - 4], &["/layout/gds", "truncated", "byte"]);
    refused(DEVICE, &whole[..whole.len() / 2 + 1], &["/layout/gds", "byte"]);
    let mut corrupt = whole;
    corrupt[2] = 0x77;
    refused(DEVICE, &corrupt, &["/layout/gds"]);
    let mut corrupt = see_saw().finish();
    let middle = corrupt.len() / 2;
    corrupt[middle..middle + 20].fill(0xFF);
    refused(DEVICE, &corrupt, &["/layout/gds", "byte"]);
}

#[test]
fn cells_unknown_absent_or_inside_themselves() {
    refused(
        &device("\"see-saw\",", "\"sea-saw\","),
        &see_saw().finish(),
        &["device.json:4:44", "/layout/cell", "no cell \"sea-saw\"", "see-saw"],
    );
    let dangling = Stream::default().cell("see-saw", |s| s.place("nowhere", [0, 0])).finish();
    refused(DEVICE, &dangling, &["\"nowhere\"", "not in the library"]);
    let inside = Stream::default().cell("a", |s| s.place("see-saw", [0, 0])).cell("see-saw", |s| s.place("a", [9, 0]));
    refused(DEVICE, &inside.finish(), &["contains itself", "\"a\""]);
    let two = see_saw().cell("other", |s| s.rect(1, [0, 0], [1, 1])).finish();
    refused(&device("\"cell\": \"see-saw\", ", ""), &two, &["2 top cells", "see-saw"]);
}

#[test]
fn layers_that_hold_nothing_or_contradict() {
    refused(&device("\"layer\": 1}", "\"layer\": 7}"), &see_saw().finish(), &["/layout/layers", "layer 7", "holds no"]);
    refused(
        &device("\"structure\": [{\"layer\": 1}], ", ""),
        &see_saw().finish(),
        &["/layout/layers", "no layer of the structure"],
    );
    refused(&device("\"structure\"", "\"trenches\""), &see_saw().finish(), &["/layout", "\"window\""]);
    refused(
        &device(", \"datatype\": 0}", ", \"datatype\": 70000}"),
        &see_saw().finish(),
        &["/layout/layers/anchors/0/datatype", "65535"],
    );
    refused(&device(", \"labels\": [{\"layer\": 10}]", ""), &see_saw().finish(), &["/layout/layers", "\"labels\""]);
    refused(
        &device("\"anchors\": [{\"layer\": 3, \"datatype\": 0}],", ""),
        &see_saw().finish(),
        &["no anchor at all", "release_undercut_um"],
    );
    let window = device("\"layers\": {", "\"window\": [[900, 900], [950, 950]], \"layers\": {");
    refused(&window, &see_saw().finish(), &["inside the window"]);
}

#[test]
fn outlines_and_names_in_the_stream() {
    let top = device("\"see-saw\",", "\"top\",");
    let bow_tie = with(|s| s.polygon(1, &[[300, 0], [340, 40], [340, 0], [300, 40]]));
    refused(&top, &bow_tie, &["crosses itself at (320.0000, 20.0000) µm", "\"top\"", "byte"]);
    refused(&top, &with(|s| s.rect(4, [145, 0], [149, 4])), &["has no name", "(14"]);
    refused(&top, &with(|s| s.text(10, [900, 900], "lost")), &["\"lost\" at (900.000, 900.000)", "over no polygon"]);
    refused(&top, &with(|s| s.text(10, [0, 0], "twice")), &["two names", "\"twice\""]);
    refused(&top, &with(|s| s.rect(1, [300, 0], [340, 40])), &["joined to no anchor", "(300.000, 0.000)"]);
}

#[test]
fn motions_of_masses_that_the_stream_does_not_name() {
    let intent = device("\"modes\":", "\"intent\": {\"drive\": {\"plat\": \"+x\"}}, \"modes\":");
    refused(&intent, &see_saw().finish(), &["/intent/drive/plat", "did you mean \"plate\"?"]);
}

proptest! {
    #![proptest_config(ProptestConfig { cases: 3000, failure_persistence: None, ..ProptestConfig::default() })]

    /// Random edits of a stream never panic and never hang the reader.
    #[test]
    fn edited_streams_give_a_drawing_or_an_error(
        edits in prop::collection::vec((any::<prop::sample::Index>(), any::<u8>()), 1..6),
        keep in 0.5..1.2,
    ) {
        let mut bytes = see_saw().finish();
        for (at, byte) in edits {
            let n = at.index(bytes.len());
            bytes[n] = byte;
        }
        bytes.truncate((keep * bytes.len() as f64) as usize);
        let folder = tempfile::tempdir().unwrap();
        std::fs::write(folder.path().join("device.json"), DEVICE).unwrap();
        std::fs::write(folder.path().join("see_saw.gds"), bytes).unwrap();
        let read = Device::read(&folder.path().join("device.json")).and_then(|d| d.drawing().map(|_| ()));
        if let Err(error) = read {
            prop_assert!(!error.what.is_empty() && !error.hint.is_empty(), "{error:?}");
        }
    }
}
