//! `modalith modes`: the main job, from a device file to its vibration modes.

use super::fault;
use super::folder::{self, Folder, write_flexures};
use super::memory::{budget, listener};
use super::opened::Opened;
use super::progress::Progress;
use super::reading;
use super::solved::{choice, model_input, reason, solve_by_choice, with_statements};
use super::stated::overlaps;
use crate::args::ModesArgs;
use crate::device::Device;
use crate::exit::{CommandError, say, say_json, tell};
use crate::output::findings::{Findings, Input, Rotation, Timings, peak_memory_bytes};
use crate::output::lumped::{self, Heading};
use crate::output::screen::Screen;
use crate::output::units::{bytes, duration};
use crate::output::{matrix_market, modes_json, report, run_json, table, vtu};
use modalith_mesher::geometry::bounds;
use modalith_mesher::mesh::Mesh;
use modalith_mesher::outline::Outline;
use modalith_solver::completed::CompletedSearch;
use modalith_solver::modal::Wanted;
use modalith_solver::mode::{Sampled, label};
use modalith_solver::model::{
    Choice, ModalSolution, Model, ModelInput, Purpose, SolveContext, SolvedSystem, Task, WallTilt, left_out,
    solve_to_accuracy,
};
use modalith_solver::sensor::Intended;
use std::path::Path;

/// Modes found when neither the command line nor the device file says how many.
const COUNT: usize = 12;
/// Frames of an animated period.
const FRAMES: usize = 24;
/// Largest displacement of an animation as a share of the device's extent.
const AMPLITUDE: f64 = 0.05;

/// What was asked for: number of modes, upper end and place on the axis of frequency, Hz, before what the device file says.
pub(super) fn wanted(count: Option<u32>, up_to: Option<f64>, near: Option<f64>, device: &Device) -> Wanted {
    let asked = count.map(|n| n as usize);
    let count = asked.or(device.modes.count).unwrap_or(COUNT);
    match (near, up_to, asked) {
        (Some(hz), _, _) => Wanted::Near { hz, count },
        (None, Some(hz), most) => Wanted::UpTo { hz, most },
        (None, None, Some(n)) => Wanted::Lowest(n),
        (None, None, None) => match (device.modes.near_hz, device.modes.up_to_hz) {
            (Some(hz), _) => Wanted::Near { hz, count },
            (None, Some(hz)) => Wanted::UpTo { hz, most: device.modes.count },
            (None, None) => Wanted::Lowest(count),
        },
    }
}

/// Runs the command.
///
/// # Errors
/// For wrong input, a part that has no modes to find, and results that cannot be written.
pub fn run(args: &ModesArgs) -> Result<(), CommandError> {
    if let Some(folder) = &args.export_matrices {
        folder::check(folder)?;
    }
    let Opened { device, drawing, outline, loads, mut progress } = Opened::new(&args.device, &args.out, &args.common)?;
    let input = model_input(&device, &drawing, &outline, &loads)?;
    let mut choice = choice(args.model, &input);
    let wanted = wanted(args.count, args.up_to, args.near, &device);
    let task = Task { input: &input, wanted };
    let context = progress.stage("mesh", || choice.context(&task, budget(args.budget.memory_limit)));
    let mut context = context.map_err(|e| fault::of_model(&device, &e))?;
    context.listener = Some(listener(progress.reached(), args.common.quiet || args.common.json));
    let purpose = Purpose::Modes;
    let solved = progress.stage("solving", || {
        let of = (&device, &input);
        match args.accuracy {
            Some(goal) => solve_as_accurately((goal, args.common.quiet), &mut choice, of, &mut context, wanted),
            None => solve_by_choice(&mut choice, of, &context, wanted, purpose),
        }
    })?;
    let (solved, mut findings) = describe((&device, &input), &context, (solved, purpose), &choice)?;
    let modes = &solved.modes;
    let mut out = Folder::open(&args.out)?;
    let json = modes_json::document(&findings, modes)?;
    out.write("modes.json", format!("{json:#}\n").as_bytes())?;
    let frequencies: Vec<f64> = modes.iter().map(|m| m.frequency_hz).collect();
    let text = table::answer(&findings, modes, &outline, Screen::FILE).finish();
    let (grid, report) = progress.stage("writing", || {
        rayon::join(
            || vtu::modes(&solved.sampled, &context.mesh, &frequencies, solved.rest_m().as_deref()),
            || report::report_html(&findings, modes, &outline, &context.mesh, &solved.sampled, &text),
        )
    });
    out.write("modes.vtu", &grid?)?;
    out.write("report.html", report.as_bytes())?;
    write_lumped(&mut out, &device, &outline, &solved, &findings)?;
    write_flexures(&mut out, &outline)?;
    if let Some(number) = args.animate {
        for (name, bytes) in animation(&solved.sampled, number as usize, &context.mesh)? {
            out.write(&name, &bytes)?;
        }
    }
    if let Some(folder) = &args.export_matrices {
        export(&device, &solved, folder)?;
    }
    findings.timings = timings(&progress, &solved);
    out.write("run.json", format!("{:#}\n", run_json::document(&findings)).as_bytes())?;
    let files = out.finish()?;
    if args.common.json {
        return say_json(&format!("{json:#}\n"));
    }
    if args.common.quiet {
        return Ok(());
    }
    let memory = findings.peak_memory_bytes.map_or(String::new(), |b| format!(", {}", bytes(b)));
    let mut screen = table::answer(&findings, modes, &outline, Screen::of_stdout(args.common.wide));
    screen.wrote(&files, &args.out, &format!("{}{memory}", duration(findings.timings.total_s)));
    say(&screen.finish())
}

/// Modes on finer and finer meshes until their bars are below a share of the frequencies, told step by step unless quiet.
fn solve_as_accurately(
    (goal, quiet): (f64, bool),
    choice: &mut Choice,
    (device, input): (&Device, &ModelInput),
    context: &mut SolveContext,
    wanted: Wanted,
) -> Result<ModalSolution, CommandError> {
    let say = |what: &str| {
        if !quiet {
            tell("note", what);
        }
    };
    let solved = choice.solve(|model| solve_to_accuracy(goal, (model, input), context, wanted, &say));
    let solved = solved.map_err(|e| fault::of_model(device, &e))?;
    Ok(with_statements(solved, choice, (device, input), context, Purpose::Modes))
}

/// The lumped model's files, where that was solved.
fn write_lumped(
    out: &mut Folder,
    device: &Device,
    outline: &Outline,
    solved: &ModalSolution,
    findings: &Findings,
) -> Result<(), CommandError> {
    let Some(model) = solved.lumped() else { return Ok(()) };
    let named = model.named(&outline.masses, device.law.density_kg_m3);
    let heading = Heading {
        device: &device.name,
        input_sha256: &device.input_sha256,
        thickness_um: device.thickness_um,
        material: &findings.material,
    };
    out.write("lumped.json", format!("{:#}\n", lumped::document(&heading, model, &named)).as_bytes())?;
    out.write("lumped.txt", lumped::text(&heading, model, &named, &solved.modes).as_bytes())
}

/// The modes of a device on its mesh, and what there is to say of them; nothing is written.
///
/// # Errors
/// As [`solve_by_choice`].
pub(super) fn solve_modes(
    of: (&Device, &ModelInput),
    context: &SolveContext,
    choice: &mut Choice,
    wanted: Wanted,
    purpose: Purpose,
    progress: &mut Progress,
) -> Result<(ModalSolution, Findings), CommandError> {
    let solved = progress.stage("solving", || solve_by_choice(choice, of, context, wanted, purpose))?;
    describe(of, context, (solved, purpose), choice)
}

/// A solution with its modes' signs and labels settled, and what there is to say of it.
fn describe(
    (device, input): (&Device, &ModelInput),
    context: &SolveContext,
    (mut solved, purpose): (ModalSolution, Purpose),
    choice: &Choice,
) -> Result<(ModalSolution, Findings), CommandError> {
    let words = solved.orient();
    let mut findings = findings(device, context, (&solved, purpose), &reason(choice), words);
    findings.electrodes = reading::electrodes_at_rest(
        device,
        (&input.loads.electrodes, input.outline),
        &solved.sampled,
        (solved.rest_m().as_deref(), solved.bias.as_ref()),
    )?;
    findings.used.extend(overlaps(&findings.electrodes));
    Ok((solved, findings))
}

/// Frames of one period of a mode, its largest displacement a twentieth of the device's extent.
pub(super) fn animation(sampled: &Sampled, number: usize, mesh: &Mesh) -> Result<Vec<(String, Vec<u8>)>, CommandError> {
    if number > sampled.modes.len() {
        let what = format!("--animate {number}: only {} modes were found", sampled.modes.len());
        return Err(CommandError::Usage {
            what,
            hint: "name a mode of the table, or ask for more with --count".into(),
        });
    }
    let [low, high] = bounds(&mesh.points).unwrap_or_default();
    let extent = (high[0] - low[0]).hypot(high[1] - low[1]);
    Ok(vtu::series(sampled, number - 1, FRAMES, AMPLITUDE * extent)?)
}

/// Writes the constrained system as solved: the uncoupled systems one after the other on the diagonal.
fn export(device: &Device, solved: &ModalSolution, folder: &Path) -> Result<(), CommandError> {
    let (k, m) = match &solved.system {
        SolvedSystem::Lumped(lumped) => lumped.system(),
        SolvedSystem::Structure(structure) => structure.matrices().map_err(|e| fault::of_modes(device, &e.into()))?,
    };
    let mut out = Folder::open(folder)?;
    out.write("K.mtx", &matrix_market::write(&k, "stiffness, N/m, N, N m")?)?;
    out.write("M.mtx", &matrix_market::write(&m, "mass, kg, kg m, kg m2")?)?;
    out.finish().map(|_| ())
}

/// Seconds by stage: those of the program and, instead of the whole of solving, those of the solver.
pub(super) fn timings(progress: &Progress, solved: &ModalSolution) -> Timings {
    let seconds = &solved.seconds;
    let mut stages = Vec::new();
    let mut total_s = 0.0;
    for (name, s) in progress.seconds() {
        match name {
            "total" => total_s = s,
            "solving" => {
                stages.extend(
                    [
                        ("assembly", seconds.assembly),
                        ("ordering", seconds.ordering),
                        ("factorization", seconds.factorization),
                        ("eigen", seconds.eigen),
                        ("description", seconds.description),
                        ("error_bars", solved.bars_s),
                        ("first_order", solved.terms_s),
                    ]
                    .map(|(n, s)| (n.to_owned(), s)),
                );
            }
            _ => stages.push((name.to_owned(), s)),
        }
    }
    Timings { stages, total_s }
}

pub(super) fn findings(
    device: &Device,
    context: &SolveContext,
    (solved, purpose): (&ModalSolution, Purpose),
    reason: &str,
    words: Vec<label::Words>,
) -> Findings {
    let tilt = match (purpose, device.imperfections.sidewall_tilt_deg) {
        (_, None) => WallTilt::NotStated,
        (Purpose::Rate, Some(_)) => WallTilt::InBending,
        // What is stated stands among what is neglected.
        (_, Some(_)) => WallTilt::Neglected,
    };
    let anchors = (device.anchors_held, !context.held_below.is_empty());
    let intended = Intended::of(&device.intent, &solved.modes);
    let bars_hz: Vec<f64> = solved.mesh_errors.iter().map(|e| e.hz).collect();
    Findings {
        device: device.name.clone(),
        model: solved.model.to_string(),
        full_law: solved.model == Model::Solid,
        model_reason: reason.into(),
        thickness_um: device.thickness_um,
        material: device.material.in_words(),
        moving_mass_kg: solved.moving_mass_kg,
        degrees_of_freedom: solved.degrees_of_freedom,
        input_sha256: device.input_sha256.clone(),
        inputs: device
            .inputs
            .iter()
            .map(|i| Input { file: i.path.display().to_string(), sha256: i.sha256.clone() })
            .collect(),
        search: judged_search(solved),
        words,
        extras: solved.extras(),
        split: Intended::split(&intended, &solved.modes, &bars_hz),
        intended,
        rotation: solved
            .coriolis
            .clone()
            .map(|coriolis| Rotation { modes: (0..solved.modes.len()).collect(), coriolis }),
        cautions: solved.cautions.clone(),
        used: solved.used.clone(),
        left_out: left_out(solved, anchors, tilt).into_iter().map(str::to_owned).collect(),
        electrodes: Vec::new(),
        pull_in: solved.bias.as_ref().and_then(|b| b.pull_in.clone()),
        film: solved.film,
        timings: Timings::default(),
        threads: rayon::current_num_threads(),
        peak_memory_bytes: peak_memory_bytes(),
        predicted_memory_bytes: solved.predicted_bytes as u64,
        version: env!("CARGO_PKG_VERSION").to_owned(),
    }
}

/// The completed search, and what its error bars say of it.
fn judged_search(solved: &ModalSolution) -> CompletedSearch {
    let bars_hz: Vec<f64> = solved.mesh_errors.iter().map(|e| e.hz).collect();
    solved.search.clone().with_error_bars(&solved.frequencies_hz(), &bars_hz)
}
