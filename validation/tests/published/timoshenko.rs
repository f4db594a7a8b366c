//! The beam element against exact shear-flexible and slender beams, with its rate of convergence.

use modalith_solver::frame::Frame;
use modalith_solver::section::{Constants, Section};
use modalith_solver::spectrum::{Options, Problem, Wanted, solve};
use modalith_validation::beam::{Beam, CASES, End, TABLE};
use modalith_validation::bench::{Failure, compare};
use modalith_validation::fit::slope;
use nalgebra::Matrix6;

const LENGTH: f64 = 100e-6;
const BOUND: f64 = 1e-3;
const POISSONS_RATIO: f64 = 0.3;
const REISSNER: f64 = 5.0 / 6.0;

/// u_y and φ_z stay free.
const PLANAR: [bool; 6] = [true, false, true, true, true, false];

fn hold(end: End) -> [bool; 6] {
    match end {
        End::Clamped => [true; 6],
        End::Pinned => [true, true, true, true, true, false],
        End::Free => PLANAR,
    }
}

/// A rectangle with κ = 5/6 exactly, `slenderness` = L/h.
fn section(slenderness: f64) -> Result<Section, Failure> {
    let (e, rho, h, b) = (160e9, 2330.0, LENGTH / slenderness, 5e-6);
    let area = b * h;
    let shear = REISSNER * e / (2.0 * (1.0 + POISSONS_RATIO)) * area;
    let inertia = [h * b * b * b / 12.0, b * h * h * h / 12.0];
    Ok(Section::from_constants(&Constants {
        axial_n: e * area,
        shear_n: [shear; 2],
        torsion_nm2: 1e-12,
        bending_nm2: inertia.map(|i| e * i),
        mass_kg_m: rho * area,
        rotary_kgm: inertia.map(|i| rho * i),
    })?)
}

/// ω √(ρA L⁴/EI) of the `count` lowest modes in the plane; a mass at the far end as a share of the beam's.
fn frequencies(slenderness: f64, ends: [End; 2], pieces: usize, tip: f64, count: usize) -> Result<Vec<f64>, Failure> {
    let section = section(slenderness)?;
    let mut frame = Frame::default();
    let (near, far) = (frame.node([0.0, 0.0]), frame.node([LENGTH, 0.0]));
    let between = frame.straight(&section, near, far, pieces)?;
    for node in between {
        frame.hold(node, PLANAR)?;
    }
    frame.hold(near, hold(ends[0]))?;
    frame.hold(far, hold(ends[1]))?;
    let mass = tip * section.mass_per_length[(0, 0)] * LENGTH;
    frame.add_mass(far, Matrix6::from_diagonal(&[mass, mass, mass, 0.0, 0.0, 0.0].into()))?;
    let (k, m) = frame.assemble();
    let found = solve(Problem::new(&k, &m, None)?, Wanted::Lowest { count }, &Options::default(), &|_| {})?;
    assert!(found.lambda.last().is_some_and(|l| found.covered.high() >= *l));
    let scale = (section.mass_per_length[(0, 0)] * LENGTH.powi(4) / section.bending_stiffness_nm2()[(1, 1)]).sqrt();
    Ok(found.lambda.iter().take(count).map(|l| l.sqrt() * scale).collect())
}

fn exact(slenderness: f64, ends: [End; 2], count: usize) -> Vec<f64> {
    Beam { slenderness, poissons_ratio: POISSONS_RATIO, shear_correction: REISSNER, ends }.frequencies(count)
}

/// Beams that a mode needs for 0.1 % under the worst of the supports, by L/h and mode; the element's documentation says so.
const NEEDED: [[usize; 3]; 4] = [[12, 32, 48], [8, 24, 32], [6, 12, 24], [6, 8, 12]];

/// Every support and slenderness with the beams that the mode needs, and with 64.
#[test]
fn all_supports_and_slendernesses() -> Result<(), Failure> {
    let counts = [2, 3, 4, 6, 8, 12, 16, 24, 32, 48, 64];
    // Places in the list of counts.
    let mut needed = [[0; 3]; 4];
    for ((name, ends), rows) in CASES.into_iter().zip(TABLE) {
        for ((row, slenderness), published) in [5.0, 10.0, 20.0, 50.0].into_iter().enumerate().zip(rows) {
            let exact = exact(slenderness, ends, 3);
            let what = format!("{name}, L/h = {slenderness}");
            let finest = frequencies(slenderness, ends, 64, 0.0, 3)?;
            println!("{}", compare(&what, "Timoshenko 1921", &finest, &exact, &published).within(BOUND)?.table);
            compare(&what, "table", &finest, &published, &[]).within(BOUND)?;
            for (place, &pieces) in counts.iter().enumerate() {
                let ours = frequencies(slenderness, ends, pieces, 0.0, 3)?;
                for mode in 0..3 {
                    if ours.get(mode).is_none_or(|o| (o / exact[mode] - 1.0).abs() > BOUND) {
                        needed[row][mode] = needed[row][mode].max(place + 1);
                    }
                }
            }
        }
    }
    let needed = needed.map(|row| row.map(|place| counts[place]));
    println!("beams that suffice: {needed:?}");
    assert_eq!(needed, NEEDED);
    Ok(())
}

/// Blevins, *Formulas for Natural Frequency and Mode Shape* (1979), Table 8-1, where shear is negligible.
#[test]
fn slender_beams() -> Result<(), Failure> {
    let roots = [
        [1.87510407, 4.69409113, 7.85475744],
        [4.73004074, 7.85320462, 10.99560784],
        [1.0, 2.0, 3.0].map(|n| n * std::f64::consts::PI),
        [3.92660231, 7.06858275, 10.21017612],
    ];
    for ((name, ends), roots) in CASES.into_iter().zip(roots) {
        let ours = frequencies(1000.0, ends, 16, 0.0, 3)?;
        println!("{}", compare(name, "Blevins 1979", &ours, &roots.map(|r| r * r), &[]).within(BOUND)?.table);
    }
    Ok(())
}

/// A point mass at the tip of a slender cantilever, its share of the beam's mass; roots derived.
#[test]
fn tip_mass() -> Result<(), Failure> {
    for (share, published) in [
        (0.1, [2.967838, 19.3558]),
        (0.5, [2.016299, 16.9014]),
        (1.0, [1.557298, 16.2501]),
        (2.0, [1.158197, 15.8609]),
        (10.0, [0.541375, 15.5115]),
    ] {
        let ours = frequencies(1000.0, [End::Clamped, End::Free], 16, share, 2)?;
        println!("{}", compare(&format!("tip mass {share}"), "derived", &ours, &published, &[]).within(BOUND)?.table);
    }
    Ok(())
}

/// From above: ω falls to the exact one with the fourth power of the length while the beams are longer than deep, with the
/// second where they are shorter, for then shear that is constant along a beam is what limits it.
#[test]
fn order_of_convergence() -> Result<(), Failure> {
    let ends = [End::Clamped, End::Free];
    for (slenderness, pieces, expected) in [(1000.0, [6, 8, 12, 16, 24], 4.0), (5.0, [12, 16, 24, 32, 48], 2.0)] {
        let exact = exact(slenderness, ends, 3);
        for (mode, exact) in exact.into_iter().enumerate().skip(1) {
            let mut errors = Vec::new();
            for count in pieces {
                let error = frequencies(slenderness, ends, count, 0.0, 3)?[mode] / exact - 1.0;
                assert!(error > 0.0, "from above: {error:e}");
                errors.push((1.0 / count as f64, error));
            }
            let order = slope(&errors, 1e-8, 1e-1).ok_or("too few points")?;
            println!("L/h = {slenderness}, mode {}: order {order:.3}, finest {:.1e}", mode + 1, errors[4].1);
            assert!((order - expected).abs() < 0.2, "{order}");
            assert!(errors[4].1 < 1e-3);
        }
    }
    Ok(())
}
