//! `modalith audit`: the same layout as rigid masses on springs, as beams on shells, as shells and as solids; which assumption
//! of the simple model fails, by how much, and which model to use instead.

use super::fault;
use super::folder::Folder;
use super::memory::{budget, listener};
use super::modes::intended;
use super::opened::Opened;
use super::progress::Progress;
use super::solved::model_input;
use super::stated::{of_audit, stated};
use crate::args::AuditArgs;
use crate::device::Device;
use crate::exit::{CommandError, say, say_json, warn};
use crate::output::audit::{Audit, Heading, Row, document, text};
use crate::output::audit_report;
use crate::output::lumped;
use crate::output::screen::Screen;
use modalith_solver::audit::{Assumption, Candidate, MASSLESS, ModelComparison, assumptions, cheapest};
use modalith_solver::lumped::{Lumped, Pieces};
use modalith_solver::modal::{ModalError, Wanted};
use modalith_solver::mode::{ModeShape, ModelModes, PointWeights, matching};
use modalith_solver::model::{
    AnchorsHeld, ModalSolution, Model, ModelError, ModelInput, Purpose, SolveContext, Task, solve,
};
use modalith_solver::rate::comparison::{ALIKE, CLUSTER};

/// Modes compared when nobody says how many.
const COUNT: usize = 10;
/// Modes beyond those compared, so that a mode which another model places higher is still found.
const MORE: usize = 4;

/// Runs the command.
///
/// # Errors
/// For wrong input, a layout that cannot be solved, and results that cannot be written.
pub fn run(args: &AuditArgs) -> Result<(), CommandError> {
    let Opened { device, drawing, outline, electrodes, mut progress } =
        Opened::new(&args.device, &args.out, &args.common)?;
    let input = model_input(&device, &drawing, &outline, &electrodes)?;
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
        let wanted = Wanted::Lowest(if model == Model::Solid { count } else { count + MORE });
        let task = Task { input, wanted };
        let attempt = || {
            task.fits(model, context)?;
            solve(model, input, context, wanted, Purpose::Comparison)
        };
        match progress.stage(model.name(), attempt) {
            Ok(mut found) => {
                found.used.extend(stated(device, (input, context), &found, Purpose::Comparison));
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
    Ok(audit((device, input), context.mesh.triangles.len(), solved, missing, accuracy))
}

/// Matches the models' modes with the solid's and weighs the assumptions on the modes that matter.
fn audit(
    (device, input): (&Device, &ModelInput),
    triangles: usize,
    mut solved: Vec<ModalSolution>,
    missing: Vec<(&'static str, String)>,
    accuracy: f64,
) -> Audit {
    let reference = solved.len() - 1;
    let words = solved[reference].orient();
    let thickness_m = device.thickness_um * 1e-6;
    let per_area = device.law.density_kg_m3 * thickness_m;
    let weights = PointWeights::of_cells(&solved[reference].sampled, per_area, thickness_m);
    let frequencies: Vec<Vec<f64>> = solved.iter().map(ModalSolution::frequencies_hz).collect();
    let shapes: Vec<Vec<ModeShape>> = solved.iter().map(ModalSolution::shapes).collect();
    let compared = |m: usize| ModelModes { frequency_hz: &frequencies[m], shapes: &shapes[m] };
    let count = solved[reference].modes.len();
    // For every model and mode of the reference: the mode that it is, and the MAC.
    let matched: Vec<Vec<Option<(usize, f64)>>> = (0..solved.len())
        .map(|m| {
            let mut own = vec![None; count];
            for pair in matching(&compared(reference), &compared(m), &weights, CLUSTER) {
                if pair.mac >= ALIKE {
                    own[pair.first] = Some((pair.second, pair.mac));
                }
            }
            own
        })
        .collect();
    let hz = |m: usize, i: usize| matched[m][i].map(|(k, _)| frequencies[m][k]);
    let place = |model: Model| solved.iter().position(|s| s.model == model);
    let pair = working_pair(device, &solved[reference]);
    let matter: Vec<usize> = match pair {
        Some((drive, sense, _)) => vec![drive, sense],
        None => (0..count.min(2)).collect(),
    };
    let outline = input.outline;
    let massless = Pieces::of(outline)
        .and_then(|p| Lumped::new(p, &device.law, device.thickness_um, false))
        .and_then(|l| l.modes(&l.named(&outline.masses, device.law.density_kg_m3), Wanted::Lowest(count + MORE)))
        .map(|found| found.modes.iter().map(|m| m.frequency_hz).collect::<Vec<f64>>());
    let seen: Vec<ModelComparison> = matter
        .iter()
        .map(|&i| {
            let mode = &solved[reference].modes[i];
            let lumped = place(Model::Lumped).and_then(|m| Some((m, matched[m][i]?.0)));
            let model = lumped.and_then(|(m, k)| Some((solved[m].lumped()?, &solved[m].modes[k].shape)));
            ModelComparison {
                body_strain: (1.0 - mode.flexure_strain_share.iter().sum::<f64>()).max(0.0),
                off_axis: 1.0 - mode.kinetic_share.iter().copied().fold(0.0, f64::max),
                lumped_hz: lumped.map(|(m, k)| frequencies[m][k]),
                massless_hz: lumped.and_then(|(_, k)| massless.as_ref().ok()?.get(k).copied()),
                guided_hz: model.and_then(|(l, shape)| l.hz_with_turns_held(shape)),
                straight_hz: model.and_then(|(l, shape)| l.hz_without_cross_terms(shape)),
                beam_shell_hz: place(Model::BeamShell).and_then(|m| hz(m, i)),
                shell_hz: place(Model::Shell).and_then(|m| hz(m, i)),
                solid_hz: place(Model::Solid).and_then(|m| hz(m, i)),
            }
        })
        .collect();
    let coupling = |m: usize| {
        let (drive, sense, axis) = pair?;
        let (d, s) = (matched[m][drive]?.0, matched[m][sense]?.0);
        Some(solved[m].coriolis.as_ref()?.coupling(axis, d, s))
    };
    let apart = |a: Option<f64>, b: Option<f64>| Some((a? / b? - 1.0).abs());
    let candidates: Vec<Candidate> = (0..solved.len())
        .map(|m| Candidate {
            model: solved[m].model.name(),
            frequency: matter
                .iter()
                .map(|&i| apart(hz(m, i), hz(reference, i)))
                .try_fold(0.0_f64, |worst, d| d.map(|d| worst.max(d))),
            coupling: apart(coupling(m), coupling(reference)),
        })
        .collect();
    let rows = (0..count)
        .map(|i| Row {
            label: words[i].label.clone(),
            matters: matter.contains(&i),
            reference_hz: frequencies[reference][i],
            models: (0..solved.len()).map(|m| matched[m][i].map(|(k, mac)| (frequencies[m][k], mac))).collect(),
        })
        .collect();
    // Without the full law nothing is known to be good enough.
    let held = place(Model::Solid).is_some();
    let best = cheapest(&candidates, accuracy).filter(|_| held).map(|c| c.model);
    let assumptions = assumptions(&seen, accuracy);
    let because = assumptions.iter().map(|a| {
        a.measure.is_none().then(|| match &massless {
            Err(e) if a.name == MASSLESS && place(Model::Lumped).is_some() => {
                format!("the flexures' mass cannot be left out: {e}")
            }
            _ => not_measured(a, &missing),
        })
    });
    Audit {
        because: because.collect(),
        assumptions,
        coupling: (0..solved.len()).map(coupling).collect(),
        triangles,
        candidates,
        rows,
        best,
        missing,
        pair_intended: pair.is_some(),
        intent_stated: device.intent.drive.is_some() && !device.intent.sense.is_empty(),
        models: solved,
    }
}

/// Why an assumption is not measured.
fn not_measured(assumption: &Assumption, missing: &[(&'static str, String)]) -> String {
    match missing.iter().find(|(model, _)| assumption.needs.contains(model)) {
        Some((model, why)) => format!("{model} is left out: {why}"),
        None => format!("not every mode that matters is found under {}", assumption.needs.join(" and ")),
    }
}

/// Drive, sense and the axis of rotation, where the device file intends them and a mode answers.
fn working_pair(device: &Device, reference: &ModalSolution) -> Option<(usize, usize, usize)> {
    let list = intended(device, &reference.modes);
    let drive = list.iter().find(|i| i.rate_axis.is_none())?.mode?;
    let sense = list.iter().find(|i| i.rate_axis.is_some())?;
    Some((drive, sense.mode?, sense.rate_axis?)).filter(|(d, s, _)| d != s)
}
