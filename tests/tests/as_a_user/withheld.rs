//! Verdicts of `modalith rate` that are withheld where something is not known: guards above what was searched, a gap whose share for
//! the drive is not stated, a drive that meets its own stopper, strips that a named mass hides, no pair at all.

// A helper that cannot go on fails its test.
#![allow(clippy::unwrap_used)]

use super::as_made::{number, requirement, yoked};
use modalith_tests::modalith;
use serde_json::{Value, json};

/// Exit code, report and screen of a device with `--enforce`.
fn enforced(device: &Value, more: &[&str]) -> (Option<i32>, Value, String) {
    let folder = tempfile::tempdir().unwrap();
    std::fs::write(folder.path().join("d.json"), device.to_string()).unwrap();
    let model: &[&str] = if more.contains(&"--model") { &[] } else { &["--model", "shell"] };
    let args = [&["rate", "d.json", "--out", "out", "--enforce"], model, more].concat();
    let run = modalith(folder.path(), &args).unwrap();
    let report = std::fs::read_to_string(folder.path().join("out/rate.json")).unwrap_or_else(|_| "null".to_owned());
    (run.code, serde_json::from_str(&report).unwrap(), format!("{}{}", run.stdout, run.stderr))
}

/// A guard just above the highest mode looked at is not clear of modes: nobody looked there. Far enough below it is.
#[test]
fn a_guard_above_the_search_is_not_clear() {
    let mut device = yoked(4.0, 4.0, None);
    device["requirements"] = json!({"guard_hz": 1});
    let (_, report, _) = enforced(&device, &[]);
    let end = number(&report["search"]["to_hz"]);
    device["guards"] = json!([{"name": "clock", "frequency_hz": end + 1.0, "half_width_hz": 10}]);
    let (code, report, screen) = enforced(&device, &[]);
    let found = requirement(&report, "guard_hz");
    assert!(found["met"].is_null() && code == Some(3), "{found}");
    assert!(found["because"].to_string().contains("modes are known up to"), "{found} {screen}");
    // With the modes around it known, it has a verdict again or one that rests on errors.
    let beyond = format!("{:.0}", 1.5 * end);
    let (_, report, _) = enforced(&device, &["--up-to", &beyond]);
    let found = requirement(&report, "guard_hz");
    assert!(!found["because"].to_string().contains("modes are known up to"), "{found}");
}

/// What the drive takes of a gap is not nothing where it is not stated, or where it is stated of a mass that is not driven; and a drive
/// motion that is larger than the gap is none.
#[test]
fn the_share_of_a_gap_that_the_drive_takes_is_known_or_there_is_no_verdict() {
    let mut device = yoked(4.0, 4.0, Some(0.0));
    device["operation"]["shock"] = json!({"peak_g": 1000, "duration_ms": 0.5, "direction": "x"});
    device["stoppers"] = json!([
        {"at": "left", "direction": "+x", "gap_um": 8}, {"at": "right", "direction": "+x", "gap_um": 8}
    ]);
    device["requirements"] = json!({"shock_first_touch_g": 1});
    let touch = |device: &Value| {
        let (_, report, _) = enforced(device, &[]);
        requirement(&report, "shock_first_touch_g").clone()
    };
    assert_eq!(touch(&device)["met"], true, "{}", touch(&device));
    let mut unstated = device.clone();
    unstated["operation"].as_object_mut().unwrap().remove("drive_amplitude_um");
    unstated["operation"].as_object_mut().unwrap().remove("drive_at");
    assert!(touch(&unstated)["met"].is_null(), "{}", touch(&unstated));
    let mut met = device.clone();
    met["operation"]["drive_at"] = json!([-240, 175]);
    met["stoppers"][0]["gap_um"] = json!(6);
    met["requirements"] = json!({"shock_first_touch_g": 1, "angle_random_walk_deg_per_rth": 1000});
    let (code, report, screen) = enforced(&met, &[]);
    for name in ["shock_first_touch_g", "angle_random_walk_deg_per_rth"] {
        let found = requirement(&report, name);
        assert!(found["met"] != true && !screen.contains("YES"), "{found}");
    }
    assert!(code == Some(3) && screen.contains("meets a stopper"), "{screen}");
}

/// A mass drawn over its own bars hides them from what widens flexures: said, and nothing as made is met for it.
#[test]
fn bars_under_a_named_mass_are_told() {
    let mut device = yoked(4.0, 4.0, Some(0.02));
    device["requirements"] = json!({"quadrature_deg_per_s": 1e9, "coupling": 0.01});
    let (_, open, screen) = enforced(&device, &[]);
    assert!(!screen.contains("named masses lie over"), "{screen}");
    assert_eq!(requirement(&open, "coupling")["met"], true, "{open:#}");
    device["masses"] =
        json!({"left": [{"rect": [[-250, -260], [-50, 260]]}], "right": [{"rect": [[50, -260], [250, 260]]}]});
    let (code, hidden, screen) = enforced(&device, &[]);
    assert!(code == Some(3) && screen.contains("named masses lie"), "{screen}");
    for name in ["quadrature_deg_per_s", "coupling"] {
        let found = requirement(&hidden, name);
        assert!(found["met"].is_null() && found["because"].to_string().contains("widen"), "{found}");
    }
    let folder = tempfile::tempdir().unwrap();
    std::fs::write(folder.path().join("d.json"), device.to_string()).unwrap();
    let check = modalith(folder.path(), &["check", "d.json"]).unwrap();
    assert!(check.stdout.contains("8 slender strips to anchors under named masses"), "{}", check.stdout);
    assert!(!check.stdout.contains("no slender part"), "{}", check.stdout);
}

/// A lean that is taken on a part of the flexures has no quadrature: what is left out may add to it or cancel it.
#[test]
fn a_lean_that_is_counted_in_part_is_no_figure() {
    let mut device = yoked(4.0, 4.0, Some(0.0));
    device["imperfections"]["sidewall_tilt_deg"] = json!(0.01);
    device["requirements"] = json!({"quadrature_deg_per_s": 1e9});
    let (_, whole, screen) = enforced(&device, &[]);
    let leaning = |report: &Value| report["zero_rate"]["quadrature_leaning_walls_deg_per_s"].clone();
    assert!(number(&leaning(&whole)) > 0.0 && !screen.contains("leaning walls not known"), "{screen}");
    // The cross piece of a jog is too short for a beam.
    let jog =
        json!([[-242, 100], [-238, 100], [-238, 173], [-232, 173], [-232, 250], [-236, 250], [-236, 177], [-242, 177]]);
    device["layout"]["structure"][2] = json!({"polygon": jog});
    let (code, report, screen) = enforced(&device, &[]);
    assert!(leaning(&report).is_null() && report["zero_rate"]["quadrature_as_made_deg_per_s"].is_null(), "{report:#}");
    assert!(code == Some(3) && screen.contains("leaning walls not known"), "{screen}");
    let found = requirement(&report, "quadrature_deg_per_s");
    assert!(
        found["met"].is_null() && found["because"].to_string().contains("sidewall_tilt_deg is taken on"),
        "{found}"
    );
    // Walls that stand upright need no counting.
    device["imperfections"]["sidewall_tilt_deg"] = json!(0);
    let (_, upright, screen) = enforced(&device, &[]);
    assert!(leaning(&upright) == 0.0 && !screen.contains("leaning walls not known"), "{screen}");
}

/// A bar with sawn walls is no flexure that anything widens or looks for stress in: said, and nothing that rests on flexures is met; the
/// lumped model, to which it would be rigid, says the same and refuses.
#[test]
fn a_strip_that_is_not_recognised_is_told() {
    let mut device = yoked(4.0, 4.0, Some(0.02));
    device["operation"]["shock"] = json!({"peak_g": 1, "duration_ms": 0.5, "direction": "x"});
    device["requirements"] = json!({"quadrature_deg_per_s": 1e9, "coupling": 0.01, "shock_stress_mpa": 1e9});
    let (_, open, screen) = enforced(&device, &[]);
    assert!(!screen.contains("not recognised"), "{screen}");
    for name in ["coupling", "shock_stress_mpa"] {
        assert_eq!(requirement(&open, name)["met"], true, "{open:#}");
    }
    let saw: Vec<[f64; 2]> =
        (0..76).flat_map(|k| [[-242.0, 100.0], [-242.7, 101.0]].map(|p| [p[0], p[1] + 2.0 * f64::from(k)])).collect();
    let back = saw.iter().rev().map(|p| [-480.0 - p[0], p[1]]);
    device["layout"]["structure"][2] = json!({"polygon": back.chain(saw.iter().copied()).collect::<Vec<_>>()});
    let (code, report, screen) = enforced(&device, &[]);
    assert!(code == Some(3) && screen.contains("not recognised as flexures: 1"), "{screen}");
    for name in ["quadrature_deg_per_s", "coupling", "shock_stress_mpa"] {
        let found = requirement(&report, name);
        assert!(found["met"].is_null() && found["because"].to_string().contains("not recognised"), "{found}");
    }
    let folder = tempfile::tempdir().unwrap();
    std::fs::write(folder.path().join("d.json"), device.to_string()).unwrap();
    let run = modalith(folder.path(), &["check", "d.json"]).unwrap();
    assert!(run.stdout.contains("1 slender strip not recognised"), "{run:?}");
    let run = modalith(folder.path(), &["modes", "d.json", "--model", "lumped", "--out", "lumped"]).unwrap();
    assert!(run.code == Some(2) && run.stderr.contains("was not recognised as a flexure"), "{run:?}");
    assert!(!run.stderr.contains("cross-linked"), "{run:?}");
}

/// Requirements without a pair to hold against them are not met.
#[test]
fn no_pair_meets_no_requirement() {
    let device = yoked(4.0, 4.0, None);
    let (code, _, screen) = enforced(&device, &["--up-to", "1000"]);
    assert!(code == Some(3) && screen.contains("NO ANSWER") && !screen.contains("differs by ;"), "{screen}");
}

/// The static deflection under bias takes of a gap too: the first touch comes at fewer g, and a bias that is there while the
/// deflection is not known leaves it open.
#[test]
fn the_deflection_under_bias_takes_of_a_gap() {
    let mut device = yoked(4.0, 4.0, Some(0.0));
    device["operation"]["shock"] = json!({"peak_g": 1000, "duration_ms": 0.5, "direction": "z"});
    device["stoppers"] =
        json!([{"at": "left", "direction": "-z", "gap_um": 2}, {"at": "right", "direction": "-z", "gap_um": 2}]);
    device["requirements"] = json!({"shock_first_touch_g": 1});
    let touch = |device: &Value, bias_v: f64, model: &[&str]| {
        let mut device = device.clone();
        device["electrodes"] = json!({"under": {"kind": "plate", "side": "below", "gap_um": 3, "bias_v": bias_v,
                                                "shapes": [{"rect": [[-250, -100], [-50, 100]]}]}});
        enforced(&device, model).1
    };
    let shock =
        |report: &Value| (number(&report["shock"][0]["first_touch_g"]), number(&report["shock"][0]["static_um"]));
    let (without, with) = (touch(&device, 0.0, &[]), touch(&device, 8.0, &[]));
    let (none, biased) = (shock(&without), shock(&with));
    assert!(none.1 == 0.0 && biased.1 > 0.0, "{none:?} {biased:?}");
    // How the pull grows on the way is not in a linear answer: no verdict rests on it.
    let open = requirement(&with, "shock_first_touch_g");
    assert!(open["met"].is_null() && open["because"].to_string().contains("how the pull grows"), "{open}");
    assert_eq!(requirement(&without, "shock_first_touch_g")["met"], true);
    // The modes soften a little too, which lets it touch sooner still.
    assert!(biased.0 < none.0 * (1.0 - biased.1 / 2.0) * (1.0 + 1e-9), "{none:?} {biased:?}");
    // Upwards it leans away, and the bias may be off.
    device["stoppers"][0]["direction"] = json!("+z");
    assert_eq!(shock(&touch(&device, 8.0, &[])).1, 0.0);
    let lumped = touch(&device, 8.0, &["--model", "lumped"]);
    let found = requirement(&lumped, "shock_first_touch_g");
    assert!(found["met"].is_null(), "{found}");
}

/// A drive that runs its fingertips into what lies ahead of them is none: nothing that rests on its amplitude is met.
#[test]
fn a_drive_does_not_run_its_fingertips_into_the_frame() {
    let mut device = yoked(4.0, 4.0, Some(0.0));
    let comb = |tip_gap_um: Value| {
        let mut comb = json!({"kind": "comb", "role": "drive", "direction": "-x", "mass": "left", "gap_um": 2, "overlap_um": 10,
                              "fingers": 20, "bias_v": 1});
        comb["tip_gap_um"] = tip_gap_um;
        if comb["tip_gap_um"].is_null() {
            comb.as_object_mut().unwrap().remove("tip_gap_um");
        }
        json!({"drive": comb})
    };
    device["electrodes"] = comb(json!(3));
    let (code, report, screen) = enforced(&device, &[]);
    let found = requirement(&report, "angle_random_walk_deg_per_rth");
    assert!(found["met"].is_null() && code == Some(3) && screen.contains("ahead of fingertips"), "{found} {screen}");
    device["electrodes"] = comb(json!(10));
    let (_, report, screen) = enforced(&device, &[]);
    let found = requirement(&report, "angle_random_walk_deg_per_rth");
    assert!(found["met"] == true && !screen.contains("ahead of"), "{found} {screen}");
    device["electrodes"] = comb(Value::Null);
    assert!(enforced(&device, &[]).2.contains("\"tip_gap_um\" is not stated"));
}

/// Imperfections that are not stated leave every figure open that they move: taking them out of the file cannot turn a requirement
/// that fails or is open into one that is met.
#[test]
fn taking_imperfections_out_meets_nothing() {
    let mut device = yoked(4.0, 4.0, Some(0.02));
    device["operation"]["shock"] = json!({"peak_g": 1000, "duration_ms": 0.5, "direction": "z"});
    device["requirements"] = json!({
        "mode_split_hz": [-1e6, 1e6], "drive_frequency_hz": [1, 1e7], "sense_frequency_hz": [1, 1e7], "shock_travel_um": 1e4
    });
    let (code, _, screen) = enforced(&device, &[]);
    assert!(code == Some(0) && screen.contains("YES"), "{screen}");
    for key in ["left_right_width_um", "sidewall_tilt_deg"] {
        let mut less = device.clone();
        less["imperfections"].as_object_mut().unwrap().remove(key);
        let (code, report, screen) = enforced(&less, &[]);
        assert!(code == Some(3) && !screen.contains("YES"), "{screen}");
        for r in report["requirements"].as_array().unwrap() {
            assert!(r["met"].is_null() && r["because"].to_string().contains(key), "{r}");
        }
    }
}

/// A stopper that is taken out, a plate as near as it and a side plate in the way of the drive leave open what they decide.
#[test]
fn what_else_may_be_touched_leaves_first_touch_open() {
    let mut device = yoked(4.0, 4.0, Some(0.0));
    device["operation"]["shock"] = json!({"peak_g": 1000, "duration_ms": 0.5, "direction": "z"});
    let stopper = |mass: &str, um: f64| json!({"at": mass, "direction": "-z", "gap_um": um});
    device["stoppers"] = json!([stopper("left", 2.0), stopper("right", 4.0)]);
    device["requirements"] = json!({"shock_first_touch_g": 1});
    let open = |device: &Value, said: &str| {
        let (code, report, screen) = enforced(device, &[]);
        let r = &report["requirements"].as_array().unwrap()[0];
        assert!(r["met"].is_null() && code == Some(3) && screen.contains(said), "{r} {screen}");
    };
    let (_, report, screen) = enforced(&device, &[]);
    assert_eq!(requirement(&report, "shock_first_touch_g")["met"], true, "{screen}");
    let mut less = device.clone();
    less["stoppers"] = json!([stopper("right", 4.0)]);
    open(&less, "no stopper is stated for \"left\"");
    let mut plate = device.clone();
    plate["electrodes"] = json!({"under": {"kind": "plate", "side": "below", "gap_um": 3,
                                          "shapes": [{"rect": [[50, -100], [250, 100]]}]}});
    open(&plate, "electrode \"under\" lies as near as a stopper");
    let mut fingers = device.clone();
    fingers["operation"]["shock"]["direction"] = json!("y");
    fingers["electrodes"] = json!({"drive": {"kind": "comb", "direction": "-x", "mass": "left", "gap_um": 2, "overlap_um": 10,
                                             "fingers": 20, "tip_gap_um": 9}});
    open(&fingers, "electrode \"drive\" lies as near as a stopper");
    let mut side = yoked(4.0, 4.0, Some(0.0));
    side["electrodes"] =
        json!({"wall": {"kind": "side plate", "direction": "-x", "mass": "left", "gap_um": 2, "length_um": 100}});
    open(&side, "the drive motion meets a side plate");
}
