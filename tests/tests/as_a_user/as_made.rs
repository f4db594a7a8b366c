//! Stated imperfections as a user meets them: near-degenerate modes that they mix, a model that leaves them out, and values that are
//! no floor.

// A helper that cannot go on fails its test.
#![allow(clippy::unwrap_used)]

use super::rate::two_masses;
use modalith_tests::modalith;
use serde_json::{Value, json};
use std::path::{Path, PathBuf};

fn tines(name: &str) -> PathBuf {
    Path::new(env!("CARGO_MANIFEST_DIR")).join("../tests/data/tines").join(name).canonicalize().unwrap()
}

fn rate(file: &Path, model: &str) -> (Value, String) {
    let folder = tempfile::tempdir().unwrap();
    let args = ["rate", file.to_str().unwrap(), "--model", model, "--out", "out"];
    let run = modalith(folder.path(), &args).unwrap();
    assert_eq!(run.code, Some(0), "{run:?}");
    let text = std::fs::read_to_string(folder.path().join("out/rate.json")).unwrap();
    (serde_json::from_str(&text).unwrap(), run.stdout)
}

pub(super) fn number(v: &Value) -> f64 {
    v.as_f64().unwrap_or(f64::NAN)
}

pub(super) fn requirement<'a>(rate: &'a Value, name: &str) -> &'a Value {
    rate["requirements"].as_array().unwrap().iter().find(|r| r["name"] == name).unwrap()
}

/// 20 nm between right and left mix the sense mode with its twin 1.6 Hz off: stated they say what they say drawn, to 1 % of the
/// largest, and nothing is met that the drawing alone would meet.
#[test]
fn stated_or_drawn_20_nm_say_the_same() {
    let ((stated, screen), (drawn, _)) = (rate(&tines("device.json"), "shell"), rate(&tines("wider.json"), "shell"));
    assert!(number(&stated["pair"]["sense"]["mac"]) > 0.99 && number(&stated["pair"]["coriolis_coupling"]) > 0.7);
    let made = &stated["as_made"];
    let close = |what: &str, a: &Value, b: &Value| {
        assert!((number(a) - number(b)).abs() < 0.01, "{what}: stated {a}, drawn {b}");
    };
    close("drive's criterion", &made["drive"]["mac"], &drawn["pair"]["drive"]["mac"]);
    close("sense's criterion", &made["sense"]["mac"], &drawn["pair"]["sense"]["mac"]);
    close("coupling", &made["coriolis_coupling"], &drawn["pair"]["coriolis_coupling"]);
    let seen =
        |modes: &Value| modes.as_array().unwrap().iter().map(|n| number(&n["visible_share"])).fold(0.0, f64::max);
    close("twin", &json!(seen(&made["near_modes"])), &json!(seen(&drawn["near_modes"])));
    assert!(seen(&made["near_modes"]) > 0.9);
    assert!(made["sense"]["of_drawn_modes"].as_array().unwrap().len() > 1, "{made}");
    let coupling = requirement(&stated, "coupling");
    assert_eq!(coupling["met"], false, "{coupling}");
    assert!(!screen.contains("YES") && screen.contains("As made"), "{screen}");
    // Drawn wider on one side, the layout has no mirror between the masses: what it shows of vibration is a value.
    assert_eq!(stated["balance"]["vibration_drawn_is_numerical_floor"], true);
    assert_eq!(drawn["balance"]["vibration_drawn_is_numerical_floor"], false);
    assert_eq!(drawn["zero_rate"]["quadrature_drawn_is_numerical_floor"], true);
}

/// Two masses on four bars each, `left` and `right` µm wide, coupled by a yoke; driven at the left one.
pub(super) fn yoked(left: f64, right: f64, stated: Option<f64>) -> Value {
    let mut structure = vec![json!({"rect": [[-250, -100], [-50, 100]]}), json!({"rect": [[50, -100], [250, 100]]})];
    let mut anchors = Vec::new();
    for (x, width) in [(-240.0, left), (-60.0, left), (60.0, right), (240.0, right)] {
        for (low, high, pad) in [(100.0, 250.0, [250.0, 280.0]), (-250.0, -100.0, [-280.0, -250.0])] {
            structure.push(json!({"rect": [[x - 0.5 * width, low], [x + 0.5 * width, high]]}));
            anchors.push(json!({"rect": [[x - 15.0, pad[0]], [x + 15.0, pad[1]]]}));
        }
    }
    for (x, width) in [(-20.0, left), (20.0, right)] {
        let edge: f64 = x * 2.5;
        let (near, far) = (x - 0.5 * width, x + 0.5 * width);
        structure.push(json!({"rect": [[near.min(edge), -5], [far.max(edge), 5]]}));
        structure.push(json!({"rect": [[near, -5], [far, 130]]}));
    }
    structure.push(json!({"rect": [[-20.0 - 0.5 * left, 130], [20.0 + 0.5 * right, 140]]}));
    let mut device = two_masses();
    device["layout"] = json!({"unit": "um", "structure": structure, "anchors": anchors});
    device["process"] = json!({"thickness_um": 20});
    device["material"] = json!({"density_kg_m3": 2330, "youngs_modulus_gpa": 160, "poissons_ratio": 0.22});
    device["masses"] =
        json!({"left": [{"rect": [[-250, -100], [-50, 100]]}], "right": [{"rect": [[50, -100], [250, 100]]}]});
    device["intent"] = json!({
        "drive": {"left": "-x", "right": "+x"}, "sense": [{"rate_axis": "y", "left": "+z", "right": "-z"}]
    });
    device["operation"] = json!({
        "drive_amplitude_um": 4, "drive_at": "left", "quality_drive": 5000, "quality_sense": 1000,
        "readout_noise_m_per_rthz": 1e-13, "temperature_k": 300, "vibration_band_hz": [20, 2000]
    });
    device["spread_3sigma"] =
        json!({"edge_bias_um": 0, "thickness_um": 0, "youngs_modulus_percent": 0, "density_percent": 0});
    device["requirements"] = json!({"angle_random_walk_deg_per_rth": 1000});
    if let Some(um) = stated {
        device["imperfections"] = json!({"left_right_width_um": um, "sidewall_tilt_deg": 0});
    }
    device
}

/// Which side is wider decides which mass moves more: a stated difference says the same as the one drawn, on either side and in both
/// motions of the pair, and not what the other side would.
#[test]
fn a_stated_difference_is_of_the_side_that_it_names() {
    let walk = |device: Value| -> (f64, Value) {
        let folder = tempfile::tempdir().unwrap();
        let file = folder.path().join("d.json");
        std::fs::write(&file, device.to_string()).unwrap();
        let (report, _) = rate(&file, "shell");
        (number(&requirement(&report, "angle_random_walk_deg_per_rth")["drawn"]), report)
    };
    let mut known = std::collections::HashMap::new();
    let mut drawn_as = |left: f64, right: f64| {
        *known.entry([left.to_bits(), right.to_bits()]).or_insert_with(|| walk(yoked(left, right, None)).0)
    };
    for (wider, middle) in [(0.05, 4.0), (-0.05, 4.0), (0.05, 3.5)] {
        let drawn = drawn_as(middle - 0.5 * wider, middle + 0.5 * wider);
        let other = drawn_as(middle + 0.5 * wider, middle - 0.5 * wider);
        let (_, report) = walk(yoked(middle, middle, Some(wider)));
        let made = requirement(&report, "angle_random_walk_deg_per_rth")["as_made"].clone();
        assert!((drawn / other - 1.0).abs() > 0.05, "{drawn} {other}");
        for k in 0..2 {
            assert!(
                (number(&made[k]) / drawn - 1.0).abs() < 0.01,
                "{wider} at {middle}: {made}, drawn {drawn}, turned {other}"
            );
        }
    }
}

/// A shock along stiff bars: the twenty lowest modes hold next to nothing of the mass along it and are hardly stressed, while each bar
/// carries m a/8 over its section.
#[test]
fn stress_of_mass_that_no_mode_shakes_is_not_taken_for_none() {
    let mut device = yoked(4.0, 4.0, None);
    device["operation"]["shock"] = json!({"peak_g": 50_000, "duration_ms": 0.5, "direction": "y"});
    device["requirements"] = json!({"shock_stress_mpa": 1});
    let folder = tempfile::tempdir().unwrap();
    let file = folder.path().join("d.json");
    std::fs::write(&file, device.to_string()).unwrap();
    let (report, screen) = rate(&file, "shell");
    let found = requirement(&report, "shock_stress_mpa");
    let kg = 2330.0 * 200e-6 * 200e-6 * 20e-6;
    let bars_mpa = kg * 50_000.0 * 9.806_65 / (8.0 * 4e-6 * 20e-6) * 1e-6;
    assert!(number(&found["drawn"]) < 1.0 && bars_mpa > 1.0, "{found}, bars {bars_mpa}");
    assert!(
        found["met"].is_null() && number(&found["error"]) + number(&found["drawn"]) > bars_mpa,
        "{found}, bars {bars_mpa}"
    );
    assert!(number(&report["shock_stress"]["mass_share_of_modes"]) < 0.1 && !screen.contains("YES"), "{screen}");
}

/// What the drive motion takes of a gap is gone for a shock, at a mass and at a point of a bar that moves less; a place without
/// material is refused by its place.
#[test]
fn a_gap_is_shared_by_drive_and_shock() {
    let touches = |stoppers: Value, drive_at: Value| -> (Option<i32>, Value, String) {
        let mut device = yoked(4.0, 4.0, None);
        device["operation"]["shock"] = json!({"peak_g": 1000, "duration_ms": 0.5, "direction": "x"});
        device["operation"]["drive_at"] = drive_at;
        device["stoppers"] = stoppers;
        let folder = tempfile::tempdir().unwrap();
        std::fs::write(folder.path().join("d.json"), device.to_string()).unwrap();
        let run = modalith(folder.path(), &["rate", "d.json", "--model", "shell", "--out", "out"]).unwrap();
        let report = std::fs::read_to_string(folder.path().join("out/rate.json")).unwrap_or_else(|_| "null".to_owned());
        (run.code, serde_json::from_str(&report).unwrap(), format!("{}{}", run.stdout, run.stderr))
    };
    let gap = |um: f64| json!([{"at": "left", "direction": "+x", "gap_um": um}]);
    let first = |um: f64| -> [f64; 2] {
        let (code, report, said) = touches(gap(um), json!("left"));
        assert_eq!(code, Some(0), "{said}");
        ["first_touch_g", "driven_um"].map(|key| number(&report["shock"][0][key]))
    };
    // Driven by 4 µm at its centre, and at a corner by a little more, the mass leaves the rest of either gap.
    let ([wide, driven], [narrow, _]) = (first(8.0), first(4.1));
    assert!((4.0..4.09).contains(&driven), "{driven}");
    assert!((wide / narrow * (4.1 - driven) / (8.0 - driven) - 1.0).abs() < 1e-6, "{wide} {narrow} {driven}");
    let (_, _, screen) = touches(gap(6.0), json!([-240, 175]));
    assert!(screen.contains("touches from 0 g") && screen.contains("of which the drive takes 6.00 µm"), "{screen}");
    let beside = json!([{"at": [0, 0], "direction": "+x", "gap_um": 8}]);
    for (stoppers, drive_at, place) in
        [(beside, json!("left"), "/stoppers/0/at"), (gap(8.0), json!([0, 60]), "/operation/drive_at")]
    {
        let (code, report, said) = touches(stoppers, drive_at);
        assert!(
            code == Some(2) && report.is_null() && said.contains(place) && said.contains("nothing that moves"),
            "{said}"
        );
    }
}

/// A model without the stated imperfection says so, leaves the column empty and gives no verdict.
#[test]
fn a_model_that_leaves_it_out_gives_no_verdict() {
    let folder = tempfile::tempdir().unwrap();
    let file = folder.path().join("device.json");
    let mut device = two_masses();
    device["imperfections"] = json!({"left_right_width_um": 0.02, "sidewall_tilt_deg": 0});
    device["spread_3sigma"] =
        json!({"edge_bias_um": 0, "thickness_um": 0, "youngs_modulus_percent": 0, "density_percent": 0});
    device["requirements"] = json!({"coupling": 1e-6, "cross_axis": 1e6, "quadrature_deg_per_s": 1e9});
    std::fs::write(&file, device.to_string()).unwrap();
    let (found, screen) = rate(&file, "beam-shell");
    for r in found["requirements"].as_array().unwrap() {
        assert!(r["met"].is_null() && r["as_made"].is_null(), "{r}");
        assert!(r["because"].as_str().unwrap().contains("left_right_width_um"), "{r}");
    }
    assert!(!screen.contains("YES"), "{screen}");
    // Nothing to leave out where the two sides are stated alike.
    device["imperfections"]["left_right_width_um"] = json!(0);
    std::fs::write(&file, device.to_string()).unwrap();
    let (found, _) = rate(&file, "beam-shell");
    let coupling = requirement(&found, "coupling");
    assert!(number(&coupling["as_made"][0]) > 0.0, "{coupling}");
}
