//! Times of the eigensolver by stage on a cantilever plate of order-4 triangles, in the plane and out of it.
//!
//! `cargo run --release -p modalith-solver --example spectrum_times -- 64` takes 64 × 64 × 2 triangles.

#![allow(clippy::print_stdout, reason = "an example speaks")]

use modalith_mesher::mesh::Mesh;
use modalith_solver::material::Law;
use modalith_solver::spectrum::{Options, Problem, Wanted, solve};
use modalith_solver::system::{Layer, Structure, Supports, System};
use std::time::Instant;

fn main() -> Result<(), Box<dyn std::error::Error>> {
    let numbers: Vec<u32> = std::env::args().skip(1).map(|a| a.parse()).collect::<Result<_, _>>()?;
    let side = numbers.first().copied().unwrap_or(48);
    let count = numbers.get(1).map_or(20, |&c| c as usize);
    let block = numbers.get(2).map_or(Options::default().block, |&b| b as usize);
    let mut mesh = Mesh::rectangle(1000.0, 1000.0, side, side)?;
    mesh.hold(|middle| middle[0] == 0.0);
    let supports = Supports::anchors(&mesh);
    let layer = Layer::shell(&Law::isotropic(2330.0, 160e9, 0.22)?, 10.0);
    for part in layer.uncoupled(&supports) {
        let system = System::assemble(&Structure::new(mesh.clone(), part.clone(), supports.clone()))?;
        let clock = Instant::now();
        let problem = Problem::new(&system.k, &system.m, Some(system.unknowns.groups()))?;
        let scaling = clock.elapsed().as_secs_f64();
        let options = Options { block, ..Options::default() };
        let (unknowns, entries) = (problem.unknowns(), problem.entries());
        let clock = Instant::now();
        let spectrum = solve(problem, Wanted::Lowest { count }, &options, &|_| {})?;
        let total = clock.elapsed().as_secs_f64();
        let worst = spectrum.backward_error.iter().fold(0.0_f64, |a, b| a.max(*b));
        println!(
            "{} unknowns, {} entries, factor {:.1} M: check and scale {scaling:.2} s, solve {total:.2} s\n  {:?}\n  \
             backward error {worst:.1e}, floor/lambda {:.1e}, pivot ratios {:?}",
            unknowns,
            entries,
            spectrum.factor_entries as f64 * 1e-6,
            spectrum.timings,
            spectrum.lambda_floor[0] / spectrum.lambda[0],
            spectrum.shifts.iter().map(|s| s.pivot_ratio).collect::<Vec<_>>(),
        );
    }
    Ok(())
}
