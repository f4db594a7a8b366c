//! `modalith variants` as a user sees it: the same bytes however it was interrupted, split or threaded; wrong plans; the spread of a
//! beam against its closed form.

// A helper that cannot go on fails its test.
#![allow(clippy::unwrap_used)]

use modalith_tests::{binary, modalith};
use serde_json::{Value, json};
use std::path::{Path, PathBuf};
use std::process::{Command, Stdio};
use std::time::{Duration, Instant};
use tempfile::TempDir;

/// Files that must not depend on how a batch was run.
const FILES: [&str; 4] = ["results.csv", "results.parquet", "variants.json", "report.html"];
/// Variables of schedulers that a test must not inherit.
const SCHEDULERS: [&str; 3] = ["SLURM_ARRAY_TASK_ID", "SGE_TASK_ID", "PBS_ARRAY_INDEX"];

/// A clamped beam 1000 µm long, 40 µm wide and 5 µm thick (invented): L/t = 200.
fn beam() -> Value {
    json!({
        "format": "modalith.device/1", "name": "beam",
        "layout": {
            "unit": "um",
            "structure": [{"rect": [[0, -20], [1000, 20]]}],
            "anchors": [{"rect": [[-50, -40], [0, 40]]}]
        },
        "process": {"thickness_um": 5.0},
        "material": {"density_kg_m3": 2330, "youngs_modulus_gpa": 160, "poissons_ratio": 0.0},
        "modes": {"count": 2},
        "mesh": {"largest_um": 200}
    })
}

fn plan(points: usize) -> Value {
    json!({
        "format": "modalith.plan/1", "device": "beam.json", "command": "modes", "model": "shell",
        "vary": {
            "/process/thickness_um": {"normal": {"mean": 5.0, "deviation": 0.05}},
            "/material/youngs_modulus_gpa": {"list": [155, 160, 165]}
        },
        "sampling": {"method": "monte carlo", "points": points, "seed": 7},
        "keep": {"first_hz": "/modes/0/frequency_hz", "verified": "/count_verified"},
        "limits": {"first_hz": [6500, null]}
    })
}

fn home(plan: &Value) -> TempDir {
    let home = tempfile::tempdir().unwrap();
    std::fs::write(home.path().join("beam.json"), beam().to_string()).unwrap();
    std::fs::write(home.path().join("plan.json"), format!("{plan:#}")).unwrap();
    home
}

fn run(home: &Path, args: &[&str]) -> String {
    let mut all = vec!["variants", "plan.json"];
    all.extend(args);
    let run = modalith(home, &all).unwrap();
    assert_eq!(run.code, Some(0), "{args:?}\n{}\n{}", run.stdout, run.stderr);
    run.stdout
}

fn files(folder: &Path) -> Vec<Vec<u8>> {
    FILES.iter().map(|f| std::fs::read(folder.join(f)).unwrap()).collect()
}

fn same(a: &Path, b: &Path) {
    for ((name, one), other) in FILES.iter().zip(files(a)).zip(files(b)) {
        assert!(one == other, "{name} of {} and {} differ", a.display(), b.display());
    }
}

fn column(home: &Path, name: &str) -> Vec<String> {
    let text = std::fs::read_to_string(home.join("results.csv")).unwrap();
    let mut lines = text.lines();
    let place = lines.next().unwrap().split(',').position(|c| c == name).unwrap();
    lines.map(|l| l.split(',').nth(place).unwrap().to_owned()).collect()
}

#[test]
fn threads_shards_and_merging_do_not_change_a_byte() {
    let home = home(&plan(12));
    let place = |name: &str| home.path().join(name);
    run(home.path(), &["--out", "one", "--threads", "1", "--quiet"]);
    run(home.path(), &["--out", "two", "--threads", "2", "--quiet"]);
    same(&place("one"), &place("two"));
    run(home.path(), &["--out", "parts", "--shard", "2/3", "--quiet"]);
    let early = modalith(home.path(), &["variants", "plan.json", "--out", "parts", "--merge"]).unwrap();
    assert!(early.code == Some(1) && early.stderr.contains("8 of 12 points are not done yet"), "{}", early.stderr);
    run(home.path(), &["--out", "parts", "--shard", "1/3", "--quiet"]);
    // The third part as a task of an array.
    let mut task = Command::new(binary().unwrap());
    task.args(["variants", "plan.json", "--out", "parts"]).current_dir(home.path());
    task.envs([("SLURM_ARRAY_TASK_ID", "2"), ("SLURM_ARRAY_TASK_MIN", "0"), ("SLURM_ARRAY_TASK_COUNT", "3")]);
    let task = task.output().unwrap();
    assert!(task.status.success());
    assert!(String::from_utf8_lossy(&task.stderr).contains("part 3/3"), "{task:?}");
    assert!(!place("parts").join("results.csv").exists());
    run(home.path(), &["--out", "parts", "--merge", "--quiet"]);
    same(&place("one"), &place("parts"));
    // Run again, it has nothing to do and says the same.
    let before = files(&place("one"));
    run(home.path(), &["--out", "one", "--quiet"]);
    assert!(before == files(&place("one")));
    assert_eq!(column(&place("one"), "point").len(), 12);
    assert!(column(&place("one"), "verified").iter().all(|v| v == "1.0"));
}

/// Killed at fifty random instants, several in a row, then run to the end: the same bytes as undisturbed. The instants come from a
/// fixed sequence; where they fall depends on the machine.
#[cfg(unix)]
#[test]
fn killed_at_any_instant_and_resumed() {
    let home = home(&plan(40));
    let clock = Instant::now();
    run(home.path(), &["--out", "whole", "--quiet"]);
    let whole = clock.elapsed();
    let mut random = 12_345_u64;
    let (mut killed, mut round) = (0, 0);
    while killed < 50 {
        let out = format!("killed-{round}");
        for _ in 0..5 {
            random = random.wrapping_mul(6_364_136_223_846_793_005).wrapping_add(1_442_695_040_888_963_407);
            let share = (random >> 40) as f64 / (1_u64 << 24) as f64;
            let mut child = Command::new(binary().unwrap());
            child.args(["variants", "plan.json", "--quiet", "--out", &out]).current_dir(home.path());
            for name in SCHEDULERS {
                child.env_remove(name);
            }
            let mut child = child.stdin(Stdio::null()).stdout(Stdio::null()).stderr(Stdio::null()).spawn().unwrap();
            std::thread::sleep(Duration::from_secs_f64(0.5 * share * whole.as_secs_f64()));
            // Only what was still at work counts.
            killed += usize::from(child.try_wait().unwrap().is_none());
            child.kill().unwrap();
            child.wait().unwrap();
        }
        run(home.path(), &["--out", &out, "--quiet"]);
        same(&home.path().join("whole"), &home.path().join(&out));
        round += 1;
        assert!(round < 40, "{killed} kills met a process at work");
    }
}

/// Out of plane f = (λ²/2π)(t/L²)√(E/12ρ) is proportional to the thickness at L/t = 200 (shear and rotary inertia take 1e-4):
/// thickness N(m, s) gives N(a m, a s). 99.9 % intervals: mean ± 3.29 s/√n; deviation by the χ² with n − 1 (1e-3 in both tails).
#[test]
fn the_spread_of_a_beam_is_its_closed_form() {
    let n = 200;
    let mut plan = plan(n);
    plan["vary"] = json!({"/process/thickness_um": {"normal": {"mean": 5.0, "deviation": 0.05}}});
    let home = home(&plan);
    let said = run(home.path(), &["--out", "out", "--threads", "2"]);
    assert!(said.contains("Expected  first_hz"), "{said}");
    let values: Vec<f64> = column(&home.path().join("out"), "first_hz").iter().map(|x| x.parse().unwrap()).collect();
    let report: Value = serde_json::from_slice(&std::fs::read(home.path().join("out/variants.json")).unwrap()).unwrap();
    let result = &report["results"][0];
    let lambda = 1.875_104_068_711_961_f64;
    let per_thickness =
        lambda * lambda / std::f64::consts::TAU / 1e-3_f64.powi(2) * (160e9 / (12.0 * 2330.0_f64)).sqrt();
    let (mean, deviation) = (per_thickness * 5e-6, per_thickness * 0.05e-6);
    let own_mean = values.iter().sum::<f64>() / n as f64;
    let own = (values.iter().map(|v| (v - own_mean).powi(2)).sum::<f64>() / (n - 1) as f64).sqrt();
    println!("mean {own_mean} of {mean}, deviation {own} of {deviation}; {result:#}");
    assert!((own_mean - mean).abs() < 3.29 * deviation / (n as f64).sqrt(), "{own_mean} {mean}");
    // Wilson and Hilferty (1931): χ²/k is nearly the cube of a normal variable of mean 1 − 2/9k and variance 2/9k.
    let k = (n - 1) as f64;
    let bound = |z: f64| (1.0 - 2.0 / (9.0 * k) + z * (2.0 / (9.0 * k)).sqrt()).powf(1.5);
    assert!(own > deviation * bound(-3.29) && own < deviation * bound(3.29), "{own} {deviation}");
    assert!((result["mean"].as_f64().unwrap() / own_mean - 1.0).abs() < 1e-12);
    assert!((result["deviation"].as_f64().unwrap() / own - 1.0).abs() < 1e-9);
    // To first order the deviation is the closed form's too, to the 1e-4 of shear and what the mesh adds.
    assert!((result["first_order"]["deviation"].as_f64().unwrap() / deviation - 1.0).abs() < 1e-3);
    assert!(result["variance_share"]["/process/thickness_um"].as_f64().unwrap() > 0.99);
}

fn result(folder: &Path) -> Value {
    serde_json::from_slice(&std::fs::read(folder.join("variants.json")).unwrap()).unwrap()
}

/// The second bending mode out of plane rises with the thickness and crosses the first one in the plane, which does not know it:
/// followed by number or label as drawn it stays where it is to 1e-9, by frequency it is another mode.
#[test]
fn a_crossing_is_seen_as_a_crossing() {
    let mut plan = plan(0);
    plan["vary"] = json!({"/process/thickness_um": {"list": [5, 6, 7]}});
    plan["sampling"] = json!({"method": "grid"});
    plan["keep"] = json!({"third_hz": "/modes/2/frequency_hz", "sideways_hz": "/tracks/3/frequency_hz"});
    plan.as_object_mut().unwrap().remove("limits");
    let home = home(&plan);
    let mut device = beam();
    device["modes"]["count"] = json!(3);
    std::fs::write(home.path().join("beam.json"), device.to_string()).unwrap();
    let said = run(home.path(), &["--out", "out"]);
    assert!(said.contains("as drawn change places in 1 of 3 points") && said.contains("/tracks/NUMBER"), "{said}");
    let number = |out: &str, name: &str| -> Vec<f64> {
        column(&home.path().join(out), name).iter().map(|x| x.parse().unwrap()).collect()
    };
    let (third, sideways) = (number("out", "third_hz"), number("out", "sideways_hz"));
    assert!((0..3).all(|p| (sideways[p] / sideways[0] - 1.0).abs() < 1e-9), "{sideways:?}");
    assert!(third[1] == sideways[1] && third[2] > 1.05 * sideways[2], "{third:?} {sideways:?}");
    let found = result(&home.path().join("out"));
    assert_eq!(found["crossings"], json!([{"modes": [2, 3], "points": 1}]));
    assert!(found["tracks"][2]["smallest_mac"].as_f64().unwrap() > 0.999, "{found:#}");
    let report = std::fs::read_to_string(home.path().join("out/report.html")).unwrap();
    assert!(report.contains("Modes followed") && report.contains("crossing at 6."));
    let label = found["tracks"][2]["label"].as_str().unwrap().to_owned();
    plan["keep"] = json!({"sideways_hz": format!("/tracks/{label}/frequency_hz")});
    std::fs::write(home.path().join("plan.json"), plan.to_string()).unwrap();
    run(home.path(), &["--out", "by-label"]);
    assert_eq!(number("by-label", "sideways_hz"), sideways);
}

/// The second and third mode of a square plate are one multiple: their order has no meaning, whatever basis a point finds, and
/// whether or not a point parts them (as where one side of four comes loose).
#[test]
fn members_of_a_multiple_do_not_change_places() {
    let mut plan = plan(12);
    plan["vary"] = json!({
        "/material/poissons_ratio": {"uniform": {"low": 0.1, "high": 0.4}},
        "/layout/structure/0/rect/1/0": {"list": [150, 150.003, 149.997]},
    });
    plan["keep"] = json!({"first_hz": "/modes/0/frequency_hz"});
    plan.as_object_mut().unwrap().remove("limits");
    let home = home(&plan);
    let mut plate = beam();
    let side = |a: [i32; 2], b: [i32; 2]| json!({"rect": [a, b]});
    plate["layout"]["structure"] = json!([side([-150, -150], [150, 150])]);
    plate["layout"]["anchors"] = json!([
        side([-170, -170], [-150, 170]),
        side([150, -170], [170, 170]),
        side([-170, -170], [170, -150]),
        side([-170, 150], [170, 170])
    ]);
    plate["modes"]["count"] = json!(5);
    std::fs::write(home.path().join("beam.json"), plate.to_string()).unwrap();
    let said = run(home.path(), &["--out", "out"]);
    assert!(!said.contains("change places"), "{said}");
    assert_eq!(result(&home.path().join("out"))["crossings"], json!([]), "{said}");
}

/// A bias moves the mesh as drawn, so that a frequency is smooth in it: fourth differences of five points 0.1 µm apart are under
/// 1e-7 of it (5e-9 seen; noise of meshes is not smooth). Another drawing is meshed anew, and the results say how many.
#[test]
fn a_bias_moves_the_mesh() {
    let mut plan = plan(0);
    plan["vary"] = json!({"/process/edge_bias_um": {"list": [-0.2, -0.1, 0, 0.1, 0.2]}});
    plan["sampling"] = json!({"method": "grid"});
    let home = home(&plan);
    let said = run(home.path(), &["--out", "out"]);
    assert!(said.contains("every point on the mesh as drawn"), "{said}");
    let f: Vec<f64> = column(&home.path().join("out"), "first_hz").iter().map(|x| x.parse().unwrap()).collect();
    let fourth = f[0] - 4.0 * f[1] + 6.0 * f[2] - 4.0 * f[3] + f[4];
    println!("{f:?}: fourth difference {:e}", fourth / f[2]);
    assert!((fourth / f[2]).abs() < 1e-7, "{fourth:e}");
    plan["vary"] = json!({"/layout/structure/0/rect": {"list": [[[0, -20], [1000, 20]], [[0, -20], [900, 20]]]}});
    std::fs::write(home.path().join("plan.json"), plan.to_string()).unwrap();
    run(home.path(), &["--out", "other"]);
    assert_eq!(result(&home.path().join("other"))["meshed_anew"], json!(1));
}

/// A failing point is recorded with its message and stops nothing.
#[test]
fn a_failing_point_stops_nothing() {
    let mut plan = plan(0);
    plan["vary"] = json!({"/process/thickness_um": {"list": [5, -1, 6]}});
    plan["sampling"] = json!({"method": "grid"});
    let home = home(&plan);
    let said = run(home.path(), &["--out", "out"]);
    assert!(said.contains("1 failed") && said.contains("point 2"), "{said}");
    let errors = column(&home.path().join("out"), "error");
    assert!(errors[0].is_empty() && errors[2].is_empty());
    let text = std::fs::read_to_string(home.path().join("out/results.csv")).unwrap();
    assert!(text.lines().nth(2).unwrap().contains("over zero"), "{text}");
}

#[test]
fn a_dry_run_and_a_wrong_folder() {
    let home = home(&plan(12));
    let said = run(home.path(), &["--dry-run"]);
    assert!(said.contains("12 points of 2 variables") && said.contains("Nothing was written"), "{said}");
    assert_eq!(std::fs::read_dir(home.path()).unwrap().count(), 2);
    run(home.path(), &["--out", "out", "--quiet"]);
    let mut changed = plan(12);
    changed["sampling"]["seed"] = json!(8);
    std::fs::write(home.path().join("plan.json"), changed.to_string()).unwrap();
    let refused = modalith(home.path(), &["variants", "plan.json", "--out", "out"]).unwrap();
    assert_eq!(refused.code, Some(2));
    assert!(refused.stderr.contains("plan /sampling/seed: 7 then, 8 now"), "{}", refused.stderr);
    let mut device = beam();
    device["process"]["thickness_um"] = json!(5.5);
    std::fs::write(home.path().join("plan.json"), plan(12).to_string()).unwrap();
    std::fs::write(home.path().join("beam.json"), device.to_string()).unwrap();
    let refused = modalith(home.path(), &["variants", "plan.json", "--out", "out"]).unwrap();
    assert!(refused.code == Some(2) && refused.stderr.contains("device file"), "{}", refused.stderr);
}

/// Everything wrong with a plan ends with exit code 2, a place in the plan, a hint, and nothing written.
#[test]
fn wrong_plans() {
    let cases: Vec<(&str, Value, &str)> = vec![
        ("/format", json!("modalith.plan/2"), "no format of a plan"),
        ("/device", json!("other.json"), "cannot be read"),
        ("/command", json!("mode"), "did you mean \"modes\""),
        ("/model", json!("beam"), "not known here"),
        ("/vary", json!({}), "nothing to vary"),
        ("/vary", json!({"process": {"list": [1]}}), "must begin with /"),
        ("/vary", json!({"/process/thicknes_um": {"list": [1]}}), "did you mean \"thickness_um\""),
        ("/vary", json!({"/proces/thickness_um": {"list": [1]}}), "did you mean \"/process/thickness_um\""),
        ("/vary", json!({"/layout/structure/1/rect": {"list": [[1]]}}), "0 to 0, not 1"),
        ("/vary", json!({"/process": {"list": [[1]]}, "/process/thickness_um": {"list": [1]}}), "same place"),
        ("/vary", json!({"/process/thickness_um": {"normal": {"mean": 1, "deviation": 0}}}), "over zero"),
        ("/vary", json!({"/process/thickness_um": {"gauss": {}}}), "unknown key"),
        ("/vary", json!({"/process/thickness_um": {}}), "0 kinds"),
        ("/sampling", json!({"method": "monte carlo", "points": 3}), "\"seed\" is missing"),
        ("/sampling", json!({"method": "grid"}), "a grid needs listed values"),
        ("/sampling", json!({"method": "halton"}), "not known here"),
        ("/keep", json!({"first": "/modes/0/frequncy_hz"}), "did you mean \"/modes/0/frequency_hz\""),
        ("/keep", json!({"first": "/modes/7/frequency_hz"}), "0 to 1, not 7"),
        ("/keep", json!({"first": "/modes/0/label"}), "leads to a text"),
        ("/keep", json!({"good": "/requirements/0/met"}), "not known in a batch"),
        ("/keep", json!({"good": "/requirements/0/margin"}), "not known in a batch"),
        ("/keep", json!({"error": "/modes/0/frequency_hz"}), "cannot name a column"),
        ("/limits", json!({"frist_hz": [1, 2]}), "did you mean \"first_hz\""),
        ("/limits", json!({"first_hz": [2, 1]}), "limits nothing"),
        ("/correlation", json!([{"between": ["/a", "/b"], "coefficient": 0.5}]), "is not varied"),
        ("/seed", json!(3), "unknown key"),
    ];
    for (pointer, value, said) in cases {
        let mut plan = plan(4);
        plan[&pointer[1..]] = value.clone();
        if pointer == "/keep" {
            plan.as_object_mut().unwrap().remove("limits");
        }
        let home = home(&plan);
        let run = modalith(home.path(), &["variants", "plan.json", "--out", "out"]).unwrap();
        assert_eq!(run.code, Some(2), "{pointer} = {value}: {}", run.stderr);
        assert!(run.stderr.contains(said), "{pointer} = {value}: {}", run.stderr);
        assert!(run.stderr.contains("hint: "), "{pointer} = {value}: {}", run.stderr);
        assert!(run.stdout.is_empty() && !home.path().join("out").exists(), "{pointer} = {value}");
    }
    let home = home(&plan(4));
    for args in [["--shard", "0/2"], ["--shard", "3/2"], ["--shard", "x"]] {
        let mut all = vec!["variants", "plan.json", "--out", "out"];
        all.extend(args);
        assert_eq!(modalith(home.path(), &all).unwrap().code, Some(2), "{args:?}");
    }
    let merge = modalith(home.path(), &["variants", "plan.json", "--out", "none", "--merge"]).unwrap();
    assert!(merge.code == Some(2) && !PathBuf::from("none").exists());
}

/// The bar of the split and the search, which is judged within the bars, are at a point what they are as drawn.
#[test]
fn bars_are_kept_at_every_point() {
    let mut device = beam();
    device["modes"]["count"] = json!(6);
    device["masses"] = json!({"tip": [{"rect": [[800, -20], [1000, 20]]}]});
    device["intent"] = json!({"drive": {"tip": "+y"}, "sense": [{"rate_axis": "x", "tip": "+z"}]});
    let mut plan = plan(2);
    plan["vary"] = json!({"/process/thickness_um": {"list": [5.0, 5.1]}});
    plan.as_object_mut().unwrap().remove("limits");
    plan["sampling"] = json!({"method": "grid"});
    for (name, pointer) in [("split", "/mode_split_mesh_error_hz"), ("complete", "/search/complete")] {
        plan["keep"] = json!({name: pointer});
        let home = home(&plan);
        std::fs::write(home.path().join("beam.json"), device.to_string()).unwrap();
        run(home.path(), &["--out", "out", "--quiet"]);
        let kept = column(&home.path().join("out"), name);
        let drawn = modalith(home.path(), &["modes", "beam.json", "--model", "shell", "--out", "drawn"]).unwrap();
        assert_eq!(drawn.code, Some(0), "{drawn:?}");
        let modes: Value =
            serde_json::from_slice(&std::fs::read(home.path().join("drawn/modes.json")).unwrap()).unwrap();
        let expected = modes.pointer(pointer).unwrap();
        let expected = expected.as_f64().unwrap_or_else(|| f64::from(u8::from(expected.as_bool().unwrap())));
        assert_eq!(kept[0].parse::<f64>().unwrap(), expected, "{name}: {kept:?}");
        assert!(kept[1].parse::<f64>().unwrap() > 0.0, "{name}: {kept:?}");
    }
}
