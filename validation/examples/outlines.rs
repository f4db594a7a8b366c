//! Goes through generated outlines: `outlines COUNT` says what went wrong and counts outcomes; `outlines COUNT --lines` prints a line of
//! JSON for every case, for `validation/outlines.py`; `outlines --seeds SEED …` takes only those cases, one after the other, with times.

#![allow(clippy::print_stdout, clippy::print_stderr)]

use modalith_mesher::drawing::{Anchoring, Film};
use modalith_mesher::geometry::Polygon;
use modalith_validation::outlines::{Case, KINDS, Outcome, case, fault, outcome};
use rayon::prelude::*;
use serde_json::{Value, json};
use std::panic::{AssertUnwindSafe, catch_unwind};
use std::time::Instant;

fn main() -> Result<(), String> {
    let arguments: Vec<String> = std::env::args().skip(1).collect();
    if let Some(("--seeds", seeds)) = arguments.split_first().map(|(first, rest)| (first.as_str(), rest)) {
        for seed in seeds.iter().map(|s| s.parse::<u64>()) {
            let (seed, start) = (seed.map_err(|e| e.to_string())?, Instant::now());
            let fault = one(seed, false).0.unwrap_or_else(|| "no fault".to_owned());
            println!("{seed}: {fault} ({:.1} s)", start.elapsed().as_secs_f64());
        }
        return Ok(());
    }
    let lines = arguments.iter().any(|a| a == "--lines");
    let count = arguments.first().and_then(|a| a.parse().ok()).unwrap_or(5000_u64);
    let done: Vec<(Option<String>, Option<Value>)> = (0..count).into_par_iter().map(|seed| one(seed, lines)).collect();
    let faults: Vec<&String> = done.iter().filter_map(|d| d.0.as_ref()).collect();
    for line in done.iter().filter_map(|d| d.1.as_ref()) {
        println!("{line}");
    }
    for fault in &faults {
        eprintln!("{fault}");
    }
    eprintln!("{count} cases of {} kinds, {} faults, at most {} MB in memory", KINDS.len(), faults.len(), peak_mb());
    if faults.is_empty() { Ok(()) } else { Err("see above".to_owned()) }
}

/// What is wrong with a case, and its line.
fn one(seed: u64, lines: bool) -> (Option<String>, Option<Value>) {
    let tried = catch_unwind(AssertUnwindSafe(|| case(seed).map(|c| (outcome(&c), c))));
    match tried {
        Err(_) => (Some(format!("seed {seed}: panic")), None),
        Ok(Err(_)) => (None, None),
        Ok(Ok((outcome, case))) => {
            let fault = fault(&outcome).map(|f| format!("seed {seed}: {}: {f}", case.kind));
            (fault, lines.then(|| line(seed, &case, &outcome)))
        }
    }
}

fn rings(polygons: &[Polygon]) -> Value {
    polygons.iter().map(|p| json!({"outer": p.outer, "holes": p.holes})).collect()
}

fn line(seed: u64, case: &Case, outcome: &Outcome) -> Value {
    let none: &[Polygon] = &[];
    let (structure, holes) = match &case.drawing.film {
        Film::Drawn { structure, holes } => (structure.as_slice(), holes.as_slice()),
        Film::Trenches { trenches, .. } => (none, trenches.as_slice()),
    };
    let (anchors, undercut_um) = match &case.drawing.anchoring {
        Anchoring::Drawn(anchors) => (Some(rings(anchors)), None),
        Anchoring::LeftByRelease { undercut_um } => (None, Some(*undercut_um)),
        Anchoring::Free => (None, None),
    };
    let (area_um2, refused) = match outcome {
        Outcome::Meshed { outline_um2, .. } => (Some(*outline_um2), None),
        Outcome::Refused(why) | Outcome::NoMesh(why) => (None, Some(why)),
    };
    json!({"seed": seed, "kind": case.kind, "structure": rings(structure), "holes": rings(holes), "anchors": anchors,
        "undercut_um": undercut_um, "least_um": case.etch.smallest_feature_um, "area_um2": area_um2, "refused": refused})
}

/// Largest memory of the program so far, MB; 0 where the system does not tell.
fn peak_mb() -> u64 {
    let status = std::fs::read_to_string("/proc/self/status").unwrap_or_default();
    let line = status.lines().find_map(|l| l.strip_prefix("VmHWM:").map(str::to_owned));
    line.and_then(|l| l.split_whitespace().next().and_then(|n| n.parse::<u64>().ok())).map_or(0, |kb| kb / 1024)
}
