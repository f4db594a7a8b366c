//! The solid: simply supported plates against the exact three-dimensional solution, twist of clamped bars with the degrees that
//! are picked by region, patch tests of the full law, mass as a rigid body.

use modalith_mesher::mesh::Mesh;
use modalith_solver::element::basis::Order;
use modalith_solver::element::through::Field;
use modalith_solver::material::{Law, Orientation, library};
use modalith_solver::mode::rigid_mass;
use modalith_solver::system::{AddedMass, Layer, Supports, System};
use modalith_validation::bench::{Failure, compare, held, omegas};
use modalith_validation::shape::{disc, graded, grid, moved};

/// All fields of a layer along one of its axes.
fn along(layer: &Layer, axis: u8) -> Vec<Field> {
    layer.fields.iter().copied().filter(|f| f.axis == axis).collect()
}

/// No deflection and no tangential displacement on any edge, through the whole thickness.
fn simple(mesh: &Mesh, layer: &Layer, [w, h]: [f64; 2]) -> Supports {
    let mut supports = Supports::none();
    supports.hold_edges(mesh, |m| m[0] == 0.0 || m[0] == w, &[along(layer, 1), along(layer, 2)].concat());
    supports.hold_edges(mesh, |m| m[1] == 0.0 || m[1] == h, &[along(layer, 0), along(layer, 2)].concat());
    supports
}

/// Brischetto, Shock and Vibration 2014, 479738, Table 7: ν = 0.3, b = 3a, ω (a²/h) √(ρ/E), half-waves (1, 1), which is the
/// lowest mode with those edges.
#[test]
fn exact_simply_supported_plates() -> Result<(), Failure> {
    let law = Law::isotropic(8000.0, 200e9, 0.3)?;
    let side = 1e7;
    let mesh = Mesh::rectangle(side, 3.0 * side, 4, 10)?;
    let mut ours = Vec::new();
    for thinness in [100.0, 50.0, 10.0, 5.0] {
        let layer = Layer::solid_by_region(&law, side / thinness, &mesh).keeping(|f| !f.is_in_plane());
        let omega = held(&mesh, &layer, &simple(&mesh, &layer, [side, 3.0 * side]), 1)?[0];
        ours.push(omega * side * 1e-6 * thinness * (8000.0_f64 / 200e9).sqrt());
    }
    let exact = [3.3179, 3.3159, 3.2562, 3.0923];
    let name = "3D exact, (1, 1), a/h = 100, 50, 10, 5";
    println!("{}", compare(name, "Brischetto 2014, Table 7", &ours, &exact, &exact).within(3e-3)?.table);
    Ok(())
}

/// First twisting mode of a bar 4 µm wide and 100 µm long, clamped at one end (warping restrained there), with the degrees
/// picked by region, against degree 11 in z, order 6 in the plane, on a finer mesh.
#[test]
fn twist_of_clamped_bars() -> Result<(), Failure> {
    let law = Law::isotropic(2330.0, 160e9, 0.22)?;
    let (width, length) = (4.0, 100.0);
    // The lowest mode out of the plane with u and w odd in y.
    let twist = |layers: u32, layer: &dyn Fn(&Mesh) -> Layer| -> Result<f64, Failure> {
        let across: Vec<f64> = graded(width, 2, layers, 0.3).iter().map(|y| y - 0.5 * width).collect();
        let mesh = grid(&graded(length, 8, layers, 0.25), &across)?;
        let layer = layer(&mesh).keeping(|f| !f.is_in_plane());
        // The half bar: the region is found on the whole one, whose triangles of y > 0 come last.
        let half = Mesh::from_triangles(mesh.points.clone(), mesh.triangles[mesh.triangles.len() / 2..].to_vec())?;
        let layer = Layer { regions: layer.regions.tail(mesh.triangles.len() / 2), ..layer };
        let mut supports = Supports::none();
        supports.hold_edges(&half, |m| m[0] == 0.0, &layer.fields);
        supports.hold_edges(&half, |m| m[1] == 0.0, &[along(&layer, 0), along(&layer, 2)].concat());
        Ok(held(&half, &layer, &supports, 1)?[0])
    };
    let (mut ours, mut converged) = (Vec::new(), Vec::new());
    for tall in [1.0, 2.0, 4.0, 8.0] {
        ours.push(twist(1, &|mesh| Layer::solid_by_region(&law, tall * width, mesh))?);
        let order = Order::new(6).ok_or("no order 6")?;
        converged.push(twist(3, &|_| Layer::solid(&law, tall * width, order, 11, 10))?);
    }
    let name = "twist, rad/s, t/w = 1, 2, 4, 8";
    println!("{}", compare(name, "own, degree 11", &ours, &converged, &[]).within(2e-3)?.table);
    Ok(())
}
