//! Closed forms on real models: a plate on guided beams, a plate on torsion bars. Sources: parallel plate V² = 8 k g³/(27 ε₀ A) at
//! a third of the gap (derived, value 5.17409 V for 1 N/m, 100 µm × 100 µm, 2 µm); softening −ε₀ V² A/g³; comb F = N ε₀ h V²/g.

use super::*;
use crate::electrode::*;
use crate::material::Law as Material;
use crate::modal::{Modal, Wanted, modes};
use crate::spectrum::statics;
use crate::system::{Layer, Places, Structure, Supports, System};
use modalith_mesher::drawing::{Anchoring, Drawing, Film};
use modalith_mesher::geometry::Polygon;
use modalith_mesher::mesh::Mesh;
use modalith_mesher::outline::{Etch, Outline};
use modalith_mesher::triangulate::{MeshSize, triangulate};
use nalgebra::DMatrix;

const GAP_M: f64 = 2e-6;

fn rect(a: [f64; 2], b: [f64; 2]) -> Polygon {
    Polygon::solid(vec![a, [b[0], a[1]], b, [a[0], b[1]]])
}

/// A plate 100 µm square on beams, cut by anchors at their far ends.
fn meshed(beams: Vec<Polygon>, anchors: Vec<Polygon>) -> Mesh {
    let structure = [vec![rect([-50.0, -50.0], [50.0, 50.0])], beams].concat();
    let film = Film::Drawn { structure, holes: vec![] };
    let drawing = Drawing { film, anchoring: Anchoring::Drawn(anchors), masses: vec![], electrodes: vec![] };
    let outline = Outline::build(&drawing, &Etch::default()).unwrap();
    triangulate(&outline, &MeshSize { largest_um: Some(25.0), ..MeshSize::default() }).unwrap()
}

const BEAM_UM: f64 = 300.0;

/// On four beams 2 µm wide, guided by symmetry.
fn guided() -> Mesh {
    let end = 50.0 + BEAM_UM;
    let beam = |sx: f64, y: f64| rect([(50.0 * sx).min(end * sx), y - 1.0], [(50.0 * sx).max(end * sx), y + 1.0]);
    let beams = [-1.0, 1.0].into_iter().flat_map(|sx| [beam(sx, -45.0), beam(sx, 45.0)]).collect();
    let anchor = |x: f64| rect([x - 10.0, -60.0], [x + 10.0, 60.0]);
    meshed(beams, vec![anchor(-end - 10.0), anchor(end + 10.0)])
}

fn layer(thickness_um: f64) -> Layer {
    Layer::shell(&Material::isotropic(2330.0, 160e9, 0.22).unwrap(), thickness_um)
}

fn plate(name: &str, face: Face, over: Polygon, bias_v: f64) -> Electrode {
    let law = Law::Plate(Plate { gap_m: GAP_M, face });
    Electrode { name: name.into(), law, over: vec![over], bias_v, stated_gradient_f_per_m: None }
}

fn whole() -> Polygon {
    rect([-50.0, -50.0], [50.0, 50.0])
}

/// Work-conjugate stiffness against an even force, or against one that grows with `arm`, over spots of an electrode.
fn stiffness(
    mesh: &Mesh,
    layer: &Layer,
    supports: &Supports,
    e: &Electrode,
    force: impl Fn([f64; 2]) -> [f64; 3],
) -> f64 {
    let structure = Structure::new(mesh.clone(), layer.clone(), supports.clone());
    let systems = StaticSystems::new(&structure).unwrap();
    let (spots, weights) = systems.spots(e).unwrap();
    let area: f64 = weights.iter().sum();
    let mut give = 0.0;
    for part in layer.uncoupled(supports) {
        let system = System::assemble(&Structure::new(mesh.clone(), part.clone(), supports.clone())).unwrap();
        let places = Places::new(mesh, &part, &system.unknowns);
        let mut load = vec![0.0; system.unknowns.len()];
        for (spot, weight) in spots.iter().zip(&weights) {
            let at = crate::element::plane::map(&mesh.geometry(spot.cell), spot.at).0;
            places.force(spot.cell, spot.at, force(at).map(|f| f * weight / area), &mut load);
        }
        let load = DMatrix::from_vec(load.len(), 1, load);
        give += statics(&system.k, Some(system.unknowns.groups()), &load).unwrap().dot(&load);
    }
    1.0 / give
}

/// Bound 0.5 %: V² = 8 k g³/(27 ε₀ A), a third of the gap; and half of it under half the bias' square on the way.
#[test]
fn a_plate_on_beams_pulls_in_at_a_third_of_the_gap() {
    let (mesh, layer) = (guided(), layer(4.0));
    let supports = Supports::anchors(&mesh);
    let e = plate("plate", Face::Below, whole(), 1.0);
    let k = stiffness(&mesh, &layer, &supports, &e, |_| [0.0, 0.0, 1.0]);
    let area = 1e-8;
    let exact = (8.0 * k * GAP_M.powi(3) / (27.0 * VACUUM_PERMITTIVITY * area)).sqrt();
    let structure = Structure::new(mesh.clone(), layer.clone(), supports.clone());
    let systems = StaticSystems::new(&structure).unwrap();
    let found = pull_in(&systems, std::slice::from_ref(&e), &[true]).unwrap().unwrap();
    println!("k {k} N/m, pull-in {} V of {exact} V, travel {} of the gap", found.ratio, found.largest_m[0] / GAP_M);
    assert!((found.ratio / exact - 1.0).abs() < 5e-3, "{} {exact}", found.ratio);
    assert!((found.largest_m[0] / (GAP_M / 3.0) - 1.0).abs() < 2e-2, "{}", found.largest_m[0]);
    // Scaled to 1 N/m: the published value.
    assert!((found.ratio / k.sqrt() / 5.17409 - 1.0).abs() < 5e-3);
    // Deflected equilibrium at V/V_PI = 0.8: x/g = 0.123383, f/f₀ = 0.847644 (checks of the one-degree model, derived).
    let biased = Electrode { bias_v: 0.8 * exact, ..e.clone() };
    let rest = equilibrium(&systems, std::slice::from_ref(&biased)).unwrap();
    assert!((rest.largest_m[0] / GAP_M / 0.123383 - 1.0).abs() < 1e-2, "{}", rest.largest_m[0] / GAP_M);
    let ratio = lowest_z(&mesh, &layer, &supports, rest.springs) / lowest_z(&mesh, &layer, &supports, vec![]);
    println!("x/g {} (0.123383), f/f0 {ratio} (0.847644)", rest.largest_m[0] / GAP_M);
    assert!((ratio / 0.847644 - 1.0).abs() < 5e-3, "{ratio}");
    let beyond = Electrode { bias_v: 1.01 * exact, ..e };
    assert!(matches!(equilibrium(&systems, &[beyond]), Err(ElectrodeError::PulledIn { .. })));
}

/// Bound 0.5 %: fingertips meet what lies ahead of them where V² N ε₀ t/g = k d (force of a comb: the published one above), long
/// before anything becomes unstable; without that gap the same comb goes on.
#[test]
fn fingertips_end_the_path_of_a_comb() {
    let (mesh, layer) = (guided(), layer(4.0));
    let supports = Supports::anchors(&mesh);
    let (tip_gap_m, fingers) = (0.5e-6, 40.0);
    let comb = Comb { tip_gap_m: Some(tip_gap_m), ..Comb::even([0.0, 1.0], 4e-6, fingers, GAP_M, 10e-6) };
    let mut e = plate("comb", Face::Below, whole(), 1.0);
    e.law = Law::Comb(comb.clone());
    let k = stiffness(&mesh, &layer, &supports, &e, |_| [0.0, 1.0, 0.0]);
    let exact = (k * tip_gap_m * GAP_M / (fingers * VACUUM_PERMITTIVITY * 4e-6)).sqrt();
    let structure = Structure::new(mesh.clone(), layer.clone(), supports.clone());
    let systems = StaticSystems::new(&structure).unwrap();
    let found = pull_in(&systems, std::slice::from_ref(&e), &[true]).unwrap().unwrap();
    println!("k {k} N/m, tips touch at {} V of {exact} V", found.ratio);
    assert!((found.ratio / exact - 1.0).abs() < 5e-3 && found.touches.as_deref() == Some("comb"), "{found:?} {exact}");
    let at = |share: f64| equilibrium(&systems, &[Electrode { bias_v: share * found.ratio, ..e.clone() }]);
    assert!(at(1.0 - 1e-6).is_ok());
    assert!(matches!(at(1.0 + 1e-6), Err(ElectrodeError::Touches { name }) if name == "comb"));
    // So do those of a comb without a bias that the same motion takes along.
    let idle = Electrode {
        name: "idle".into(),
        law: Law::Comb(Comb { tip_gap_m: Some(0.5 * tip_gap_m), ..comb.clone() }),
        bias_v: 0.0,
        ..e.clone()
    };
    let sooner = pull_in(&systems, &[e.clone(), idle], &[true, true]).unwrap().unwrap();
    assert!((sooner.ratio / found.ratio - 0.5_f64.sqrt()).abs() < 1e-4 && sooner.touches.as_deref() == Some("idle"));
    let free = Electrode { law: Law::Comb(Comb { tip_gap_m: None, ..comb }), ..e };
    let free = pull_in(&systems, &[free], &[true]).unwrap();
    assert!(free.is_none_or(|f| f.ratio > 2.0 * found.ratio && f.touches.is_none()));
}

/// A plate with 100 release holes, sagging, and two electrodes that rise together: pull-in costs a few of its evaluations over
/// all spots, and lies between the last bias with an equilibrium and the first without, which are sought by themselves.
#[test]
fn pull_in_of_a_perforated_plate_costs_a_few_evaluations_of_the_pull() {
    let end = 50.0 + BEAM_UM;
    let beam = |sx: f64, y: f64| rect([(50.0 * sx).min(end * sx), y - 1.0], [(50.0 * sx).max(end * sx), y + 1.0]);
    let beams = [-1.0, 1.0].into_iter().flat_map(|sx| [beam(sx, -45.0), beam(sx, 30.0)]);
    let anchor = |x: f64| rect([x - 10.0, -60.0], [x + 10.0, 60.0]);
    let place = |k: usize| -45.0 + 10.0 * k as f64;
    let hole = |k: usize| {
        let [x, y] = [place(k / 10), place(k % 10)];
        rect([x - 2.0, y - 2.0], [x + 2.0, y + 2.0])
    };
    let structure: Vec<Polygon> = beams.chain([whole()]).collect();
    let film = Film::Drawn { structure, holes: (0..100).map(hole).collect() };
    let anchoring = Anchoring::Drawn(vec![anchor(-end - 10.0), anchor(end + 10.0)]);
    let drawing = Drawing { film, anchoring, masses: vec![], electrodes: vec![] };
    let mesh = triangulate(&Outline::build(&drawing, &Etch::default()).unwrap(), &MeshSize::default()).unwrap();
    let layer = layer(1.0);
    let supports = Supports::anchors(&mesh);
    let structure = Structure::new(mesh.clone(), layer.clone(), supports.clone());
    let systems = StaticSystems::new(&structure).unwrap();
    let left = plate("left", Face::Below, rect([-50.0, -50.0], [-10.0, 50.0]), 0.3);
    let right = plate("right", Face::Below, rect([0.0, -50.0], [50.0, 50.0]), 0.2);
    let pair = [left, right];
    let found = pull_in(&systems, &pair, &[true, true]).unwrap().unwrap();
    let spots = systems.spots(&pair[0]).unwrap().0.len() + systems.spots(&pair[1]).unwrap().0.len();
    println!("pull-in at {} times, {} evaluations over {spots} spots", found.ratio, found.sums);
    assert!(found.sums < 100, "{}", found.sums);
    let at = |ratio: f64| pair.clone().map(|e| Electrode { bias_v: ratio * e.bias_v, ..e });
    assert!(equilibrium(&systems, &at(found.ratio * (1.0 - 1e-6))).is_ok());
    let beyond = equilibrium(&systems, &at(found.ratio * (1.0 + 1e-6)));
    assert!(matches!(beyond, Err(ElectrodeError::PulledIn { .. })));
    let both = equilibrium_and_pull_in(&systems, &pair).unwrap();
    assert_eq!(both, (equilibrium(&systems, &pair).unwrap(), Some(found)));
}

#[test]
fn a_gap_closed_at_rest_is_named_and_pulls_with_more_than_nothing() {
    let (mesh, layer) = (guided(), layer(4.0));
    let supports = Supports::anchors(&mesh);
    let structure = Structure::new(mesh.clone(), layer.clone(), supports.clone());
    let systems = StaticSystems::new(&structure).unwrap();
    let mut closed = plate("touching", Face::Below, whole(), 1.0);
    closed.law = Law::Plate(Plate { gap_m: 0.0, face: Face::Below });
    let open = plate("open", Face::Above, whole(), 0.1);
    let named = |e: ElectrodeError| matches!(e, ElectrodeError::Closed { name } if name == "touching");
    assert!(named(equilibrium(&systems, &[open.clone(), closed.clone()]).unwrap_err()));
    assert!(named(pull_in(&systems, &[open, closed], &[true, true]).unwrap_err()));
}

#[test]
fn a_deflection_that_has_not_settled_is_no_state() {
    let (mesh, layer) = (guided(), layer(4.0));
    let supports = Supports::anchors(&mesh);
    let structure = Structure::new(mesh.clone(), layer.clone(), supports.clone());
    let systems = StaticSystems::new(&structure).unwrap();
    let e = [plate("plate", Face::Below, whole(), 3.0)];
    let compliances = systems.compliances(&e).unwrap();
    let factors = static_systems::factors(&compliances).unwrap();
    let one = equilibrium::settled_in(&systems, &factors, &e, 1).unwrap_err();
    assert!(matches!(&one, ElectrodeError::NotSettled { name, rounds: 1, .. } if name == "plate"), "{one}");
    let one = pull_in::settled_in(&systems, &factors, &e, &[true], 1).unwrap_err();
    assert!(matches!(&one, ElectrodeError::NotSettled { name, rounds: 1, .. } if name == "plate"), "{one}");
    assert!(equilibrium(&systems, &e).is_ok() && pull_in(&systems, &e, &[true]).unwrap().is_some());
}

fn found(mesh: &Mesh, layer: &Layer, supports: &Supports, springs: Vec<crate::system::PointSpring>) -> Modal {
    modes(
        &Structure::new(mesh.clone(), layer.clone(), supports.clone()).with_springs(springs),
        Wanted::Lowest(6),
        &|_| {},
    )
    .unwrap()
}

fn lowest_z(mesh: &Mesh, layer: &Layer, supports: &Supports, springs: Vec<crate::system::PointSpring>) -> f64 {
    let modal = found(mesh, layer, supports, springs);
    let z = modal.modes.iter().find(|m| m.effective_mass_kg()[2] > 1e-12).unwrap();
    z.frequency_hz
}

/// Plates alike on both sides leave the part in the middle: ω² falls by 2 ε₀ V² A/(g³ m), m with 13/35 of the beams; the
/// modal basis says the same as the assembled system.
#[test]
fn softening_of_a_plate_between_two_plates() {
    let (mesh, layer) = (guided(), layer(4.0));
    let supports = Supports::anchors(&mesh);
    let pair = [plate("under", Face::Below, whole(), 6.0), plate("over", Face::Above, whole(), 6.0)];
    let structure = Structure::new(mesh.clone(), layer.clone(), supports.clone());
    let systems = StaticSystems::new(&structure).unwrap();
    let rest = equilibrium(&systems, &pair).unwrap();
    assert!(rest.largest_m.iter().all(|x| *x < 1e-6 * GAP_M));
    let (plain, soft) = (found(&mesh, &layer, &supports, vec![]), found(&mesh, &layer, &supports, rest.springs));
    let z = plain.modes.iter().position(|m| m.effective_mass_kg()[2] > 1e-12).unwrap();
    let square = |m: &Modal| m.modes[z].frequency_hz.powi(2) * std::f64::consts::TAU.powi(2);
    let fall = square(&plain) - square(&soft);
    let mass = 2330.0 * 4e-6 * (1e-8 + 13.0 / 35.0 * 4.0 * 2e-6 * BEAM_UM * 1e-6);
    let exact = 2.0 * VACUUM_PERMITTIVITY * 36.0 * 1e-8 / (GAP_M.powi(3) * mass);
    println!("softening {fall} of {exact} s^-2");
    assert!((fall / exact - 1.0).abs() < 5e-3, "{fall} {exact}");
    // On the basis of six modes, through the sampled shapes.
    let sampled = plain.sample();
    let readings: Vec<Reading> = pair.iter().map(|e| read(e, &sampled, None).unwrap()).collect();
    let area = readings[0].covered_um2;
    assert!(
        (area / 1e4 - 1.0).abs() < 1e-9
            && (readings[0].capacitance_f / (VACUUM_PERMITTIVITY * 1e-8 / GAP_M) - 1.0).abs() < 1e-9
    );
    assert!((readings[0].gradient[z] + readings[1].gradient[z]).abs() < 1e-12 * readings[0].gradient[z].abs());
    let f: Vec<f64> = plain.modes.iter().map(|m| m.frequency_hz).collect();
    let both = &readings[0].curvature + &readings[1].curvature;
    let shifted = softened_frequencies_hz(&f, &both, 36.0).unwrap();
    let off = (shifted[z] - soft.modes[z].frequency_hz) / (f[z] - soft.modes[z].frequency_hz);
    println!("modal basis of {} off by {off} of the shift", f.len());
    assert!(off.abs() < 5e-3, "{off}");
}

/// Bound 0.5 %: k θ = ½ V² dC/dθ for each of two halves, with C(θ) = ε₀ b/θ ln(g/(g − θ L)), the largest V over θ.
#[test]
fn a_tilting_plate_pulls_in_as_the_one_angle_problem() {
    let bars = vec![rect([-1.0, 50.0], [1.0, 150.0]), rect([-1.0, -150.0], [1.0, -50.0])];
    let mesh = meshed(bars, vec![rect([-20.0, 150.0], [20.0, 170.0]), rect([-20.0, -170.0], [20.0, -150.0])]);
    let layer = layer(20.0);
    let supports = Supports::anchors(&mesh);
    // Under the right half and over the left: a torque and no net force, so that only the angle is left.
    let pair = [
        plate("right", Face::Below, rect([0.0, -50.0], [50.0, 50.0]), 1.0),
        plate("left", Face::Above, rect([-50.0, -50.0], [0.0, 50.0]), 1.0),
    ];
    // A torque of one by forces that grow with the arm over the whole plate: ∫ x² = L²/3 a share.
    let over = plate("all", Face::Below, whole(), 1.0);
    let share = 50e-6_f64.powi(2) / 3.0;
    let k = stiffness(&mesh, &layer, &supports, &over, |p| [0.0, 0.0, p[0] * 1e-6 / share]);
    let (b, length) = (100e-6, 50e-6);
    // By x = θ L/g: dC/dθ = ε₀ b L²/g² · [x/(1 − x) + ln(1 − x)]/x².
    let square = |x: f64| {
        let slope =
            VACUUM_PERMITTIVITY * b * length * length / GAP_M.powi(2) * (x / (1.0 - x) + (1.0 - x).ln()) / (x * x);
        k * x * GAP_M / length / slope
    };
    let (mut low, mut high) = (0.05, 0.95);
    for _ in 0..200 {
        let (p, q) = (low + (high - low) / 3.0, high - (high - low) / 3.0);
        if square(p) < square(q) { low = p } else { high = q }
    }
    let exact = square(low).sqrt();
    let structure = Structure::new(mesh.clone(), layer.clone(), supports.clone());
    let systems = StaticSystems::new(&structure).unwrap();
    let found = pull_in(&systems, &pair, &[true, true]).unwrap().unwrap();
    println!(
        "k {k} N m/rad, tilt pull-in {} V of {exact} V at {} (edge {} of the gap)",
        found.ratio,
        low,
        found.largest_m[0] / GAP_M
    );
    assert!((low - 0.4404).abs() < 1e-3, "{low}");
    assert!((found.ratio / exact - 1.0).abs() < 5e-3, "{} {exact}", found.ratio);
    assert!((found.largest_m[0] / GAP_M / low - 1.0).abs() < 2e-2);
}

/// A comb along stiff beams snaps sideways where V² ε₀ t Σ overlap/g³ is the lateral stiffness of the beams.
#[test]
fn a_comb_snaps_sideways_on_the_lateral_stiffness() {
    let (mesh, layer) = (guided(), layer(4.0));
    let supports = Supports::anchors(&mesh);
    let comb = Comb::even([1.0, 0.0], 4e-6, 20.0, 2e-6, 10e-6);
    let over = vec![whole()];
    let e = Electrode {
        name: "comb".into(),
        law: Law::Comb(comb.clone()),
        over,
        bias_v: 1.0,
        stated_gradient_f_per_m: None,
    };
    let k = stiffness(&mesh, &layer, &supports, &e, |_| [0.0, 1.0, 0.0]);
    let exact = comb.side_instability_v(k).unwrap();
    let structure = Structure::new(mesh.clone(), layer.clone(), supports.clone());
    let systems = StaticSystems::new(&structure).unwrap();
    let found = pull_in(&systems, std::slice::from_ref(&e), &[true]).unwrap().unwrap();
    println!("side instability {} V of {exact} V, k {k}", found.ratio);
    assert!((found.ratio / exact - 1.0).abs() < 5e-3, "{} {exact}", found.ratio);
    // A stated gradient twice the computed one halves V².
    let stated = Electrode { stated_gradient_f_per_m: Some(2.0 * e.law.rigid_gradient(1.0).unwrap()), ..e };
    let sooner = pull_in(&systems, &[stated], &[true]).unwrap().unwrap();
    assert!((sooner.ratio * 2f64.sqrt() / found.ratio - 1.0).abs() < 5e-3);
}

/// What lies beside the part, or in its holes, is no capacitance.
#[test]
fn an_electrode_over_nothing_is_named() {
    let mesh = guided();
    let layer = layer(4.0);
    let structure = Structure::anchored(mesh.clone(), layer.clone());
    let systems = StaticSystems::new(&structure).unwrap();
    let beside = plate("beside", Face::Below, rect([0.0, 60.0], [20.0, 90.0]), 1.0);
    let e = equilibrium(&systems, &[beside]).unwrap_err();
    assert!(e.to_string().contains("\"beside\" is over nothing"), "{e}");
}
