//! What grows with the square of an imperfection, and what biased electrodes do beside softening: each layout (invented) was answered wrongly
//! before, and what is true is drawn or solved by the program another way, or follows from a section's moments.

// A helper that cannot go on fails its test.
#![allow(clippy::unwrap_used)]

use modalith_tests::{Run, modalith};
use serde_json::{Value, json};

fn run(device: &Value, command: &[&str]) -> (Value, Run) {
    let folder = tempfile::tempdir().unwrap();
    std::fs::write(folder.path().join("device.json"), device.to_string()).unwrap();
    let words: Vec<&str> = [command[0], "device.json", "--out", "out"].iter().chain(&command[1..]).copied().collect();
    let run = modalith(folder.path(), &words).unwrap();
    let json = std::fs::read_to_string(folder.path().join(format!("out/{}.json", command[0])));
    (json.ok().and_then(|text| serde_json::from_str(&text).ok()).unwrap_or(Value::Null), run)
}

/// A square mass that four bent flexures carry, each a quarter turn from the next: one lies on the right, one on the left, two on both sides.
fn pinwheel(right_um: f64, left_um: f64) -> Value {
    let bent = |path: Value, width: f64| json!({"path": path, "width": width});
    let anchors = json!([
        {"rect": [[128, -168], [152, -144]]}, {"rect": [[144, 128], [168, 152]]},
        {"rect": [[-152, 144], [-128, 168]]}, {"rect": [[-168, -152], [-144, -128]]}
    ]);
    json!({
        "format": "modalith.device/1", "name": "pinwheel",
        "layout": {
            "unit": "um",
            "structure": [
                {"rect": [[-60, -60], [60, 60]]},
                bent(json!([[55, 54], [140, 54], [140, -146]]), right_um), bent(json!([[-54, 55], [-54, 140], [146, 140]]), 3.0),
                bent(json!([[-55, -54], [-140, -54], [-140, 146]]), left_um), bent(json!([[54, -55], [54, -140], [-146, -140]]), 3.0),
                anchors[0], anchors[1], anchors[2], anchors[3]
            ],
            "anchors": anchors
        },
        "process": {"thickness_um": 2.8},
        "material": {"youngs_modulus_gpa": 160, "poissons_ratio": 0.22, "density_kg_m3": 2330},
        "masses": {"m": [{"rect": [[-60, -60], [60, 60]]}]},
        "intent": {"drive": {"m": "+x"}, "sense": [{"rate_axis": "z", "m": "+y"}]},
        "imperfections": {"left_right_width_um": 0, "sidewall_tilt_deg": 0},
        "spread_3sigma": {"edge_bias_um": 0, "thickness_um": 0, "youngs_modulus_percent": 0, "density_percent": 0}
    })
}

/// Seen: first order cancels in the split of a mass that is the same along x and y; 150 nm stated made −104 Hz, met, of what is −45 Hz drawn.
#[test]
fn where_first_order_cancels_the_square_decides() {
    let drawn = run(&pinwheel(3.075, 2.925), &["rate"]).0["pair"]["mode_split_hz"].as_f64().unwrap();
    let mut stated = pinwheel(3.0, 3.0);
    stated["imperfections"]["left_right_width_um"] = json!(0.15);
    stated["requirements"] = json!({"mode_split_hz": [-1000, -70]});
    let (found, run) = run(&stated, &["rate"]);
    let made = found["as_made"]["mode_split_hz"].as_f64().unwrap();
    assert!((made - drawn).abs() < 0.1 * drawn.abs(), "{made} {drawn}");
    let requirement = &found["axes"][0]["requirements"][0];
    assert!(requirement["met"].is_null(), "{requirement} {}", run.stdout);
}

/// A mass on four straight flexures five times as tall as wide.
fn leaning(degrees: f64) -> Value {
    let everywhere = |rect: Value| json!({"rect": rect, "mirror_about": {"x": 0, "y": 0}});
    json!({
        "format": "modalith.device/1", "name": "leaning walls",
        "layout": {
            "unit": "um",
            "structure": [{"rect": [[-60, -60], [60, 60]]}, everywhere(json!([[48.5, 60], [51.5, 260]]))],
            "anchors": [everywhere(json!([[35, 260], [65, 280]]))]
        },
        "process": {"thickness_um": 15},
        "material": {"youngs_modulus_gpa": 160, "poissons_ratio": 0.22, "density_kg_m3": 2330},
        "masses": {"m": [{"rect": [[-60, -60], [60, 60]]}]},
        "intent": {"drive": {"m": "+x"}, "sense": [{"rate_axis": "y", "m": "+z"}]},
        "imperfections": {"left_right_width_um": 0, "sidewall_tilt_deg": degrees},
        "spread_3sigma": {"edge_bias_um": 0, "thickness_um": 0, "youngs_modulus_percent": 0, "density_percent": 0}
    })
}

/// Seen: a lean of 3° made the drive 3.2 % slower, 20° none at all. A parallelogram that is free to bend out of the plane keeps t w³/12: I_n −
/// I_nz²/I_z = t w³/12 + w t³ τ²/12 − (w t³ τ/12)²/(w t³/12). What is left is that the mass follows upwards, λ_x/λ_z of it: (t τ/w)²/2 · 4.7 %.
#[test]
fn walls_that_lean_hardly_slow_the_drive() {
    for degrees in [1.0_f64, 3.0, 20.0] {
        let mut device = leaning(degrees);
        device["requirements"] = json!({"drive_frequency_hz": [1, 1000000]});
        let (found, run) = run(&device, &["rate"]);
        let made = found["as_made"]["drive"]["frequency_hz"].as_f64().unwrap();
        let [drawn, up] = ["drive", "sense"].map(|of| found["pair"][of]["frequency_hz"].as_f64().unwrap());
        // In units of the drive's own stiffness: 1 + s and s·u coupled to u above.
        let (s, u) = ((5.0 * degrees.to_radians().tan()).powi(2), (up / drawn).powi(2));
        let trace = 1.0 + s + u;
        let exact = drawn * (0.5 * (trace - (trace * trace - 4.0 * u).sqrt())).sqrt();
        let error = found["axes"][0]["requirements"][0]["error"].as_f64().unwrap();
        let bound = if degrees < 10.0 { 3e-4 * drawn } else { error };
        assert!(
            (made - exact).abs() < bound && error < 0.25 * drawn,
            "{degrees}: {made} {exact} {error} {}",
            run.stdout
        );
    }
}

/// A plate on two torsion flexures with an electrode below either half, or above it where it has no bias; µm and V.
fn see_saw(left_gap_um: f64, left_v: f64, right_v: f64) -> Value {
    let plate = |x: [f64; 2], gap: f64, volts: f64| json!({"kind": "plate", "side": if volts == 0.0 { "above" } else { "below" }, "gap_um": gap, "bias_v": volts, "shapes": [{"rect": [[x[0], -70], [x[1], 70]]}]});
    json!({
        "format": "modalith.device/1", "name": "see-saw",
        "layout": {
            "unit": "um",
            "structure": [{"rect": [[-150, -80], [150, 80]]}, {"rect": [[-2, 80], [2, 200]], "mirror_about": {"y": 0}}],
            "anchors": [{"rect": [[-20, 200], [20, 230]], "mirror_about": {"y": 0}}]
        },
        "process": {"thickness_um": 4},
        "material": {"youngs_modulus_gpa": 160, "poissons_ratio": 0.22, "density_kg_m3": 2330},
        "masses": {"m": [{"rect": [[-150, -80], [150, 80]]}]},
        "electrodes": {"l": plate([-140.0, -40.0], left_gap_um, left_v), "r": plate([40.0, 140.0], 2.0, right_v)},
        "modes": {"count": 3}
    })
}

/// Seen: a plate that tilts away from a pull was said to pull in at 13 times its bias, with another electrode in its way at 6.
#[test]
fn an_electrode_without_a_bias_is_met() {
    let (_, free) = run(&see_saw(2.0, 0.0, 1.0), &["modes", "--model", "shell"]);
    assert!(free.stdout.contains("pulls in at"), "{}", free.stdout);
    let (_, met) = run(&see_saw(0.02, 0.0, 1.0), &["modes", "--model", "shell"]);
    assert!(met.stdout.contains("meets \"l\""), "{}", met.stdout);
}

/// Seen: an audit blamed roots and shear for the softening that springs leave out; columns of shifts held electrodes still, in silence.
#[test]
fn softening_is_not_blamed_on_roots() {
    let device = see_saw(2.0, 2.0, 2.0);
    let (found, audit) = run(&device, &["audit", "--count", "3"]);
    let all = found["assumptions"].as_array().unwrap();
    let roots = all.iter().find(|a| a["name"].as_str().unwrap().starts_with("roots")).unwrap();
    assert!(roots["holds"].is_null(), "{roots}");
    assert!(audit.stdout.contains("springs lack the softening of biased electrodes"), "{}", audit.stdout);
    let (_, modes) = run(&device, &["modes", "--model", "shell"]);
    assert!(modes.stdout.contains("first-order terms hold that as it is"), "{}", modes.stdout);
}
