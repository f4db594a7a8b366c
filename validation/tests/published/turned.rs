//! The same device drawn elsewhere, turned by 17° with its crystal, mirrored, or cut into other triangles, sounds the same.

use modalith_mesher::mesh::Mesh;
use modalith_solver::element::basis::Order;
use modalith_solver::material::{Law, Orientation, library};
use modalith_solver::system::{AddedMass, Layer, Supports};
use modalith_validation::bench::{Failure, REISSNER, compare, omegas};
use modalith_validation::shape::{graded, grid, mirrored, moved};

const LENGTH: f64 = 400.0;
const WIDTH: f64 = 40.0;
const THICKNESS: f64 = 15.0;
const TURN_DEG: f64 = 17.0;
const BOUND: f64 = 5e-4;
/// The frame's own rounding: the very same triangles, only placed elsewhere.
const EXACT: f64 = 1e-8;

fn silicon() -> Result<Law, Failure> {
    // A (100) wafer, the strip along <110>.
    Ok(library("silicon", Some(&Orientation { wafer: [0, 0, 1], x_along: [1, 1, 0], x_off_deg: 0.0 }))?)
}

/// A strip along x from the clamp at x = 0 that widens to one side only, so that no mirror is hidden in it.
fn blade(cells: u32) -> Result<Mesh, Failure> {
    let xs = graded(LENGTH, cells, 3, 0.3);
    let strip = grid(&xs, &graded(WIDTH, 2, 2, 0.3))?;
    Ok(moved(&strip, |[x, y]| [x, y * (1.0 + 0.6 * x / LENGTH)])?)
}

fn clamped(mesh: &Mesh, at: impl Fn([f64; 2]) -> bool) -> Supports {
    let mut mesh = mesh.clone();
    mesh.hold(at);
    Supports::anchors(&mesh)
}

/// The eight lowest of all motions, in the plane and out of it, all five fields at once.
fn frequencies(mesh: &Mesh, law: &Law, supports: &Supports) -> Result<Vec<f64>, Failure> {
    let layer = Layer::shell_with(law, THICKNESS, Order::DEFAULT, REISSNER);
    omegas(mesh, &layer, supports, &AddedMass::none(), 0, 8)
}

fn turned([x, y]: [f64; 2]) -> [f64; 2] {
    let (s, c) = TURN_DEG.to_radians().sin_cos();
    [c * x - s * y, s * x + c * y]
}

/// x in the strip's own axes of a point of the turned layout.
fn along([x, y]: [f64; 2]) -> f64 {
    let (s, c) = TURN_DEG.to_radians().sin_cos();
    c * x + s * y
}

#[test]
fn turned_with_its_crystal() -> Result<(), Failure> {
    let law = silicon()?;
    let mesh = blade(8)?;
    let straight = frequencies(&mesh, &law, &clamped(&mesh, |m| m[0] == 0.0))?;
    let mesh = moved(&mesh, turned)?;
    let held = clamped(&mesh, |m| along(m).abs() < 1e-9);
    let ours = frequencies(&mesh, &law.turned_with_layout(TURN_DEG), &held)?;
    println!("{}", compare("turned by 17°", "the layout as drawn", &ours, &straight, &[]).within(EXACT)?.table);
    // Without its crystal, or with the crystal turned the wrong way, the device is another one.
    for other in [law.clone(), law.turned_with_layout(-TURN_DEG)] {
        let wrong = frequencies(&mesh, &other, &held)?;
        assert!(compare("", "", &wrong, &straight, &[]).worst > 10.0 * BOUND);
    }
    Ok(())
}

#[test]
fn turned_and_cut_into_other_triangles() -> Result<(), Failure> {
    let law = silicon()?;
    let mesh = blade(8)?;
    let straight = frequencies(&mesh, &law, &clamped(&mesh, |m| m[0] == 0.0))?;
    let mesh = moved(&blade(13)?, turned)?;
    let held = clamped(&mesh, |m| along(m).abs() < 1e-9);
    let ours = frequencies(&mesh, &law.turned_with_layout(TURN_DEG), &held)?;
    println!("{}", compare("turned and cut anew", "the layout as drawn", &ours, &straight, &[]).within(BOUND)?.table);
    Ok(())
}

#[test]
fn shifted() -> Result<(), Failure> {
    let law = silicon()?;
    let mesh = blade(8)?;
    let at_origin = frequencies(&mesh, &law, &clamped(&mesh, |m| m[0] == 0.0))?;
    let mesh = moved(&mesh, |[x, y]| [x + 12_345.0, y - 6789.0])?;
    let ours = frequencies(&mesh, &law, &clamped(&mesh, |m| m[0] == 12_345.0))?;
    println!("{}", compare("shifted", "the layout at the origin", &ours, &at_origin, &[]).within(EXACT)?.table);
    Ok(())
}

#[test]
fn mirrored_with_its_crystal() -> Result<(), Failure> {
    // About the y axis a crystal turned by +α from a mirror direction becomes one turned by −α: <110> in a (100) wafer is
    // such a direction.
    let law = silicon()?;
    let mesh = blade(8)?;
    let drawn = frequencies(&mesh, &law.turned_with_layout(10.0), &clamped(&mesh, |m| m[0] == 0.0))?;
    let mesh = mirrored(&mesh)?;
    let ours = frequencies(&mesh, &law.turned_with_layout(-10.0), &clamped(&mesh, |m| m[0] == 0.0))?;
    println!("{}", compare("mirrored", "the layout as drawn", &ours, &drawn, &[]).within(EXACT)?.table);
    let wrong = frequencies(&mesh, &law.turned_with_layout(10.0), &clamped(&mesh, |m| m[0] == 0.0))?;
    assert!(compare("", "", &wrong, &drawn, &[]).worst > BOUND);
    Ok(())
}
