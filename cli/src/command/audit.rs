//! `modalith audit`: the same layout as rigid masses on springs, as beams on shells, as shells and as solids; which assumption
//! of the simple model fails, by how much, and which model to use instead.

use super::fault;
use super::folder::Folder;
use super::memory::{budget, listener};
use super::opened::Opened;
use super::progress::Progress;
use super::solved::model_input;
use super::stated::{of_audit, stated};
use crate::args::AuditArgs;
use crate::device::Device;
use crate::exit::{CommandError, say, say_json, warn};
use crate::output::audit::{Heading, document, text};
use crate::output::audit_report;
use crate::output::lumped;
use crate::output::screen::Screen;
use modalith_solver::modal::{ModalError, Wanted};
use modalith_solver::model::{AnchorsHeld, Model, ModelError, ModelInput, Purpose, SolveContext, Task, solve};
use modalith_solver::sensor::{Audit, MODES_MORE};

/// Modes compared when nobody says how many.
const COUNT: usize = 10;

/// Runs the command.
///
/// # Errors
/// For wrong input, a layout that cannot be solved, and results that cannot be written.
pub fn run(args: &AuditArgs) -> Result<(), CommandError> {
    let Opened { device, drawing, outline, loads, mut progress } = Opened::new(&args.device, &args.out, &args.common)?;
    let input = model_input(&device, &drawing, &outline, &loads)?;
    // All models on one mesh, so that their shapes compare; anchors held from below are the solid's alone.
    let context = progress.stage("mesh", || SolveContext::of(Model::Shell, &input));
    let context = context.map_err(|e| fault::of_model(&device, &e))?;
    let quiet = args.common.quiet || args.common.json;
    let context = SolveContext {
        budget: budget(args.budget.memory_limit),
        listener: Some(listener(progress.reached(), quiet)),
        ..context
    };
    if device.anchors_held == AnchorsHeld::Below {
        warn("the models are compared with anchors that hold the side faces; `modes` holds them from below, as asked");
    }
    let audit = compared((&device, &input), &context, args.count, args.accuracy, &mut progress)?;
    let heading = Heading { device: &device.name, input_sha256: &device.input_sha256, accuracy: args.accuracy };
    let json = document(&heading, &audit);
    let answer = text(&heading, &audit, Screen::FILE).finish();
    let mut out = Folder::open(&args.out)?;
    out.write("audit.json", format!("{json:#}\n").as_bytes())?;
    out.write("audit.txt", answer.as_bytes())?;
    out.write("report.html", audit_report::report_html(&heading, &audit, &outline, &answer).as_bytes())?;
    if let Some(model) = audit.models.iter().find_map(|m| m.lumped()) {
        let material = device.material.in_words();
        let heading = lumped::Heading {
            device: &device.name,
            input_sha256: &device.input_sha256,
            thickness_um: device.thickness_um,
            material: &material,
        };
        let named = model.named(&outline.masses, device.law.density_kg_m3);
        out.write("lumped.json", format!("{:#}\n", lumped::document(&heading, model, &named)).as_bytes())?;
    }
    let files = out.finish()?;
    if args.common.json {
        return say_json(&format!("{json:#}\n"));
    }
    if args.common.quiet {
        return Ok(());
    }
    let seconds: f64 = audit.models.iter().map(|m| m.total_s).sum();
    let mut screen = text(&heading, &audit, Screen::of_stdout(args.common.wide));
    screen.wrote(&files, &args.out, &format!("{seconds:.1} s"));
    say(&screen.finish())
}

/// The device under every model, compared; nothing is written.
///
/// # Errors
/// For a layout that cannot be solved.
pub(super) fn compared(
    (device, input): (&Device, &ModelInput),
    context: &SolveContext,
    count: Option<u32>,
    accuracy: f64,
    progress: &mut Progress,
) -> Result<Audit, CommandError> {
    let count = count.map(|n| n as usize).or(device.modes.count).unwrap_or(COUNT);
    let mut missing = Vec::new();
    let mut solved = Vec::new();
    for model in [Model::Lumped, Model::BeamShell, Model::Shell, Model::Solid] {
        let wanted = Wanted::Lowest(if model == Model::Solid { count } else { count + MODES_MORE });
        let task = Task { input, wanted };
        let attempt = || {
            task.fits(model, context)?;
            solve(model, input, context, wanted, Purpose::Audit)
        };
        match progress.stage(model.name(), attempt) {
            Ok(mut found) => {
                found.used.extend(stated(device, (input, context), &found, Purpose::Audit));
                found.used.extend(of_audit(device));
                solved.push(found);
            }
            // A layout without slender parts has no simple model, a large one no solid; the others still compare.
            Err(error)
                if error.is_unfit()
                    || matches!(error, ModelError::TooLarge { .. } | ModelError::Modal(ModalError::Memory { .. })) =>
            {
                missing.push((model.name(), fault::of_model(device, &error).to_string()));
            }
            Err(error) => return Err(fault::of_model(device, &error)),
        }
    }
    if solved.len() < 2 {
        let what = format!(
            "there are not two models to compare: {}",
            missing.iter().map(|m| m.1.as_str()).collect::<Vec<_>>().join("; ")
        );
        return Err(CommandError::Other { what, hint: "nothing was written; raise --memory-limit".into() });
    }
    Ok(Audit::of(input, &device.intent, solved, missing, accuracy))
}
