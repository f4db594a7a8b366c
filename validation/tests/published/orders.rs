//! Rates of convergence on smooth problems, and no locking on a clamped plate.

use modalith_mesher::mesh::Mesh;
use modalith_solver::element::through::Field;
use modalith_solver::material::Law;
use modalith_solver::system::Supports;
use modalith_validation::beam::{Beam, End};
use modalith_validation::bench::{BENDING, Failure, MINDLIN, REISSNER, compare, held, plate, plate_scale};
use modalith_validation::fit::slope;
use modalith_validation::shape::{graded, grid};
use std::f64::consts::PI;

const SIDE: f64 = 1e7;
const CELLS: [u32; 13] = [1, 2, 3, 4, 5, 6, 8, 10, 12, 16, 20, 24, 32];

/// Errors of ω² from LEAST to MOST count; no finer mesh is solved than the first below.
const LEAST: f64 = 1e-7;
const MOST: f64 = 1e-3;

/// The lowest ω of a hard simply supported square plate: the smaller root of Mindlin's dispersion relation for
/// k² = 2π²/a² (Mindlin, J. Appl. Mech. 18 (1951) 31).
fn mindlin_omega(law: &Law, a: f64, h: f64, kappa: f64) -> f64 {
    let d = law.layer_stiffness_pa()[(0, 0)] * h.powi(3) / 12.0;
    let s = kappa * law.layer_stiffness_pa()[(3, 3)] * h;
    let (mass, rotary) = (law.density_kg_m3 * h, law.density_kg_m3 * h.powi(3) / 12.0);
    let k2 = 2.0 * PI * PI / (a * a);
    // (D k² + S − J ω²)(S k² − m ω²) = S² k²
    let (p, q, r) = (mass * rotary, mass * (d * k2 + s) + rotary * s * k2, d * k2 * s * k2);
    (2.0 * r / (q + (q * q - 4.0 * p * r).sqrt())).sqrt()
}

/// The fitted rate and the errors behind it, for people; an error where the rate is below 2p − 0.3.
fn rate(what: &str, p: u8, length: f64, points: &[(f64, f64)]) -> Result<String, Failure> {
    let fitted = slope(points, LEAST, MOST).ok_or("fewer than three points inside the range")?;
    let bound = 2.0 * f64::from(p) - 0.3;
    let errors: Vec<String> = points.iter().map(|(h, e)| format!("  {:.4} {e:.3e}", h / length)).collect();
    let table = format!(
        "{what}, order {p}: size/length, error of ω²\n{}\n  fitted {fitted:.3}, bound {bound:.1}",
        errors.join("\n")
    );
    if fitted < bound { Err(format!("too slow: {table}").into()) } else { Ok(table) }
}

#[test]
fn hard_simply_supported_plate_converges_at_twice_the_order() -> Result<(), Failure> {
    let law = Law::isotropic(8000.0, 200e9, 0.3)?;
    let exact = mindlin_omega(&law, 10.0, 1.0, MINDLIN).powi(2);
    // FV21 with κ = π²/12: 45.895 Hz.
    assert!((exact.sqrt() / (2.0 * PI) / 45.895 - 1.0).abs() < 1e-5);
    for p in [2, 3, 4] {
        let mut points = Vec::new();
        for n in CELLS {
            let mesh = Mesh::rectangle(SIDE, SIDE, n, n)?;
            let mut supports = Supports::none();
            supports.hold_edges(&mesh, |m| m[0] == 0.0 || m[0] == SIDE, &[Field::DEFLECTION, Field::TILT_Y]);
            supports.hold_edges(&mesh, |m| m[1] == 0.0 || m[1] == SIDE, &[Field::DEFLECTION, Field::TILT_X]);
            let omega = held(&mesh, &plate(&law, 1e6, p, MINDLIN), &supports, 1)?[0];
            points.push((SIDE / f64::from(n), omega * omega / exact - 1.0));
            if omega * omega / exact - 1.0 < LEAST {
                break;
            }
        }
        println!("{}", rate("hard simply supported plate, a/h = 10", p, SIDE, &points)?);
    }
    Ok(())
}

#[test]
fn clamped_strip_converges_at_twice_the_order() -> Result<(), Failure> {
    let law = Law::isotropic(2330.0, 160e9, 0.0)?;
    // Not more slender than the plate above: while elements are longer than a few thicknesses, an order-4 strip is still
    // shedding shear stiffness and falls at 7.6 at L/h = 20, reaching 7.9 only below 1e-7.
    let (length, depth) = (1000.0, 100.0);
    let beam = Beam { slenderness: 10.0, poissons_ratio: 0.0, shear_correction: REISSNER, ends: [End::Clamped; 2] };
    let exact = beam.frequencies(1)[0] / (1e-12 * length * length * plate_scale(&law, depth * 1e-6));
    for p in [2, 3, 4] {
        let mut points = Vec::new();
        for n in CELLS {
            let mesh = Mesh::rectangle(length, depth, n, 1)?;
            let mut supports = Supports::none();
            supports.hold_edges(&mesh, |m| m[0] == 0.0 || m[0] == length, &BENDING);
            let omega = held(&mesh, &plate(&law, depth, p, REISSNER), &supports, 1)?[0];
            points.push((length / f64::from(n), (omega / exact).powi(2) - 1.0));
            if (omega / exact).powi(2) - 1.0 < LEAST {
                break;
            }
        }
        println!("{}", rate("clamped strip, ν = 0, L/h = 10", p, length, &points)?);
    }
    Ok(())
}

#[test]
fn clamped_plate_does_not_lock() -> Result<(), Failure> {
    let law = Law::isotropic(8000.0, 200e9, 0.3)?;
    let line = graded(SIDE, 8, 0, 0.2);
    let mesh = grid(&line, &line)?;
    let fine = graded(SIDE, 8, 2, 0.3);
    let fine = grid(&fine, &fine)?;
    let first = |mesh: &Mesh, p: u8, thinness: f64| -> Result<f64, Failure> {
        let mut supports = Supports::none();
        supports.hold_edges(mesh, |_| true, &BENDING);
        let omega = held(mesh, &plate(&law, SIDE / thinness, p, REISSNER), &supports, 1)?[0];
        Ok(omega * SIDE * SIDE * 1e-12 * plate_scale(&law, SIDE * 1e-6 / thinness))
    };
    // The Mindlin value: at 10 and 100 by order 8 on a graded mesh, from 1000 on the thin plate's (Legendre-Ritz; Leissa,
    // J. Sound Vib. 31 (1973) 257 gives 35.992, value from memory).
    let reference = [first(&fine, 8, 10.0)?, first(&fine, 8, 100.0)?, 35.9852, 35.9852];
    let mut ours = Vec::new();
    for thinness in [10.0, 100.0, 1000.0, 10_000.0] {
        ours.push(first(&mesh, 4, thinness)?);
    }
    let nan = f64::NAN;
    let name = "clamped square plate, side/thickness = 10, 100, 1000, 10 000";
    let table = compare(name, "Mindlin plate", &ours, &reference, &[nan, nan, 35.992, 35.992]);
    println!("{}", table.within(2e-3)?.table);
    Ok(())
}
