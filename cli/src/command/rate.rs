//! `modalith rate`: whether a layout with an intended motion will work as a rate sensor: the answer on one screen, and a report.

mod bias;
mod shaken;
mod verdicts;
mod work;

use super::folder::Folder;
use super::modes;
use super::opened::Opened;
use super::solved::{self, Ground, Purpose, Solved};
use crate::args::{Model, RateArgs};
use crate::device::Device;
use crate::exit::{Stop, say, say_json};
use crate::output::findings::ElectrodeFound;
use crate::output::rate::{RateReport, html, json, text};
use crate::output::run_json;
use modalith_mesher::outline::Outline;
use modalith_solver::modal::Wanted;

/// Modes that are looked at where nobody says how many: enough for three times the drive frequency of most sensors.
const COUNT: usize = 20;

/// Runs the command.
///
/// # Errors
/// For wrong input, a part that has no modes to find, results that cannot be written, and, with `--enforce`, a requirement that is
/// not met.
pub fn run(args: &RateArgs) -> Result<(), Stop> {
    let Opened { device, outline, electrodes, mut progress } = Opened::new(&args.device, &args.out, &args.common)?;
    intent_is_stated(&device)?;
    let (model, reason) = solved::choose(args.model, &device, &outline);
    let mut ground = progress.stage("mesh", || Ground::of(model, &device, &outline))?;
    ground.reached = progress.reached();
    let wanted = wanted(args.count, args.up_to, &device);
    let (solved, mut findings) =
        modes::found(&device, (&outline, &ground, &electrodes), (model, reason), wanted, Purpose::Rate, &mut progress)?;
    let report =
        progress.stage("weighing", || weighed(model, &device, &outline, &ground, &solved, &findings.electrodes));
    let mut out = Folder::open(&args.out)?;
    let json = json::document(&findings, &solved.modes, &report)?;
    let answer = text::answer(&findings, &solved.modes, &report);
    out.write("rate.json", format!("{json:#}\n").as_bytes())?;
    let page = progress.stage("writing", || {
        html::report_html(&findings, &solved.modes, &report, &outline, &ground.mesh, &solved.sampled, &answer)
    });
    out.write("report.html", page.as_bytes())?;
    findings.timings = modes::timings(&progress, &solved);
    out.write("run.json", format!("{:#}\n", run_json::document(&findings)).as_bytes())?;
    let files = out.finish()?;
    if args.common.json {
        say_json(&format!("{json:#}\n"))?;
    } else if !args.common.quiet {
        let total = findings.timings.total_s;
        say(&format!(
            "{answer}Wrote    {}  in {}   {total:.1} s.  Design estimate, not a test.\n",
            files.join("  "),
            args.out.display()
        ))?;
    }
    let (failed, open, all) = report.tally();
    if args.enforce && failed + open > 0 {
        let what = format!("{failed} of {all} requirements are not met and {open} have no verdict");
        return Err(Stop::Requirement { what, hint: "the report says by how much and what would help".into() });
    }
    Ok(())
}

/// Which modes are looked at: what was asked for, before what the device file says.
pub(super) fn wanted(count: Option<u32>, up_to: Option<f64>, device: &Device) -> Wanted {
    let count = count.map(|n| n as usize).or(device.modes.count).unwrap_or(COUNT).max(COUNT);
    up_to.map_or(Wanted::Lowest(count), |hz| Wanted::UpTo { hz, most: None })
}

/// What the modes of a device say of it as a rate sensor; nothing is written.
pub(super) fn weighed(
    model: Model,
    device: &Device,
    outline: &Outline,
    ground: &Ground,
    solved: &Solved,
    electrodes: &[ElectrodeFound],
) -> RateReport {
    let model_error = model_error(model, device, outline);
    let (axes, missing) = work::answers(device, outline, &ground.mesh, solved, electrodes, model_error.0);
    RateReport { axes, model_error, missing }
}

/// A rate report is about an intended motion.
pub(super) fn intent_is_stated(device: &Device) -> Result<(), Stop> {
    let hint = "write \"intent\": {\"drive\": {\"left\": \"+x\", \"right\": \"-x\"}, \"sense\": [{\"rate_axis\": \"y\", \
                \"left\": \"+z\", \"right\": \"-z\"}]}";
    let missing = match (&device.intent.drive, device.intent.sense.is_empty()) {
        (None, _) => "no drive motion is intended",
        (_, true) => "no sense motion is intended",
        _ => return Ok(()),
    };
    Err(device.error("/intent", missing, hint).into())
}

/// By how much the model's frequencies may be off, as a share, and what that rests on.
fn model_error(asked: Model, device: &Device, outline: &Outline) -> (f64, &'static str) {
    let tall = outline.flexures.iter().any(|f| device.thickness_um > f.width_um * (1.0 + 1e-9));
    match asked {
        Model::Solid => (0.003, "solids stay within 0.3 % of an outside library's on four layouts"),
        Model::BeamShell => (0.01, "beams on shells stay within 1 % of solids on the demo devices"),
        Model::Lumped => (0.1, "a lumped model may be off by 10 % and more; the audit says by how much"),
        Model::Auto | Model::Shell if tall => (0.01, "shells with flexures taller than wide: about 1 %"),
        Model::Auto | Model::Shell => (0.003, "shells wider than thick: 0.3 % of solids in plane"),
    }
}
