//! Prints error bars beside true errors, mode by mode.
//!
//! `cargo run --release -p modalith-validation --example bars -- demo generated solid`

use modalith_validation::bars::{Case, demo, generated, generated_solid, measure};
use modalith_validation::bench::Failure;
use std::io::{Write, stdout};

const DEMOS: [&str; 6] = ["diaphragm", "gimbal", "ring", "comb-resonator", "platform-thin", "platform"];

fn main() -> Result<(), Failure> {
    let asked: Vec<String> = std::env::args().skip(1).collect();
    let mut out = stdout().lock();
    let mut cases: Vec<Case> = Vec::new();
    for word in &asked {
        match word.as_str() {
            "generated" => (1..=20).try_for_each(|s| generated(s).map(|c| cases.push(c)))?,
            "solid" => (1..=6).try_for_each(|s| generated_solid(s).map(|c| cases.push(c)))?,
            "demo" => DEMOS.iter().try_for_each(|n| demo(n).map(|c| cases.push(c)))?,
            name => cases.push(demo(name)?),
        }
    }
    for case in cases {
        let found = measure(&case, 20)?;
        writeln!(
            out,
            "# {} {}: {} triangles, {:?} unknowns, {:.3?} s",
            case.family,
            case.name,
            case.mesh.triangles.len(),
            found.unknowns,
            found.seconds
        )?;
        for (i, row) in found.rows.iter().enumerate() {
            let p = row.surplus.parts;
            let q = row.left.parts;
            writeln!(
                out,
                "{},{},{i},{},{},{:e},{:e},{:e},{:e},{:e},{:e},{:e},{:e},{:e},{:e},{:e},{:e}",
                case.family.replace(' ', "-"), case.name, row.frequency_hz, row.truth_hz,
                p[0][0], p[0][1], p[1][0], p[1][1], p[2][0], p[2][1],
                q[0][0], q[0][1], q[1][0], q[1][1], q[2][0], q[2][1]
            )?;
        }
        out.flush()?;
    }
    Ok(())
}
