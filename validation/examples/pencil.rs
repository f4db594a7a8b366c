//! The flagship's K and M at a size, for `validation/bench`, and what our own solver makes of them.
//!
//! `pencil export 100000 2 FOLDER` meshes with elements of order 2, assembles, writes K and M as raw little-endian arrays (both motions on the diagonal)
//! `pencil whole FOLDER 20`        reads them and solves them as one problem, on one core as the solver does a problem
//! `pencil pieces 100000 2 20`     what `modalith modes` does: both motions, each in the pieces that the layout's mirrors leave
//! `pencil motions 100000 2 20`    the same without mirrors
//! Every one ends with a line of JSON: seconds by stage, frequencies in Hz.

use modalith_mesher::mesh::{EdgeKind, Mesh};
use modalith_mesher::outline::Outline;
use modalith_mesher::triangulate::{MeshSize, triangulate};
use modalith_solver::element::basis::Order;
use modalith_solver::modal::{Wanted, modes};
use modalith_solver::spectrum::{self, Options, Problem, Progress, solve};
use modalith_solver::system::{Layer, Structure, Supports, System};
use modalith_validation::bars::outlined;
use modalith_validation::bench::Failure;
use nalgebra_sparse::CscMatrix;
use serde_json::{Value, json};
use std::collections::BTreeMap;
use std::f64::consts::TAU;
use std::fs;
use std::io::{Write, stdout};
use std::path::Path;
use std::sync::Mutex;
use std::time::Instant;

/// That of the program itself.
#[global_allocator]
static ALLOCATOR: mimalloc::MiMalloc = mimalloc::MiMalloc;

/// Sizes of triangles tried, µm.
const SIZES: [f64; 2] = [3.0, 300.0];
/// Steps of halving the range of sizes.
const HALVINGS: usize = 10;

struct Posed {
    mesh: Mesh,
    layer: Layer,
    largest_um: f64,
    meshing_s: f64,
}

/// What moves: functions of corners, edges and triangles that are not held, times the fields.
fn unknowns(mesh: &Mesh, layer: &Layer) -> usize {
    let p = layer.order.degree();
    let mut free = vec![true; mesh.points.len()];
    let held = mesh.edges.iter().filter(|e| e.kind == EdgeKind::Held);
    let held_edges = held.map(|e| e.ends.map(|c| free[c as usize] = false)).count();
    let points = free.iter().filter(|f| **f).count();
    let functions = points + (mesh.edges.len() - held_edges) * (p - 1) + mesh.triangles.len() * (p - 1) * (p - 2) / 2;
    functions * layer.fields.len()
}

fn meshed(outline: &Outline, largest_um: f64, corner_ratio: f64) -> Result<Mesh, Failure> {
    Ok(triangulate(outline, &MeshSize { largest_um: Some(largest_um), corner_ratio, ..MeshSize::default() })?)
}

/// The flagship as a shell with about `target` unknowns, or as few as there can be; graded towards corners, as it is by default,
/// unless that alone takes more.
fn posed(target: usize, order: &str) -> Result<Posed, Failure> {
    let (device, outline) = outlined("platform")?;
    let mut layer = Layer::shell(&device.law, device.thickness_um);
    layer.order = Order::new(order.parse()?).ok_or("no such order")?;
    let [mut low, mut high] = SIZES;
    let default = MeshSize::default().corner_ratio;
    let fits = |mesh: &Mesh| unknowns(mesh, &layer) <= target;
    let ratio = if fits(&meshed(&outline, high, default)?) { default } else { 1.0 };
    for _ in 0..HALVINGS {
        let middle = (low * high).sqrt();
        *(if fits(&meshed(&outline, middle, ratio)?) { &mut high } else { &mut low }) = middle;
    }
    let clock = Instant::now();
    let mesh = meshed(&outline, high, ratio)?;
    Ok(Posed { mesh, layer, largest_um: high, meshing_s: clock.elapsed().as_secs_f64() })
}

fn say(value: &Value) -> Result<(), Failure> {
    Ok(writeln!(stdout().lock(), "{value}")?)
}

fn write_all(path: &Path, bytes: impl Iterator<Item = [u8; 8]>) -> Result<(), Failure> {
    let mut out = std::io::BufWriter::new(fs::File::create(path)?);
    for word in bytes {
        out.write_all(&word)?;
    }
    Ok(out.flush()?)
}

fn write_matrix(folder: &Path, name: &str, blocks: &[&CscMatrix<f64>]) -> Result<(), Failure> {
    let (mut offsets, mut rows, mut start) = (vec![0u64], Vec::new(), 0u64);
    for block in blocks {
        let before = *offsets.last().unwrap_or(&0);
        offsets.extend(block.col_offsets()[1..].iter().map(|o| before + *o as u64));
        rows.extend(block.row_indices().iter().map(|r| start + *r as u64));
        start += block.nrows() as u64;
    }
    write_all(&folder.join(format!("{name}.offsets")), offsets.iter().map(|o| o.to_le_bytes()))?;
    write_all(&folder.join(format!("{name}.rows")), rows.iter().map(|r| r.to_le_bytes()))?;
    let values = blocks.iter().flat_map(|b| b.values().iter().map(|v| v.to_le_bytes()));
    write_all(&folder.join(format!("{name}.values")), values)
}

fn words(path: &Path) -> Result<Vec<[u8; 8]>, Failure> {
    let bytes = fs::read(path).map_err(|e| format!("{}: {e}", path.display()))?;
    Ok(bytes.chunks_exact(8).map(|c| c.try_into().unwrap_or_default()).collect())
}

fn read_matrix(folder: &Path, name: &str) -> Result<CscMatrix<f64>, Failure> {
    let numbers = |what: &str| -> Result<Vec<usize>, Failure> {
        let written = words(&folder.join(format!("{name}.{what}")))?;
        Ok(written.into_iter().map(|w| u64::from_le_bytes(w) as usize).collect())
    };
    let (offsets, rows) = (numbers("offsets")?, numbers("rows")?);
    let values = words(&folder.join(format!("{name}.values")))?.into_iter().map(f64::from_le_bytes).collect();
    let n = offsets.len() - 1;
    CscMatrix::try_from_csc_data(n, n, offsets, rows, values).map_err(|e| e.to_string().into())
}

fn export(target: usize, order: &str, folder: &Path) -> Result<(), Failure> {
    fs::create_dir_all(folder)?;
    let posed = posed(target, order)?;
    let supports = Supports::anchors(&posed.mesh);
    let clock = Instant::now();
    let parts = posed.layer.uncoupled(&supports);
    let systems = parts
        .iter()
        .map(|part| System::assemble(&Structure::new(posed.mesh.clone(), part.clone(), supports.clone())))
        .collect::<Result<Vec<_>, _>>()?;
    let assembly_s = clock.elapsed().as_secs_f64();
    write_matrix(folder, "K", &systems.iter().map(|s| &s.k).collect::<Vec<_>>())?;
    write_matrix(folder, "M", &systems.iter().map(|s| &s.m).collect::<Vec<_>>())?;
    // Nodes in number order: the order works on them.
    let (mut groups, mut first) = (Vec::new(), 0u64);
    for system in &systems {
        groups.extend(system.unknowns.groups().iter().map(|g| first + u64::from(*g)));
        first = groups.iter().max().map_or(0, |g| g + 1);
    }
    write_all(&folder.join("nodes"), groups.iter().map(|g| g.to_le_bytes()))?;
    say(&json!({
        "unknowns": groups.len(), "entries": systems.iter().map(|s| s.k.nnz()).sum::<usize>(),
        "order": posed.layer.order.degree(), "triangles": posed.mesh.triangles.len(), "largest_um": posed.largest_um,
        "meshing_s": posed.meshing_s, "assembly_s": assembly_s,
    }))
}

fn whole(folder: &Path, count: usize) -> Result<(), Failure> {
    let (k, m) = (read_matrix(folder, "K")?, read_matrix(folder, "M")?);
    let groups: Vec<u32> = words(&folder.join("nodes"))?.into_iter().map(|w| u64::from_le_bytes(w) as u32).collect();
    let clock = Instant::now();
    let problem = Problem::new(&k, &m, Some(&groups))?;
    let scaling_s = clock.elapsed().as_secs_f64();
    let found = solve(problem, spectrum::Wanted::Lowest { count }, &Options::default(), &|_| {})?;
    say(&json!({
        "seconds": clock.elapsed().as_secs_f64(), "scaling_s": scaling_s, "ordering_s": found.timings.ordering,
        "factorization_s": found.timings.factorization, "eigen_s": found.timings.eigen,
        "factors": found.timings.factors, "solves": found.timings.solves, "factor_entries": found.factor_entries,
        "backward_error": found.backward_error.iter().fold(0.0_f64, |a, b| a.max(*b)),
        "floor": found.lambda_floor.iter().zip(&found.lambda).map(|(f, l)| f / l).fold(0.0_f64, f64::max),
        "hz": found.lambda.iter().map(|l| l.sqrt() / TAU).collect::<Vec<_>>(),
    }))
}

fn apart(target: usize, order: &str, count: usize, mirrors: bool) -> Result<(), Failure> {
    let mut posed = posed(target, order)?;
    if !mirrors {
        posed.mesh.mirrors.clear();
    }
    let clock = Instant::now();
    let supports = Supports::anchors(&posed.mesh);
    let solves = Mutex::new(BTreeMap::new());
    let watch = |progress| {
        if let (Progress::Iterating { part, solves: n, .. }, Ok(mut solves)) = (progress, solves.lock()) {
            solves.insert(part, n);
        }
    };
    let found = modes(
        &Structure::new(posed.mesh.clone(), posed.layer.clone(), supports.clone()),
        Wanted::Lowest(count),
        &watch,
    )?;
    let solves: Vec<usize> = solves.into_inner().map_or_else(|_| Vec::new(), |all| all.into_values().collect());
    let all_s = clock.elapsed().as_secs_f64();
    let s = found.seconds;
    say(&json!({
        "seconds": all_s - s.assembly - s.description, "meshing_s": posed.meshing_s, "assembly_s": s.assembly,
        "ordering_s": s.ordering, "factorization_s": s.factorization, "eigen_s": s.eigen, "solves": solves,
        "backward_error": found.modes.iter().map(|m| m.backward_error).fold(0.0_f64, f64::max),
        "count_verified": found.search.is_counted(), "threads": rayon::current_num_threads(),
        "hz": found.modes.iter().map(|m| m.frequency_hz).collect::<Vec<_>>(),
    }))
}

fn main() -> Result<(), Failure> {
    let words: Vec<String> = std::env::args().skip(1).collect();
    match words.iter().map(String::as_str).collect::<Vec<_>>()[..] {
        ["export", unknowns, order, folder] => export(unknowns.parse()?, order, Path::new(folder)),
        ["whole", folder, count] => whole(Path::new(folder), count.parse()?),
        ["pieces", unknowns, order, count] => apart(unknowns.parse()?, order, count.parse()?, true),
        ["motions", unknowns, order, count] => apart(unknowns.parse()?, order, count.parse()?, false),
        _ => Err("export UNKNOWNS ORDER FOLDER | whole FOLDER COUNT | (pieces | motions) UNKNOWNS ORDER COUNT".into()),
    }
}
