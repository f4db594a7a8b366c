//! Whatever a refusal advises, the command that refuses has it.

// A helper that cannot go on fails its test.
#![allow(clippy::unwrap_used)]

use modalith_tests::modalith;
use serde_json::{Value, json};

/// Options named in a text: `--` and what follows of letters and hyphens.
fn options(text: &str) -> Vec<String> {
    let option = |rest: &str| rest.chars().take_while(|c| c.is_ascii_lowercase() || *c == '-').collect::<String>();
    text.split("--").skip(1).map(option).filter(|o| !o.is_empty()).collect()
}

/// A plate without slender parts, which beams do not describe (invented).
fn plate() -> Value {
    json!({
        "format": "modalith.device/1", "name": "plate (invented)",
        "layout": {"unit": "um", "structure": [{"rect": [[0, 0], [200, 150]]}],
                   "anchors": [{"rect": [[-20, 0], [0, 150]]}]},
        "process": {"thickness_um": 12},
        "material": {"density_kg_m3": 2330, "youngs_modulus_gpa": 160, "poissons_ratio": 0.22},
        "masses": {"left": [{"rect": [[0, 0], [90, 150]]}], "right": [{"rect": [[110, 0], [200, 150]]}]},
        "intent": {"drive": {"left": "-x", "right": "+x"}, "sense": [{"rate_axis": "y", "left": "+z", "right": "-z"}]}
    })
}

#[test]
fn every_option_that_a_refusal_names_is_one_of_the_command() {
    let folder = tempfile::tempdir().unwrap();
    let write = |name: &str, value: &Value| std::fs::write(folder.path().join(name), value.to_string()).unwrap();
    write("plate.json", &plate());
    let mut broken = plate();
    broken["mesh"] = json!({"largest_um": 0.001});
    write("fine.json", &broken);
    for model in ["solid", "beam-shell"] {
        let vary = json!({"/process/thickness_um": {"list": [10, 12]}});
        let plan = json!({"format": "modalith.plan/1", "command": "modes", "device": "plate.json", "model": model,
                          "vary": vary, "sampling": {"method": "grid"}, "keep": {"hz": "/modes/0/frequency_hz"}});
        write(&format!("{model}.json"), &plan);
    }
    let (mut refused, mut named) = (0, 0);
    for (command, takes) in [("check", 0), ("mesh", 1), ("modes", 3), ("rate", 3), ("audit", 2), ("variants", 2)] {
        let help = modalith(folder.path(), &[command, "--help"]).unwrap();
        let known = options(&help.stdout);
        let files = match command {
            "variants" => ["solid.json", "beam-shell.json", "gone.json"],
            _ => ["plate.json", "fine.json", "gone.json"],
        };
        let mut tries: Vec<&[&str]> = vec![&[]];
        if takes >= 2 {
            tries.push(&["--memory-limit", "1MB"]);
            tries.push(&["--memory-limit", "40MB"]);
        }
        if takes >= 3 {
            tries.extend([&["--model", "beam-shell"][..], &["--model", "solid", "--memory-limit", "1MB"]]);
            tries.extend([&["--model", "shell", "--count", "10000"][..], &["--model", "lumped"]]);
        }
        if command == "audit" {
            tries.push(&["--count", "200"]);
        }
        for file in files {
            for more in &tries {
                let args = [&[command, file, "--out", "out"], *more].concat();
                let run = modalith(folder.path(), &args).unwrap();
                if run.code == Some(0) {
                    continue;
                }
                refused += 1;
                for option in options(&run.stderr) {
                    named += 1;
                    assert!(known.contains(&option), "{command} has no --{option}: {run:?}");
                }
            }
        }
    }
    // The check is not empty.
    assert!(refused > 10 && named > 3, "{refused} {named}");
}
