//! `modalith rate`: whether a layout with an intended motion will work as a rate sensor: the answer on one screen, and a report.

use super::fault;
use super::folder::Folder;
use super::memory::{budget, listener};
use super::modes;
use super::opened::Opened;
use super::solved::{choice, model_input, stated_sensor};
use crate::args::RateArgs;
use crate::device::Device;
use crate::exit::{CommandError, say, say_json};
use crate::output::rate::{html, json, text};
use crate::output::run_json;
use crate::output::screen::Screen;
use modalith_mesher::outline::Outline;
use modalith_solver::modal::Wanted;
use modalith_solver::model::{ModalSolution, ModelError, Purpose, SecondModel, SolveContext, Task, Used};
use modalith_solver::rate::comparison::Comparison;
use modalith_solver::rate::requirements::Because;
use modalith_solver::rate::tally::Tally;
use modalith_solver::sensor::{ElectrodeFound, Place, RateReport, compared, rate_report};

/// Modes that are looked at where nobody says how many: enough for three times the drive frequency of most sensors.
const COUNT: usize = 20;

/// Runs the command.
///
/// # Errors
/// For wrong input, a part that has no modes to find, results that cannot be written, and, with `--enforce`, a requirement that is
/// not met.
pub fn run(args: &RateArgs) -> Result<(), CommandError> {
    let Opened { device, drawing, outline, loads, mut progress } = Opened::new(&args.device, &args.out, &args.common)?;
    intent_is_stated(&device)?;
    places_are_material(&device, &outline)?;
    let input = model_input(&device, &drawing, &outline, &loads)?;
    let mut choice = choice(args.model, &input);
    let wanted = wanted(args.count, args.up_to, &device);
    let task = Task { input: &input, wanted };
    let context = progress.stage("mesh", || choice.context(&task, budget(args.budget.memory_limit)));
    let mut context = context.map_err(|e| fault::of_model(&device, &e))?;
    context.listener = Some(listener(progress.reached(), args.common.quiet || args.common.json));
    let (solved, mut findings) =
        modes::solve_modes((&device, &input), &context, &mut choice, wanted, Purpose::Rate, &mut progress)?;
    findings.used.extend(device.operation.defaults().into_iter().map(Used::default));
    if let Some(asked) =
        args.count.map(|n| n as usize).or(device.modes.count).filter(|n| *n < COUNT && args.up_to.is_none())
    {
        let what = format!("{COUNT} modes for the {asked} asked for: a rate report looks at no fewer");
        findings.used.push(Used::replacement(what));
    }
    let (compared, drawings) = progress.stage("comparing", || {
        let second = SecondModel::new(&solved, &input, &context);
        let compared = || {
            let Some(second) = second else { return Ok(Comparison::full_law(solved.modes.len())) };
            let other = second.and_then(|second| second.solve(&input)).map_err(|e| no_second(&device, &e))?;
            compared(&solved, &other, &input)
        };
        // The drawings need no verdict: they fill what one of the two leaves of the processors.
        rayon::join(compared, || html::drawings(&outline, &context.mesh, &solved.sampled, &solved.modes))
    });
    let report = progress.stage("weighing", || {
        rate_report(&stated_sensor(&device), (&outline, &context.mesh), &solved, &findings.electrodes, compared)
    });
    let mut out = Folder::open(&args.out)?;
    let json = json::document(&findings, &solved.modes, &report)?;
    let answer = text::answer(&findings, &solved.modes, &report, Screen::FILE).finish();
    out.write("rate.json", format!("{json:#}\n").as_bytes())?;
    let page = progress
        .stage("writing", || html::report_html(&findings, &solved.modes, &report, &outline, &drawings, &answer));
    out.write("report.html", page.as_bytes())?;
    findings.timings = modes::timings(&progress, &solved);
    out.write("run.json", format!("{:#}\n", run_json::document(&findings)).as_bytes())?;
    let files = out.finish()?;
    if args.common.json {
        say_json(&format!("{json:#}\n"))?;
    } else if !args.common.quiet {
        let mut screen = text::answer(&findings, &solved.modes, &report, Screen::of_stdout(args.common.wide));
        screen.wrote(&files, &args.out, &format!("{:.1} s", findings.timings.total_s));
        say(&screen.finish())?;
    }
    let Tally { all, failed, open } = report.tally(device.requirements.len());
    if args.enforce && failed + open > 0 {
        let what = format!("{failed} of {all} requirements are not met and {open} have no verdict");
        return Err(CommandError::Requirement { what, hint: "the report says by how much and what would help".into() });
    }
    Ok(())
}

/// That no second model serves, as the reason for which the error of every figure is not known.
fn no_second(device: &Device, error: &ModelError) -> Because {
    let error = fault::of_model(device, error);
    Because::ErrorUnknown(format!("no second model serves this layout ({error}); the solid model has the full law"))
}

/// Which modes are looked at: what was asked for, before what the device file says.
pub(super) fn wanted(count: Option<u32>, up_to: Option<f64>, device: &Device) -> Wanted {
    let count = count.map(|n| n as usize).or(device.modes.count).unwrap_or(COUNT).max(COUNT);
    up_to.map_or(Wanted::Lowest(count), |hz| Wanted::UpTo { hz, most: None })
}

/// The report of a batch, where no second model is solved for every point: figures without verdicts.
pub(super) fn rate_report_alone(
    device: &Device,
    outline: &Outline,
    context: &SolveContext,
    solved: &ModalSolution,
    electrodes: &[ElectrodeFound],
) -> RateReport {
    let why = "a batch solves one model; `modalith rate` on the point solves a second one";
    let compared = Err(Because::ErrorUnknown(why.into()));
    rate_report(&stated_sensor(device), (outline, &context.mesh), solved, electrodes, compared)
}

/// Points that are named lie on parts that move.
pub(super) fn places_are_material(device: &Device, outline: &Outline) -> Result<(), CommandError> {
    let stoppers = device.stoppers.iter().enumerate().map(|(k, s)| (format!("/stoppers/{k}/at"), Some(&s.at)));
    let drive = std::iter::once(("/operation/drive_at".to_owned(), device.operation.drive_at.as_ref()));
    for (pointer, place) in drive.chain(stoppers) {
        let Some(Place::Point([x, y])) = place else { continue };
        if !outline.moves_at([*x, *y]) {
            let what = format!("there is nothing that moves at ({x}, {y}) µm");
            return Err(device.error(&pointer, what, "name a mass, or a point on a part that no anchor holds").into());
        }
    }
    Ok(())
}

/// A rate report is about an intended motion.
pub(super) fn intent_is_stated(device: &Device) -> Result<(), CommandError> {
    let hint = "write \"intent\": {\"drive\": {\"left\": \"+x\", \"right\": \"-x\"}, \"sense\": [{\"rate_axis\": \"y\", \
                \"left\": \"+z\", \"right\": \"-z\"}]}";
    let missing = match (&device.intent.drive, device.intent.sense.is_empty()) {
        (None, _) => "no drive motion is intended",
        (_, true) => "no sense motion is intended",
        _ => return Ok(()),
    };
    Err(device.error("/intent", missing, hint).into())
}
