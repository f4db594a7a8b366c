//! Strips with ν = 0 are beams: out of their plane they are Timoshenko beams exactly, in their plane they come close as
//! they get slender. Reference: exact Timoshenko roots (κ = 5/6), found independently of any finite element.

use modalith_mesher::mesh::Mesh;
use modalith_solver::element::through::Field;
use modalith_solver::material::Law;
use modalith_solver::system::{AddedMass, Supports};
use modalith_validation::beam::{Beam, CASES, End, TABLE};
use modalith_validation::bench::{BENDING, Failure, REISSNER, STRETCH, compare, held, membrane, omegas, plate};

const E: f64 = 160e9;
const RHO: f64 = 2330.0;
/// 1 mm in µm.
const LENGTH: f64 = 1000.0;

/// √(ρAL⁴/EI) of a rectangle `depth_um` deep in the direction of bending, s.
fn scale(depth_um: f64) -> f64 {
    let (l, h) = (LENGTH * 1e-6, depth_um * 1e-6);
    l * l * (12.0 * RHO / (E * h * h)).sqrt()
}

fn supports(mesh: &Mesh, ends: [End; 2], clamped: &[Field], pinned: &[Field]) -> Supports {
    let mut supports = Supports::none();
    for (x, end) in [0.0, LENGTH].into_iter().zip(ends) {
        match end {
            End::Clamped => supports.hold_edges(mesh, |m| m[0] == x, clamped),
            End::Pinned => supports.hold_edges(mesh, |m| m[0] == x, pinned),
            End::Free => {}
        }
    }
    supports
}

/// ν = 0.3, κ = 5/6, modes 1 to 3 at L/h = 5, 10, 20, 50: the exact roots against a table computed by a spectral method.
#[test]
fn timoshenko_roots_agree_with_a_spectral_table() -> Result<(), Failure> {
    for ((name, ends), rows) in CASES.iter().zip(&TABLE) {
        for (slenderness, row) in [5.0, 10.0, 20.0, 50.0].into_iter().zip(rows) {
            let beam = Beam { slenderness, poissons_ratio: 0.3, shear_correction: REISSNER, ends: *ends };
            let name = format!("{name}, L/h = {slenderness}");
            // The table has six digits.
            let source = "Timoshenko 1921; spectral table";
            println!("{}", compare(&name, source, &beam.frequencies(3), row, &[]).within(5e-6)?.table);
        }
    }
    Ok(())
}

/// β² of the slender limit (Blevins, Formulas for Natural Frequency and Mode Shape, 1979, Table 8-1).
#[test]
fn timoshenko_roots_tend_to_published_slender_ones() -> Result<(), Failure> {
    let published = [3.516015, 22.373285, 9.869604, 15.418206];
    for ((name, ends), beta2) in CASES.iter().zip(published) {
        let beam = Beam { slenderness: 1e4, poissons_ratio: 0.0, shear_correction: REISSNER, ends: *ends };
        println!("{}", compare(name, "Blevins 1979", &beam.frequencies(1), &[beta2], &[beta2]).within(1e-6)?.table);
    }
    Ok(())
}

#[test]
fn strips_bend_out_of_their_plane_like_beams() -> Result<(), Failure> {
    let law = Law::isotropic(RHO, E, 0.0)?;
    for (name, ends) in CASES {
        let (mut ours, mut exact) = (Vec::new(), Vec::new());
        for slenderness in [5.0, 10.0, 20.0, 50.0, 100.0, 1000.0] {
            let depth = LENGTH / slenderness;
            // Not narrower than it is thick: a tall blade twists before it bends.
            let mesh = Mesh::rectangle(LENGTH, depth.max(20.0), 12, 1)?;
            let held_at = supports(&mesh, ends, &BENDING, &[Field::DEFLECTION]);
            ours.push(held(&mesh, &plate(&law, depth, 4, REISSNER), &held_at, 1)?[0] * scale(depth));
            let beam = Beam { slenderness, poissons_ratio: 0.0, shear_correction: REISSNER, ends };
            exact.extend(beam.frequencies(1));
        }
        let name = format!("{name}, out of plane, L/h = 5, 10, 20, 50, 100, 1000");
        println!("{}", compare(&name, "exact Timoshenko, κ = 5/6, ν = 0", &ours, &exact, &[]).within(1e-3)?.table);
    }
    Ok(())
}

#[test]
fn strips_bend_in_their_plane_like_slender_beams() -> Result<(), Failure> {
    let law = Law::isotropic(RHO, E, 0.0)?;
    for (name, ends) in [CASES[0], CASES[1]] {
        let (mut ours, mut exact) = (Vec::new(), Vec::new());
        for slenderness in [50.0, 100.0, 200.0] {
            let depth = LENGTH / slenderness;
            let mesh = Mesh::rectangle(LENGTH, depth, 24, 1)?;
            let held_at = supports(&mesh, ends, &STRETCH, &STRETCH);
            ours.push(held(&mesh, &membrane(&law, 15.0, 4), &held_at, 1)?[0] * scale(depth));
            let beam = Beam { slenderness, poissons_ratio: 0.0, shear_correction: REISSNER, ends };
            exact.extend(beam.frequencies(1));
        }
        let name = format!("{name}, in plane, L/w = 50, 100, 200");
        println!("{}", compare(&name, "exact Timoshenko, κ = 5/6, ν = 0", &ours, &exact, &[]).within(1e-3)?.table);
    }
    Ok(())
}

#[test]
fn point_mass_on_the_tip_of_a_cantilever() -> Result<(), Failure> {
    // Roots of 1 + cos β cosh β + μβ (cos β sinh β − sin β cosh β) = 0, μ = M/ρAL (clamped end, shear balance at the mass);
    // the β² are recomputed from it below.
    let table = [
        (0.1, [2.967838, 19.3558]),
        (0.5, [2.016299, 16.9014]),
        (1.0, [1.557298, 16.2501]),
        (2.0, [1.158197, 15.8609]),
        (10.0, [0.541375, 15.5115]),
    ];
    let law = Law::isotropic(RHO, E, 0.0)?;
    let (width, depth) = (5.0, 1.0);
    let mesh = Mesh::rectangle(LENGTH, width, 16, 1)?;
    let held_at = supports(&mesh, [End::Clamped, End::Free], &BENDING, &[]);
    let tip: Vec<u32> = (0..mesh.points.len() as u32).filter(|&i| mesh.points[i as usize][0] == LENGTH).collect();
    for (mu, beta2) in table {
        let balance = |b: f64| 1.0 + b.cos() * b.cosh() + mu * b * (b.cos() * b.sinh() - b.sin() * b.cosh());
        for b in beta2.map(f64::sqrt) {
            let (low, high) = (balance(b * (1.0 - 3e-6)), balance(b * (1.0 + 3e-6)));
            assert!(low * high < 0.0, "β = {b} is no root for μ = {mu}");
        }
        let mut added = AddedMass::none();
        for &corner in &tip {
            added.point(corner, mu * RHO * LENGTH * width * depth * 1e-18 / tip.len() as f64);
        }
        let omega = omegas(&mesh, &plate(&law, depth, 4, REISSNER), &held_at, &added, 0, 2)?;
        let ours: Vec<f64> = omega.iter().map(|w| w * scale(depth)).collect();
        let name = format!("cantilever with tip mass, M/ρAL = {mu}, first two bending modes");
        let source = "slender-beam frequency equation, roots by bisection";
        println!("{}", compare(&name, source, &ours, &beta2, &[]).within(1e-3)?.table);
    }
    Ok(())
}
