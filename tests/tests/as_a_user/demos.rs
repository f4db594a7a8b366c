//! Every demo device under `meshes`, as a user runs it: `check` and `modes` on the binary, and for each simple device one
//! number that a closed form gives without a mesh. Lengths in µm unless a name says otherwise, the rest in SI units.

// A helper that cannot go on fails its test.
#![allow(clippy::unwrap_used)]

use modalith_tests::modalith;
use serde_json::Value;
use std::f64::consts::{PI, TAU};
use std::path::{Path, PathBuf};

/// Devices with a test of their own below.
const COMPARED: [&str; 4] = ["comb-resonator", "diaphragm", "gimbal", "ring"];

/// The library's polysilicon: density, Young's modulus, Poisson's ratio.
const POLYSILICON: (f64, f64, f64) = (2330.0, 169e9, 0.22);

fn meshes() -> PathBuf {
    Path::new(env!("CARGO_MANIFEST_DIR")).join("../meshes")
}

/// Runs `check`, then `modes`, on a demo; what `modes.json` says.
fn solved(name: &str, count: &str) -> Value {
    let folder = tempfile::tempdir().unwrap();
    let device = meshes().join(name).join("device.json").canonicalize().unwrap();
    let device = device.to_str().unwrap();
    let run = modalith(folder.path(), &["check", device, "--out", "check"]).unwrap();
    assert_eq!(run.code, Some(0), "{name}: {run:?}");
    assert!(run.stdout.contains("Material"), "{name}: {run:?}");
    let run = modalith(folder.path(), &["modes", device, "--out", "modes", "--count", count, "--quiet"]).unwrap();
    assert_eq!(run.code, Some(0), "{name}: {run:?}");
    let result: Value =
        serde_json::from_slice(&std::fs::read(folder.path().join("modes/modes.json")).unwrap()).unwrap();
    let modes = result["modes"].as_array().unwrap();
    assert_eq!(modes.len().to_string(), count, "{name}");
    assert_eq!(result["count_verified"], true, "{name}");
    let frequencies: Vec<f64> = modes.iter().map(frequency).collect();
    assert!(frequencies[0] > 0.0 && frequencies.is_sorted(), "{name}: {frequencies:?}");
    result
}

fn frequency(mode: &Value) -> f64 {
    mode["frequency_hz"].as_f64().unwrap()
}

/// Frequencies of the modes of this label.
fn labelled(result: &Value, label: &str) -> Vec<f64> {
    result["modes"].as_array().unwrap().iter().filter(|m| m["label"] == label).map(frequency).collect()
}

/// How far a frequency lies above what is expected, as a share of it.
fn above(frequency: f64, expected: f64) -> f64 {
    frequency / expected - 1.0
}

#[test]
fn the_other_demos_are_read_and_solved() {
    let mut names: Vec<String> = std::fs::read_dir(meshes())
        .unwrap()
        .map(|entry| entry.unwrap())
        .filter(|entry| entry.path().join("device.json").is_file())
        .map(|entry| entry.file_name().into_string().unwrap())
        .collect();
    names.sort();
    for name in COMPARED {
        assert!(names.iter().any(|n| n == name), "{name} is missing: {names:?}");
    }
    for name in names.iter().filter(|n| !COMPARED.contains(&n.as_str())) {
        let _ = solved(name, "6");
    }
}

/// Flexures of the demos as drawn: how many, fingers, and for some lengths and widths what they join.
#[test]
fn flexures_are_found_as_drawn() {
    let folder = tempfile::tempdir().unwrap();
    for (name, flexures, fingers) in
        [("platform", 28, 0), ("comb-resonator", 8, 30), ("gimbal", 4, 0), ("ring", 32, 0), ("diaphragm", 0, 0)]
    {
        let device = meshes().join(name).join("device.json").canonicalize().unwrap();
        let run = modalith(folder.path(), &["check", device.to_str().unwrap(), "--json", "--out", name]).unwrap();
        let said: Value = serde_json::from_str(&run.stdout).unwrap();
        let found = said["flexures"].as_array().unwrap();
        assert_eq!((found.len(), &said["fingers"]), (flexures, &Value::from(fingers)), "{name}");
        assert_eq!(folder.path().join(name).join("flexures.gds").is_file(), flexures > 0, "{name}");
        let near = |f: &Value, key: &str, um: f64| (f[key].as_f64().unwrap() / um - 1.0).abs() < 1e-3;
        let sized = |l: f64, w: f64| found.iter().filter(|f| near(f, "length_um", l) && near(f, "width_um", w)).count();
        let joined = |to: &str| found.iter().filter(|f| f["joins"].as_array().unwrap().iter().any(|j| j == to)).count();
        match name {
            "comb-resonator" => assert_eq!((sized(200.0, 2.0), joined("mass shuttle"), joined("anchor")), (8, 4, 4)),
            "gimbal" => assert_eq!((sized(60.0, 6.0), sized(80.0, 6.0), joined("mass plate")), (2, 2, 2)),
            "platform" => assert_eq!((sized(227.0, 4.0), sized(204.0, 4.0), joined("anchor")), (8, 8, 4)),
            // Half loops, between joints at which a side of 4 µm leaves a middle radius of 42 µm.
            "ring" => assert_eq!((sized(128.13, 4.0), joined("mass ring"), joined("anchor")), (16, 8, 8)),
            _ => {}
        }
    }
}

/// Folded flexure with rigid trusses: k = 24 E I / L³ = 2 E h (W/L)³, and the shuttle carries itself, a quarter of the
/// trusses (which move half as far) and 12/35 of the beams (Rayleigh, cubic shape; Tang, Nguyen & Howe, Sensors &
/// Actuators 20 (1989) 25 for the layout). Trusses, tabs and roots of the beams give a little, so the device is slower.
#[test]
fn the_comb_resonator_moves_as_its_beams_say() {
    let (density, youngs_modulus, _) = POLYSILICON;
    let (h, w, l) = (2.0, 2.0, 200.0);
    // Spine, comb bars beyond it, fingers, tabs.
    let shuttle = 224.0 * 16.0 + 2.0 * 8.0 * (120.0 - 16.0) + 30.0 * 30.0 * 2.0 + 4.0 * 12.0 * 26.0;
    let (trusses, beams) = (2.0 * 112.0 * 12.0, 8.0 * w * l);
    let result = solved("comb-resonator", "6");
    let moving = density * h * 1e-18 * (shuttle + trusses + beams);
    assert!((result["moving_mass_kg"].as_f64().unwrap() / moving - 1.0).abs() < 1e-9, "{moving}");
    let stiffness = 2.0 * youngs_modulus * h * 1e-6 * (w / l).powi(3);
    let mass = density * h * 1e-18 * (shuttle + trusses / 4.0 + 12.0 / 35.0 * beams);
    let expected = (stiffness / mass).sqrt() / TAU;
    let along_x = labelled(&result, "in phase x");
    let off = above(along_x[0], expected);
    assert!(along_x.len() == 1 && (-0.03..0.0).contains(&off), "{along_x:?} Hz, expected {expected}: {off}");
}

/// Clamped thin circular plate: ω a² sqrt(ρ h / D) = 10.2158 (Leissa, NASA SP-160, 1969). Shear and the inertia of turning
/// only slow it, by the order of (h/a)² = 0.02 % times a few.
#[test]
fn the_diaphragm_is_a_clamped_circular_plate() {
    let (density, youngs_modulus, nu) = POLYSILICON;
    let (h, a) = (2e-6_f64, 150e-6_f64);
    let bending = youngs_modulus * h.powi(3) / (12.0 * (1.0 - nu * nu));
    let expected = 10.2158 / (TAU * a * a) * (bending / (density * h)).sqrt();
    let first = frequency(&solved("diaphragm", "6")["modes"][0]);
    let off = above(first, expected);
    assert!((-1e-3..0.0).contains(&off), "{first} Hz, expected {expected}: {off}");
}

/// Torsion constant J of a rectangle of these sides (Saint-Venant's series; Timoshenko & Goodier, Theory of Elasticity).
fn torsion_constant(one: f64, other: f64) -> f64 {
    let (a, b) = (one.max(other), one.min(other));
    let sum: f64 = (0..50).map(|k| f64::from(2 * k + 1)).map(|n| (n * PI * a / (2.0 * b)).tanh() / n.powi(5)).sum();
    a * b.powi(3) / 3.0 * (1.0 - 192.0 * b / (PI.powi(5) * a) * sum)
}

/// Plate and frame tip together about the outer bars. The bars lie along <110> of a (100) wafer, where the two shear
/// moduli differ; stretching each side of the section by the root of the other side's modulus makes it isotropic.
///
/// The closed form holds plate, frame and anchors rigid. A shell is up to 3.5 % too soft in the twist of a bar about as
/// tall as wide, and the frame, no thicker than the bars, gives where they end: the device is slower, by up to 6 %.
#[test]
fn the_gimbal_tips_on_its_torsion_bars() {
    // Sections of Saint-Venant's table: β of 1 and of 2.
    assert!(
        (torsion_constant(1.0, 1.0) - 0.140_577).abs() < 1e-6
            && (torsion_constant(1.0, 2.0) / 2.0 - 0.228_682).abs() < 1e-6
    );
    let (density, c44, half_c11_less_c12) = (2329.0, 79.6e9_f64, 50.9e9_f64);
    let (width, thickness, length) = (6.0, 5.0, 80.0);
    let rigidity = torsion_constant(width * c44.sqrt(), thickness * half_c11_less_c12.sqrt())
        / (c44 * half_c11_less_c12).sqrt()
        * 1e-24;
    let stiffness = 2.0 * rigidity / (length * 1e-6);
    // ∫x² dA of squares, and of the 7 × 7 openings of 10 µm in steps of 40 µm.
    let square = |side: f64| side.powi(4) / 12.0;
    let columns: f64 = (-3..=3).map(|k| (40.0 * f64::from(k)).powi(2)).sum();
    let openings = 7.0 * 100.0 * columns + 49.0 * square(10.0);
    let second_moment = square(300.0) - openings + square(520.0) - square(420.0);
    let area = 300.0 * 300.0 - 4900.0 + 520.0 * 520.0 - 420.0 * 420.0;
    let inertia = density * thickness * 1e-30 * (second_moment + area * thickness * thickness / 12.0);
    let expected = (stiffness / inertia).sqrt() / TAU;
    let about_y = labelled(&solved("gimbal", "6"), "in phase tilt about y");
    let off = above(about_y[0], expected);
    assert!(about_y.len() == 1 && (-0.06..0.0).contains(&off), "{about_y:?} Hz, expected {expected}: {off}");
}

/// Eight equal spokes leave modes with one and with two nodal diameters in pairs of equal frequency (group C8v), and the mesh
/// has all eight mirrors.
#[test]
fn the_ring_flexes_in_a_pair() {
    let result = solved("ring", "12");
    let in_plane = labelled(&result, "bends in the plane");
    assert_eq!(in_plane.len(), 2, "{in_plane:?}");
    let split = above(in_plane[1], in_plane[0]);
    assert!(split < 1e-6, "{in_plane:?} Hz: {split}");
    let (x, y) = (labelled(&result, "moves in x"), labelled(&result, "moves in y"));
    assert!(x.len() == 1 && y.len() == 1 && above(x[0], y[0]).abs() < 1e-9, "{x:?} and {y:?} Hz");
}
