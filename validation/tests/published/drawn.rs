//! The same bounds from the drawing on: outline and default mesh as a user gets them, nothing chosen by hand.

use modalith_mesher::drawing::Anchoring;
use modalith_mesher::geometry::{Point, Polygon, Ring};
use modalith_mesher::layout::LayoutShape;
use modalith_mesher::mesh::Mesh;
use modalith_solver::element::basis::Order;
use modalith_solver::material::{Law, Orientation, library};
use modalith_solver::system::{AddedMass, Layer, Supports};
use modalith_validation::beam::{Beam, End};
use modalith_validation::bench::{Failure, REISSNER, compare, held, membrane, omegas, plate, plate_scale};
use modalith_validation::drawn::{default_mesh, device, polygons, rect};

/// A strip along x, `width` wide, anchored at both ends or at one.
fn strip(length: f64, width: f64, ends: [End; 2]) -> Result<Mesh, Failure> {
    let mut anchors = vec![rect([-20.0, -20.0], [0.0, width + 20.0])];
    if ends[1] == End::Clamped {
        anchors.push(rect([length, -20.0], [length + 20.0, width + 20.0]));
    }
    default_mesh(polygons(&[rect([0.0, 0.0], [length, width])]), Anchoring::Drawn(polygons(&anchors)))
}

const ENDS: [(&str, [End; 2]); 2] =
    [("clamped-free", [End::Clamped, End::Free]), ("clamped-clamped", [End::Clamped, End::Clamped])];

#[test]
fn strips_are_beams() -> Result<(), Failure> {
    let law = Law::isotropic(2330.0, 160e9, 0.0)?;
    let length: f64 = 1000.0;
    for (name, ends) in ENDS {
        let (mut ours, mut exact) = (Vec::new(), Vec::new());
        let scale = |depth: f64| length * length * 1e-12 * plate_scale(&law, depth * 1e-6);
        let roots =
            |slenderness| Beam { slenderness, poissons_ratio: 0.0, shear_correction: REISSNER, ends }.frequencies(1);
        for slenderness in [10.0, 20.0, 100.0] {
            let depth = length / slenderness;
            let mesh = strip(length, depth, ends)?;
            ours.push(held(&mesh, &plate(&law, depth, 4, REISSNER), &Supports::anchors(&mesh), 1)?[0] * scale(depth));
            exact.extend(roots(slenderness));
        }
        for slenderness in [50.0, 100.0] {
            let depth = length / slenderness;
            let mesh = strip(length, depth, ends)?;
            ours.push(held(&mesh, &membrane(&law, 15.0, 4), &Supports::anchors(&mesh), 1)?[0] * scale(depth));
            exact.extend(roots(slenderness));
        }
        let name = format!("{name}, out of plane L/h = 10, 20, 100, in plane L/w = 50, 100");
        println!("{}", compare(&name, "exact Timoshenko, κ = 5/6, ν = 0", &ours, &exact, &[]).within(1e-3)?.table);
    }
    Ok(())
}

#[test]
fn clamped_square_plate_at_every_thickness() -> Result<(), Failure> {
    let law = Law::isotropic(8000.0, 200e9, 0.3)?;
    let side = 1000.0;
    let frame = Polygon {
        outer: rect([-100.0, -100.0], [side + 100.0, side + 100.0]),
        holes: vec![rect([0.0, 0.0], [side, side]).into_iter().rev().collect()],
    };
    let mesh = default_mesh(polygons(&[rect([0.0, 0.0], [side, side])]), Anchoring::Drawn(vec![frame]))?;
    let mut ours = Vec::new();
    for thinness in [10.0, 100.0, 1000.0, 10_000.0] {
        let h = side / thinness;
        let omega = held(&mesh, &plate(&law, h, 4, REISSNER), &Supports::anchors(&mesh), 1)?[0];
        ours.push(omega * side * side * 1e-12 * plate_scale(&law, h * 1e-6));
    }
    // 10 and 100: order 8 on a graded mesh (orders.rs computes them); from 1000 on the thin plate (Legendre-Ritz).
    let mindlin = [32.524275, 35.942346, 35.9852, 35.9852];
    let name = format!("clamped plate, side/thickness = 10 … 10 000, {} triangles", mesh.triangles.len());
    println!("{}", compare(&name, "Mindlin plate", &ours, &mindlin, &[]).within(2e-3)?.table);
    Ok(())
}

#[test]
fn free_rings() -> Result<(), Failure> {
    let (e, rho, radius) = (160e9, 2330.0, 500.0);
    let law = Law::isotropic(rho, e, 0.3)?;
    // ωR √(ρ/E), plane stress, ν = 0.3: plane elasticity solved independently.
    for (ratio, exact) in [(0.1, [0.07710, 0.21635, 0.41031]), (0.2, [0.15210, 0.41780, 0.77102])] {
        let (inner, outer) = (radius * (1.0 - 0.5 * ratio), radius * (1.0 + 0.5 * ratio));
        let shape = LayoutShape::Ring { centre: [0.0, 0.0], inner, outer }.polygons(0.001)?;
        let mesh = default_mesh(shape, Anchoring::Free)?;
        let omega = omegas(&mesh, &membrane(&law, 15.0, 4), &Supports::none(), &AddedMass::none(), 3, 6)?;
        let ours: Vec<f64> = omega.iter().map(|w| w * radius * 1e-6 * (rho / e).sqrt()).collect();
        let doubled: Vec<f64> = exact.iter().flat_map(|&f| [f, f]).collect();
        let name = format!("ring, w/R = {ratio}, {} triangles", mesh.triangles.len());
        println!("{}", compare(&name, "plane elasticity", &ours, &doubled, &[]).within(1e-3)?.table);
        for pair in ours.chunks(2) {
            let split = (pair[1] / pair[0] - 1.0).abs();
            println!("split {split:.2e}");
            assert!(split < 1e-6, "pair at {} splits by {split:.2e}", pair[0]);
        }
    }
    Ok(())
}

fn frequencies(
    (structure, anchors): (Vec<Ring>, Vec<Ring>),
    law: &Law,
    to: impl Fn(Point) -> Point,
    reverse: bool,
) -> Result<Vec<f64>, Failure> {
    let place = |rings: Vec<Ring>| -> Vec<Polygon> {
        let moved = |ring: Ring| -> Ring {
            let ring: Ring = ring.into_iter().map(&to).collect();
            if reverse { ring.into_iter().rev().collect() } else { ring }
        };
        polygons(&rings.into_iter().map(moved).collect::<Vec<_>>())
    };
    let mesh = default_mesh(place(structure), Anchoring::Drawn(place(anchors)))?;
    let layer = Layer::shell_with(law, 10.0, Order::DEFAULT, REISSNER);
    omegas(&mesh, &layer, &Supports::anchors(&mesh), &AddedMass::none(), 0, 8)
}

#[test]
fn a_device_drawn_otherwise_sounds_the_same() -> Result<(), Failure> {
    let law = library("silicon", Some(&Orientation { wafer: [0, 0, 1], x_along: [1, 1, 0], x_off_deg: 0.0 }))?;
    let drawn = frequencies(device(false), &law, |p| p, false)?;
    let (s, c) = 17.0_f64.to_radians().sin_cos();
    let turned = law.turned_with_layout(17.0);
    let variants = [
        (
            "turned by 17° with its crystal",
            frequencies(device(false), &turned, |[x, y]| [c * x - s * y, s * x + c * y], false)?,
        ),
        ("shifted", frequencies(device(false), &law, |[x, y]| [x + 1234.567, y - 765.432], false)?),
        // <110> in a (100) wafer is a mirror of the crystal.
        ("mirrored", frequencies(device(false), &law, |[x, y]| [-x, y], true)?),
        ("cut into other polygons", frequencies(device(true), &law, |p| p, false)?),
    ];
    for (name, ours) in variants {
        println!("{}", compare(name, "the device as drawn", &ours, &drawn, &[]).within(5e-4)?.table);
    }
    Ok(())
}
