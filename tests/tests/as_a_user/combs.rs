//! A perforated plate between combs, and the same plate without: what 240 fingers cost.

// A helper that cannot go on fails its test.
#![allow(clippy::unwrap_used)]

use modalith_tests::{binary, modalith};
use serde_json::{Value, json};
use std::path::{Path, PathBuf};
use std::process::{Command, Stdio};
use std::thread::sleep;
use std::time::Duration;

fn plate() -> PathBuf {
    Path::new(env!("CARGO_MANIFEST_DIR")).join("../tests/data/combed/device.json").canonicalize().unwrap()
}

fn read(path: &Path) -> Value {
    serde_json::from_slice(&std::fs::read(path).unwrap()).unwrap()
}

/// Unknowns of a model and bytes at the fullest, as the run says.
fn cost(folder: &Path, device: &str, model: &str) -> [f64; 2] {
    let run = modalith(folder, &["modes", device, "--model", model, "--count", "6", "--out", "out"]).unwrap();
    assert_eq!(run.code, Some(0), "{run:?}");
    let unknowns = read(&folder.join("out/modes.json"))["degrees_of_freedom"].as_f64().unwrap();
    [unknowns, read(&folder.join("out/run.json"))["peak_memory_bytes"].as_f64().unwrap()]
}

/// Runs a command on the plate and looks at its peak memory until it ends, bytes; 0 where the system does not tell.
fn peak(folder: &Path, command: &str) -> f64 {
    let plate = plate();
    let args = [command, plate.to_str().unwrap(), "--out", "out", "--quiet"];
    let mut child =
        Command::new(binary().unwrap()).args(args).current_dir(folder).stdout(Stdio::null()).spawn().unwrap();
    let mut peak = 0.0;
    while child.try_wait().unwrap().is_none() {
        let status = std::fs::read_to_string(format!("/proc/{}/status", child.id())).unwrap_or_default();
        let kib = status.lines().find_map(|l| l.strip_prefix("VmHWM:")?.trim().strip_suffix("kB"));
        peak = kib.and_then(|k| k.trim().parse::<f64>().ok()).map_or(peak, |k| 1024.0 * k);
        sleep(Duration::from_millis(20));
    }
    assert!(child.wait().unwrap().success(), "{command}");
    peak
}

/// The plate without its combs.
fn bare(folder: &Path) -> String {
    let mut device = read(&plate());
    device.as_object_mut().unwrap().remove("$schema");
    let structure = device["layout"]["structure"].as_array_mut().unwrap();
    structure.retain(|shape| !shape["notes"].as_str().unwrap().contains("fingers"));
    std::fs::write(folder.join("bare.json"), device.to_string()).unwrap();
    "bare.json".into()
}

#[test]
fn fingers_cost_less_than_half_of_the_plate_they_are_on() {
    let folder = tempfile::tempdir().unwrap();
    let (combed, bare) = (plate(), bare(folder.path()));
    for model in ["shell", "beam-shell"] {
        let [with, without] = [combed.to_str().unwrap(), &bare].map(|device| cost(folder.path(), device, model));
        assert!(with[0] > without[0], "{model}: {with:?}, {without:?}");
        (0..2).for_each(|k| assert!(with[k] < 1.5 * without[k], "{model}: {with:?}, {without:?}"));
    }
}

/// Every model of the plate, with what is the default, in less than 4 GB.
#[test]
fn an_audit_of_a_plate_with_combs_fits() {
    let folder = tempfile::tempdir().unwrap();
    let bytes = peak(folder.path(), "audit");
    let audit = read(&folder.path().join("out/audit.json"));
    assert_eq!((&audit["reference"], audit["models"].as_array().unwrap().len()), (&json!("solid"), 4), "{audit}");
    assert!(bytes < 4e9, "{bytes}");
}

/// The gaps of drawn fingers are those of the drawing, 2 µm: a stopper at less comes first, one at more does not.
#[test]
fn drawn_fingers_are_as_near_as_they_are_drawn() {
    let demo = Path::new(env!("CARGO_MANIFEST_DIR")).join("../meshes/comb-resonator/device.json");
    let mut device = read(&demo);
    device.as_object_mut().unwrap().remove("$schema");
    let masses: Vec<String> = device["masses"].as_object().unwrap().keys().cloned().collect();
    let mass = masses[0].clone();
    device["intent"] = json!({"drive": {mass.as_str(): "+x"}, "sense": [{"rate_axis": "y", mass.as_str(): "+z"}]});
    device["operation"] = json!({"shock": {"peak_g": 100, "duration_ms": 0.5, "direction": "y"}});
    device["requirements"] = json!({"shock_first_touch_g": 1e-3});
    device["electrodes"] = json!({"drawn": {"kind": "comb", "direction": "+x", "mass": mass, "measure": "drawn",
                                            "shapes": [{"rect": [[110, -65], [175, 65]]}]}});
    let folder = tempfile::tempdir().unwrap();
    for (stopper_um, first) in [(1.5, false), (2.5, true)] {
        let stopper = |at: &String, way: &str| json!({"at": at, "direction": way, "gap_um": stopper_um});
        let both = |at: &String| ["-y", "+y"].map(|way| stopper(at, way));
        device["stoppers"] = masses.iter().flat_map(both).collect();
        std::fs::write(folder.path().join("d.json"), device.to_string()).unwrap();
        let run = modalith(folder.path(), &["rate", "d.json", "--model", "shell", "--out", "out"]).unwrap();
        assert_eq!(run.code, Some(0), "{run:?}");
        let row = read(&folder.path().join("out/rate.json"))["requirements"][0].to_string();
        assert_eq!(row.contains("lies as near as a stopper"), first, "{stopper_um}: {row}");
    }
}

/// Fixed fingers are etched as moving ones are, whether they are listed as anchors or only what they hang on is. Seen: an edge bias of
/// half a micrometre closed a gap from one side only, and pull-in came at 75 times the biases instead of 40.
#[test]
fn fixed_fingers_are_etched_too() {
    let across = |x: f64, [low, high]: [f64; 2]| json!({"rect": [[x - 1.5, low], [x + 1.5, high]]});
    let spring = |x: f64, [low, high]: [f64; 2]| json!({"rect": [[x - 2.0, low], [x + 2.0, high]]});
    let moving: Vec<Value> = (0..8).map(|k| across(-35.0 + 10.0 * f64::from(k), [60.0, 90.0])).collect();
    let fixed: Vec<Value> = (0..9).map(|k| across(-40.0 + 10.0 * f64::from(k), [70.0, 100.0])).collect();
    let pad = json!({"rect": [[-50, 100], [50, 120]]});
    let springs = [-142.0, 142.0].map(|x| [spring(x, [60.0, 260.0]), spring(x, [-260.0, -60.0])]).concat();
    let mut structure = [vec![json!({"rect": [[-150, -60], [150, 60]]}), pad.clone()], springs].concat();
    structure.extend(moving);
    structure.extend(fixed.clone());
    let ends = [-142.0, 142.0]
        .map(|x| [260.0, -290.0].map(|y| json!({"rect": [[x - 20.0, y], [x + 20.0, y + 30.0]]})))
        .concat();
    let device = |anchors: Vec<Value>| {
        json!({
            "format": "modalith.device/1", "name": "comb (invented)",
            "layout": {"unit": "um", "structure": structure, "anchors": anchors},
            "process": {"thickness_um": 8, "edge_bias_um": 0.5},
            "material": {"density_kg_m3": 2330, "youngs_modulus_gpa": 160, "poissons_ratio": 0.22},
            "masses": {"m": [{"rect": [[-150, -60], [150, 60]]}]},
            "electrodes": {"c": {"kind": "comb", "direction": "+y", "mass": "m", "measure": "drawn", "bias_v": 1,
                                 "shapes": [{"rect": [[-60, 50], [60, 95]]}]}},
            "modes": {"count": 2}
        })
    };
    let folder = tempfile::tempdir().unwrap();
    let capacitance = |anchors: Vec<Value>| {
        std::fs::write(folder.path().join("d.json"), device(anchors).to_string()).unwrap();
        let run = modalith(folder.path(), &["modes", "d.json", "--model", "shell", "--out", "out"]).unwrap();
        assert_eq!(run.code, Some(0), "{run:?}");
        read(&folder.path().join("out/modes.json"))["electrodes"][0]["capacitance_f"].as_f64().unwrap()
    };
    // Sixteen walls, 8 µm thick, overlap 20 + 2 · ½, gap 2 − 2 · ½ µm.
    let by_hand = 16.0 * 8.854e-12 * 8e-6 * 21.0;
    let listed = capacitance([ends.clone(), fixed, vec![pad.clone()]].concat());
    let hung = capacitance([ends, vec![pad]].concat());
    assert!((listed / by_hand - 1.0).abs() < 1e-3, "{listed} {by_hand}");
    assert!((hung / by_hand - 1.0).abs() < 1e-3, "{hung} {by_hand}");
}
