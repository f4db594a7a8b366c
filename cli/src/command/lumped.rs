//! `modalith modes --model lumped`: the modes of rigid masses on springs taken from the layout, with the model itself as
//! `lumped.json` and as text.

use super::folder::{self, Folder};
use super::modes::{animation, band, mesh, wanted};
use super::progress::Progress;
use crate::args::ModesArgs;
use crate::device::Device;
use crate::exit::{Stop, say, warn};
use crate::output::findings::{Findings, Input, Timings, peak_memory_bytes};
use crate::output::lumped::{Heading, document, text};
use crate::output::{label, matrix_market, modes_json, report, run_json, table, vtu};
use modalith_solver::lumped::{Lumped, LumpedError, LumpedModes, Pieces, Spring};
use modalith_solver::modal::Wanted;

/// Runs the command.
///
/// # Errors
/// For wrong input, a layout with nothing slender, and results that cannot be written.
pub fn run(args: &ModesArgs) -> Result<(), Stop> {
    folder::check(&args.out)?;
    if let Some(folder) = &args.export_matrices {
        folder::check(folder)?;
    }
    let mut progress = Progress::new(args.common.quiet || args.common.json);
    let device = Device::read(&args.device)?;
    let (drawing, remarks) = device.drawing()?;
    remarks.iter().for_each(|r| warn(r));
    let outline = progress.stage("outline", || device.outline(&drawing))?;
    let fault = |e: LumpedError| no_model(&device, &e);
    let lumped = progress
        .stage("assembly", || Lumped::new(Pieces::of(&outline)?, &device.law, device.thickness_um, true))
        .map_err(fault)?;
    let named = lumped.named(&outline.masses, device.law.density_kg_m3);
    let wanted = wanted(args, &device);
    let mut found = progress.stage("eigen", || lumped.modes(&named, wanted)).map_err(fault)?;
    // For pictures alone: the model itself has no mesh.
    let mesh = progress.stage("mesh", || mesh(&device, &outline))?;
    let mut sampled = progress.stage("sampling", || lumped.sample(&mesh, &found.modes));
    let words = label::orient(&mut found.modes, &mut sampled);
    let mut findings = findings(&device, &lumped, &found, words, wanted);
    let modes = &found.modes;
    let heading = Heading {
        device: &device.name,
        input_sha256: &device.input_sha256,
        thickness_um: device.thickness_um,
        material: &findings.material,
    };
    let mut out = Folder::open(&args.out)?;
    let json = modes_json::document(&findings, modes)?;
    out.write("modes.json", format!("{json:#}\n").as_bytes())?;
    out.write("lumped.json", format!("{:#}\n", document(&heading, &lumped, &named)).as_bytes())?;
    out.write("lumped.txt", text(&heading, &lumped, &named, modes).as_bytes())?;
    let frequencies: Vec<f64> = modes.iter().map(|m| m.frequency_hz).collect();
    let answer = table::answer(&findings, modes, &outline);
    out.write("modes.vtu", &vtu::modes(&sampled, &mesh, &frequencies)?)?;
    let report = report::report_html(&findings, modes, &outline, &mesh, &sampled, &answer);
    out.write("report.html", report.as_bytes())?;
    if let Some(number) = args.animate {
        for (name, bytes) in animation(&sampled, number as usize, &mesh)? {
            out.write(&name, &bytes)?;
        }
    }
    if let Some(folder) = &args.export_matrices {
        let (stiffness, mass) = lumped.system();
        let mut out = Folder::open(folder)?;
        out.write("K.mtx", &matrix_market::write(&stiffness, "stiffness, N/m, N, N m")?)?;
        out.write("M.mtx", &matrix_market::write(&mass, "mass, kg, kg m, kg m2")?)?;
        out.finish()?;
    }
    findings.timings = timings(&progress);
    out.write("run.json", format!("{:#}\n", run_json::document(&findings)).as_bytes())?;
    let files = out.finish()?;
    if args.common.json {
        return say(&format!("{json:#}\n"));
    }
    if args.common.quiet {
        return Ok(());
    }
    say(&table::table(&findings, modes, &outline, &args.out.display().to_string(), &files))
}

/// A layout that cannot be lumped is a fault of the input; a spectrum that is not found is not.
fn no_model(device: &Device, error: &LumpedError) -> Stop {
    match error {
        LumpedError::Spectrum(e) => Stop::Other { what: e.to_string(), hint: "nothing was written".into() },
        e => device.fault("/layout", &e.to_string()).into(),
    }
}

fn timings(progress: &Progress) -> Timings {
    let (total, stages): (Vec<_>, Vec<_>) = progress.seconds().into_iter().partition(|(name, _)| *name == "total");
    Timings {
        total_s: total.first().map_or(0.0, |t| t.1),
        stages: stages.into_iter().map(|(name, s)| (name.to_owned(), s)).collect(),
    }
}

fn findings(
    device: &Device,
    lumped: &Lumped,
    found: &LumpedModes,
    words: Vec<label::Words>,
    wanted: Wanted,
) -> Findings {
    Findings {
        device: device.name.clone(),
        model: "lumped".into(),
        model_reason: "asked for".into(),
        thickness_um: device.thickness_um,
        material: device.material.in_words(),
        moving_mass_kg: lumped.total_mass_kg(),
        degrees_of_freedom: lumped.degrees_of_freedom(),
        input_sha256: device.input_sha256.clone(),
        inputs: device
            .inputs
            .iter()
            .map(|i| Input { file: i.path.display().to_string(), sha256: i.sha256.clone() })
            .collect(),
        count_verified: found.count_verified,
        band: band(&found.modes, wanted, found.count_verified),
        words,
        extras: Vec::new(),
        cautions: cautions(lumped),
        left_out: ["anchor give", "package stress", "electrode softening", "wall tilt", "temperature"]
            .map(str::to_owned)
            .to_vec(),
        timings: Timings::default(),
        threads: rayon::current_num_threads(),
        peak_memory_bytes: peak_memory_bytes(),
        version: env!("CARGO_PKG_VERSION").to_owned(),
    }
}

/// A flexure shorter than this many times its width or the layer's thickness shears, and its roots give.
const LONG: f64 = 10.0;

/// Where the model's assumptions do not hold, as far as the layout shows.
fn cautions(lumped: &Lumped) -> Vec<String> {
    let mut said = vec![
        "bodies, roots and trusses are rigid here and flexures do not shear: frequencies are too high, by how much \
         another model tells"
            .to_owned(),
    ];
    let widest = |s: &Spring| s.stretches.iter().flat_map(|s| s.widths_m).fold(s.thickness_m, f64::max);
    let short: Vec<String> = lumped
        .springs
        .iter()
        .enumerate()
        .filter(|(_, s)| s.length_m() < LONG * widest(s))
        .map(|(f, _)| (f + 1).to_string())
        .collect();
    if !short.is_empty() {
        said.push(format!("shorter than ten times the larger of width and thickness: flexure {}", short.join(", ")));
    }
    said
}
