//! Wrong input, class by class: exit code 2, nothing written, and a message with the file, the place, what is wrong and
//! what to do.

// A helper that cannot go on fails its test.
#![allow(clippy::unwrap_used)]

use modalith_tests::{SEE_SAW, modalith};
use std::path::Path;

/// Runs every command that reads a device on `files` (the first is the device) and checks that it refuses the input:
/// `said` are words of the message beside the file's name and the hint.
fn refused(files: &[(&str, &[u8])], said: &[&str]) {
    let folder = tempfile::tempdir().unwrap();
    for (name, bytes) in files {
        std::fs::write(folder.path().join(name), bytes).unwrap();
    }
    let device = files[0].0;
    for args in [
        vec!["check", device, "--out", "out"],
        vec!["modes", device, "--out", "out"],
        vec!["mesh", device, "--out", "out"],
    ] {
        let run = modalith(folder.path(), &args).unwrap();
        let all = format!("{args:?}: {run:?}");
        assert_eq!(run.code, Some(2), "{all}");
        assert_eq!(run.stdout, "", "{all}");
        assert!(!Path::new(&folder.path().join("out")).exists(), "{all}");
        assert!(run.stderr.starts_with("error: "), "{all}");
        assert!(run.stderr.contains(".json"), "no file: {all}");
        assert!(run.stderr.lines().any(|l| l.starts_with("hint: ") && l.len() > 10), "no hint: {all}");
        for words in said {
            assert!(run.stderr.contains(words), "{words:?} is not said: {all}");
        }
    }
}

/// The see-saw with one piece of its text replaced.
fn see_saw(from: &str, to: &str) -> String {
    assert_eq!(SEE_SAW.matches(from).count(), 1, "{from:?}");
    SEE_SAW.replace(from, to)
}

fn refused_with(from: &str, to: &str, said: &[&str]) {
    refused(&[("device.json", see_saw(from, to).as_bytes())], said);
}

#[test]
fn text_that_is_not_json() {
    refused_with("\"poissons_ratio\": 0.22}", "\"poissons_ratio\": 0.22,}", &["device.json:12:"]);
    refused(&[("device.json", &SEE_SAW.as_bytes()[..200])], &["device.json:6:", "ends"]);
    refused(&[("device.json", b"")], &["device.json:1:1"]);
    refused(&[("device.json", b"\xff\xfe{\0}\0")], &["device.json:1:1", "UTF-8"]);
    refused(&[("device.json", b"[1, 2]")], &["not a JSON object"]);
    refused(&[("device.json", &b"[".repeat(10_000))], &["device.json:1:"]);
    refused_with(
        "\"name\": \"see-saw plate\"",
        "\"format\": \"again\"",
        &["device.json:3:", "\"format\" is written twice"],
    );
}

#[test]
fn a_file_that_is_not_there() {
    let folder = tempfile::tempdir().unwrap();
    let run = modalith(folder.path(), &["check", "absent.json"]).unwrap();
    assert_eq!(run.code, Some(2), "{run:?}");
    assert!(run.stderr.contains("absent.json: cannot be read"), "{run:?}");
    let run = modalith(folder.path(), &["check", "."]).unwrap();
    assert_eq!(run.code, Some(2), "{run:?}");
}

#[test]
fn unknown_keys() {
    refused_with(
        "\"thickness_um\"",
        "\"thicknes_um\"",
        &["device.json:11:16", "/process/thicknes_um", "mean \"thickness_um\""],
    );
    refused_with("\"anchors\"", "\"Anchors\"", &["/layout/Anchors", "did you mean \"anchors\"?"]);
    refused_with("\"radius\"", "\"diameter\"", &["/layout/holes/0/diameter"]);
    refused_with("\"count\"", "\"rates\"", &["/modes/rates", "known keys here: count"]);
    refused_with("\"rect\": [[-150", "\"rectangle\": [[-150", &["/layout/structure/0", "did you mean \"rect\"?"]);
}

#[test]
fn thickness_missing_or_not_positive() {
    refused_with("\"thickness_um\": 12.0, ", "", &["device.json:11:", "/process", "\"thickness_um\" is missing"]);
    refused_with("12.0", "-12.0", &["device.json:11:32", "/process/thickness_um", "-12"]);
    refused_with("12.0", "0", &["/process/thickness_um", "over zero"]);
    refused_with(
        "12.0",
        "\"12\"",
        &["/process/thickness_um", "must be a thickness in µm, not \"12\"", "quotation marks"],
    );
}

#[test]
fn unphysical_constants() {
    refused_with("0.22", "0.5", &["device.json:12:", "/material/poissons_ratio", "between -1 and 0.5"]);
    refused_with("0.22", "-1", &["/material/poissons_ratio"]);
    refused_with("2330", "0.5", &["/material/density_kg_m3", "the unit is kg/m³"]);
}

#[test]
fn density_in_another_unit() {
    refused_with("2330", "2330000", &["/material/density_kg_m3", "did you mean 2330?"]);
    refused_with("2330", "0.00233", &["/material/density_kg_m3", "the unit is kg/m³"]);
    refused_with("2330", "-2330", &["/material/density_kg_m3"]);
}

#[test]
fn stiffness_in_another_unit_or_not_positive_definite() {
    refused_with("160", "160e9", &["/material/youngs_modulus_gpa", "did you mean 160?"]);
    refused_with("160", "160000", &["/material/youngs_modulus_gpa", "did you mean 160?"]);
    let cubic = |c11: f64, c12: f64, c44: f64| {
        let text = format!(
            "\"c11_gpa\": {c11}, \"c12_gpa\": {c12}, \"c44_gpa\": {c44}, \"wafer\": \"100\", \"x_along\": \"110\""
        );
        see_saw("\"youngs_modulus_gpa\": 160, \"poissons_ratio\": 0.22", &text)
    };
    refused(&[("device.json", cubic(63.9, 165.7, 79.6).as_bytes())], &["/material", "not positive definite"]);
    refused(&[("device.json", cubic(100.0, -51.0, 79.6).as_bytes())], &["/material", "not positive definite"]);
    refused(&[("device.json", cubic(165.7, 63.9, -79.6).as_bytes())], &["/material/c44_gpa"]);
}

#[test]
fn crystal_directions_that_cannot_be() {
    let silicon = |more: &str| {
        let constants = "\"density_kg_m3\": 2330, \"youngs_modulus_gpa\": 160, \"poissons_ratio\": 0.22";
        see_saw(constants, &format!("\"name\": \"silicon\"{more}"))
    };
    let refuse = |more: &str, said: &[&str]| refused(&[("device.json", silicon(more).as_bytes())], said);
    refuse(", \"wafer\": \"100\"", &["/material", "\"x_along\" is missing"]);
    refuse(", \"wafer\": \"100\", \"x_along\": \"111\"", &["/material/x_along", "lies in a (1 0 0) wafer"]);
    refuse(", \"wafer\": \"1000\", \"x_along\": \"110\"", &["/material/wafer", "Miller"]);
    refuse(", \"wafer\": 100, \"x_along\": \"110\"", &["/material/wafer", "quotes"]);
    refuse(", \"wafer\": \"110\", \"x_along\": \"111\"", &["/material/x_along", "may mean"]);
}

#[test]
fn a_device_a_thousand_times_too_large_or_small() {
    refused_with("\"unit\": \"um\"", "\"unit\": \"nm\"", &["/process/thickness_um", "far too small", "unit"]);
    refused_with("12.0", "0.012", &["device.json:11:32", "far too large", "300 µm across", "unit"]);
    refused_with("[-150, -80]", "[-150000000, -80]", &["/layout/structure/0/rect/0", "1 m"]);
}

#[test]
fn an_empty_structure_and_no_anchor() {
    refused_with("\"unit\": \"um\",", "", &["/layout", "\"unit\" is missing"]);
    refused_with("\"unit\": \"um\"", "\"unit\": \"mm\"", &["/layout/unit", "\"um\", \"nm\""]);
    let at = SEE_SAW.find("\"structure\": [").unwrap() + "\"structure\": [".len();
    let end = SEE_SAW.find("],\n    \"holes\"").unwrap();
    let empty = format!("{}{}", &SEE_SAW[..at], &SEE_SAW[end..]);
    refused(&[("device.json", empty.as_bytes())], &["/layout/structure", "is empty"]);
    refused_with(
        "\"anchors\":   [{\"rect\": [[-20, 140], [20, 170]]}, {\"rect\": [[-20, -170], [20, -140]]}]",
        "\"anchors\": []",
        &["/layout/anchors", "no anchor", "support"],
    );
    refused_with("\"name\":", "\"support\": \"free\", \"name\":", &["/layout/anchors", "free"]);
}

/// Pieces that float apart have six zero frequencies each, to roundings of their own: the count of them was seen to fail.
#[test]
fn pieces_that_float_apart() {
    let device = r#"{"format": "modalith.device/1", "support": "free", "process": {"thickness_um": 5},
        "layout": {"unit": "um", "structure": [{"rect": [[-150, -50], [-50, 50]]}, {"rect": [[50, -50], [450, 30]]}]},
        "material": {"density_kg_m3": 2330, "youngs_modulus_gpa": 160, "poissons_ratio": 0.22}}"#;
    refused(&[("device.json", device.as_bytes())], &["/layout", "2 pieces float apart", "one of them at a time"]);
}

#[test]
fn outlines_that_cannot_be_drawn() {
    let polygon = "[[-4, 80], [4, 80], [4, 140], [-4, 140]]";
    refused_with(
        polygon,
        "[[-4, 80], [4, 140], [4, 80], [-4, 140]]",
        &["device.json:6:", "/layout/structure/1", "crosses itself at (0.0000, 110.0000) µm"],
    );
    refused_with(polygon, "[[-4, 80], [4, 80]]", &["/layout/structure/1"]);
    refused_with(polygon, "[[-4, 80], [4, 80], [8, 80]]", &["/layout/structure/1", "area"]);
    refused_with(
        polygon,
        "[[-4, 80], [4, 80, 1], [8, 90]]",
        &["/layout/structure/1/polygon/1", "must be a point [x, y], not [4,80,1]"],
    );
    refused_with("[[-150, -80], [150, 80]]", "[[-150, -80], [-150, 80]]", &["/layout/structure/0"]);
    refused_with("\"radius\": 5", "\"radius\": -5", &["/layout/holes/0/radius", "over zero"]);
    refused_with(
        "\"radius\": 5",
        "\"radius\": 5, \"array\": {\"columns\": 3, \"rows\": 2, \"step\": [0, 3]}",
        &["/layout/holes/0/array/step"],
    );
    refused_with(
        "\"radius\": 5",
        "\"radius\": 5, \"array\": {\"columns\": 100000, \"rows\": 100000, \"step\": [1, 3]}",
        &["/layout/holes/0/array", "copies"],
    );
    refused_with(
        "\"radius\": 5",
        "\"radius\": 5, \"mirror_about\": {}",
        &["/layout/holes/0/mirror_about", "names no line"],
    );
}

#[test]
fn motions_and_masses_that_are_not_there() {
    let with = |intent: &str| {
        see_saw(
            "\"modes\": ",
            &format!(
                "\"masses\": {{\"plate\": [{{\"circle\": [90, 0], \"radius\": 40}}]}}, \"intent\": {intent}, \"modes\": "
            ),
        )
    };
    let refuse = |intent: &str, said: &[&str]| refused(&[("device.json", with(intent).as_bytes())], said);
    refuse(
        r#"{"drive": {"plat": "+x"}}"#,
        &["/intent/drive/plat", "there is no mass \"plat\"", "did you mean \"plate\"?"],
    );
    refuse(r#"{"drive": {"plate": "x"}}"#, &["/intent/drive/plate", "give it a sign: \"+x\""]);
    refuse(r#"{"sense": [{"plate": "+z"}]}"#, &["/intent/sense/0", "\"rate_axis\" is missing"]);
    refuse(r#"{"sense": [{"rate_axis": "w", "plate": "+z"}]}"#, &["/intent/sense/0/rate_axis"]);
}

#[test]
fn operation_and_limits_that_cannot_be() {
    let with = |keys: &str| {
        let mass = r#""masses": {"plate": [{"circle": [90, 0], "radius": 40}]}, "intent": {"drive": {"plate": "+z"}}"#;
        see_saw("\"modes\": ", &format!("{mass}, {keys}, \"modes\": "))
    };
    let refuse = |keys: &str, said: &[&str]| refused(&[("device.json", with(keys).as_bytes())], said);
    refuse(r#""operation": {"drive_at": "plat"}"#, &["/operation/drive_at", "did you mean \"plate\"?"]);
    refuse(r#""operation": {"temperature_k": -40}"#, &["/operation/temperature_k", "add 273.15"]);
    refuse(r#""operation": {"readout_noise_m_per_rthz": 0.05}"#, &["sees nothing", "0.05 pm"]);
    let stopper = |at: &str, gap: f64| {
        format!(
            r#""operation": {{"drive_amplitude_um": 4}}, "stoppers": [{{"at": {at}, "direction": "-z", "gap_um": {gap}}}]"#
        )
    };
    refuse(&stopper("\"plate\"", 3.0), &["/stoppers/0/gap_um", "no larger than the drive amplitude of 4 µm"]);
    refuse(&stopper("\"plote\"", 9.0), &["/stoppers/0/at", "there is no mass \"plote\""]);
    refuse(r#""guards": [{"name": "a", "frequency_hz": 1}, {"name": "a", "frequency_hz": 2}]"#, &["/guards/1/name"]);
    refuse(r#""requirements": {"mode_split_hz": 500}"#, &["/requirements/mode_split_hz", "[low, high]"]);
    refuse(r#""requirements": {"guard_hz": [300, 200]}"#, &["/requirements/guard_hz", "the lower end first"]);
    refuse(r#""requirements": {"guards_hz": 200}"#, &["/requirements/guards_hz", "did you mean \"guard_hz\"?"]);
    refuse(r#""imperfections": {"phase_error_deg": 120}"#, &["/imperfections/phase_error_deg", "-90 to 90"]);
}

#[test]
fn based_on_in_a_circle_or_on_nothing() {
    let circle: [(&str, &[u8]); 3] = [
        ("a.json", br#"{"based_on": "b.json"}"#),
        ("b.json", br#"{"based_on": "c.json"}"#),
        ("c.json", br#"{"based_on": "a.json"}"#),
    ];
    refused(&circle, &["c.json:1:14", "/based_on", "a.json -> b.json -> c.json -> a.json"]);
    refused(&[("a.json", br#"{"based_on": "a.json"}"#)], &["a.json -> a.json"]);
    refused(&[("a.json", br#"{"based_on": "gone.json"}"#)], &["a.json:1:14", "gone.json cannot be read"]);
    refused(&[("a.json", br#"{"based_on": 3}"#)], &["/based_on", "path of a device file"]);
}

#[test]
fn a_fault_in_a_base_is_placed_in_the_base() {
    let base = see_saw("0.22", "0.7");
    refused(
        &[
            ("thin.json", br#"{"based_on": "base.json", "process": {"thickness_um": 2}}"#),
            ("base.json", base.as_bytes()),
        ],
        &["base.json:12:", "/material/poissons_ratio"],
    );
    refused(
        &[
            ("thin.json", b"{\"based_on\": \"base.json\",\n \"process\": {\"thickness_um\": -2}}"),
            ("base.json", SEE_SAW.as_bytes()),
        ],
        &["thin.json:2:30", "/process/thickness_um"],
    );
}

#[test]
fn formats_and_values_of_the_wrong_kind() {
    refused_with("modalith.device/1", "modalith.device/9", &["device.json:2:13", "/format"]);
    refused_with("\"format\": \"modalith.device/1\",", "", &["\"format\" is missing"]);
    refused_with("{\"count\": 12}", "{\"count\": 0}", &["/modes/count", "whole number"]);
    refused_with("{\"count\": 12}", "{\"count\": 2.5}", &["/modes/count"]);
    refused_with("{\"count\": 12}", "{\"up_to_hz\": 1e5, \"near_hz\": 1e5}", &["/modes"]);
    refused_with("{\"count\": 12}", "[12]", &["/modes", "must be an object"]);
}

#[test]
fn parts_joined_to_no_anchor_are_all_named() {
    let more = "\"structure\": [{\"rect\": [[-150, -80]";
    refused_with(
        more,
        "\"structure\": [{\"rect\": [[200, 0], [240, 40]]}, {\"circle\": [300, 300], \"radius\": 10}, {\"rect\": [[-150, -80]",
        &[
            "/layout",
            "joined to no anchor",
            "(200.000, 0.000) to (240.000, 40.000)",
            "(290.000, 290.000) to (310.000, 310.000)",
        ],
    );
    // Held at its own anchor, but joined to the rest at one corner alone.
    let corner = see_saw(more, "\"structure\": [{\"rect\": [[150, 80], [200, 120]]}, {\"rect\": [[-150, -80]");
    let corner = corner.replace("\"anchors\":   [", "\"anchors\": [{\"rect\": [[200, 90], [220, 110]]}, ");
    refused(&[("device.json", corner.as_bytes())], &["/layout", "meet only at the point (150.0000, 80.0000) µm"]);
    refused_with(
        "[[-20, 140], [20, 170]]}, {\"rect\": [[-20, -170], [20, -140]]",
        "[[-20, 150], [20, 170]]}, {\"rect\": [[-20, -170], [20, -150]]",
        &["device.json:9:18", "/layout/anchors", "no anchor touches", "(2 drawn)"],
    );
}

#[test]
fn an_edge_bias_that_cuts_or_closes_says_where() {
    refused_with(
        "\"edge_bias_um\": 0.0",
        "\"edge_bias_um\": -4.5",
        &["device.json:11:54", "/process/edge_bias_um", "8.0000 µm wide", "(0.0000, "],
    );
    let slot = "{\"rect\": [[-50, 20], [50, 22]]}, {\"circle\": [0, 0]";
    let holes = see_saw("{\"circle\": [0, 0]", slot).replace("\"edge_bias_um\": 0.0", "\"edge_bias_um\": 1.5");
    refused(
        &[("device.json", holes.as_bytes())],
        &["/process/edge_bias_um", "closes the 2.0000 µm wide gap", "21.0000) µm"],
    );
}

#[test]
fn features_thinner_than_the_process_can_make() {
    refused_with(
        "\"edge_bias_um\": 0.0",
        "\"minimum_feature_um\": 9",
        &["/layout", "thinner than 9 µm", " µm is 8.0000 µm wide"],
    );
    refused_with(
        "[-4, 140]]",
        "[-4, 140]]}, {\"rect\": [[150, 0], [190, 0.01]]",
        &["thinner than 0.05 µm", "0.0100 µm wide"],
    );
}

#[test]
fn a_layer_with_nothing_left_or_nothing_free() {
    refused_with(
        "{\"circle\": [0, 0], \"radius\": 5}",
        "{\"rect\": [[-500, -500], [500, 500]]}",
        &["/layout", "empty once holes are cut"],
    );
    refused_with("[[-20, 140], [20, 170]]", "[[-200, -200], [200, 200]]", &["/layout", "nothing can vibrate"]);
}

#[test]
fn masses_over_nothing_or_over_each_other() {
    let with = |masses: &str| see_saw("\"modes\": ", &format!("\"masses\": {masses}, \"modes\": "));
    let refuse = |masses: &str, said: &[&str]| refused(&[("device.json", with(masses).as_bytes())], said);
    refuse(r#"{"away": [{"circle": [900, 0], "radius": 4}]}"#, &["/masses/away", "covers no free material"]);
    refuse(
        r#"{"a/b": [{"circle": [90, 0], "radius": 40}], "c": [{"circle": [60, 0], "radius": 40}]}"#,
        &["/masses/", "overlap at ("],
    );
    refuse(r#"{"plate": []}"#, &["/masses/plate", "is empty"]);
}

#[test]
fn materials_that_the_library_does_not_hold() {
    let constants = "\"density_kg_m3\": 2330, \"youngs_modulus_gpa\": 160, \"poissons_ratio\": 0.22";
    refused_with(constants, "\"name\": \"polysilicium\"", &["/material", "did you mean \"polysilicon\"?"]);
    refused_with(constants, "\"name\": \"unobtainium\"", &["/material", "the library holds silicon, "]);
    refused_with(constants, "\"name\": \"silicon\"", &["/material", "crystal"]);
    refused_with(
        constants,
        "\"name\": \"gold\", \"wafer\": \"100\", \"x_along\": \"110\"",
        &["/material", "isotropic"],
    );
}
