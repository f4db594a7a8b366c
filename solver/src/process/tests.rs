use super::*;
use crate::element::basis::Order;
use crate::element::prism::SHEAR_CORRECTION;
use crate::material::{Constants, Law, Orientation};
use crate::modal::{Modal, Wanted, modes};
use crate::system::{Layer, Structure};
use modalith_mesher::drawing::{Anchoring, Drawing, Film};
use modalith_mesher::geometry::Polygon;
use modalith_mesher::layout::LayoutShape;
use modalith_mesher::mesh::Mesh;
use modalith_mesher::motion::{MeshMotion, Wall};
use modalith_mesher::outline::{Etch, Outline};
use modalith_mesher::triangulate::{MeshSize, triangulate};

const SILICON: Constants = Constants::Cubic {
    density_kg_m3: 2329.0,
    stiffness_pa: [165.7e9, 63.9e9, 79.6e9],
    orientation: Orientation { wafer: [0, 0, 1], x_along: [1, 1, 0], x_off_deg: 10.0 },
};
const FILM: Constants = Constants::Isotropic { density_kg_m3: 2330.0, youngs_modulus_pa: 160e9, poissons_ratio: 0.22 };

fn rect(a: [f64; 2], b: [f64; 2]) -> Vec<Polygon> {
    LayoutShape::Rect { corners: [a, b] }.polygons(0.001).unwrap()
}

/// A plate with a round hole on three flexures of which one is cranked; no mirror axis, invented.
fn device() -> Outline {
    let mut structure = rect([60.0, 0.0], [160.0, 80.0]);
    structure.extend(rect([-40.0, 36.0], [60.0, 42.0]));
    structure.extend(rect([160.0, 60.0], [224.0, 66.0]));
    structure.extend(rect([218.0, 60.0], [224.0, 120.0]));
    structure.extend(rect([70.0, -70.0], [75.0, 0.0]));
    let holes = LayoutShape::Circle { centre: [100.0, 30.0], radius: 10.0 }.polygons(0.001).unwrap();
    let mut anchors = rect([-60.0, 20.0], [-40.0, 60.0]);
    anchors.extend(rect([200.0, 120.0], [240.0, 140.0]));
    anchors.extend(rect([60.0, -90.0], [90.0, -70.0]));
    let drawing = Drawing {
        film: Film::Drawn { structure, holes },
        anchoring: Anchoring::Drawn(anchors),
        masses: vec![],
        electrodes: vec![],
    };
    Outline::build(&drawing, &Etch::default()).unwrap()
}

/// Small: the terms are those of the discrete system, however coarse.
fn mesh_of(outline: &Outline) -> Mesh {
    triangulate(outline, &MeshSize { corner_ratio: 1.0, ..MeshSize::default() }).unwrap()
}

fn shell(constants: &Constants) -> Layer {
    Layer::shell_with(&constants.law().unwrap(), 10.0, Order::new(3).unwrap(), SHEAR_CORRECTION)
}

fn solved(mesh: &Mesh, layer: &Layer, count: usize) -> Modal {
    modes(&Structure::anchored(mesh.clone(), layer.clone()), Wanted::Lowest(count), &|_| {}).unwrap()
}

fn frequencies(mesh: &Mesh, layer: &Layer, count: usize) -> Vec<f64> {
    solved(mesh, layer, count).modes.iter().map(|m| m.frequency_hz).collect()
}

/// Largest difference of terms and central differences of full solves, as a share of the mode's largest term; terms are
/// weighed as shifts by 20 nm of bias, 2 % of thickness and 1 % of each constant.
fn worst(mesh: &Mesh, layer: &Layer, constants: &Constants, count: usize) -> f64 {
    let modal = solved(mesh, layer, count);
    let motion = MeshMotion::edges(mesh, 6.0);
    let which: Vec<usize> = (0..count).collect();
    let terms = process_terms(&modal, constants, &motion, &which).unwrap();
    let bias = 0.02;
    let thickness = layer.thickness_m * 1e6;
    let thicker = 0.02 * thickness;
    let mut pairs = vec![
        [1.0, -1.0].map(|s| frequencies(&motion.moved(mesh, s * bias), layer, count)),
        [1.0, -1.0].map(|s| frequencies(mesh, &layer.with_thickness(thickness + s * thicker), count)),
    ];
    for k in 0..constants.names().len() {
        let law = |s: f64| -> Law { constants.scaled(k, 1.0 + 0.01 * s).law().unwrap() };
        pairs.push([1.0, -1.0].map(|s| frequencies(mesh, &layer.with_law(&law(s)), count)));
    }
    let mut worst = 0.0_f64;
    for i in 0..count {
        let own = terms.of(i);
        let mut shifts = vec![own.hz_per_nm_edge_bias * 1e3 * bias, own.hz_per_um_thickness * thicker];
        shifts.extend(own.hz_per_percent.iter().map(|(_, hz)| hz));
        let solves: Vec<f64> = pairs.iter().map(|[plus, minus]| 0.5 * (plus[i] - minus[i])).collect();
        let largest = shifts.iter().map(|s| s.abs()).fold(0.0, f64::max);
        assert!(largest > 1e-4 * terms.frequency_hz[i]);
        for (a, b) in shifts.iter().zip(&solves) {
            worst = worst.max((a - b).abs() / largest);
        }
    }
    worst
}

/// Largest term of a mode: 0.1 %, ten times inside the bound asked.
#[test]
fn terms_of_a_shell_against_full_solves() {
    let mesh = mesh_of(&device());
    for constants in [SILICON, FILM] {
        let off = worst(&mesh, &shell(&constants), &constants, 6);
        println!("shell: {off:.1e} of the largest term");
        assert!(off < 1e-3, "{off}");
    }
}

#[test]
fn terms_of_a_solid_against_full_solves() {
    let mesh = mesh_of(&device());
    let off = worst(&mesh, &Layer::solid(&SILICON.law().unwrap(), 10.0, Order::new(2).unwrap(), 3, 2), &SILICON, 4);
    println!("solid: {off:.1e} of the largest term");
    assert!(off < 1e-3, "{off}");
}

/// A slender cantilever bends out of its plane with t √(E/ρ)/L², in its plane with w √(E/ρ)/L²; its tip moves with the bias.
#[test]
fn cantilever() {
    let (l, w, t) = (400.0, 8.0, 4.0);
    let mut strip = Mesh::rectangle(l, w, 40, 1).unwrap();
    strip.hold(|middle| middle[0] == 0.0);
    let film = Constants::Isotropic { density_kg_m3: 2330.0, youngs_modulus_pa: 160e9, poissons_ratio: 0.0 };
    let modal = solved(&strip, &Layer::shell(&film.law().unwrap(), t), 3);
    let all = process_terms(&modal, &film, &MeshMotion::edges(&strip, w), &[0, 1, 2]).unwrap();
    let in_plane = (0..3).find(|&i| modal.modes[i].kinetic_share[2] < 0.5).unwrap();
    for i in [0, in_plane] {
        let (terms, f) = (all.of(i), all.frequency_hz[i]);
        let close = |what: &str, value: f64, expected: f64, bound: f64| {
            assert!((value - expected).abs() < bound, "mode {i}, {what}: {value} {expected}");
        };
        let relative: Vec<f64> = terms.hz_per_percent.iter().map(|(_, hz)| 100.0 * hz / f).collect();
        close("E", relative[0], 0.5, 1e-7);
        close("density", relative[2], -0.5, 1e-7);
        let by_width = if i == 0 { 0.0 } else { 2.0 / w };
        close("bias", terms.hz_per_nm_edge_bias * 1e3 / f * w, (by_width - 2.0 / l) * w, 5e-3);
        close("thickness", terms.hz_per_um_thickness * t / f, if i == 0 { 1.0 } else { 0.0 }, 2e-3);
    }
}

/// Twenty nanometres on one wall of one flexure: change of the split between modes, first order against a full solve. 3 %.
#[test]
fn one_wall_of_one_flexure() {
    let outline = device();
    let mesh = mesh_of(&outline);
    let layer = shell(&SILICON);
    let modal = solved(&mesh, &layer, 4);
    let found = flexure_terms(&modal, &outline.flexures, 6.0, &[0, 1, 2, 3]).unwrap();
    assert_eq!(found.len(), outline.flexures.len());
    let step = 0.02;
    for (f, flexure) in outline.flexures.iter().enumerate() {
        for (wall, change) in [(Wall::Left, &found[f].left), (Wall::Right, &found[f].right)] {
            let motion = MeshMotion::of_wall(&mesh, f, flexure, wall, 6.0);
            assert!(motion.smallest_jacobian(&mesh, step) > 0.2);
            let after = frequencies(&motion.moved(&mesh, step), &layer, 4);
            let before: Vec<f64> = modal.modes.iter().map(|m| m.frequency_hz).collect();
            let first: Vec<f64> = (0..4).map(|i| step * change.hz(i, before[i])).collect();
            let largest = (1..4).map(|i| (first[i] - first[0]).abs()).fold(0.0, f64::max);
            for i in 1..4 {
                let (solved, linear) = (after[i] - after[0] - before[i] + before[0], first[i] - first[0]);
                assert!((solved - linear).abs() < 0.03 * largest, "flexure {f} {wall:?}: {solved} {linear}");
            }
        }
        let both = found[f].widened().hz(0, modal.modes[0].frequency_hz);
        assert!(both > 0.0);
    }
}

/// Stiffness is linear in the elastic constants together, whatever the model condenses: their shares add up to ½.
#[test]
fn constants_add_up() {
    let mesh = mesh_of(&device());
    let modal = solved(&mesh, &shell(&SILICON), 4);
    let motion = MeshMotion::edges(&mesh, 6.0);
    let terms = process_terms(&modal, &SILICON, &motion, &[0, 1, 2, 3]).unwrap();
    for i in 0..4 {
        let shares: Vec<f64> =
            terms.of(i).hz_per_percent.iter().map(|(_, hz)| 100.0 * hz / terms.frequency_hz[i]).collect();
        assert!((shares[..3].iter().sum::<f64>() - 0.5).abs() < 1e-6, "{shares:?}");
        assert!((shares[3] + 0.5).abs() < 1e-6);
    }
}

#[test]
fn ranges_keep_signs_within_a_split() {
    let change_of = |shifts: [f64; 2]| {
        let mut f = ModalSensitivity::zeros(2);
        // δ(ω²) of a shift of so many Hz of a mode at 1000 and 1500 Hz.
        let tau = std::f64::consts::TAU;
        (0..2).for_each(|i| f.stiffness[(i, i)] = 2.0 * tau * tau * [1000.0, 1500.0][i] * shifts[i]);
        f
    };
    let terms = ProcessTerms {
        modes: vec![0, 1],
        frequency_hz: vec![1000.0, 1500.0],
        edge_bias: change_of([3000.0, 3400.0]),
        thickness: change_of([30.0, 0.0]),
        constants: vec![("youngs_modulus", change_of([5.0, 7.5])), ("density", change_of([-5.0, -7.5]))],
    };
    let spread = Spread {
        edge_bias_um: 0.01,
        thickness_um: 1.0,
        constants_percent: vec![("youngs_modulus".to_owned(), 2.0), ("hardness".to_owned(), 9.0)],
    };
    let first = terms.range(0, &spread);
    assert!((first.high_hz - 1000.0 - (30f64.powi(2) + 30f64.powi(2) + 10f64.powi(2)).sqrt()).abs() < 1e-9);
    let split = terms.split_range([0, 1], &spread);
    assert!((split.high_hz - 500.0 - (4f64.powi(2) + 30f64.powi(2) + 5f64.powi(2)).sqrt()).abs() < 1e-9);
    assert!((split.low_hz + split.high_hz - 1000.0).abs() < 1e-9);
}

/// Two parameters that take a difference of 10 Hz to −20 and to 30 one way, and to 14 and −30 the other: up √(20² + 4²), down √(30² + 40²).
#[test]
fn ends_of_parameters_add_up_each_way() {
    let range = Range::of_ends(10.0, &[[-20.0, 30.0], [14.0, -30.0]]);
    assert!((range.low_hz - (10.0 - 50.0)).abs() < 1e-12 && (range.high_hz - (10.0 + 416f64.sqrt())).abs() < 1e-12);
    // What turns back both ways, as a distance at an avoided crossing does, has an end on one side alone.
    assert_eq!(Range::of_ends(10.0, &[[25.0, 25.0]]), Range { drawn_hz: 10.0, low_hz: 10.0, high_hz: 25.0 });
    assert_eq!(
        Range::around(10.0, 1.0).and(Range::around(30.0, 2.0)),
        Range { drawn_hz: 10.0, low_hz: 9.0, high_hz: 32.0 }
    );
}
