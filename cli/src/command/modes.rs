//! `modalith modes`: the main job, from a device file to its vibration modes.

use super::folder::{self, Folder, write_flexures};
use super::progress::Progress;
use crate::args::{Model, ModesArgs};
use crate::device::Device;
use crate::exit::{Stop, say, warn};
use crate::output::findings::{Band, Findings, Input, Timings, peak_memory_bytes};
use crate::output::{label, matrix_market, modes_json, report, run_json, table, vtu};
use modalith_mesher::geometry::bounds;
use modalith_mesher::mesh::Mesh;
use modalith_mesher::outline::Outline;
use modalith_mesher::triangulate::{MeshSize, triangulate};
use modalith_solver::modal::{Modal, ModalError, Wanted, modes};
use modalith_solver::mode::{Mode, Sampled};
use modalith_solver::system::{AddedMass, Layer, Supports, System};
use nalgebra_sparse::{CooMatrix, CscMatrix};
use std::path::Path;

/// Modes found when neither the command line nor the device file says how many.
const COUNT: usize = 12;
/// Frames of an animated period.
const FRAMES: usize = 24;
/// Largest displacement of an animation as a share of the device's extent.
const AMPLITUDE: f64 = 0.05;

/// What was asked for, the command line before the device file.
pub(super) fn wanted(args: &ModesArgs, device: &Device) -> Wanted {
    let asked = args.count.map(|n| n as usize);
    let count = asked.or(device.modes.count).unwrap_or(COUNT);
    match (args.near, args.up_to, asked) {
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

/// Mesh sizes from the device file.
pub(super) fn mesh_size(device: &Device) -> MeshSize {
    let default = MeshSize::default();
    MeshSize {
        largest_um: device.mesh.largest_um,
        across_flexure: device.mesh.across_flexure.map_or(default.across_flexure, |n| n as u32),
        ..default
    }
}

/// Meshes an outline; a layout that cannot be meshed is a fault of the input.
pub(super) fn mesh(device: &Device, outline: &Outline) -> Result<Mesh, Stop> {
    triangulate(outline, &mesh_size(device)).map_err(|e| device.fault("/layout", &e.to_string()).into())
}

/// Runs the command.
///
/// # Errors
/// For wrong input, a part that has no modes to find, and results that cannot be written.
pub fn run(args: &ModesArgs) -> Result<(), Stop> {
    super::threads(args.common.threads)?;
    if args.model == Model::Lumped {
        return super::lumped::run(args);
    }
    if !matches!(args.model, Model::Auto | Model::Shell) {
        let hint = "this version has shells and lumped masses: leave --model out, or write --model shell or lumped";
        return Err(Stop::Usage { what: "this model does not exist yet".into(), hint: hint.into() });
    }
    folder::check(&args.out)?;
    if let Some(folder) = &args.export_matrices {
        folder::check(folder)?;
    }
    let mut progress = Progress::new(args.common.quiet || args.common.json);
    let device = Device::read(&args.device)?;
    let (drawing, remarks) = device.drawing()?;
    remarks.iter().for_each(|r| warn(r));
    let outline = progress.stage("outline", || device.outline(&drawing))?;
    let mesh = progress.stage("mesh", || mesh(&device, &outline))?;
    let layer = Layer::shell(&device.law, device.thickness_um);
    let wanted = wanted(args, &device);
    let mut modal = progress
        .stage("solving", || modes(&mesh, &layer, &Supports::anchors(&mesh), &AddedMass::none(), wanted, &|_| {}))
        .map_err(|e| no_modes(&device, &e))?;
    let mut sampled = progress.stage("sampling", || modal.sample(&mesh));
    let words = label::orient(&mut modal.modes, &mut sampled);
    let mut findings = findings(&device, &outline, &mesh, &modal, words, wanted);
    let mut out = Folder::open(&args.out)?;
    let json = modes_json::document(&findings, &modal.modes)?;
    out.write("modes.json", format!("{json:#}\n").as_bytes())?;
    let frequencies: Vec<f64> = modal.modes.iter().map(|m| m.frequency_hz).collect();
    let text = table::answer(&findings, &modal.modes, &outline);
    let (grid, report) = progress.stage("writing", || {
        rayon::join(
            || vtu::modes(&sampled, &mesh, &frequencies),
            || report::report_html(&findings, &modal.modes, &outline, &mesh, &sampled, &text),
        )
    });
    out.write("modes.vtu", &grid?)?;
    out.write("report.html", report.as_bytes())?;
    write_flexures(&mut out, &outline)?;
    if let Some(number) = args.animate {
        for (name, bytes) in animation(&sampled, number as usize, &mesh)? {
            out.write(&name, &bytes)?;
        }
    }
    if let Some(folder) = &args.export_matrices {
        export(&device, &mesh, &layer, folder)?;
    }
    findings.timings = timings(&progress, &modal);
    out.write("run.json", format!("{:#}\n", run_json::document(&findings)).as_bytes())?;
    let files = out.finish()?;
    if args.common.json {
        return say(&format!("{json:#}\n"));
    }
    if args.common.quiet {
        return Ok(());
    }
    say(&table::table(&findings, &modal.modes, &outline, &args.out.display().to_string(), &files))
}

/// Frames of one period of a mode, its largest displacement a twentieth of the device's extent.
pub(super) fn animation(sampled: &Sampled, number: usize, mesh: &Mesh) -> Result<Vec<(String, Vec<u8>)>, Stop> {
    if number > sampled.modes.len() {
        let what = format!("--animate {number}: only {} modes were found", sampled.modes.len());
        return Err(Stop::Usage { what, hint: "name a mode of the table, or ask for more with --count".into() });
    }
    let [low, high] = bounds(&mesh.points).unwrap_or_default();
    let extent = (high[0] - low[0]).hypot(high[1] - low[1]);
    Ok(vtu::series(sampled, number - 1, FRAMES, AMPLITUDE * extent)?)
}

/// Writes the constrained system as solved: the uncoupled systems one after the other on the diagonal.
fn export(device: &Device, mesh: &Mesh, layer: &Layer, folder: &Path) -> Result<(), Stop> {
    let assemble = |part: &Layer| System::assemble(mesh, part, &Supports::anchors(mesh), &AddedMass::none());
    let systems = layer.uncoupled().iter().map(assemble).collect::<Result<Vec<_>, _>>();
    let systems = systems.map_err(|e| no_modes(device, &e.into()))?;
    let mut out = Folder::open(folder)?;
    let whole = |pick: fn(&System) -> &CscMatrix<f64>| block_diagonal(systems.iter().map(pick));
    out.write("K.mtx", &matrix_market::write(&whole(|s| &s.k), "stiffness, N/m")?)?;
    out.write("M.mtx", &matrix_market::write(&whole(|s| &s.m), "mass, kg")?)?;
    out.finish().map(|_| ())
}

fn block_diagonal<'a>(blocks: impl Iterator<Item = &'a CscMatrix<f64>>) -> CscMatrix<f64> {
    let mut whole = CooMatrix::new(0, 0);
    for block in blocks {
        let start = whole.nrows();
        let mut grown = CooMatrix::new(start + block.nrows(), start + block.nrows());
        whole.triplet_iter().for_each(|(i, j, v)| grown.push(i, j, *v));
        block.triplet_iter().for_each(|(i, j, v)| grown.push(start + i, start + j, *v));
        whole = grown;
    }
    CscMatrix::from(&whole)
}

/// A layout without a system is a fault of the input; a spectrum that is not found is not.
fn no_modes(device: &Device, error: &ModalError) -> Stop {
    match error {
        ModalError::System(e) => device.fault("/layout", &e.to_string()).into(),
        ModalError::Spectrum(e) => {
            let hint = "nothing was written; a coarser or finer mesh (mesh/largest_um) may help".into();
            Stop::Other { what: e.to_string(), hint }
        }
    }
}

/// Seconds by stage: those of the program and, instead of the whole of solving, those of the solver.
fn timings(progress: &Progress, modal: &Modal) -> Timings {
    let mut stages = Vec::new();
    let mut total_s = 0.0;
    for (name, s) in progress.seconds() {
        match name {
            "total" => total_s = s,
            "solving" => {
                let seconds = &modal.seconds;
                stages.extend(
                    [
                        ("assembly", seconds.assembly),
                        ("ordering", seconds.ordering),
                        ("factorization", seconds.factorization),
                        ("eigen", seconds.eigen),
                        ("description", seconds.description),
                    ]
                    .map(|(n, s)| (n.to_owned(), s)),
                );
            }
            _ => stages.push((name.to_owned(), s)),
        }
    }
    Timings { stages, total_s }
}

fn findings(
    device: &Device,
    outline: &Outline,
    mesh: &Mesh,
    modal: &Modal,
    words: Vec<label::Words>,
    wanted: Wanted,
) -> Findings {
    let area_um2: f64 = (0..mesh.triangles.len()).map(|t| mesh.area(t)).sum();
    Findings {
        device: device.name.clone(),
        model: "shell".into(),
        model_reason: "the only model of this version".into(),
        thickness_um: device.thickness_um,
        material: device.material.in_words(),
        moving_mass_kg: area_um2 * 1e-18 * device.thickness_um * device.law.density_kg_m3,
        degrees_of_freedom: modal.degrees_of_freedom(),
        input_sha256: device.input_sha256.clone(),
        inputs: device
            .inputs
            .iter()
            .map(|i| Input { file: i.path.display().to_string(), sha256: i.sha256.clone() })
            .collect(),
        count_verified: modal.count_verified,
        band: band(&modal.modes, wanted, modal.count_verified),
        words,
        extras: Vec::new(),
        cautions: table::shell_cautions(outline, device.thickness_um, &modal.modes),
        left_out: ["anchor give", "package stress", "electrode softening", "wall tilt", "temperature"]
            .map(str::to_owned)
            .to_vec(),
        timings: Timings::default(),
        threads: rayon::current_num_threads(),
        peak_memory_bytes: peak_memory_bytes(),
        version: env!("CARGO_PKG_VERSION").to_owned(),
    }
}

/// The band in which the list is whole.
pub(super) fn band(modes: &[Mode], wanted: Wanted, verified: bool) -> Band {
    let first = modes.first().map_or(0.0, |m| m.frequency_hz);
    let last = modes.last().map_or(0.0, |m| m.frequency_hz);
    let (from_hz, to_hz) = match wanted {
        Wanted::UpTo { hz, most } => (0.0, if most == Some(modes.len()) { last } else { hz }),
        Wanted::Lowest(_) => (0.0, last),
        Wanted::Near { .. } => (first, last),
    };
    Band { from_hz, to_hz, counted: verified.then_some(modes.len()) }
}
