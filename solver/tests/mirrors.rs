//! A structure with mirrors is solved in pieces: the same modes and deflections at rest as when it is solved in one.

#![allow(clippy::unwrap_used)]

use modalith_mesher::mesh::{Mesh, MirrorAxis};
use modalith_solver::element::basis::Order;
use modalith_solver::material::{Law, Orientation};
use modalith_solver::modal::{Modal, Wanted, base_acceleration, modes};
use modalith_solver::system::{AddedMass, Fold, Layer, Mirrored, Structure, Supports, System};

fn plate(along: &[f64]) -> Mesh {
    let mut mesh = Mesh::rectangle(60.0, 20.0, 6, 2).unwrap();
    mesh.mirrors = along.iter().map(|&angle_deg| MirrorAxis { point: [30.0, 10.0], angle_deg }).collect();
    mesh
}

fn law() -> Law {
    Law::isotropic(2330.0, 160e9, 0.22).unwrap()
}

fn found(mesh: &Mesh, layer: &Layer, supports: &Supports) -> Modal {
    modes(&Structure::new(mesh.clone(), layer.clone(), supports.clone()), Wanted::Lowest(14), &|_| {}).unwrap()
}

fn fold(mesh: &Mesh, layer: &Layer, supports: &Supports) -> Option<Fold> {
    Fold::along(&Structure::new(mesh.clone(), layer.clone(), supports.clone()))
}

/// Frequencies, shapes by the mass of the whole, orders with and without interior functions.
#[test]
fn pieces_give_the_modes_of_the_whole() {
    let clamped_sides = |mesh: &mut Mesh| mesh.hold(|m| m[0] == 0.0 || m[0] == 60.0);
    for (along, pieces) in [(vec![0.0, 90.0], 4), (vec![90.0], 2), (vec![0.0], 2)] {
        for order in [2, 4, 5] {
            let mut mesh = plate(&along);
            clamped_sides(&mut mesh);
            let supports = Supports::anchors(&mesh);
            let shell = Layer::shell_with(&law(), 4.0, Order::new(order).unwrap(), 5.0 / 6.0);
            let solid = Layer::solid(&law(), 9.0, Order::new(order).unwrap(), 3, 2);
            for layer in [shell, solid] {
                assert_eq!(fold(&mesh, &layer, &supports).map(|f| f.pieces()), Some(pieces));
                let split = found(&mesh, &layer, &supports);
                let whole = found(&Mesh { mirrors: Vec::new(), ..mesh.clone() }, &layer, &supports);
                for (a, b) in split.modes.iter().zip(&whole.modes) {
                    assert!(
                        (a.frequency_hz / b.frequency_hz - 1.0).abs() < 1e-11,
                        "{} {}",
                        a.frequency_hz,
                        b.frequency_hz
                    );
                }
                for (number, part) in layer.uncoupled(&supports).iter().enumerate() {
                    let system =
                        System::assemble(&Structure::new(mesh.clone(), part.clone(), supports.clone())).unwrap();
                    let own = |m: &Modal| -> Vec<Vec<f64>> {
                        let own_modes = (0..14).filter(|&i| m.motion_of[i] == number);
                        own_modes.map(|i| m.modes[i].shape.clone()).collect()
                    };
                    for (a, b) in own(&split).into_iter().zip(own(&whole)) {
                        let (a, b) = (nalgebra::DVector::from(a), nalgebra::DVector::from(b));
                        let product = (&system.m * &a).dot(&b).abs();
                        assert!((product - 1.0).abs() < 1e-9, "{product}");
                    }
                }
            }
        }
    }
}

/// Free plates keep six rigid motions, and pairs of equal frequency stay whole where the count cuts through one.
#[test]
fn rigid_motions_and_pairs_are_counted_over_all_pieces() {
    let mut square = Mesh::rectangle(40.0, 40.0, 4, 4).unwrap();
    square.mirrors = [0.0, 90.0].map(|angle_deg| MirrorAxis { point: [20.0, 20.0], angle_deg }).to_vec();
    let layer = Layer::shell(&law(), 2.0);
    let whole = Mesh { mirrors: Vec::new(), ..square.clone() };
    for count in 6..16 {
        let one = |mesh: &Mesh| {
            let modal =
                modes(&Structure::new(mesh.clone(), layer.clone(), Supports::none()), Wanted::Lowest(count), &|_| {})
                    .unwrap();
            modal.modes.iter().map(|m| m.frequency_hz).collect::<Vec<_>>()
        };
        let (split, whole) = (one(&square), one(&whole));
        assert_eq!(split.iter().filter(|f| **f == 0.0).count(), 6);
        assert_eq!(split.len(), whole.len(), "{split:?} {whole:?}");
        assert!(split.iter().zip(&whole).all(|(a, b)| (a - b).abs() <= 1e-9 * b), "{split:?} {whole:?}");
    }
}

/// Bands and neighbourhoods too.
#[test]
fn bands_are_whole_over_all_pieces() {
    let mut mesh = plate(&[0.0, 90.0]);
    mesh.hold(|m| m[1] == 0.0 || m[1] == 20.0);
    let (layer, supports) = (Layer::shell(&law(), 2.0), Supports::anchors(&mesh));
    let whole = Mesh { mirrors: Vec::new(), ..mesh.clone() };
    let lowest = found(&whole, &layer, &supports);
    let hz = 0.5 * (lowest.modes[8].frequency_hz + lowest.modes[9].frequency_hz);
    for wanted in [Wanted::UpTo { hz, most: None }, Wanted::UpTo { hz, most: Some(5) }, Wanted::Near { hz, count: 5 }] {
        let one = |mesh: &Mesh| {
            modes(&Structure::new(mesh.clone(), layer.clone(), supports.clone()), wanted, &|_| {}).unwrap()
        };
        let (split, whole) = (one(&mesh), one(&whole));
        assert_eq!(split.modes.len(), whole.modes.len(), "{wanted:?}");
        let same = |(a, b): (&modalith_solver::mode::Mode, &modalith_solver::mode::Mode)| {
            (a.frequency_hz / b.frequency_hz - 1.0).abs() < 1e-11
        };
        assert!(split.modes.iter().zip(&whole.modes).all(same), "{wanted:?}");
    }
}

#[test]
fn deflections_at_rest_are_those_of_the_whole() {
    let mut mesh = plate(&[0.0, 90.0]);
    mesh.hold(|m| m[0] == 0.0 || m[0] == 60.0);
    mesh.mass_names = vec!["left half".into()];
    mesh.mass_of = (0..mesh.triangles.len()).map(|t| (mesh.geometry(t)[3][0] < 30.0).then_some(0)).collect();
    let (layer, supports) = (Layer::shell(&law(), 2.0), Supports::anchors(&mesh));
    let whole = Mesh { mirrors: Vec::new(), ..mesh.clone() };
    let rest = |mesh: &Mesh| base_acceleration(&Structure::new(mesh.clone(), layer.clone(), supports.clone())).unwrap();
    let (split, whole) = (rest(&mesh), rest(&whole));
    for (a, b) in split.iter().zip(&whole) {
        let size = b[0].translation.iter().fold(0.0_f64, |m, x| m.max(x.abs()));
        for k in 0..3 {
            assert!((a[0].translation[k] - b[0].translation[k]).abs() < 1e-9 * size, "{a:?} {b:?}");
            let scale = size / 60e-6;
            assert!((a[0].turn[k] - b[0].turn[k]).abs() < 1e-8 * scale, "{a:?} {b:?}");
        }
    }
}

/// A mirror of the drawing that material, supports or fields do not have splits nothing.
#[test]
fn what_breaks_a_mirror_is_solved_in_one() {
    let mut mesh = plate(&[0.0, 90.0]);
    mesh.hold(|m| m[1] == 0.0);
    let layer = Layer::shell(&law(), 4.0);
    let pieces = |layer: &Layer, supports: &Supports| fold(&mesh, layer, supports).map(|f| f.pieces());
    // Held along one side: only the mirror across x is left.
    assert_eq!(pieces(&layer, &Supports::anchors(&mesh)), Some(2));
    assert_eq!(pieces(&layer, &Supports::none()), Some(2));
    let turned = Layer::shell(&silicon(17.0), 4.0);
    assert_eq!(pieces(&turned, &Supports::none()), None);
    assert_eq!(pieces(&Layer::shell(&silicon(0.0), 4.0), &Supports::none()), Some(2));
    let mut corner = Supports::none();
    corner.hold_corner(0, &layer.fields);
    assert_eq!(pieces(&layer, &corner), None);
    let mut below = Supports::none();
    below.hold_below([0]);
    assert_eq!(pieces(&Layer::solid(&law(), 4.0, Order::DEFAULT, 1, 2), &below), None);
    let mut added = AddedMass::none();
    added.point(0, 1e-12);
    assert!(Fold::along(&Structure::new(mesh, layer, Supports::none()).with_added_mass(added)).is_none());
}

/// Silicon with the layout's x off <110> by so many degrees.
fn silicon(x_off_deg: f64) -> Law {
    let lie = Orientation { wafer: [0, 0, 1], x_along: [1, 1, 0], x_off_deg };
    Law::cubic(2329.0, 165.7e9, 63.9e9, 79.6e9, &lie).unwrap()
}

/// A shake of the base along an axis only moves modes of its own parity, and both parities of both mirrors occur. Without mirrors
/// there is nothing to say.
#[test]
fn modes_say_their_parity() {
    let mut mesh = plate(&[0.0, 90.0]);
    mesh.hold(|m| m[0] == 0.0 || m[0] == 60.0);
    let (layer, supports) = (Layer::shell(&law(), 4.0), Supports::anchors(&mesh));
    let split = found(&mesh, &layer, &supports);
    assert_eq!(split.mirrored.len(), split.modes.len());
    for (mode, parity) in split.modes.iter().zip(&split.mirrored) {
        let odd = |axis: usize| parity.iter().find(|m| m.across_y == (axis == 1)).unwrap().odd;
        for (along, mass) in mode.effective_mass_kg().into_iter().enumerate() {
            let total = 2330.0 * 60e-6 * 20e-6 * 4e-6;
            let own = [0, 1].iter().all(|&axis| odd(axis) == (axis == along));
            assert!(mass < 1e-20 * total || own, "{mass} kg along {along} of {parity:?}");
        }
    }
    for across_y in [false, true] {
        for odd in [false, true] {
            let image = Mirrored { across_y, odd };
            assert!(split.mirrored.iter().any(|p| p.contains(&image)), "{image:?}");
        }
    }
    let whole = found(&Mesh { mirrors: Vec::new(), ..mesh }, &layer, &supports);
    assert!(whole.mirrored.iter().all(Vec::is_empty));
}
