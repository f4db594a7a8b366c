//! The comparator element is the published one as far as its own patch tests and limits can tell.

use modalith_mesher::mesh::Mesh;
use modalith_solver::spectrum::{Options, Problem, Wanted, solve};
use modalith_validation::bench::{Failure, REISSNER};
use modalith_validation::mitc3::Plate;
use modalith_validation::shape::moved;

fn plate(thickness_m: f64) -> Plate {
    Plate {
        youngs_modulus_pa: 200e9,
        poissons_ratio: 0.3,
        density_kg_m3: 8000.0,
        thickness_m,
        shear_correction: REISSNER,
    }
}

#[test]
fn constant_curvature_and_twist_cost_their_exact_energy() -> Result<(), Failure> {
    // A distorted patch of 2 m × 2 m. Twist: w = −xy, ψ = (y, x), zero shear; energy ½ D(1−ν)/2 · 2² · A.
    let mesh = moved(&Mesh::rectangle(2e6, 2e6, 2, 2)?, |p| if p == [1e6, 1e6] { [1.2e6, 0.9e6] } else { p })?;
    let plate = plate(0.01);
    let d = 200e9 * 0.01_f64.powi(3) / (12.0 * (1.0 - 0.09));
    let assembled = plate.assemble(&mesh, |_| false);
    for (what, field, exact) in [
        ("twist", (|x, y| [-x * y, y, x]) as fn(f64, f64) -> [f64; 3], 0.5 * d * 0.35 * 4.0 * 4.0),
        ("cylinder", |x, _| [-0.5 * x * x, x, 0.0], 0.5 * d * 4.0),
    ] {
        let u: Vec<f64> = mesh.points.iter().flat_map(|p| field(p[0] * 1e-6, p[1] * 1e-6)).collect();
        let energy: f64 = assembled.k.triplet_iter().map(|(i, j, k)| 0.5 * u[i] * k * u[j]).sum();
        assert!((energy / exact - 1.0).abs() < 1e-6, "{what}: {energy} instead of {exact}");
    }
    Ok(())
}

#[test]
fn a_free_plate_has_three_still_motions_and_no_more() -> Result<(), Failure> {
    let mesh = Mesh::rectangle(1e7, 1e7, 6, 6)?;
    let assembled = plate(0.1).assemble(&mesh, |_| false);
    let problem = Problem::new(&assembled.k, &assembled.m, Some(&assembled.groups))?;
    let found = solve(problem, Wanted::Lowest { count: 5 }, &Options::default(), &|_| {})?;
    assert!(found.lambda[2].abs() < 1e-6 * found.lambda[3], "{:?}", found.lambda);
    assert!(found.lambda[3] > 0.1 * found.lambda[4], "{:?}", found.lambda);
    Ok(())
}
