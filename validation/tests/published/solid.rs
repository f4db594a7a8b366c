//! The solid: simply supported plates against the exact three-dimensional solution, twist of clamped bars with the degrees that
//! are picked by region, patch tests of the full law, mass as a rigid body.

use modalith_mesher::mesh::Mesh;
use modalith_solver::element::basis::Order;
use modalith_solver::element::through::Field;
use modalith_solver::material::{Law, Orientation, library};
use modalith_solver::modal::{Wanted, modes};
use modalith_solver::mode::rigid_mass;
use modalith_solver::system::{ElementMatrices, Layer, Regions, Structure, Supports, System};
use modalith_validation::bench::{Failure, compare, held};
use modalith_validation::shape::{disc, graded, grid, moved};
use nalgebra::DVector;

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

/// A bar 4 µm wide and 100 µm long, graded towards its ends and walls; y from 0 (`half`) or −2 µm to 2 µm.
fn bar(layers: u32, half: bool) -> Result<Mesh, Failure> {
    let across = graded(4.0, 2, layers, 0.3).into_iter().map(|y| y - 2.0).filter(|y| !half || *y >= -1e-9);
    Ok(grid(&graded(100.0, 8, layers, 0.25), &across.collect::<Vec<f64>>())?)
}

/// First twisting mode of a bar clamped at one end, warping restrained there, with the degrees picked by region, against
/// degree 11 through the thickness and order 6 in the plane on a finer mesh of the half bar.
#[test]
fn twist_of_clamped_bars() -> Result<(), Failure> {
    let law = Law::isotropic(2330.0, 160e9, 0.22)?;
    let (mut ours, mut converged) = (Vec::new(), Vec::new());
    let mut whole = bar(1, false)?;
    whole.hold(|m| m[0] == 0.0);
    let half = bar(3, true)?;
    for tall in [1.0, 2.0, 4.0, 8.0] {
        let layer = Layer::solid_by_region(&law, 4.0 * tall, &whole);
        let wanted = Wanted::Lowest(9);
        let found = modes(&Structure::anchored(whole.clone(), layer.clone()), wanted, &|_| {})?;
        // Out of the plane bending moves hardly anything along y, twist a good share.
        let twists = |i: &usize| found.motion_of[*i] == 1 && found.modes[*i].kinetic_share[1] > 0.2;
        let first = (0..found.modes.len()).find(twists).ok_or("no twisting mode")?;
        ours.push(found.modes[first].frequency_hz);
        let order = Order::new(6).ok_or("no order 6")?;
        let layer = Layer::solid(&law, 4.0 * tall, order, 11, 10).keeping(|f| !f.is_in_plane());
        let mut supports = Supports::none();
        supports.hold_edges(&half, |m| m[0] == 0.0, &layer.fields);
        supports.hold_edges(&half, |m| m[1] == 0.0, &[along(&layer, 0), along(&layer, 2)].concat());
        converged.push(held(&half, &layer, &supports, 1)?[0] / std::f64::consts::TAU);
    }
    let name = "twist, Hz, t/w = 1, 2, 4, 8";
    println!("{}", compare(name, "own, degree 11", &ours, &converged, &[]).within(2e-3)?.table);
    Ok(())
}

/// A crystal turned out of every symmetry: its law is full.
fn skew() -> Result<Law, Failure> {
    Ok(library("silicon", Some(&Orientation { wafer: [1, 1, 1], x_along: [1, -1, 0], x_off_deg: 11.0 }))?)
}

/// A distorted mesh of straight triangles, and a solid whose degrees change from triangle to triangle.
fn patchwork() -> Result<(Mesh, Layer), Failure> {
    let mesh =
        moved(&Mesh::rectangle(30.0, 20.0, 4, 3)?, |[x, y]| [x + 0.06 * y * (1.0 + (x * y).sin()), y + 0.05 * x])?;
    let fields =
        |u: u8, w: u8| [(0, u), (1, u), (2, w)].map(|(axis, top)| (0..=top).map(move |degree| Field { axis, degree }));
    let sets = [(1, 1), (1, 2), (3, 2), (5, 4)].map(|(u, w)| fields(u, w).into_iter().flatten().collect()).to_vec();
    let of_triangle = (0..mesh.triangles.len()).map(|t| (t * t % 7 % 4) as u16).collect();
    let regions = Regions::new(sets, of_triangle);
    let layer = Layer::solid_with(&skew()?, 8.0, Order::DEFAULT, regions);
    Ok((mesh, layer))
}

/// Six states of constant strain have their exact energy ε·C·ε V/2, and no force inside, where degrees differ too.
#[test]
fn constant_strain_states() -> Result<(), Failure> {
    let (mesh, layer) = patchwork()?;
    let system = System::assemble(&Structure::new(mesh.clone(), layer.clone(), Supports::none()))?;
    let prisms = ElementMatrices::new(&mesh, &layer);
    let half = 0.5 * layer.thickness_m;
    let volume: f64 = (0..mesh.triangles.len()).map(|t| mesh.area(t)).sum::<f64>() * 1e-12 * 2.0 * half;
    // Displacement gradients whose symmetric part is one Voigt strain: u_i = x_j.
    for (voigt, (i, j)) in [(0, 0), (1, 1), (2, 2), (1, 2), (0, 2), (0, 1)].into_iter().enumerate() {
        let mut q = vec![0.0; system.unknowns.len()];
        for t in 0..mesh.triangles.len() {
            let sides = prisms.sides_m(t);
            let fields = layer.regions.fields_of(t);
            let numbers = system.unknowns.of_triangle(&mesh, t);
            let (degree, values) = if j < 2 { (0, sides.map(|p| p[j])) } else { (1, [half; 6]) };
            let place = fields.iter().position(|f| *f == Field { axis: i as u8, degree }).ok_or("no such field")?;
            for (a, value) in prisms.table().linear(values).into_iter().enumerate() {
                if let Some(n) = numbers[a * fields.len() + place] {
                    q[n as usize] = value;
                }
            }
        }
        let q = DVector::from_vec(q);
        let force = &system.k * &q;
        let exact = skew()?.stiffness_pa[(voigt, voigt)] * volume;
        assert!((q.dot(&force) / exact - 1.0).abs() < 1e-10, "strain {voigt}: {} instead of {exact}", q.dot(&force));
        // Inside, what stress on the faces z = ±t/2 does not work on has no force: even degrees.
        let own = |t: usize| system.unknowns.of_triangle(&mesh, t).split_off(12 * layer.regions.fields_of(t).len());
        let even = |n: &u32| system.unknowns.field(*n as usize).degree.is_multiple_of(2);
        let inner = (0..mesh.triangles.len()).flat_map(own).flatten().filter(even);
        let worst = inner.map(|n| force[n as usize].abs()).fold(0.0, f64::max);
        assert!(worst < 1e-10 * exact / 30e-6, "strain {voigt}: {worst:e} N");
    }
    Ok(())
}

/// Frequencies of the free patchwork in Hz, the six that are still first.
fn free(mesh: &Mesh, layer: &Layer) -> Result<Vec<f64>, Failure> {
    let found = modes(&Structure::new(mesh.clone(), layer.clone(), Supports::none()), Wanted::Lowest(12), &|_| {})?;
    assert!(found.search.is_counted());
    Ok(found.modes.iter().map(|m| m.frequency_hz).collect())
}

#[test]
fn six_still_motions_and_no_more() -> Result<(), Failure> {
    let (mesh, layer) = patchwork()?;
    let found = free(&mesh, &layer)?;
    // A frequency below the floor of its own rounding is printed as 0.
    assert!(found[..6].iter().all(|f| *f < 1e-4 * found[6]) && found[6] > 0.3 * found[7], "{found:?}");
    Ok(())
}

/// More fields in some triangles cannot stiffen: frequencies lie between those of the least and of the most everywhere.
#[test]
fn regions_lie_between_their_least_and_most() -> Result<(), Failure> {
    let (mesh, layer) = patchwork()?;
    let everywhere = |set: usize| -> Result<Vec<f64>, Failure> {
        let regions = Regions::uniform(layer.regions.sets()[set].clone());
        free(&mesh, &Layer::solid_with(&skew()?, 8.0, Order::DEFAULT, regions))
    };
    let (least, most, ours) = (everywhere(0)?, everywhere(3)?, free(&mesh, &layer)?);
    for ((low, f), high) in most.iter().zip(&ours).zip(&least).skip(6) {
        assert!(*low < *f && *f < *high, "{low} {f} {high}");
    }
    Ok(())
}

/// Mass, first moments and inertias of solid and shell are the same, extent along z included.
#[test]
fn mass_as_a_rigid_body() -> Result<(), Failure> {
    let (radius, thickness) = (50.0, 12.0);
    let mesh = disc(radius, 4)?;
    let law = Law::isotropic(2330.0, 160e9, 0.22)?;
    let about = [7.0, -4.0];
    let solid = rigid_mass(&mesh, &Layer::solid_by_region(&law, thickness, &mesh), about)?;
    let shell = rigid_mass(&mesh, &Layer::shell(&law, thickness), about)?;
    let scale = |i: usize| if i < 3 { 1.0 } else { radius * 1e-6 };
    for i in 0..6 {
        for j in 0..6 {
            let size = shell[(0, 0)] * scale(i) * scale(j);
            assert!((solid[(i, j)] - shell[(i, j)]).abs() < 1e-10 * size, "({i}, {j})");
        }
    }
    // The disc's own edges are parabolas through points of the circle: its area is the polygon's to 1e-4.
    let kilograms = 2330.0 * std::f64::consts::PI * radius * radius * thickness * 1e-18;
    let about_x = kilograms * (radius * radius / 4.0 + thickness * thickness / 12.0 + about[1] * about[1]) * 1e-12;
    assert!((solid[(0, 0)] / kilograms - 1.0).abs() < 1e-4, "{} instead of {kilograms}", solid[(0, 0)]);
    assert!((solid[(3, 3)] / about_x - 1.0).abs() < 2e-4, "{} instead of {about_x}", solid[(3, 3)]);
    assert!((solid[(2, 4)] / (kilograms * about[0] * 1e-6) - 1.0).abs() < 2e-4, "{}", solid[(2, 4)]);
    Ok(())
}

/// A film held from below all over slides over its lower face: u(z) alone is an exact motion of f = √(G/ρ)/(4t), here with sides
/// that let nothing else move.
#[test]
fn a_film_held_from_below() -> Result<(), Failure> {
    let (side, thickness) = (40.0, 5.0);
    let mesh = Mesh::rectangle(side, side, 2, 2)?;
    let below: Vec<u32> = (0..mesh.triangles.len() as u32).collect();
    let law = Law::isotropic(2330.0, 160e9, 0.22)?;
    let layer = Layer::solid_held_below(&law, thickness, &mesh, &below);
    let mut supports = Supports::none();
    supports.hold_below(below);
    supports.hold_edges(&mesh, |_| true, &[along(&layer, 1), along(&layer, 2)].concat());
    let found = modes(&Structure::new(mesh.clone(), layer.clone(), supports.clone()), Wanted::Lowest(1), &|_| {})?;
    let shear_speed = (160e9 / 2.44 / 2330.0_f64).sqrt();
    let exact = shear_speed / (4.0 * thickness * 1e-6);
    println!(
        "{}",
        compare("film, Hz", "quarter wave of shear", &[found.modes[0].frequency_hz], &[exact], &[]).within(1e-5)?.table
    );
    // Effective mass of a quarter sine: 8/π² of the whole.
    let mass = 2330.0 * side * side * thickness * 1e-18;
    assert!((found.modes[0].effective_mass_kg()[0] / (mass * 8.0 / std::f64::consts::PI.powi(2)) - 1.0).abs() < 1e-4);
    Ok(())
}
