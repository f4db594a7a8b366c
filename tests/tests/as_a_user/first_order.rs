//! First-order terms of every demo device against central differences of full solves on the moved mesh, shells. Bound: 1 % of
//! the mode's largest term; terms are weighed as shifts by a hundredth of a flexure's width, 2 % of thickness, 1 % of a constant.

// A helper that cannot go on fails its test.
#![allow(clippy::unwrap_used, clippy::print_stdout)]

use modalith::device::Device;
use modalith_mesher::mesh::Mesh;
use modalith_mesher::motion::MeshMotion;
use modalith_mesher::triangulate::{MeshSize, triangulate};
use modalith_solver::element::basis::Order;
use modalith_solver::element::prism::SHEAR_CORRECTION;
use modalith_solver::modal::{Modal, Wanted, modes};
use modalith_solver::process::process_terms;
use modalith_solver::system::{Layer, Structure};
use modalith_tests::modalith;
use serde_json::{Value, json};
use std::path::Path;

const COUNT: usize = 6;

fn solved(mesh: &Mesh, layer: &Layer) -> Modal {
    modes(&Structure::anchored(mesh.clone(), layer.clone()), Wanted::Lowest(COUNT), &|_| {}).unwrap()
}

/// Frequencies of the uncoupled motions, each by itself: modes of different motions may cross.
fn frequencies(mesh: &Mesh, layer: &Layer) -> Vec<Vec<f64>> {
    let modal = modes(&Structure::anchored(mesh.clone(), layer.clone()), Wanted::Lowest(COUNT + 3), &|_| {});
    let modal = modal.unwrap();
    let mut own = vec![Vec::new(); modal.motions.len()];
    for (mode, &motion) in modal.modes.iter().zip(&modal.motion_of) {
        own[motion].push(mode.frequency_hz);
    }
    own
}

fn compare(name: &str) {
    let file = Path::new(env!("CARGO_MANIFEST_DIR")).join("../meshes").join(name).join("device.json");
    let device = Device::read(&file).unwrap();
    let (drawing, _) = device.drawing().unwrap();
    let outline = device.outline(&drawing).unwrap();
    // The terms are those of the discrete system: a low order and no grading keep it small.
    let size = MeshSize { largest_um: device.mesh.largest_um, corner_ratio: 1.0, ..MeshSize::default() };
    let mesh = triangulate(&outline, &size).unwrap();
    let layer = Layer::shell_with(&device.law, device.thickness_um, Order::new(2).unwrap(), SHEAR_CORRECTION);
    let constants = device.material.constants().unwrap();
    let narrowest = outline.flexures.iter().map(|f| f.width_um).fold(device.thickness_um, f64::min);
    let motion = MeshMotion::edges(&mesh, narrowest);
    let modal = solved(&mesh, &layer);
    // A multiple at the end is found whole.
    let which: Vec<usize> = (0..modal.modes.len()).collect();
    let terms = process_terms(&modal, &constants, &motion, &which).unwrap();
    let (bias, thicker) = (0.01 * narrowest, 0.02 * device.thickness_um);
    let jacobian = motion.smallest_jacobian(&mesh, bias).min(motion.smallest_jacobian(&mesh, -bias));
    assert!(jacobian > 0.0, "{name}: {jacobian}");
    let law = |s: f64| constants.scaled(0, 1.0 + 0.01 * s).law().unwrap();
    let pairs = [
        [1.0, -1.0].map(|s| frequencies(&motion.moved(&mesh, s * bias), &layer)),
        [1.0, -1.0].map(|s| frequencies(&mesh, &layer.with_thickness(device.thickness_um + s * thicker))),
        [1.0, -1.0].map(|s| frequencies(&mesh, &layer.with_law(&law(s)))),
    ];
    let mut worst = 0.0_f64;
    for i in 0..COUNT {
        let own = terms.of(i);
        let shifts = [own.hz_per_nm_edge_bias * 1e3 * bias, own.hz_per_um_thickness * thicker, own.hz_per_percent[0].1];
        let largest = shifts.iter().map(|s| s.abs()).fold(0.0, f64::max);
        assert!(largest > 1e-4 * terms.frequency_hz[i], "{name}: mode {}", i + 1);
        let motion = modal.motion_of[i];
        let rank = modal.motion_of[..i].iter().filter(|m| **m == motion).count();
        for (first, [plus, minus]) in shifts.iter().zip(&pairs) {
            worst = worst.max((first - 0.5 * (plus[motion][rank] - minus[motion][rank])).abs() / largest);
        }
    }
    println!("{name}: {:.1e} of the largest term; smallest Jacobian after {bias:.3} µm {jacobian:.3}", worst);
    assert!(worst < 0.01, "{name}: {worst}");
}

#[test]
fn simple_demos() {
    ["comb-resonator", "diaphragm", "gimbal", "ring"].into_iter().for_each(compare);
}

#[test]
fn platform() {
    compare("platform");
}

#[test]
fn platform_thin() {
    compare("platform-thin");
}

/// Beams on shells: terms that `modes` prints against central differences of a batch, whose mesh and root cells move with the
/// process.
#[test]
fn beams_on_shells() {
    let home = tempfile::tempdir().unwrap();
    let gimbal = Path::new(env!("CARGO_MANIFEST_DIR")).join("../meshes/gimbal/device.json");
    let mut gimbal: Value = serde_json::from_str(&std::fs::read_to_string(gimbal).unwrap()).unwrap();
    // Silicon by constants, so that each can be varied.
    gimbal["material"] = json!({
        "density_kg_m3": 2330, "c11_gpa": 165.7, "c12_gpa": 63.9, "c44_gpa": 79.6, "wafer": "100", "x_along": "110",
    });
    let device = home.path().join("gimbal.json");
    std::fs::write(&device, gimbal.to_string()).unwrap();
    let run = |args: &[&str]| {
        let run = modalith(home.path(), args).unwrap();
        assert_eq!(run.code, Some(0), "{args:?}\n{}\n{}", run.stdout, run.stderr);
        run.stdout
    };
    let file = device.display().to_string();
    let text = run(&["modes", &file, "--model", "beam-shell", "--json", "--out", "drawn"]);
    let drawn: Value = serde_json::from_str(&text).unwrap();
    let modes = drawn["modes"].as_array().unwrap();
    let thickness = drawn["thickness_um"].as_f64().unwrap();
    let differences = |pointer: &str, middle: f64, step: f64| -> Vec<f64> {
        let name = |i: usize| format!("mode {}", i + 1);
        let kept = |i: usize| (name(i), json!(format!("/tracks/{}/frequency_hz", i + 1)));
        let plan = json!({
            "format": "modalith.plan/1", "device": file, "command": "modes", "model": "beam-shell",
            "vary": {pointer: {"list": [middle - step, middle + step]}}, "sampling": {"method": "grid"},
            "keep": (0..modes.len()).map(kept).collect::<serde_json::Map<_, _>>(),
        });
        std::fs::write(home.path().join("plan.json"), plan.to_string()).unwrap();
        let out = pointer.replace('/', "-");
        let said = run(&["variants", "plan.json", "--out", &out[1..]]);
        assert!(!said.contains("meshed anew"), "{said}");
        let table = std::fs::read_to_string(home.path().join(&out[1..]).join("results.csv")).unwrap();
        let mut rows = table.lines().filter(|l| !l.starts_with('#')).map(|l| l.split(',').collect::<Vec<_>>());
        let head = rows.next().unwrap();
        let rows: Vec<Vec<&str>> = rows.collect();
        let column = |i: usize| head.iter().position(|h| h.starts_with(&name(i))).unwrap();
        let hz = |row: usize, i: usize| rows[row][column(i)].parse::<f64>().unwrap();
        (0..modes.len()).map(|i| 0.5 * (hz(1, i) - hz(0, i))).collect()
    };
    let (bias, thicker) = (0.02, 0.01 * thickness);
    let mut full =
        vec![differences("/process/edge_bias_um", 0.0, bias), differences("/process/thickness_um", thickness, thicker)];
    let constants = [("c11", 165.7), ("c12", 63.9), ("c44", 79.6)];
    full.extend(constants.map(|(name, gpa)| differences(&format!("/material/{name}_gpa"), gpa, 0.01 * gpa)));
    let mut worst = 0.0_f64;
    for (i, mode) in modes.iter().enumerate() {
        let own = |key: &str| mode["first_order"][key].as_f64().unwrap();
        let mut terms = vec![own("hz_per_nm_edge_bias") * 1e3 * bias, own("hz_per_um_thickness") * thicker];
        terms.extend(constants.map(|(name, _)| mode["first_order"]["hz_per_percent"][name].as_f64().unwrap()));
        // One percent of stiffness.
        let stiffer = 0.005 * mode["frequency_hz"].as_f64().unwrap();
        let largest = terms.iter().map(|t| t.abs()).fold(stiffer, f64::max);
        terms.iter().zip(&full).for_each(|(term, full)| worst = worst.max((term - full[i]).abs() / largest));
    }
    println!("gimbal, beams on shells: {worst:.1e} of the largest term");
    assert!(worst < 1e-3, "{worst}");
}

/// Openings that are filled shrink with their edges like those that the mesh has: the terms of both agree to 1 % of each, first six
/// modes of a plate with 100 release holes (without that, 13 % too high).
#[test]
fn filled_openings_shrink_too() {
    let home = tempfile::tempdir().unwrap();
    let terms = |below_um: Option<f64>| -> Vec<f64> {
        let four = json!({"x": 0, "y": 0});
        let mut device = json!({
            "format": "modalith.device/1",
            "layout": {"unit": "um",
                "structure": [{"rect": [[-100, -100], [100, 100]]}, {"rect": [[60, 100], [64, 300]], "mirror_about": four}],
                "holes": [{"circle": [-85.5, -85.5], "radius": 4, "array": {"rows": 10, "columns": 10, "step": [19, 19]}}],
                "anchors": [{"rect": [[40, 300], [80, 320]], "mirror_about": four}]},
            "process": {"thickness_um": 8},
            "material": {"density_kg_m3": 2330, "youngs_modulus_gpa": 160, "poissons_ratio": 0.22}, "modes": {"count": 6}
        });
        if let Some(below_um) = below_um {
            device["layout"]["holes_below_um"] = json!(below_um);
        }
        std::fs::write(home.path().join("d.json"), device.to_string()).unwrap();
        let args = ["modes", "d.json", "--model", "beam-shell", "--json", "--out", "out"];
        let run = modalith(home.path(), &args).unwrap();
        assert_eq!(run.code, Some(0), "{run:?}");
        let found: Value = serde_json::from_str(&run.stdout).unwrap();
        let edge_term = |m: &Value| m["first_order"]["hz_per_nm_edge_bias"].as_f64().unwrap();
        found["modes"].as_array().unwrap().iter().map(edge_term).collect()
    };
    let (filled, resolved) = (terms(Some(12.0)), terms(None));
    println!("filled {filled:?}, resolved {resolved:?}");
    assert!(filled.len() == 6 && filled.iter().zip(&resolved).all(|(f, r)| (f / r - 1.0).abs() < 0.01));
}
