//! What is said of near modes that share a motion, of biases that balance each other, and of what a stated difference of widths changes:
//! each layout (invented) was answered wrongly before.

// A helper that cannot go on fails its test.
#![allow(clippy::unwrap_used)]

use modalith_tests::modalith;
use serde_json::{Value, json};

fn rate(device: &Value) -> Value {
    let folder = tempfile::tempdir().unwrap();
    std::fs::write(folder.path().join("device.json"), device.to_string()).unwrap();
    modalith(folder.path(), &["rate", "device.json", "--model", "shell", "--out", "out"]).unwrap();
    serde_json::from_str(&std::fs::read_to_string(folder.path().join("out/rate.json")).unwrap()).unwrap()
}

fn requirement(found: &Value) -> &Value {
    &found["axes"][0]["requirements"][0]
}

const NO_SPREAD: [&str; 4] = ["edge_bias_um", "thickness_um", "youngs_modulus_percent", "density_percent"];

/// Two masses on eight flexures 6 µm wide, and a bent coupler between them.
fn fork(coupler: Value, coupler_um: f64, thickness_um: f64) -> Value {
    let pairs = [[-153, -147], [-47, -41], [47, 53], [135, 141]];
    let legs =
        pairs.iter().flat_map(|[a, b]| [json!({"rect": [[a, 60], [b, 310]]}), json!({"rect": [[a, -310], [b, -60]]})]);
    let masses = [json!({"rect": [[-160, -60], [-40, 60]]}), json!({"rect": [[40, -60], [160, 60]]})];
    let coupler = [json!({"path": coupler, "width": coupler_um})];
    let structure: Vec<Value> = masses.iter().cloned().chain(legs).chain(coupler).collect();
    let none: serde_json::Map<String, Value> = NO_SPREAD.iter().map(|k| ((*k).to_owned(), json!(0))).collect();
    json!({
        "format": "modalith.device/1", "name": "fork",
        "layout": {"unit": "um", "structure": structure,
            "anchors": [{"rect": [[-175, 310], [175, 325]]}, {"rect": [[-175, -325], [175, -310]]}]},
        "process": {"thickness_um": thickness_um},
        "material": {"density_kg_m3": 2330, "youngs_modulus_gpa": 160, "poissons_ratio": 0.22},
        "masses": {"left": [masses[0]], "right": [masses[1]]},
        "intent": {"drive": {"left": "-x", "right": "+x"}, "sense": [{"rate_axis": "y", "left": "+z", "right": "-z"}]},
        "modes": {"count": 20},
        "imperfections": {"left_right_width_um": 0, "sidewall_tilt_deg": 0},
        "spread_3sigma": none,
        "requirements": {"drive_frequency_hz": [80000, 110_000]}
    })
}

/// Seen: a lean mixes drive and sense half and half, neither is more than half the drive, and as made the drive was a mode of 823 kHz
/// that carries the masses along. It lies where the two are.
#[test]
fn a_motion_that_two_modes_share_is_not_looked_for_in_a_third() {
    let coupler = json!([[-40, 0], [-15, 0], [-15, 150], [15, 150], [15, 0], [40, 0]]);
    let mut device = fork(coupler, 6.0, 7.6);
    for (thickness, tilt) in [(7.475, 0.8), (7.475, 2.0), (7.535, 8.0)] {
        device["process"]["thickness_um"] = json!(thickness);
        device["imperfections"]["sidewall_tilt_deg"] = json!(tilt);
        let found = rate(&device);
        let made = found["as_made"]["drive"]["frequency_hz"].as_f64();
        assert!(made.is_none_or(|hz| (90_000.0..105_000.0).contains(&hz)), "{thickness} µm, {tilt}°: {made:?} Hz");
        assert!(!found["as_made"].is_null(), "{found}");
    }
}

/// Seen: "the bias of p deflects the part so far that its capacitance changes by 5.1 %" of two pulls that cancel: nothing deflects.
#[test]
fn pulls_that_cancel_deflect_nothing() {
    let plate = |direction: &str| json!({"kind": "side plate", "direction": direction, "mass": "m", "gap_um": 1, "length_um": 100, "bias_v": 40});
    let mut device = json!({
        "format": "modalith.device/1", "name": "balanced",
        "layout": {"unit": "um",
            "structure": [{"rect": [[-60, -60], [60, 60]]}, {"rect": [[-50, 60], [-44, 260]], "mirror_about": {"x": 0, "y": 0}}],
            "anchors": [{"rect": [[-70, 260], [70, 280]], "mirror_about": {"y": 0}}]},
        "process": {"thickness_um": 3},
        "material": {"density_kg_m3": 2330, "youngs_modulus_gpa": 160, "poissons_ratio": 0.22},
        "masses": {"m": [{"rect": [[-60, -60], [60, 60]]}]},
        "intent": {"drive": {"m": "+x"}, "sense": [{"rate_axis": "y", "m": "+z"}]},
        "electrodes": {"p": plate("+x"), "n": plate("-x")},
        "imperfections": {"left_right_width_um": 0, "sidewall_tilt_deg": 0},
        "spread_3sigma": {"edge_bias_um": 0.05, "thickness_um": 0, "youngs_modulus_percent": 0, "density_percent": 0},
        "requirements": {"drive_frequency_hz": [10_000, 300_000]}
    });
    let found = rate(&device);
    assert!(!requirement(&found)["because"].to_string().contains("deflect"), "{}", requirement(&found));
    // One that pulls alone does.
    device["electrodes"]["n"]["bias_v"] = json!(0);
    let found = rate(&device);
    let because = requirement(&found)["because"].to_string();
    assert!(because.contains("the biases deflect the part"), "{because}");
}

/// Seen: a difference of 0.28 µm was weighed against a coupler across the middle, 3 µm wide, that it does not change.
#[test]
fn a_difference_of_widths_is_a_share_of_what_it_changes() {
    let coupler = json!([[-40, 0], [-15, 0], [-15, 60], [15, 60], [15, 0], [40, 0]]);
    let mut device = fork(coupler, 3.0, 3.0);
    device["imperfections"]["left_right_width_um"] = json!(0.28);
    let because = |device: &Value| requirement(&rate(device))["because"].to_string();
    assert!(!because(&device).contains("of what it changes"), "{}", because(&device));
    device["imperfections"]["left_right_width_um"] = json!(0.36);
    assert!(because(&device).contains("6.0 % of what it changes"), "{}", because(&device));
}

/// Seen: beams on shells and shells differed by a tenth of what both lack of a solid's coupling, and a requirement was met that solids
/// miss: 0.9795 asked, 0.97916 as solids on two meshes that agree to 1e-7.
#[test]
fn a_coupling_that_two_cheap_models_share_is_not_met_by_it() {
    let legs = [[-63, -60], [-140, -137], [60, 63], [137, 140]];
    let legs =
        legs.iter().flat_map(|[a, b]| [json!({"rect": [[a, -75], [b, -225]]}), json!({"rect": [[a, 75], [b, 225]]})]);
    let coupler = |s: i32| json!({"path": [[-50, 20 * s], [-20, 20 * s], [-20, 80 * s], [20, 80 * s], [20, 20 * s], [50, 20 * s]], "width": 3});
    let masses = [json!({"rect": [[-150, -75], [-50, 75]]}), json!({"rect": [[50, -75], [150, 75]]})];
    let structure: Vec<Value> = masses.iter().cloned().chain(legs).chain([coupler(-1), coupler(1)]).collect();
    let mut device = fork(json!([]), 3.0, 14.0);
    device["layout"] = json!({"unit": "um", "structure": structure, "anchors": [
        {"rect": [[-150, 225], [-50, 250]], "mirror_about": {"y": 0}}, {"rect": [[50, 225], [150, 250]], "mirror_about": {"y": 0}}]});
    device["masses"] = json!({"left": [masses[0]], "right": [masses[1]]});
    device["material"] = json!({"name": "polysilicon"});
    device["requirements"] = json!({"coupling": 0.9795});
    let found = rate(&device);
    assert!(requirement(&found)["met"].is_null(), "{}", requirement(&found));
}
