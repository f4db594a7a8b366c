//! Comb fingers in a few long triangles: what is left of frequencies against nested meshes that are fine in the fingers, against
//! reference solutions where fingers ring by themselves, and beside the clamped beam.

use modalith_mesher::mesh::Mesh;
use modalith_mesher::refine::graded;
use modalith_solver::modal::{Modal, Wanted, modes};
use modalith_solver::mode::mesh_errors;
use modalith_solver::system::{Layer, Structure};
use modalith_validation::bars::{Row, demo, fingers, measure};
use modalith_validation::beam::{Beam, End};
use modalith_validation::bench::Failure;
use std::f64::consts::TAU;

fn lowest(mesh: &Mesh, layer: &Layer, count: usize) -> Result<Modal, Failure> {
    Ok(modes(&Structure::anchored(mesh.clone(), layer.clone()), Wanted::Lowest(count), &|_| {})?)
}

/// Twelve modes of a device beside those on its mesh cut finer at all corners of fingers: within 1e-4 and inside the bars.
fn left_by_fingers(name: &str, cuts: usize) -> Result<(), Failure> {
    let case = demo(name, None)?;
    let mut corners = vec![false; case.mesh.points.len()];
    let long = (0..case.mesh.triangles.len()).filter(|&t| case.mesh.in_finger(t));
    long.flat_map(|t| case.mesh.triangles[t]).for_each(|c| corners[c as usize] = true);
    assert!(corners.contains(&true));
    let (finer, _) = graded(&case.mesh, &corners, cuts)?;
    let (own, fine) = (lowest(&case.mesh, &case.layer, 12)?, lowest(&finer, &case.layer, 12)?);
    let bars = mesh_errors(&own)?;
    for ((a, b), bar) in own.modes.iter().zip(&fine.modes).zip(bars) {
        let (hz, left) = (a.frequency_hz, a.frequency_hz - b.frequency_hz);
        assert!(left.abs() < 1e-4 * hz && left < bar.hz, "{name}: {hz} Hz, {left} Hz left, bar {}", bar.hz);
    }
    Ok(())
}

#[test]
fn fingers_of_a_comb_resonator_leave_less_than_a_ten_thousandth() -> Result<(), Failure> {
    left_by_fingers("comb-resonator", 2)
}

#[test]
fn fingers_of_a_perforated_plate_leave_less_than_a_ten_thousandth() -> Result<(), Failure> {
    left_by_fingers("../tests/data/combed", 1)
}

/// Fingers that ring by themselves are stiffest at their roots, where triangles are coarse: the bars say so, in shells thick and
/// thin and in solids.
#[test]
fn truth_lies_inside_the_bars_of_fingers_that_ring() -> Result<(), Failure> {
    for (thickness_um, solid) in [(2.0, false), (20.0, false), (20.0, true)] {
        let found = measure(&fingers(thickness_um, solid)?, 10)?;
        let ratios: Vec<f64> = found.rows.iter().filter(|r| r.counts()).map(Row::ratio).collect();
        assert!(
            ratios.len() == 10 && ratios.iter().all(|r| *r > 1.0 && *r < 3.0),
            "{thickness_um}, {solid}: {ratios:?}"
        );
        assert!(found.rows.iter().all(|r| r.error_hz < 0.01 * r.frequency_hz && r.left_hz < 0.1 * r.bar.hz));
    }
    Ok(())
}

/// Bending in the plane, 3 × 100 µm: up to 4 % below the clamped Timoshenko beam, which has no give at its root.
#[test]
fn a_finger_rings_a_little_below_the_clamped_beam() -> Result<(), Failure> {
    let case = fingers(20.0, false)?;
    let (e, density, poisson) = (160e9_f64, 2330.0, 0.22);
    let slenderness = 100.0 / 3.0_f64;
    let ends = [End::Clamped, End::Free];
    let beam = Beam { slenderness, poissons_ratio: poisson, shear_correction: 5.0 / 6.0, ends };
    let first = beam.frequencies(1)[0];
    let radius = 1.0 / (12.0_f64.sqrt() * slenderness);
    let clamped_hz = first * radius * (e / density).sqrt() / (100e-6 * TAU);
    for mode in &lowest(&case.mesh, &case.layer, 5)?.modes {
        let share = mode.frequency_hz / clamped_hz;
        assert!(share > 0.96 && share < 1.0, "{} Hz for {clamped_hz} Hz", mode.frequency_hz);
    }
    Ok(())
}
