//! Error bars against reference solutions of the same model: order 7 on nested meshes cut twice towards every singular
//! corner. `cargo run --release -p modalith-validation --example bars -- demo generated` prints the whole table.

use modalith_validation::bars::{Case, Row, demo, generated, measure, thin_plate};
use modalith_validation::bench::Failure;

/// The bounds: the truth inside the bar for 95 % of modes, none beyond three bars, the median bar under five times the true
/// error; rigid motions and errors under 1e-6 left out. The reference's own bar is at most a tenth of the bar.
fn judge(cases: Vec<Case>, count: usize) -> Result<(), Failure> {
    let mut rows: Vec<Row> = Vec::new();
    for case in &cases {
        let found = measure(case, count)?;
        rows.extend(found.rows.iter().filter(|r| r.counts()));
    }
    let mut ratios: Vec<f64> = rows.iter().map(Row::ratio).collect();
    ratios.sort_by(f64::total_cmp);
    let inside = ratios.iter().filter(|r| **r >= 1.0).count() as f64 / ratios.len() as f64;
    let median = ratios[ratios.len() / 2];
    let own = rows.iter().map(|r| r.left_hz / r.bar.hz).fold(0.0, f64::max);
    let found = format!("inside {inside:.3}, bar over error {:.2} at the least, {median:.2} in the middle", ratios[0]);
    assert!(inside >= 0.95 && ratios[0] > 1.0 / 3.0 && median < 5.0, "{found}");
    assert!(own <= 0.1, "{own}");
    Ok(())
}

#[test]
fn truth_lies_inside_the_bars_of_a_demo_device() -> Result<(), Failure> {
    judge(vec![demo("diaphragm", None)?], 12)
}

#[test]
fn truth_lies_inside_the_bars_of_generated_layouts() -> Result<(), Failure> {
    judge([3].into_iter().map(generated).collect::<Result<_, _>>()?, 8)
}

/// The layer is resolved by a mesh of its own, three times finer.
#[test]
fn truth_lies_inside_the_bars_of_a_thin_plate_with_edge_layers() -> Result<(), Failure> {
    judge(vec![thin_plate()?], 12)
}
