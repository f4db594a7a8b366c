//! Rings vibrating in their plane: exact plane-stress frequencies, and pairs that stay pairs.

use modalith_solver::material::Law;
use modalith_solver::system::{AddedMass, Supports};
use modalith_validation::bench::{Failure, compare, membrane, omegas};
use modalith_validation::shape::ring;

#[test]
fn free_rings_in_their_plane() -> Result<(), Failure> {
    // ωR √(ρ/E), plane stress, ν = 0.3, n = 2, 3, 4; plane elasticity solved independently. Thin-ring theory (Love,
    // Mathematical Theory of Elasticity, §293: ω² = EI/(ρAR⁴) n²(n² − 1)²/(n² + 1)) is printed beside it.
    let (e, rho) = (160e9, 2330.0);
    let law = Law::isotropic(rho, e, 0.3)?;
    let radius = 500.0;
    for (ratio, exact) in [(0.1, [0.07710, 0.21635, 0.41031]), (0.2, [0.15210, 0.41780, 0.77102])] {
        let width = ratio * radius;
        let mesh = ring(radius - 0.5 * width, radius + 0.5 * width, 24, 1)?;
        let omega = omegas(&mesh, &membrane(&law, 15.0, 4), &Supports::none(), &AddedMass::none(), 3, 6)?;
        let ours: Vec<f64> = omega.iter().map(|w| w * radius * 1e-6 * (rho / e).sqrt()).collect();
        let doubled = |f: [f64; 3]| -> Vec<f64> { f.iter().flat_map(|&f| [f, f]).collect() };
        let love = [2.0_f64, 3.0, 4.0].map(|n| ratio / 12.0_f64.sqrt() * n * (n * n - 1.0) / (n * n + 1.0).sqrt());
        let name = format!("ring, w/R = {ratio}, n = 2, 3, 4");
        let table = compare(&name, "plane elasticity; Love §293", &ours, &doubled(exact), &doubled(love));
        println!("{}", table.within(1e-3)?.table);
        for pair in ours.chunks(2) {
            let split = (pair[1] / pair[0] - 1.0).abs();
            println!("split {split:.2e}");
            assert!(split < 1e-6, "n-pair at {} splits by {split:.2e}", pair[0]);
        }
    }
    Ok(())
}
