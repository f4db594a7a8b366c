//! What neither the models at hand nor first order know: a requirement there has no verdict, and the reason names what is not known.
//! Each layout (invented) was answered wrongly before.

// A helper that cannot go on fails its test.
#![allow(clippy::unwrap_used)]

use modalith_tests::modalith;
use serde_json::{Value, json};

/// A mass of `half` µm to either side on four straight flexures, driven along x and read along z, all that is asked for stated as nothing.
fn on_four_legs(half: f64, thickness_um: f64, leg: Value, anchor: Value) -> Value {
    json!({
        "format": "modalith.device/1", "name": "four legs",
        "layout": {
            "unit": "um",
            "structure": [{"rect": [[-half, -half], [half, half]]}, leg],
            "anchors": [anchor]
        },
        "process": {"thickness_um": thickness_um},
        "material": {"youngs_modulus_gpa": 160, "poissons_ratio": 0.22, "density_kg_m3": 2330},
        "masses": {"m": [{"rect": [[-half, -half], [half, half]]}]},
        "intent": {"drive": {"m": "+x"}, "sense": [{"rate_axis": "y", "m": "+z"}]},
        "operation": {"drive_amplitude_um": 2, "quality_drive": 5000, "quality_sense": 2000, "temperature_k": 300,
            "vibration_band_hz": [20, 2000], "readout_noise_m_per_rthz": 1e-14},
        "imperfections": {"left_right_width_um": 0, "sidewall_tilt_deg": 0, "electrode_mismatch": 0,
            "drive_force_leak": 0, "phase_error_deg": 0},
        "spread_3sigma": {"edge_bias_um": 0, "thickness_um": 0, "youngs_modulus_percent": 0, "density_percent": 0}
    })
}

fn everywhere(shape: Value) -> Value {
    let mut all = shape;
    all["mirror_about"] = json!({"x": 0, "y": 0});
    all
}

/// Legs of 150 µm, 3 µm wide, on a mass of 120 µm.
fn slender(thickness_um: f64) -> Value {
    let leg = everywhere(json!({"rect": [[48.5, 60], [51.5, 210]]}));
    on_four_legs(60.0, thickness_um, leg, everywhere(json!({"rect": [[40, 210], [60, 230]]})))
}

/// Runs `rate`: rate.json and the screen.
fn rate(device: &Value, model: &str) -> (Value, String) {
    let folder = tempfile::tempdir().unwrap();
    std::fs::write(folder.path().join("device.json"), device.to_string()).unwrap();
    let run = modalith(folder.path(), &["rate", "device.json", "--model", model, "--out", "out"]).unwrap();
    assert_eq!(run.code, Some(0), "{}\n{}", run.stdout, run.stderr);
    let json = std::fs::read_to_string(folder.path().join("out/rate.json")).unwrap();
    (serde_json::from_str(&json).unwrap(), run.stdout)
}

/// Whether a requirement is met, and why that is not known.
fn verdict(found: &Value, key: &str) -> (Value, String) {
    let all: Vec<&Value> =
        found["axes"].as_array().unwrap().iter().flat_map(|a| a["requirements"].as_array()).flatten().collect();
    let own = all.iter().find(|r| r["name"] == key).unwrap();
    (own["met"].clone(), own["because"].to_string())
}

/// Seen: legs three times as tall as wide and five times as long as tall, flush with the mass's edge: "met" under beams and shells, 0.7 %
/// low both, where solids miss what is asked.
#[test]
fn roots_of_tall_short_flexures_are_left_to_solids() {
    let leg = everywhere(json!({"rect": [[36, 40], [40, 100]]}));
    let mut device = on_four_legs(40.0, 12.0, leg, everywhere(json!({"rect": [[26, 100], [50, 120]]})));
    device["requirements"] = json!({"drive_frequency_hz": [500000, 519500]});
    for model in ["shell", "beam-shell"] {
        let (met, because) = verdict(&rate(&device, model).0, "drive_frequency_hz");
        assert!(met.is_null() && because.contains("of estimated error"), "{model}: {met} {because}");
    }
    let (found, _) = rate(&device, "auto");
    assert_eq!(verdict(&found, "drive_frequency_hz").0, json!(false));
}

/// Seen: shells hold the sides of anchors that are held from below, said so, and called frequencies met that solids have 1 % lower.
#[test]
fn anchors_held_from_below_are_left_to_solids() {
    let mut device = slender(3.0);
    device["anchors_held"] = json!("below");
    device["requirements"] = json!({"drive_frequency_hz": [1000, 1000000]});
    let (met, because) = verdict(&rate(&device, "shell").0, "drive_frequency_hz");
    assert!(met.is_null() && because.contains("held from below"), "{met} {because}");
}

/// Seen: a plate at 19 V of a pull-in near 20 V, thickness uncertain by 3 %: first order about the rest as drawn, and a part drawn at
/// three sigma outside what it said.
#[test]
fn a_rest_that_follows_the_process_is_not_first_order() {
    let mut device = slender(3.6);
    device["electrodes"] = json!({"trim": {"kind": "plate", "role": "tuning", "side": "below", "gap_um": 2, "bias_v": 19,
        "shapes": [{"rect": [[-62, -62], [62, 62]]}]}});
    device["spread_3sigma"]["thickness_um"] = json!(0.1);
    device["requirements"] = json!({"sense_frequency_hz": [44500, 54000]});
    let (met, because) = verdict(&rate(&device, "shell").0, "sense_frequency_hz");
    assert!(met.is_null() && because.contains("deflect the part"), "{met} {because}");
    device["electrodes"]["trim"]["bias_v"] = json!(1);
    device["requirements"] = json!({"sense_frequency_hz": [30000, 90000]});
    assert_eq!(verdict(&rate(&device, "shell").0, "sense_frequency_hz").0, json!(true));
}

/// Seen: 17.6 V were named for a split of nothing, where the part solved under 17.6 V has one of −5 361 Hz.
#[test]
fn a_bias_is_named_only_where_the_gap_stays_as_it_is() {
    let mut device = slender(3.6);
    device["electrodes"] = json!({"trim": {"kind": "plate", "role": "tuning", "side": "below", "gap_um": 2, "bias_v": 1,
        "shapes": [{"rect": [[-62, -62], [62, 62]]}]}});
    device["requirements"] = json!({"mode_split_hz": [-100000, 100000]});
    let (found, said) = rate(&device, "shell");
    assert!(said.contains("none is named for a split of 0 Hz") && !said.contains("V for a split"), "{said}");
    assert!(!found.to_string().contains("\"bias_for_split_v\":1"), "{found:#}");
}

/// Seen: the edge of the part over a sense plate, and "quadrature 0": what such a plate sees of the drive is ε₀ · 120 µm a µm of gap.
#[test]
fn an_edge_over_a_sense_plate_is_told() {
    let mut device = slender(3.6);
    device["electrodes"] = json!({"s": {"kind": "plate", "role": "sense", "side": "below", "gap_um": 2, "bias_v": 2,
        "shapes": [{"rect": [[30, -70], [90, 70]]}]}});
    device["requirements"] = json!({"quadrature_deg_per_s": 200});
    let (found, _) = rate(&device, "shell");
    let (met, because) = verdict(&found, "quadrature_deg_per_s");
    assert!(met.is_null() && because.contains("an edge of the part lies over"), "{met} {because}");
    assert!(found["used"].to_string().contains("changes by up to 120.0 µm² for a µm along x"), "{}", found["used"]);
}

/// Seen: legs tapered from 8 to 4 µm, quadrature of leaning walls a sixth too small and "met".
#[test]
fn walls_of_a_taper_that_lean_are_not_counted() {
    let leg = everywhere(json!({"polygon": [[46, 60], [54, 60], [52, 210], [48, 210]]}));
    let mut device = on_four_legs(60.0, 2.0, leg, everywhere(json!({"rect": [[40, 210], [60, 230]]})));
    device["imperfections"]["sidewall_tilt_deg"] = json!(0.01);
    device["requirements"] = json!({"quadrature_deg_per_s": 100000});
    let (met, because) = verdict(&rate(&device, "shell").0, "quadrature_deg_per_s");
    assert!(met.is_null() && because.contains("of changing width"), "{met} {because}");
}

/// Two masses in antiphase, read by plates of unlike gaps: what is common to both is read, as if the same mismatch were stated. Seen: "a
/// mirror of the drawing forbids it", and met, where the stated mismatch was not.
#[test]
fn plates_of_unlike_gaps_read_vibration() {
    let mut device = slender(2.0);
    device["layout"]["structure"] = json!([
        {"rect": [[-130, -50], [-30, 50]], "mirror_about": {"x": 0}},
        everywhere(json!({"rect": [[-121, 50], [-119, 130]]})),
        everywhere(json!({"rect": [[-41, 50], [-39, 130]]})),
        {"rect": [[-30, 19], [-10, 21]], "mirror_about": {"x": 0}},
        {"rect": [[-11, 19], [-9, 70]], "mirror_about": {"x": 0}},
        {"rect": [[-11, 69], [11, 71]]}
    ]);
    device["layout"]["anchors"] = json!([
        everywhere(json!({"rect": [[-130, 130], [-110, 150]]})),
        everywhere(json!({"rect": [[-50, 130], [-30, 150]]}))
    ]);
    device["masses"] =
        json!({"left": [{"rect": [[-130, -50], [-30, 50]]}], "right": [{"rect": [[30, -50], [130, 50]]}]});
    device["intent"] =
        json!({"drive": {"left": "-x", "right": "+x"}, "sense": [{"rate_axis": "y", "left": "+z", "right": "-z"}]});
    device["requirements"] = json!({"vibration_deg_per_s_per_g": 1});
    let plate = |x: i32, gap: f64| json!({"kind": "plate", "role": "sense", "side": "below", "gap_um": gap, "shapes": [{"rect": [[x, -40], [x + 80, 40]]}]});
    let vibration = |device: &Value| -> f64 {
        let (found, said) = rate(device, "shell");
        assert!(!said.contains("e-21 floor"), "{said}");
        let all: Vec<&Value> =
            found["axes"].as_array().unwrap().iter().flat_map(|a| a["requirements"].as_array()).flatten().collect();
        all[0]["as_made"][1].as_f64().unwrap()
    };
    device["electrodes"] = json!({"l": plate(-120, 2.0), "r": plate(40, 2.1)});
    let drawn = vibration(&device);
    device["electrodes"] = json!({"l": plate(-120, 2.0), "r": plate(40, 2.0)});
    // Gains 1.1025 to 1 are 1 ± m/2 about their mean.
    device["imperfections"]["electrode_mismatch"] = json!(2.0 * 0.1025 / 2.1025);
    let stated = vibration(&device);
    assert!((drawn / stated - 1.0).abs() < 0.02, "{drawn:e} {stated:e}");
}

/// Seen: fingers fill a list of 20 modes, and the quadrature of leaning walls was 9 % short, its error 7 %. What modes beyond the list
/// add has a bound, of masses and of electrodes, and it counts as error.
#[test]
fn fingers_that_fill_the_list_hide_no_quadrature() {
    let mut device = slender(6.0);
    let finger = |k: i32| {
        let y = 6.0 * f64::from(k);
        json!({"rect": [[60, y - 1.0], [120, y + 1.0]]})
    };
    device["layout"]["structure"].as_array_mut().unwrap().extend((-9..=9).map(finger));
    device["imperfections"]["sidewall_tilt_deg"] = json!(0.02);
    device["requirements"] = json!({"quadrature_deg_per_s": 1e9});
    let plate = json!({"s": {"kind": "plate", "side": "below", "gap_um": 2, "role": "sense",
        "shapes": [{"rect": [[-50, -50], [50, 50]]}]}});
    for electrodes in [json!({}), plate] {
        device["electrodes"] = electrodes;
        let of = |count: usize| {
            let mut device = device.clone();
            device["modes"] = json!({"count": count});
            let (found, screen) = rate(&device, "shell");
            let zero = &found["axes"][0]["zero_rate"];
            let rates = ["quadrature_as_made_deg_per_s", "quadrature_of_modes_not_listed_at_most_deg_per_s"];
            let [made, left] = rates.map(|key| zero[key].as_f64().unwrap());
            assert!(screen.contains("modes that are not listed add"), "{screen}");
            let requirement = found["axes"][0]["requirements"][0].clone();
            (made, left, requirement["error"].as_f64().unwrap())
        };
        let [(few, left, error), (many, still, _)] = [20, 80].map(of);
        assert!((few - many).abs() > 0.0 && (few - many).abs() <= left && left <= error, "{few} {left} {many}");
        assert!(still < 0.5 * left && left < 0.5 * few, "{left} {still}");
    }
}

/// Two masses on L-shaped legs to four anchors, mirrored about both axes; the crystal turned by so many degrees.
fn two_masses_on_bent_legs(x_off_deg: f64) -> Value {
    let mut device = on_four_legs(50.0, 3.0, json!(null), json!(null));
    let all = |rect: Value| json!({"rect": rect, "mirror_about": {"x": 0, "y": 0}});
    device["layout"]["structure"] = json!([
        {"rect": [[30, -50], [130, 50]], "mirror_about": {"x": 0}},
        all(json!([[40, 50], [42, 120]])), all(json!([[118, 50], [120, 120]])),
        all(json!([[40, 118], [70, 120]])), all(json!([[90, 118], [120, 120]])),
        {"rect": [[12, -1], [30, 1]], "mirror_about": {"x": 0}},
        {"polygon": [[-12, -40], [12, -40], [12, 40], [-12, 40]], "holes": [[[-10, -38], [10, -38], [10, 38], [-10, 38]]]}
    ]);
    device["layout"]["anchors"] = json!([all(json!([[70, 110], [90, 130]]))]);
    device["masses"] = json!({
        "left": [{"rect": [[-130, -50], [-30, 50]]}], "right": [{"rect": [[30, -50], [130, 50]]}]
    });
    device["intent"] = json!({"drive": {"left": "-x", "right": "+x"},
        "sense": [{"rate_axis": "z", "left": "-y", "right": "+y"}]});
    device["material"] = json!({"name": "silicon", "wafer": "100", "x_along": "110", "x_off_deg": x_off_deg});
    device
}

/// Seen: beams on shells made of two exact mirrors a quadrature of 368 °/s, told as numerical floor, where solids have none: a corner and its
/// image had two meshes. Legs of two widths, too.
#[test]
fn beams_on_shells_keep_a_mirror() {
    for across in [2.0, 3.0] {
        let mut device = two_masses_on_bent_legs(0.0);
        for place in [3, 4] {
            device["layout"]["structure"][place]["rect"][0][1] = json!(120.0 - across);
        }
        let (found, screen) = rate(&device, "beam-shell");
        let floor = found["zero_rate"]["quadrature_drawn_deg_per_s"].as_f64().unwrap();
        assert!(floor < 1.0, "{across}: {floor} {screen}");
    }
}

/// Seen: beams on shells make 2 846 °/s of a turned crystal where solids make 2 674, and the error was 19 and left that out: what the two
/// models make of quadrature itself was no part of its error.
#[test]
fn two_models_of_a_quadrature_differ_by_their_quadratures() {
    let mut device = two_masses_on_bent_legs(-2.0);
    device["requirements"] = json!({"quadrature_deg_per_s": 3000.0});
    let (found, screen) = rate(&device, "beam-shell");
    assert!(verdict(&found, "quadrature_deg_per_s").0.is_null(), "{screen}");
    assert!(found["axes"][0]["requirements"][0]["error"].as_f64().unwrap() > 200.0, "{screen}");
}

/// Seen: beams on shells have fingers as rigid mass, so that a finger 204 Hz from a guard was no mode, and the guard was met.
#[test]
fn fingers_that_ring_at_a_guard_are_not_cleared() {
    let mut device = two_masses_on_bent_legs(0.0);
    let finger = json!({"rect": [[130, -0.6], [180, 0.6]], "mirror_about": {"x": 0}});
    device["layout"]["structure"].as_array_mut().unwrap().push(finger);
    device["guards"] = json!([{"name": "clock", "frequency_hz": 660000, "half_width_hz": 500}]);
    device["requirements"] = json!({"guard_hz": 100});
    // Beams on shells, asked for, have no such mode; the second model has, and says so.
    let (found, screen) = rate(&device, "beam-shell");
    let (met, because) = verdict(&found, "guard_hz");
    assert!(met.is_null() && because.contains("from a guard, which the beam-shell model does not have"), "{screen}");
    assert!(screen.contains("modes in which they bend are not in the list"), "{screen}");
    // Left to itself the program takes solids, which have them.
    let (found, screen) = rate(&device, "auto");
    assert!(verdict(&found, "guard_hz").0.is_null(), "{screen}");
    assert_eq!(found["model"], "solid");
    let near = found["modes"].as_array().unwrap().iter().filter_map(|m| m["frequency_hz"].as_f64());
    assert!(near.filter(|hz| (hz - 660e3).abs() < 10e3).count() >= 2, "{screen}");
}

/// Seen: springs leave out what a crystal couples of stretching and shear, and in silence.
#[test]
fn springs_say_that_a_turned_crystal_couples_nothing_in_them() {
    let (_, turned) = rate(&two_masses_on_bent_legs(2.0), "lumped");
    assert!(turned.contains("couples of stretching and shear"), "{turned}");
    let (_, along) = rate(&two_masses_on_bent_legs(0.0), "lumped");
    assert!(!along.contains("couples of stretching and shear"), "{along}");
}
