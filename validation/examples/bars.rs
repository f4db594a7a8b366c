//! Prints error bars beside true errors, mode by mode.
//!
//! `cargo run --release -p modalith-validation --example bars -- demo generated solid`; also `count:10` modes, `generated:7` or `solid:3` alone,
//! `gimbal:20` with a reference on another mesh, of triangles up to 20 µm.

use modalith_validation::bars::{Case, demo, fingers, generated, generated_solid, measure, thin_plate};
use modalith_validation::bench::Failure;
use std::io::{Write, stdout};

const DEMOS: [&str; 6] = ["diaphragm", "gimbal", "ring", "comb-resonator", "platform-thin", "platform"];

fn main() -> Result<(), Failure> {
    let asked: Vec<String> = std::env::args().skip(1).collect();
    let mut out = stdout().lock();
    let mut cases: Vec<Case> = Vec::new();
    let mut count = 20;
    for word in &asked {
        let (name, number) = word.split_once(':').unwrap_or((word, ""));
        match name {
            "count" => count = number.parse()?,
            "generated" if number.is_empty() => (1..=20).try_for_each(|s| generated(s).map(|c| cases.push(c)))?,
            "generated" => cases.push(generated(number.parse()?)?),
            "fingers" => cases.extend([fingers(2.0, false)?, fingers(20.0, false)?, fingers(20.0, true)?]),
            "plate" => cases.push(thin_plate()?),
            "solid" if !number.is_empty() => cases.push(generated_solid(number.parse()?)?),
            "solid" => (1..=6).try_for_each(|s| generated_solid(s).map(|c| cases.push(c)))?,
            "demo" => DEMOS.iter().try_for_each(|n| demo(n, None).map(|c| cases.push(c)))?,
            _ => cases.push(demo(name, number.parse().ok())?),
        }
    }
    for case in cases {
        let found = measure(&case, count)?;
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
            writeln!(
                out,
                "{:3} {:14.4} Hz  error {:.2e}  bar {:.2e}  of it at corners {:.2}  bar/error {:6.2}  reference's own {:.2e}{}",
                i + 1,
                row.frequency_hz,
                row.error_hz / row.frequency_hz,
                row.bar.hz / row.frequency_hz,
                row.bar.at_corners,
                row.ratio(),
                row.left_hz / row.frequency_hz,
                if row.counts() { "" } else { "  (left out)" }
            )?;
        }
        out.flush()?;
    }
    Ok(())
}
