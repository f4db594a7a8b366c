//! Film stress: frequencies from compression to the string and the membrane, buckling, what a strip keeps, curl, and what a free body must
//! not feel. Every value from a source, or recomputed from the equation that stands beside it.

use modalith_mesher::mesh::Mesh;
use modalith_solver::element::basis::Order;
use modalith_solver::material::Law;
use modalith_solver::modal::{Wanted, modes};
use modalith_solver::state::{BucklingFactors, FilmError, FilmRest, film_at_rest};
use modalith_solver::system::{FilmStress, Layer, Structure, Supports};
use modalith_validation::bench::{Failure, REISSNER};
use modalith_validation::shape::{disc, graded, grid};
use std::f64::consts::{PI, TAU};

/// The bound on frequencies and buckling.
const BOUND: f64 = 3e-3;

fn both(pa: f64) -> FilmStress {
    FilmStress { tensor_pa: [pa, pa, 0.0], gradient_pa_per_m: 0.0 }
}

fn along_x(pa: f64) -> FilmStress {
    FilmStress { tensor_pa: [pa, 0.0, 0.0], gradient_pa_per_m: 0.0 }
}

/// The lowest frequencies, Hz.
fn hz(structure: &Structure, count: usize) -> Result<Vec<f64>, Failure> {
    Ok(modes(structure, Wanted::Lowest(count), &|_| {})?.modes.iter().map(|m| m.frequency_hz).collect())
}

/// The lowest frequencies of motions out of the plane, Hz.
fn bending_hz(structure: &Structure, count: usize) -> Result<Vec<f64>, Failure> {
    let all = modes(structure, Wanted::Lowest(3 * count), &|_| {})?.modes;
    let bending = all.iter().filter(|m| m.kinetic_share[2] > 0.9 && m.kinetic_share[1] < 1e-3);
    let hz: Vec<f64> = bending.map(|m| m.frequency_hz).take(count).collect();
    if hz.len() < count { Err(format!("{} of {count} found", hz.len()).into()) } else { Ok(hz) }
}

/// A shell of order 5 on a mesh held at an edge.
fn held(mut mesh: Mesh, at: impl Fn([f64; 2]) -> bool, law: &Law, t_um: f64) -> Structure {
    mesh.hold(at);
    Structure::anchored(mesh, Layer::shell_with(law, t_um, Order::new(5).unwrap_or(Order::DEFAULT), REISSNER))
}

fn under(structure: &Structure, film: FilmStress) -> Result<(Structure, FilmRest), FilmError> {
    film_at_rest(structure, film).map(|(stressed, rest, _)| (stressed, rest))
}

fn factors(rest: &FilmRest) -> Result<BucklingFactors, Failure> {
    Ok(rest.buckling.ok_or("not held")?)
}

fn near(what: &str, ours: f64, reference: f64, bound: f64) -> Result<(), Failure> {
    let off = ours / reference - 1.0;
    if off.abs() <= bound { Ok(()) } else { Err(format!("{what}: {ours} for {reference}").into()) }
}

/// A strip 200 times as long as thick, both ends clamped, that bends out of the plane alone; ν = 0, so that it is a beam.
fn bridge() -> Result<Structure, Failure> {
    let mesh = grid(&graded(400.0, 12, 2, 0.3), &[0.0, 2.0, 4.0])?;
    Ok(held(mesh, |m| m[0] == 0.0 || m[0] == 400.0, &Law::isotropic(2330.0, 160e9, 0.0)?, 2.0))
}

/// Clamped-clamped beam, N over its own buckling load: ω over unstressed (exact transcendental equation, recomputed; Timoshenko & Young,
/// *Vibration Problems in Engineering*, from memory, for its form).
#[test]
fn a_clamped_beam_from_compression_to_tension() -> Result<(), Failure> {
    let bridge = bridge()?;
    let unstressed = bending_hz(&bridge, 3)?;
    let (_, rest) = under(&bridge, along_x(-1e6))?;
    let critical = 1e6 * factors(&rest)?.positive.ok_or("no buckling")?;
    // Euler: 4π²EI/L² over b t, less what shear takes at L/t = 200.
    near("Euler", critical, PI * PI * 160e9 * (2.0_f64 / 400.0).powi(2) / 3.0, 1e-3)?;
    for (share, reference) in
        [(-0.9, [0.32143, 0.75242, 0.87140]), (1.0, [1.39669, 1.21419, 1.12545]), (5.0, [2.3558, 1.8225, 1.5240])]
    {
        let (stressed, _) = under(&bridge, along_x(share * critical))?;
        for (k, (ours, own)) in bending_hz(&stressed, 3)?.iter().zip(&unstressed).enumerate() {
            near(&format!("{share} of the load, mode {}", k + 1), ours / own, reference[k], BOUND)?;
        }
    }
    // A stiff string, u = NL²/EI = 1000: ωL²√(ρA/EI) = 106.581 (exact, recomputed); unstressed 22.3733.
    let string = 1000.0 * 160e9 * (2.0_f64 / 400.0).powi(2) / 12.0;
    let (stressed, _) = under(&bridge, along_x(string))?;
    near("string", bending_hz(&stressed, 1)?[0] / unstressed[0], 106.581 / 22.3733, BOUND)?;
    // Past its load it has no rest that is flat.
    match under(&bridge, along_x(-1.02 * critical)) {
        Err(FilmError::Buckled { factor }) => near("factor", factor, 1.0 / 1.02, BOUND),
        other => Err(format!("buckled, and yet {:?}", other.map(|(_, rest)| rest)).into()),
    }
}

/// Clamped circular plate, k = N a²/D: λ² = α²(α² + k) with β² = α² + k (exact, recomputed from the Bessel equation); it buckles at
/// k = −j₁₁² = −14.682.
#[test]
fn a_clamped_disc_from_plate_to_membrane() -> Result<(), Failure> {
    let (radius, t, nu) = (1000.0, 1.0, 0.25);
    let law = Law::isotropic(2330.0, 160e9, nu)?;
    let structure = held(disc(radius, 10)?, |m| m[0].hypot(m[1]) > 0.99 * radius, &law, t);
    let rigidity = 160e9 * (t * 1e-6_f64).powi(3) / 12.0 / (1.0 - nu * nu);
    let of_k = |k: f64| both(k * rigidity / (radius * 1e-6_f64).powi(2) / (t * 1e-6));
    let scale = TAU * (radius * 1e-6_f64).powi(2) * (2330.0 * t * 1e-6 / rigidity).sqrt();
    for (k, reference) in [
        (-10.0, [5.8274, 16.8206, 16.8206, 30.3560]),
        (10.0, [13.1455, 24.8814, 24.8814, 38.8522]),
        (100.0, [27.4835, 45.5634, 45.5634, 63.9985]),
        (10_000.0, [242.982, 387.326, 387.326, 519.435]),
    ] {
        let (stressed, _) = under(&structure, of_k(k))?;
        for (i, ours) in bending_hz(&stressed, 4)?.iter().enumerate() {
            near(&format!("k = {k}, mode {}", i + 1), ours * scale, reference[i], BOUND)?;
        }
    }
    let (_, rest) = under(&structure, of_k(-1.0))?;
    near("buckling", factors(&rest)?.positive.ok_or("none")?, 14.682, BOUND)?;
    // In tension there is none above zero, and the same below.
    let (_, rest) = under(&structure, of_k(1.0))?;
    assert_eq!(factors(&rest)?.positive, None);
    near("buckling", -factors(&rest)?.negative.ok_or("none")?, 14.682, BOUND)
}

/// Clamped square plate: biaxial and uniaxial buckling, N a²/π²D = 5.3036 and 10.0739 (Ritz, recomputed; Timoshenko & Gere, *Theory of
/// Elastic Stability*: 5.31 and 10.07, from memory), and λ under k = N a²/D = −40, 10, 1000 (Ritz, recomputed).
#[test]
fn a_clamped_square_plate() -> Result<(), Failure> {
    let (side, t, nu) = (1000.0, 1.0, 0.3);
    let law = Law::isotropic(2330.0, 160e9, nu)?;
    let line = graded(side, 6, 2, 0.3);
    let rim = |m: [f64; 2]| m.into_iter().any(|x| x == 0.0 || x == side);
    let structure = held(grid(&line, &line)?, rim, &law, t);
    let rigidity = 160e9 * (t * 1e-6_f64).powi(3) / 12.0 / (1.0 - nu * nu);
    let of_k = |k: f64| k * rigidity / (side * 1e-6_f64).powi(2) / (t * 1e-6);
    let factor = |film| -> Result<f64, Failure> { Ok(factors(&under(&structure, film)?.1)?.positive.ok_or("none")?) };
    near("biaxial", factor(both(of_k(-1.0)))? / (PI * PI), 5.3036, BOUND)?;
    near("uniaxial", factor(along_x(of_k(-1.0)))? / (PI * PI), 10.0739, BOUND)?;
    let scale = TAU * (side * 1e-6_f64).powi(2) * (2330.0 * t * 1e-6 / rigidity).sqrt();
    for (k, reference) in [
        (-40.0, [17.7132, 55.5110, 90.0691]),
        (10.0, [39.1667, 77.1817, 112.2706]),
        (1000.0, [151.4547, 242.9313, 311.5354]),
    ] {
        let found = bending_hz(&under(&structure, both(of_k(k)))?.0, 4)?;
        for (ours, reference) in [found[0], found[1], found[3]].iter().zip(reference) {
            near(&format!("k = {k}"), ours * scale, reference, BOUND)?;
        }
    }
    Ok(())
}

/// A free body relaxes whatever its film was grown with: six motions at rest, and all other frequencies as without stress. Film stress
/// that is put into the stiffness without its equilibrium makes a rotation of it.
#[test]
fn a_free_body_feels_nothing() -> Result<(), Failure> {
    let law = Law::isotropic(2330.0, 160e9, 0.22)?;
    let mesh = Mesh::rectangle(200.0, 20.0, 10, 2)?;
    let solid = Layer::solid(&law, 8.0, Order::DEFAULT, 3, 2);
    for layer in [Layer::shell(&law, 8.0), solid] {
        let free = Structure::new(mesh.clone(), layer, Supports::none());
        let plain = hz(&free, 9)?;
        let films = [
            both(50e6),
            both(-50e6),
            FilmStress { tensor_pa: [30e6, -20e6, 15e6], gradient_pa_per_m: 0.0 },
            FilmStress { tensor_pa: [50e6, 50e6, 0.0], gradient_pa_per_m: 1e12 },
        ];
        for film in films {
            let (stressed, rest) = under(&free, film)?;
            assert_eq!(rest.buckling, None);
            let found = hz(&stressed, 9)?;
            assert!(found[..6].iter().all(|f| *f == 0.0), "{film:?}: {found:?}");
            for (ours, own) in found[6..].iter().zip(&plain[6..]) {
                assert!((ours / own - 1.0).abs() < 1e-6, "{film:?}: {ours} for {own}");
            }
        }
    }
    Ok(())
}

/// The mean stress along a strip that is clamped at its ends under the same stress in both directions, over what the film had: ν = 0.25,
/// length over width ¼ to 20 (plane stress, recomputed): 1 − ν where it is long.
#[test]
fn what_a_strip_keeps() -> Result<(), Failure> {
    let law = Law::isotropic(2330.0, 160e9, 0.25)?;
    for (ratio, reference) in [(0.25, 0.939), (1.0, 0.818), (2.0, 0.783), (10.0, 0.757), (20.0, 0.753)] {
        let (length, width) = if ratio < 1.0 { (100.0 * ratio, 100.0) } else { (20.0 * ratio, 20.0) };
        let mesh = grid(&graded(length, 10, 4, 0.3), &graded(width, 4, 3, 0.3))?;
        let mut held = mesh.clone();
        held.hold(|m| m[0] == 0.0 || m[0] == length);
        let structure = Structure::anchored(held, Layer::shell(&law, 2.0));
        let (stressed, _) = under(&structure, both(10e6))?;
        let mean = stressed.pre_stress().ok_or("no stress")?.mean_pa(stressed.mesh())?[0] / 10e6;
        near(&format!("L/W = {ratio}"), mean, reference, 1e-2)?;
    }
    Ok(())
}

/// Curl of a cantilever by a gradient: κ = g (1 − ν)/E, tip κL²/2, exceeded by 1.7 % at L/W = 10, 0.9 % at 20 (plate theory, recomputed).
#[test]
fn a_cantilever_curls() -> Result<(), Failure> {
    let law = Law::isotropic(2330.0, 160e9, 0.22)?;
    for (width, exceeded) in [(20.0, 1.017), (10.0, 1.009)] {
        let mut mesh = grid(&graded(200.0, 12, 5, 0.3), &graded(width, 4, 3, 0.3))?;
        mesh.hold(|m| m[0] == 0.0);
        let film = FilmStress { tensor_pa: [0.0; 3], gradient_pa_per_m: 1e11 };
        for layer in [Layer::shell(&law, 2.0), Layer::solid(&law, 2.0, Order::DEFAULT, 3, 2)] {
            let (_, rest) = under(&Structure::anchored(mesh.clone(), layer), film)?;
            near(
                "tip, µm",
                1e6 * rest.largest_m[1],
                exceeded * 0.78e11 / 160e9 * (200e-6_f64).powi(2) / 2.0 * 1e6,
                5e-3,
            )?;
        }
    }
    Ok(())
}
