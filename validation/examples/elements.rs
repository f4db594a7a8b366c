//! Prints the tables of validation/ELEMENTS.md: unknowns and seconds for 0.1 % on thin and thick square plates.
//!
//! `cargo run --release -p modalith-validation --example elements`

use modalith_mesher::mesh::Mesh;
use modalith_solver::material::Law;
use modalith_solver::spectrum::{Options, Problem, Wanted, solve};
use modalith_solver::system::{AddedMass, Supports, System};
use modalith_validation::bench::{BENDING, Failure, REISSNER, plate};
use modalith_validation::mitc3::Plate;
use modalith_validation::shape::{graded, grid};
use nalgebra_sparse::CscMatrix;
use std::io::{Write, stdout};
use std::time::Instant;

const SIDE: f64 = 1e7;
const MODES: usize = 4;
const CELLS: [u32; 15] = [2, 3, 4, 6, 8, 10, 12, 16, 20, 24, 32, 48, 64, 96, 128];
const GOAL: f64 = 1e-3;

#[derive(Clone, Copy)]
enum Element {
    Order(u8),
    Mixed,
}

#[derive(Clone, Copy)]
enum Rim {
    Clamped,
    Cantilever,
}

struct Run {
    cells: u32,
    unknowns: usize,
    omega: Vec<f64>,
    seconds: f64,
}

fn run(mesh: &Mesh, element: Element, rim: Rim, thinness: f64, cells: u32) -> Result<Run, Failure> {
    let at = |m: [f64; 2]| matches!(rim, Rim::Clamped) || m[0] == 0.0;
    let started = Instant::now();
    let (k, m, groups): (CscMatrix<f64>, CscMatrix<f64>, Vec<u32>) = match element {
        Element::Order(p) => {
            let law = Law::isotropic(8000.0, 200e9, 0.3)?;
            let mut supports = Supports::none();
            supports.hold_edges(mesh, at, &BENDING);
            let layer = plate(&law, SIDE / thinness, p, REISSNER);
            let system = System::assemble(mesh, &layer, &supports, &AddedMass::none())?;
            let groups = system.unknowns.groups().to_vec();
            (system.k, system.m, groups)
        }
        Element::Mixed => {
            let plate = Plate {
                youngs_modulus_pa: 200e9,
                poissons_ratio: 0.3,
                density_kg_m3: 8000.0,
                thickness_m: SIDE * 1e-6 / thinness,
                shear_correction: REISSNER,
            };
            let assembled = plate.assemble(mesh, at);
            (assembled.k, assembled.m, assembled.groups)
        }
    };
    let problem = Problem::new(&k, &m, Some(&groups))?;
    let found = solve(&problem, Wanted::Lowest { count: MODES }, &Options::default(), &mut |_| {})?;
    let seconds = started.elapsed().as_secs_f64();
    let omega = found.lambda.iter().take(MODES).map(|l| l.sqrt()).collect();
    Ok(Run { cells, unknowns: groups.len(), omega, seconds })
}

/// The largest relative error of the first frequencies, signed.
fn error(ours: &[f64], reference: &[f64]) -> f64 {
    ours.iter()
        .zip(reference)
        .map(|(a, b)| a / b - 1.0)
        .fold(0.0, |worst, e| if e.abs() > f64::abs(worst) { e } else { worst })
}

fn main() -> Result<(), Failure> {
    let mut out = stdout();
    for (name, rim) in [("Clamped square plate", Rim::Clamped), ("Cantilever square plate", Rim::Cantilever)] {
        for thinness in [10.0, 1000.0, 10_000.0] {
            let line = graded(SIDE, 6, 3, 0.2);
            let reference = run(&grid(&line, &line)?, Element::Order(8), rim, thinness, 0)?.omega;
            writeln!(out, "### {name}, side/thickness = {thinness}\n")?;
            writeln!(out, "| element | cells | unknowns | error % | seconds |\n| --- | --- | --- | --- | --- |")?;
            let mut summary = String::new();
            for (label, element) in [
                ("order 2", Element::Order(2)),
                ("order 3", Element::Order(3)),
                ("order 4", Element::Order(4)),
                ("order 5", Element::Order(5)),
                ("MITC3", Element::Mixed),
            ] {
                let mut reached: Option<Run> = None;
                for n in CELLS {
                    let this = run(&Mesh::rectangle(SIDE, SIDE, n, n)?, element, rim, thinness, n)?;
                    let e = error(&this.omega, &reference);
                    if this.omega.len() == MODES && (n % 4 == 0 || e.abs() < GOAL) {
                        let (u, s) = (this.unknowns, this.seconds);
                        writeln!(out, "| {label} | {n} × {n} × 2 | {u} | {:.4} | {s:.3} |", 100.0 * e)?;
                    }
                    // A mixed element may pass through zero: it must stay below the goal on the next mesh, too.
                    match (e.abs() < GOAL, &reached) {
                        (true, Some(_)) => break,
                        (true, None) => reached = Some(this),
                        (false, _) => reached = None,
                    }
                    if this_is_enough(element, n) {
                        break;
                    }
                }
                summary += &match reached {
                    Some(r) => format!("| {label} | {0} × {0} × 2 | {1} | {2:.3} |\n", r.cells, r.unknowns, r.seconds),
                    None => format!("| {label} | not reached | - | - |\n"),
                };
            }
            writeln!(out, "\n| for 0.1 % | cells | unknowns | seconds |\n| --- | --- | --- | --- |\n{summary}")?;
        }
    }
    Ok(())
}

/// Meshes are refined up to about 50 000 unknowns.
fn this_is_enough(element: Element, n: u32) -> bool {
    let degree = match element {
        Element::Order(p) => u32::from(p),
        Element::Mixed => 1,
    };
    n * degree >= 128
}
