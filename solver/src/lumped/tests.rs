use super::*;
use crate::material::Law;
use crate::modal::Wanted;
use modalith_mesher::geometry::NamedArea;
use nalgebra::DVector;
use std::f64::consts::TAU;

const E: f64 = 160e9;
const RHO: f64 = 2330.0;

fn rect([x0, y0]: Point, [x1, y1]: Point) -> Polygon {
    Polygon::solid(vec![[x0, y0], [x1, y0], [x1, y1], [x0, y1]])
}

fn strip(centre_line: Vec<Point>, width: f64, ends: [Hold; 2]) -> Strip {
    let length: f64 = centre_line.windows(2).map(|p| (p[1][0] - p[0][0]).hypot(p[1][1] - p[0][1])).sum();
    let widths_um = vec![[width; 2]; centre_line.len() - 1];
    Strip { centre_line, widths_um, area_um2: length * width, ends }
}

/// Folded resonator: E = 160 GPa, ρ = 2330, h = w = 2 µm, L = 200 µm, beams at x = ±10 (anchored) and ±30 µm (shuttle),
/// trusses 60 × 10 µm, shuttle 5.0e-11 kg (a worked frame calculation; stiffness and 12/35 derived, the stiffness after
/// Tang, Nguyen & Howe, Sensors & Actuators 20 (1989) 25, value from memory).
fn folded() -> Pieces {
    let area = 5.0e-11 / (RHO * 2e-6) * 1e12;
    let mut pieces = Pieces {
        bodies: vec![
            Body::Moving(rect([-50.0, -0.005 * area], [50.0, 0.005 * area])),
            Body::Moving(rect([-30.0, 200.0], [30.0, 210.0])),
            Body::Moving(rect([-30.0, -210.0], [30.0, -200.0])),
        ],
        flexures: Vec::new(),
    };
    for (truss, side) in [(1, 1.0), (2, -1.0)] {
        for (x, to) in [(-30.0, Hold::Body(0)), (-10.0, Hold::Ground), (10.0, Hold::Ground), (30.0, Hold::Body(0))] {
            let line = vec![[x, 0.0], [x, 200.0 * side]];
            pieces.flexures.push(strip(line, 2.0, [to, Hold::Body(truss)]));
        }
    }
    pieces
}

fn law() -> Law {
    Law::isotropic(RHO, E, 0.22).unwrap()
}

fn close(value: f64, expected: f64, bound: f64) {
    assert!((value / expected - 1.0).abs() < bound, "{value:e} against {expected:e}");
}

/// Stiffness 24 E I/L³ = 2 E h (w/L)³, and Mp + Mt/4 + (12/35) Mb in the static shape.
#[test]
fn folded_resonator() {
    let lumped = Lumped::new(folded(), &law(), 2.0, true).unwrap();
    let k = 2.0 * E * 2e-6 * (0.01f64).powi(3);
    // Moving along x alone: the shuttle is in the middle of everything and does not turn.
    close(lumped.stiffness_at(0).unwrap()[(0, 0)], k, 1e-9);
    let shuttle: Vec<usize> = (0..6).collect();
    let rest: Vec<usize> = (6..18).collect();
    let follow = assemble::condensed(&lumped.k, &shuttle, &rest).unwrap().1;
    let shape = DVector::from_fn(18, |i, _| match i {
        0 => 1.0,
        1..=5 => 0.0,
        _ => follow[(i - 6, 0)],
    });
    let (shuttle, trusses, beams) = (5.0e-11, 2.0 * 600e-12 * 2e-6 * RHO, 8.0 * 800e-18 * RHO);
    close(shape.dot(&(&lumped.m * &shape)), shuttle + trusses / 4.0 + 12.0 / 35.0 * beams, 1e-9);
    let bare = Lumped::new(folded(), &law(), 2.0, false).unwrap();
    close(shape.dot(&(&bare.m * &shape)), shuttle + trusses / 4.0, 1e-9);
    close(lumped.total_mass_kg(), shuttle + trusses + beams, 1e-12);
    assert_eq!(bare.total_mass_kg(), lumped.total_mass_kg());
}

/// A frame of 16 elements a beam gives 16 907 Hz with rigid trusses (derived); Rayleigh's bound from above is 16 937 Hz.
#[test]
fn folded_resonator_sounds_as_a_frame() {
    let lumped = Lumped::new(folded(), &law(), 2.0, true).unwrap();
    let names = [NamedArea { name: "shuttle".into(), polygons: vec![rect([-40.0, -30.0], [40.0, 30.0])] }];
    let named = lumped.named(&names, RHO);
    let found = lumped.modes(&named, Wanted::Lowest(6)).unwrap();
    assert!(found.search.is_counted());
    let mode = found.modes.iter().find(|m| m.kinetic_share[0] > 0.9).unwrap();
    assert!((16_907.0..16_937.5).contains(&mode.frequency_hz), "{}", mode.frequency_hz);
    // The named part moves with its body, which has no name: it covers less than half of it.
    let moved = lumped.displacement(&mode.shape, [0.0, 0.0]);
    assert!((mode.masses[0].translation[0] - moved[0]).abs() < 1e-9 * moved[0].abs());
    close(mode.masses[0].rigid_share, 1.0, 1e-9);
    assert_eq!(lumped.names(&named), [None, None, None]);
    // Half way along a beam between shuttle and truss that do not turn: half way between their motions.
    let [middle, truss] = [100.0, 200.0].map(|y| lumped.displacement(&mode.shape, [30.0, y])[0]);
    close(middle, 0.5 * (moved[0] + truss), 1e-3);
    let place = lumped.place([30.0, 100.0]);
    assert!(matches!(place, Place::Flexure { flexure: 3, stretch: 0, share } if (share - 0.5).abs() < 1e-12));
    // Unit modal mass, stiffness ω².
    let shape = DVector::from_column_slice(&mode.shape);
    close(shape.dot(&(&lumped.m * &shape)), 1.0, 1e-9);
    close(shape.dot(&(&lumped.k * &shape)), (TAU * mode.frequency_hz).powi(2), 1e-8);
    close(mode.flexure_strain_share.iter().sum(), 1.0, 1e-9);
}

#[test]
fn printed_formulas_are_what_was_extracted() {
    let lumped = Lumped::new(kinds(), &law(), 12.0, true).unwrap();
    let words: Vec<&str> = lumped.kinds.iter().map(|k| k.word()).collect();
    assert_eq!(
        words,
        ["torsion bar", "torsion bar", "crab-leg", "serpentine", "cantilever", "tapered", "bent", "guided"]
    );
    let mut all = lumped.formulas();
    all.extend(Lumped::new(folded(), &law(), 2.0, true).unwrap().formulas());
    for f in &all {
        close(f.extracted, f.value, 1e-8);
    }
    let folded: Vec<f64> = all.iter().filter(|f| f.name.starts_with("folded")).map(|f| f.value).collect();
    assert_eq!(folded.len(), 2);
    close(folded.iter().sum(), 0.64, 1e-12);
    let named = |word: &str| all.iter().filter(|f| f.name.starts_with(word)).count();
    assert_eq!([named("crab-leg"), named("serpentine"), named("cantilever, ")], [2, 2, 2]);
}

/// One body of each kind of flexure.
fn kinds() -> Pieces {
    let plate = rect([-50.0, -40.0], [50.0, 40.0]);
    let far = rect([1000.0, 0.0], [1040.0, 40.0]);
    let (ground, body) = (Hold::Ground, Hold::Body(0));
    let serpentine: Vec<Point> = vec![
        [50.0, 0.0],
        [60.0, 0.0],
        [60.0, 30.0],
        [75.0, 30.0],
        [75.0, -30.0],
        [90.0, -30.0],
        [90.0, 0.0],
        [100.0, 0.0],
    ];
    let mut pieces = Pieces {
        bodies: vec![
            Body::Moving(plate),
            Body::Moving(far),
            Body::Joint([500.0, 500.0]),
            Body::Held(rect([0.0, 500.0], [9.0, 509.0])),
        ],
        flexures: vec![
            strip(vec![[0.0, 40.0], [0.0, 140.0]], 4.0, [Hold::Body(2), Hold::Body(0)]),
            strip(vec![[0.0, -40.0], [0.0, -140.0]], 4.0, [body, Hold::Body(2)]),
            strip(vec![[50.0, 20.0], [150.0, 20.0], [150.0, 90.0]], 4.0, [body, ground]),
            strip(serpentine, 3.0, [body, ground]),
            strip(vec![[1040.0, 20.0], [1100.0, 40.0]], 4.0, [Hold::Body(1), Hold::Body(3)]),
            strip(vec![[-50.0, 0.0], [-150.0, 0.0]], 4.0, [body, ground]),
            strip(vec![[-50.0, 0.0], [-150.0, 10.0], [-190.0, 70.0]], 4.0, [body, ground]),
            strip(vec![[-50.0, 20.0], [-150.0, 20.0]], 4.0, [body, ground]),
        ],
    };
    pieces.flexures[5].widths_um = vec![[4.0, 6.0]];
    pieces
}

/// A joint has no mass of its own: with massless flexures it follows statically, and the rest sounds as with a small body
/// there.
#[test]
fn joints_follow() {
    let with = |middle: Body, mass: bool| {
        let line = |from: Point, to: Point, ends| strip(vec![from, to], 3.0, ends);
        let pieces = Pieces {
            bodies: vec![Body::Moving(rect([200.0, -50.0], [300.0, 50.0])), middle],
            flexures: vec![
                line([0.0, 0.0], [100.0, 0.0], [Hold::Ground, Hold::Body(1)]),
                line([100.0, 0.0], [200.0, 0.0], [Hold::Body(1), Hold::Body(0)]),
                line([300.0, 0.0], [400.0, 0.0], [Hold::Body(0), Hold::Ground]),
            ],
        };
        let lumped = Lumped::new(pieces, &law(), 10.0, mass).unwrap();
        let found = lumped.modes(&[], Wanted::Lowest(4)).unwrap();
        found.modes.iter().map(|m| m.frequency_hz).collect::<Vec<_>>()
    };
    let speck = rect([99.999, -0.001], [100.001, 0.001]);
    let massless = with(Body::Joint([100.0, 0.0]), false);
    for (joint, small) in massless.iter().zip(with(Body::Moving(speck), false)) {
        close(*joint, small, 1e-6);
    }
    // Flexures with mass lower every frequency, a little.
    for (heavy, light) in with(Body::Joint([100.0, 0.0]), true).iter().zip(&massless) {
        assert!(heavy < light && *heavy > 0.9 * light, "{heavy} {light}");
    }
}

#[test]
fn what_cannot_be_lumped_says_so() {
    let none = Pieces { bodies: vec![Body::Moving(rect([0.0, 0.0], [9.0, 9.0]))], flexures: vec![] };
    let error = Lumped::new(none, &law(), 2.0, true).unwrap_err();
    assert_eq!(error.to_string(), "no slender part: nothing to lump");
    let held = Pieces {
        bodies: vec![Body::Held(rect([0.0, 0.0], [9.0, 9.0]))],
        flexures: vec![strip(vec![[9.0, 5.0], [50.0, 5.0]], 1.0, [Hold::Body(0), Hold::Ground])],
    };
    assert!(matches!(Lumped::new(held, &law(), 2.0, true), Err(LumpedError::NothingMoves)));
    let mut flat = folded();
    flat.flexures[2].centre_line[1] = flat.flexures[2].centre_line[0];
    assert!(matches!(Lumped::new(flat, &law(), 2.0, true), Err(LumpedError::Shape { flexure: 2, .. })));
}

/// Momenta are what a rigid motion of the whole about the origin has, flexures' mass included.
#[test]
fn momenta_of_floating_bodies() {
    let pieces = Pieces {
        bodies: vec![Body::Moving(rect([-90.0, 10.0], [-30.0, 60.0])), Body::Moving(rect([30.0, -40.0], [70.0, 60.0]))],
        flexures: vec![strip(vec![[-30.0, 40.0], [30.0, 40.0]], 4.0, [Hold::Body(0), Hold::Body(1)])],
    };
    let lumped = Lumped::new(pieces, &law(), 20.0, true).unwrap();
    for (i, momentum) in lumped.momentum.iter().enumerate() {
        let mut rigid = DVector::zeros(12);
        for body in 0..2 {
            let own = spring::carried(lumped.inertia[body].centre_m, [0.0; 2]);
            rigid.rows_mut(6 * body, 6).copy_from(&own.column(i));
        }
        let expected = &lumped.m * rigid;
        assert!((momentum - &expected).amax() < 1e-12 * expected.amax(), "{i}");
    }
    close(lumped.momentum[1].rows(1, 1)[0] + lumped.momentum[1].rows(7, 1)[0], lumped.total_mass_kg(), 1e-12);
}
