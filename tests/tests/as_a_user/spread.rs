//! What the stated spread makes of shapes and of shocks: the column as made against the same device drawn at three sigma.

// A helper that cannot go on fails its test.
#![allow(clippy::unwrap_used)]

use super::as_made::{number, requirement, yoked};
use modalith_tests::modalith;
use serde_json::{Value, json};

fn report(device: &Value) -> Value {
    let folder = tempfile::tempdir().unwrap();
    std::fs::write(folder.path().join("d.json"), device.to_string()).unwrap();
    let run = modalith(folder.path(), &["rate", "d.json", "--model", "shell", "--out", "out"]).unwrap();
    assert_eq!(run.code, Some(0), "{run:?}");
    serde_json::from_str(&std::fs::read_to_string(folder.path().join("out/rate.json")).unwrap()).unwrap()
}

/// Low and high end as made of a figure.
fn made(report: &Value, name: &str) -> [f64; 2] {
    [0, 1].map(|k| number(&requirement(report, name)["as_made"][k]))
}

fn device() -> Value {
    let mut device = yoked(4.0, 4.0, Some(0.02));
    device["imperfections"] = json!({
        "left_right_width_um": 0.02, "sidewall_tilt_deg": 0.01, "electrode_mismatch": 0.01, "drive_force_leak": 0.0005,
        "phase_error_deg": 0.1
    });
    device["operation"]["temperature_k"] = json!(300);
    device["operation"]["vibration_band_hz"] = json!([20, 2000]);
    device["operation"]["shock"] = json!({"peak_g": 1000, "duration_ms": 0.5, "direction": "z"});
    device["stoppers"] = json!([
        {"at": "left", "direction": "-z", "gap_um": 50}, {"at": "right", "direction": "-z", "gap_um": 50}
    ]);
    device["requirements"] = json!({
        "quadrature_deg_per_s": 1e9, "zero_rate_deg_per_s": 1e9, "coupling": 1e-9, "vibration_deg_per_s_per_g": 1e9,
        "shock_travel_um": 1e4, "shock_first_touch_g": 1e-3, "guard_hz": 0
    });
    device
}

/// A layer three sigma thinner or thicker lies within the range as made, for every figure: shapes, shocks, guards. The range is not much
/// wider either: its ends are those of the two layers, to what first order in the thickness leaves.
#[test]
fn a_layer_at_three_sigma_lies_within_what_is_made() {
    let mut spread = device();
    spread["spread_3sigma"]["thickness_um"] = json!(0.4);
    let whole = report(&spread);
    let at = [19.6, 20.4].map(|um| {
        let mut drawn = device();
        drawn["process"]["thickness_um"] = json!(um);
        report(&drawn)
    });
    for name in [
        "quadrature_deg_per_s",
        "zero_rate_deg_per_s",
        "coupling",
        "vibration_deg_per_s_per_g",
        "shock_travel_um",
        "shock_first_touch_g",
        "guard_hz",
    ] {
        let range = made(&whole, name);
        let ends = at.each_ref().map(|r| made(r, name));
        let (low, high) = (ends[0][0].min(ends[1][0]), ends[0][1].max(ends[1][1]));
        // First order in 2 % of the thickness: squares of that, several times over.
        let slack = 0.01 * high.abs();
        // A guard's range is of all modes; a shock has only a worse end.
        if name != "shock_first_touch_g" && name != "guard_hz" {
            assert!(range[1] >= high - slack, "{name}: {range:?} {ends:?}");
            assert!(range[1] <= 1.15 * high, "{name}: {range:?} {ends:?}");
        }
        if name != "shock_travel_um" {
            assert!(range[0] <= low + slack, "{name}: {range:?} {ends:?}");
        }
    }
}

/// A mass that tilts is met at the corner that travels farthest, not at its centre; taking the stopper at that corner away makes nothing
/// better.
#[test]
fn a_mass_that_tilts_is_met_at_a_corner() {
    let mut one = device();
    // Bars on one side only: under a shock along z the mass tips.
    let structure = one["layout"]["structure"].as_array_mut().unwrap();
    structure.retain(|s| {
        s != &json!({"rect": [[-62.0, 100.0], [-58.0, 250.0]]}) && s != &json!({"rect": [[58.0, 100.0], [62.0, 250.0]]})
    });
    let corner = |p: [f64; 2]| json!({"at": p, "direction": "-z", "gap_um": 50});
    let on_mass = one["stoppers"].as_array().unwrap().clone();
    let corners = [[-249.0, 99.0], [-51.0, 99.0], [-249.0, -99.0], [-51.0, -99.0]].map(corner);
    one["stoppers"] = corners.iter().cloned().chain(on_mass.iter().cloned()).collect();
    let travel = |report: &Value| number(&requirement(report, "shock_travel_um")["drawn"]);
    let touch = |report: &Value| number(&requirement(report, "shock_first_touch_g")["drawn"]);
    let all = report(&one);
    one["stoppers"] = json!(on_mass);
    let masses = report(&one);
    assert!(travel(&masses) > 0.97 * travel(&all), "{} {}", travel(&masses), travel(&all));
    assert!(touch(&masses) < touch(&all) / 0.97, "{} {}", touch(&masses), touch(&all));
}

/// First order is not taken for what it does not reach: a spread of a tenth of the thickness leaves what rests on it without a verdict.
/// What a share of mass adds alike to all modes leaves couplings as they are.
#[test]
fn a_wide_spread_has_no_verdict_and_mass_no_coupling() {
    let mut wide = device();
    wide["spread_3sigma"]["thickness_um"] = json!(2.0);
    let found = report(&wide);
    for name in ["quadrature_deg_per_s", "coupling", "shock_travel_um", "guard_hz"] {
        let row = requirement(&found, name);
        assert!(row["met"].is_null() && row["because"].to_string().contains("first-order"), "{row}");
    }
    let mut dense = device();
    dense["spread_3sigma"]["density_percent"] = json!(3.0);
    let range = made(&report(&dense), "coupling");
    assert!(range[1] - range[0] < 1e-6 * range[1], "{range:?}");
}

/// An arm bends under the shock: the mass is met at its end as it is shaped, not as a rigid body would be.
#[test]
fn an_arm_of_a_mass_is_met_where_it_bends_to() {
    let mut arm = device();
    arm["layout"]["structure"].as_array_mut().unwrap().push(json!({"rect": [[-390, -20], [-250, 20]]}));
    arm["masses"]["left"] = json!([{"rect": [[-250, -100], [-50, 100]]}, {"rect": [[-390, -20], [-250, 20]]}]);
    let travel = |device: &Value| number(&requirement(&report(device), "shock_travel_um")["drawn"]);
    let on_mass = travel(&arm);
    arm["stoppers"] = json!([{"at": [-389.0, 19.0], "direction": "-z", "gap_um": 50}]);
    let at_end = travel(&arm);
    assert!(on_mass >= 0.99 * at_end, "{on_mass} {at_end}");
}

/// A stopper across the shock on a symmetric device is reached by rounding alone: never, instead of at some 1e25 g.
#[test]
fn rounding_touches_nothing() {
    let mut across = device();
    across["imperfections"]["left_right_width_um"] = json!(0.0);
    across["imperfections"]["sidewall_tilt_deg"] = json!(0.0);
    across["stoppers"] = json!([
        {"at": "left", "direction": "+y", "gap_um": 5}, {"at": "right", "direction": "+y", "gap_um": 5}
    ]);
    let found = report(&across);
    let row = requirement(&found, "shock_first_touch_g");
    assert!(row["met"] == true && row["drawn"].is_null(), "{row}");
}
