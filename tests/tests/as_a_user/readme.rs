//! The screens that README.md shows are what the program prints.

// A helper that cannot go on fails its test.
#![allow(clippy::unwrap_used)]

use modalith_tests::modalith_in;
use std::path::Path;

/// Smaller than this a figure is rounding, and differs from machine to machine.
const ROUNDING: f64 = 1e-10;

/// The screen of README.md that starts with these words, line by line.
fn shown(start: &str) -> Vec<String> {
    let readme = std::fs::read_to_string(Path::new(env!("CARGO_MANIFEST_DIR")).join("../README.md")).unwrap();
    let screen = readme.split("```\n").find(|block| block.starts_with(start)).unwrap();
    screen.lines().map(str::to_owned).collect()
}

/// A figure as printed and one unit of its last digit; none for what is no figure.
fn figure(word: &str) -> Option<(f64, f64)> {
    let number = word.trim_end_matches([',', ';', ')', '.']).trim_start_matches(['(', '+']);
    let value: f64 = number.parse().ok().filter(|_| number.contains(|c: char| c.is_ascii_digit()))?;
    let (digits, exponent) = number.split_once('e').map_or((number, 0), |(d, e)| (d, e.parse().unwrap()));
    let decimals = digits.split_once('.').map_or(0, |(_, d)| i32::try_from(d.len()).unwrap());
    Some((value, 10f64.powi(exponent - decimals)))
}

/// Whether two words say the same: figures to one unit of the last digit, rounding whatever its size.
fn alike(one: &str, other: &str) -> bool {
    match (figure(one), figure(other)) {
        (Some((a, unit)), Some((b, _))) => (a - b).abs() <= 1.01 * unit || a.abs().max(b.abs()) < ROUNDING,
        _ => one == other,
    }
}

/// Everything but seconds, memory and the folder, which follow "Wrote".
fn words(lines: &[String]) -> Vec<&str> {
    let kept = lines.iter().take_while(|l| !l.starts_with("Wrote"));
    kept.flat_map(|l| l.split_whitespace()).collect()
}

#[track_caller]
fn printed(command: &str, start: &str) {
    let device = Path::new(env!("CARGO_MANIFEST_DIR")).join("../meshes/platform/device.json");
    let folder = tempfile::tempdir().unwrap();
    let run = modalith_in(folder.path(), &[command, device.to_str().unwrap(), "--out", "out"], None).unwrap();
    assert_eq!(run.code, Some(0), "{run:?}");
    let from = run.stdout.find(start).unwrap();
    let lines: Vec<String> = run.stdout[from..].lines().map(str::to_owned).collect();
    let shown = shown(start);
    let (said, shown) = (words(&lines), words(&shown));
    assert!(shown.len() > 100 && shown.len() <= said.len(), "{} words of {}", shown.len(), said.len());
    for (at, (a, b)) in shown.iter().zip(&said).enumerate() {
        assert!(alike(a, b), "README shows {:?}, {command} prints {:?}", &shown[at.saturating_sub(8)..=at], b);
    }
}

#[test]
fn the_screens_are_as_printed() {
    printed("modes", "platform rate sensor  ");
    printed("rate", "platform rate sensor\n");
}

#[test]
fn figures_differ_where_they_do() {
    assert!(alike("804.5", "804.6") && alike("-447", "-448") && alike("3.1e-16", "0"));
    assert!(
        !alike("804.5", "804.7")
            && !alike("-110", "110")
            && !alike("8.0e-7", "8.3e-7")
            && !alike("met", "fails")
            && !alike("12", "twelve")
    );
}
