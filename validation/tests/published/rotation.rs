//! Turning devices: how far modes couple, what a turned or mirrored drawing does to it, and the frequencies seen on board.

use modalith_mesher::drawing::Anchoring;
use modalith_mesher::mesh::Mesh;
use modalith_solver::material::{Law, Orientation, library};
use modalith_solver::modal::{Modal, Wanted, modes};
use modalith_solver::mode::{PointWeights, Stations};
use modalith_solver::rotation::{Coriolis, coriolis, frequencies_at_rate};
use modalith_solver::system::{AddedMass, Layer, Structure, Supports};
use modalith_validation::bench::{Failure, compare};
use modalith_validation::drawn::{default_mesh, polygons, rect};
use modalith_validation::fit::slope;
use modalith_validation::shape::{graded, grid, mirrored, moved, ring};
use nalgebra::{DMatrix, Vector3, dmatrix};
use std::f64::consts::TAU;

const Z: [f64; 3] = [0.0, 0.0, 1.0];

fn all(modal: &Modal) -> Vec<usize> {
    (0..modal.modes.len()).collect()
}

fn block(g: &DMatrix<f64>, rows: &[usize], columns: &[usize]) -> DMatrix<f64> {
    g.select_rows(rows).select_columns(columns)
}

fn singular(g: &DMatrix<f64>, rows: &[usize], columns: &[usize]) -> Vec<f64> {
    block(g, rows, columns).singular_values().iter().copied().collect()
}

/// |G_z|/2 of the pairs with n = 2, 3, 4 nodal diameters of a free ring of this width over its radius.
fn ring_couplings(ratio: f64) -> Result<Vec<f64>, Failure> {
    let radius = 500.0;
    let width = ratio * radius;
    let mesh = ring(radius - 0.5 * width, radius + 0.5 * width, 48, 1)?;
    // Tall, so that motion out of the plane comes later.
    let layer = Layer::shell(&Law::isotropic(2330.0, 160e9, 0.3)?, 4.0 * width);
    let modal = modes(&Structure::new(mesh.clone(), layer.clone(), Supports::none()), Wanted::Lowest(24), &|_| {})?;
    let last = modal.modes.last().map_or(0.0, |m| m.frequency_hz);
    let flexing: Vec<usize> = all(&modal)
        .into_iter()
        .filter(|&i| modal.modes[i].kinetic_share[2] < 1e-9 && modal.modes[i].frequency_hz > 1e-4 * last)
        .collect();
    let g = coriolis(&modal, &flexing)?;
    Ok((0..3).map(|pair| g.coupling(2, 2 * pair, 2 * pair + 1)).collect())
}

/// A thin ring's pair couples by 2n/(n² + 1): 0.8, 0.6, 0.470588 (Bryan, Proc. Camb. Phil. Soc. 7 (1890) 101: the pattern lags
/// by 2/(n² + 1), the frequencies split by n times that; derived). Width over radius enters by its square.
#[test]
fn free_rings_couple_as_bryan_says() -> Result<(), Failure> {
    let thin = [2.0_f64, 3.0, 4.0].map(|n| 2.0 * n / (n * n + 1.0));
    let mut errors = vec![Vec::new(); 3];
    for ratio in [0.08, 0.04, 0.02] {
        let ours = ring_couplings(ratio)?;
        println!("{}", compare(&format!("ring, w/R = {ratio}"), "Bryan 1890, thin ring", &ours, &thin, &[]).table);
        for ((list, ours), thin) in errors.iter_mut().zip(&ours).zip(&thin) {
            list.push((ratio, (ours / thin - 1.0).abs()));
        }
    }
    for (n, list) in (2..).zip(&errors) {
        let order = slope(list, 0.0, 1.0).ok_or("no order")?;
        println!("n = {n}: order {order:.3}, error at w/R = 0.02 {:.2e}", list[2].1);
        assert!((order - 2.0).abs() < 0.2 && list[2].1 < 1e-3, "n = {n}: order {order}, {list:?}");
    }
    Ok(())
}

/// A square plate on four cranked flexures, each the last one turned by 90° (no mirror needed: group C4), and a mass spread
/// over the plate, as a multiple of the layer's own there. Mesh, modes, mass, share of the flexures in the mass (with the few
/// triangles that reach from the plate into a root).
fn table(load: f64) -> Result<(Modal, f64), Failure> {
    let quarter = |n: i32, [x, y]: [f64; 2]| (0..n).fold([x, y], |[x, y], _| [-y, x]);
    let turned = |ring: Vec<[f64; 2]>| (0..4).map(move |n| ring.iter().map(|p| quarter(n, *p)).collect());
    let mut structure = vec![rect([-50.0, -50.0], [50.0, 50.0])];
    let flexure = vec![[50.0, 36.0], [114.0, 36.0], [114.0, 100.0], [110.0, 100.0], [110.0, 40.0], [50.0, 40.0]];
    structure.extend(turned(flexure));
    let anchors: Vec<_> = turned(rect([102.0, 100.0], [122.0, 120.0])).collect();
    let mesh = default_mesh(polygons(&structure), Anchoring::Drawn(polygons(&anchors)))?;
    let (density, thickness) = (2330.0, 10.0);
    let mut added = AddedMass::none();
    let mut areas = [0.0; 2];
    for t in 0..mesh.triangles.len() {
        let on_plate = mesh.triangles[t].iter().all(|&c| mesh.points[c as usize].iter().all(|x| x.abs() < 50.0 + 1e-6));
        areas[usize::from(on_plate)] += mesh.area(t);
        if on_plate {
            added.spread(&mesh, t, load * density * thickness * 1e-6);
        }
    }
    let layer = Layer::shell(&Law::isotropic(density, 160e9, 0.22)?, thickness);
    let modal = modes(&Structure::anchored(mesh, layer).with_added_mass(added), Wanted::Lowest(6), &|_| {})?;
    Ok((modal, areas[0] / (areas[0] + (1.0 + load) * areas[1])))
}

/// The two modes that slide in the plane and the one that moves up and down.
fn slides(modal: &Modal) -> Result<[usize; 3], Failure> {
    let mass = |i: usize, k: usize| modal.modes[i].effective_mass_kg()[k];
    let by = |f: &dyn Fn(usize) -> f64| {
        let mut order = all(modal);
        order.sort_by(|&a, &b| f(b).total_cmp(&f(a)));
        order
    };
    let plane = by(&|i| mass(i, 0) + mass(i, 1));
    Ok([plane[0].min(plane[1]), plane[0].max(plane[1]), by(&|i| mass(i, 2))[0]])
}

/// A rigid mass that slides in all directions is an ideal point mass: |G| = 2 about every axis, to the share of what the
/// flexures weigh.
#[test]
fn a_rigid_plate_is_a_point_mass_to_the_share_of_its_flexures() -> Result<(), Failure> {
    for load in [0.0, 10.0, 1000.0] {
        let (modal, share) = table(load)?;
        let [x, y, z] = slides(&modal)?;
        let c = coriolis(&modal, &[x, y, z])?;
        let plane = c.about(2)[(0, 1)].abs();
        // Whatever basis the pair has: its couplings with the third mode about x and y form a square of singular values 2.
        let lift = DMatrix::from_fn(2, 2, |i, k| c.about(k)[(i, 2)]).singular_values();
        println!(
            "flexures {share:.2e} of the mass: 2 − |G| = {:.2e} about z, {:.2e}, {:.2e}",
            2.0 - plane,
            2.0 - lift[0],
            2.0 - lift[1]
        );
        for g in [plane, lift[0], lift[1]] {
            assert!((-1e-12..2.0 * share).contains(&(2.0 - g)), "{g} with a share of {share}");
        }
    }
    Ok(())
}

/// A free square plate of side a and thickness t, exactly: its tilts couple about z by 2 t²/(a² + t²), since they move material
/// in the plane off mid-layer; sliding pairs by 2; the turn in the plane couples with a tilt about x by √2 a/√(a² + t²)
/// (rigid-body integrals; derived).
#[test]
fn a_free_plate_couples_as_a_rigid_body() -> Result<(), Failure> {
    let (a, t) = (100.0_f64, 40.0_f64);
    let mesh = Mesh::rectangle(a, a, 3, 3)?;
    let layer = Layer::shell(&Law::isotropic(2330.0, 160e9, 0.22)?, t);
    let modal = modes(&Structure::new(mesh.clone(), layer.clone(), Supports::none()), Wanted::Lowest(6), &|_| {})?;
    let c = coriolis(&modal, &all(&modal))?;
    let (plane, out): (Vec<usize>, Vec<usize>) = (0..6).partition(|&i| modal.motion_of[i] == 0);
    let tilts = 2.0 * t * t / (a * a + t * t);
    let turn = 2.0_f64.sqrt() * a / (a * a + t * t).sqrt();
    let cases = [
        (2, &plane, &plane, [2.0, 2.0, 0.0]),
        (2, &out, &out, [tilts, tilts, 0.0]),
        (2, &plane, &out, [0.0; 3]),
        (0, &plane, &out, [2.0, turn, 0.0]),
        (1, &plane, &out, [2.0, turn, 0.0]),
        (0, &plane, &plane, [0.0; 3]),
        (1, &out, &out, [0.0; 3]),
    ];
    for (axis, rows, columns, exact) in cases {
        let found = singular(&c.about(axis), rows, columns);
        let off = found.iter().zip(exact).map(|(f, e)| (f - e).abs()).fold(0.0, f64::max);
        println!("about {}: {found:.9?}, exact {exact:.9?}, off {off:.1e}", ["x", "y", "z"][axis]);
        assert!(off < 1e-9, "about {axis}: {found:?} instead of {exact:?}");
    }
    Ok(())
}

/// A cantilever plate that widens and leans to one side, in a crystal: nothing is alike under any motion.
fn blade() -> Result<Mesh, Failure> {
    let plain = grid(&graded(400.0, 6, 2, 0.3), &graded(120.0, 2, 2, 0.3))?;
    Ok(moved(&plain, |[x, y]| [x + 0.1 * y, y * (1.0 + 0.6 * x / 400.0) + 0.2 * x])?)
}

/// Modes of a blade whose clamped end has been moved with it, and their coupling.
fn clamped(mesh: &Mesh, law: &Law, at: impl Fn([f64; 2]) -> bool) -> Result<(Modal, Coriolis), Failure> {
    let mut mesh = mesh.clone();
    mesh.hold(at);
    // Thick: the rotary part is no trifle.
    let modal = modes(&Structure::anchored(mesh.clone(), Layer::shell(law, 40.0)), Wanted::Lowest(10), &|_| {})?;
    let c = coriolis(&modal, &all(&modal))?;
    Ok((modal, c))
}

/// Sign of every mode of the moved blade against the drawn one, moved likewise.
fn signs(
    meshes: [&Mesh; 2],
    modals: [&Modal; 2],
    point: &dyn Fn([f64; 2]) -> [f64; 2],
    vector: &dyn Fn([f64; 3]) -> [f64; 3],
) -> Result<Vec<f64>, Failure> {
    let here: Vec<[f64; 2]> = meshes[0].points.clone();
    let there: Vec<[f64; 2]> = here.iter().map(|&p| point(p)).collect();
    let stations = [Stations::new(meshes[0], &here, 1e-6)?, Stations::new(meshes[1], &there, 1e-6)?];
    let sample = |k: usize, i: usize| {
        let modal = modals[k];
        stations[k].sample(meshes[k], &modal.motions[modal.motion_of[i]], &[&modal.modes[i]]).swap_remove(0).0
    };
    Ok((0..modals[0].modes.len())
        .map(|i| {
            let (a, b) = (sample(0, i), sample(1, i));
            let dot: f64 =
                a.iter().zip(&b).map(|(a, b)| vector(*a).iter().zip(b).map(|(x, y)| x * y).sum::<f64>()).sum();
            dot.signum()
        })
        .collect())
}

/// Largest difference of G from what it must be, about any axis, signs allowed for.
fn off(found: &Coriolis, expected: [DMatrix<f64>; 3], signs: &[f64]) -> f64 {
    let n = signs.len();
    let error =
        |k: usize| (found.about(k) - DMatrix::from_fn(n, n, |i, j| signs[i] * signs[j] * expected[k][(i, j)])).amax();
    (0..3).map(error).fold(0.0, f64::max)
}

/// Sign and size from the definition, 2 ∫ ρ φ_i · (e_k × φ_j) dV, summed over points of the layer: at mid-layer, and t/√12 above
/// and below it for what tilts move.
#[test]
fn coupling_is_what_its_definition_says() -> Result<(), Failure> {
    let mut mesh = blade()?;
    mesh.hold(|[x, y]| (x * 10.0 - y).abs() < 1e-6);
    let law = Law::isotropic(2330.0, 160e9, 0.22)?;
    let (modal, c) = clamped(&mesh, &law, |_| false)?;
    let sampled = modal.sample();
    let weights = PointWeights::of_cells(&sampled, 2330.0 * 40e-6, 40e-6);
    let z = weights.rotary_m2.sqrt();
    let at = |i: usize, p: usize, z: f64| {
        let (u, tilt) = (sampled.modes[i][p], sampled.tilts[i][p]);
        Vector3::new(u[0] + z * tilt[0], u[1] + z * tilt[1], u[2])
    };
    let (mut worst, mut largest): (f64, f64) = (0.0, 0.0);
    for (k, axis) in [Vector3::x(), Vector3::y(), Vector3::z()].iter().enumerate() {
        let g = c.about(k);
        for i in 0..6 {
            for j in 0..6 {
                let at_point = |(p, mass): (usize, &f64)| {
                    [-z, z].map(|z| mass * at(i, p, z).dot(&axis.cross(&at(j, p, z)))).iter().sum::<f64>()
                };
                let by_points: f64 = weights.mass_kg.iter().enumerate().map(at_point).sum();
                worst = worst.max((g[(i, j)] - by_points).abs());
                largest = largest.max(by_points.abs());
            }
        }
    }
    println!("largest {largest:.3}, by points off by {worst:.1e}");
    assert!(worst < 1e-3 && largest > 1.0, "{worst:e}");
    Ok(())
}

#[test]
fn coupling_turns_with_the_layout_as_a_vector() -> Result<(), Failure> {
    let law = library("silicon", Some(&Orientation { wafer: [0, 0, 1], x_along: [1, 1, 0], x_off_deg: 0.0 }))?;
    let mesh = blade()?;
    let (drawn, g) = clamped(&mesh, &law, |[x, y]| (x * 10.0 - y).abs() < 1e-6)?;
    let (s, c) = 17.0_f64.to_radians().sin_cos();
    let turn = |[x, y]: [f64; 2]| [c * x - s * y, s * x + c * y];
    let back = |[x, y]: [f64; 2]| [c * x + s * y, c * y - s * x];
    let turned_mesh = moved(&mesh, turn)?;
    let (turned, found) = clamped(&turned_mesh, &law.turned_with_layout(17.0), |m| {
        let [x, y] = back(m);
        (x * 10.0 - y).abs() < 1e-6
    })?;
    let signs = signs([&mesh, &turned_mesh], [&drawn, &turned], &turn, &|[u, v, w]| {
        let [u, v] = turn([u, v]);
        [u, v, w]
    })?;
    let [x, y, z] = [0, 1, 2].map(|k| g.about(k));
    println!("largest coupling about x, y, z: {:.3} {:.3} {:.3}", x.amax(), y.amax(), z.amax());
    let error = off(&found, [&x * c - &y * s, &x * s + &y * c, z.clone()], &signs);
    println!("turned by 17°: off by {error:.1e}");
    assert!(error < 1e-8, "{error:e}");
    // As it was, it is not.
    assert!(off(&found, [x, y, z], &signs) > 0.1);
    Ok(())
}

#[test]
fn coupling_is_mirrored_as_an_axial_vector() -> Result<(), Failure> {
    let law = library("silicon", Some(&Orientation { wafer: [0, 0, 1], x_along: [1, 1, 0], x_off_deg: 0.0 }))?;
    let mesh = blade()?;
    let (drawn, g) = clamped(&mesh, &law.turned_with_layout(10.0), |[x, y]| (x * 10.0 - y).abs() < 1e-6)?;
    let mirror = mirrored(&mesh)?;
    let (image, found) = clamped(&mirror, &law.turned_with_layout(-10.0), |[x, y]| (x * -10.0 - y).abs() < 1e-6)?;
    let signs = signs([&mesh, &mirror], [&drawn, &image], &|[x, y]| [-x, y], &|[u, v, w]| [-u, v, w])?;
    let [x, y, z] = [0, 1, 2].map(|k| g.about(k));
    let error = off(&found, [x.clone(), -&y, -&z], &signs);
    println!("mirrored: off by {error:.1e}");
    assert!(error < 1e-8, "{error:e}");
    assert!(off(&found, [-x, y, z], &signs) > 0.1);
    Ok(())
}

/// Skew to the last bit, the same on any number of threads, and of unit modal mass: C about x, y and z add up to 2.
#[test]
fn skew_repeatable_and_normalised() -> Result<(), Failure> {
    let (modal, _) = table(10.0)?;
    let on = |threads: usize| -> Result<Coriolis, Failure> {
        let pool = rayon::ThreadPoolBuilder::new().num_threads(threads).build()?;
        Ok(pool.install(|| coriolis(&modal, &all(&modal)))?)
    };
    let (one, five) = (on(1)?, on(5)?);
    assert!(one == five);
    for k in 0..3 {
        let g = one.about(k);
        assert!(g.transpose() == -&g && g.amax() <= 2.0 + 1e-12);
    }
    let sum = [[1.0, 0.0, 0.0], [0.0, 1.0, 0.0], Z].map(|e| one.centrifugal(e)).iter().sum::<DMatrix<f64>>();
    let error = (sum - DMatrix::identity(6, 6) * 2.0).amax();
    println!("modal masses off by {error:.1e}");
    assert!(error < 1e-9, "{error:e}");
    // A point mass counts as it does in M: the modes found with it are of unit modal mass with it, and only so.
    let mut added = modal.structure.added_mass().clone();
    added.point(modal.structure.mesh().triangles[0][0], 3e-10);
    let heavy = modes(&modal.structure.clone().with_added_mass(added), Wanted::Lowest(4), &|_| {})?;
    let c = coriolis(&heavy, &all(&heavy))?;
    let sum = [[1.0, 0.0, 0.0], [0.0, 1.0, 0.0], Z].map(|e| c.centrifugal(e)).iter().sum::<DMatrix<f64>>();
    let error = (sum - DMatrix::identity(4, 4) * 2.0).amax();
    assert!(error < 1e-9, "{error:e}");
    Ok(())
}

/// A pair of equal frequencies may have any basis; the singular values of its blocks stay.
#[test]
fn a_pairs_singular_values_do_not_depend_on_its_basis() -> Result<(), Failure> {
    let (mut modal, _) = table(10.0)?;
    let [i, j, k] = slides(&modal)?;
    let split = modal.modes[j].frequency_hz / modal.modes[i].frequency_hz - 1.0;
    assert!(split.abs() < 1e-4, "{split:e}");
    let before = coriolis(&modal, &[i, j, k])?;
    let (s, c) = 0.7_f64.sin_cos();
    let (a, b) = (modal.modes[i].shape.clone(), modal.modes[j].shape.clone());
    modal.modes[i].shape = a.iter().zip(&b).map(|(a, b)| c * a - s * b).collect();
    modal.modes[j].shape = a.iter().zip(&b).map(|(a, b)| s * a + c * b).collect();
    let after = coriolis(&modal, &[i, j, k])?;
    for axis in 0..3 {
        for columns in [vec![0, 1], vec![2]] {
            let [was, is] = [&before, &after].map(|g| singular(&g.about(axis), &[0, 1], &columns));
            let off = was.iter().zip(&is).map(|(a, b)| (a - b).abs()).fold(0.0, f64::max);
            assert!(off < 1e-12, "about {axis}: {was:?}, then {is:?}");
        }
    }
    Ok(())
}

/// Two modes with coupling κ about z, with or without the centrifugal term.
fn two(kappa: f64, centrifugal: bool) -> Coriolis {
    let zero = DMatrix::zeros(2, 2);
    let squares = if centrifugal {
        [dmatrix![1.0, 0.0; 0.0, 0.0], dmatrix![0.0, 0.0; 0.0, 1.0], zero.clone()]
    } else {
        [zero.clone(), zero.clone(), zero.clone()]
    };
    Coriolis::from_momenta(squares, [zero.clone(), zero, dmatrix![0.0, kappa; 0.0, 0.0]])
}

/// Foucault's pendulum and a split pair on a turntable, by hand (derived): ω² from the biquadratic of the two modes. The point
/// mass sees ω₀ ± Ω exactly; without the centrifugal term √(ω₀² + Ω²) ± Ω.
#[test]
fn frequencies_on_a_turntable() -> Result<(), Failure> {
    // ω₁, ω₂, Ω, centrifugal, values.
    let cases = [
        (1.0, 1.0, 0.01, true, [0.99, 1.01], 1e-13),
        (1.0, 1.0, -0.01, true, [0.99, 1.01], 1e-13),
        (1.0, 1.0, 0.01, false, [1.0001_f64.sqrt() - 0.01, 1.0001_f64.sqrt() + 0.01], 1e-13),
        (1.0, 1.0, 0.01, false, [0.99005, 1.01005], 5e-6),
        (1.0, 1.02, 0.01, true, [0.995858, 1.024142], 5e-7),
        (1.0, 1.02, 0.01, false, [0.995907, 1.024192], 5e-7),
        (1.0, 1.001, 0.001, true, [0.999382, 1.001618], 5e-7),
    ];
    for (first, second, rate, centrifugal, expected, bound) in cases {
        let ours = frequencies_at_rate(&two(1.0, centrifugal), &[first * first, second * second], Z, rate)?;
        let off = ours.iter().zip(expected).map(|(a, b)| (a - b).abs()).fold(0.0, f64::max);
        println!("ω {first}, {second}, Ω {rate}, centrifugal {centrifugal}: {ours:.9?}, off {off:.1e}");
        assert!(off < bound, "{ours:?} instead of {expected:?}");
    }
    // About another axis nothing couples; the centrifugal term softens what it can move.
    let still = frequencies_at_rate(&two(1.0, true), &[1.0, 1.0], [1.0, 0.0, 0.0], 0.01)?;
    assert!((still[0] - (1.0_f64 - 1e-4).sqrt()).abs() < 1e-14 && (still[1] - 1.0).abs() < 1e-14, "{still:?}");
    assert!(frequencies_at_rate(&two(1.0, true), &[1.0, 1.0], Z, 1.5).is_err());
    Ok(())
}

/// The mesh's own Foucault pendulum: the heavy plate's pair at a brisk turn is seen at ω₀ ± κΩ to second order.
#[test]
fn a_meshed_plate_on_a_turntable() -> Result<(), Failure> {
    let (modal, share) = table(1000.0)?;
    let [x, y, _] = slides(&modal)?;
    let c = coriolis(&modal, &[x, y])?;
    let lambda = [x, y].map(|i| (TAU * modal.modes[i].frequency_hz).powi(2));
    let mean = 0.5 * (lambda[0].sqrt() + lambda[1].sqrt());
    let rate = 0.05 * mean;
    let ours = frequencies_at_rate(&c, &lambda, Z, rate)?;
    println!("({:.6}, {:.6}) of ω₀ at Ω = 0.05 ω₀; flexures {share:.1e}", ours[0] / mean, ours[1] / mean);
    assert!((ours[0] / mean - 0.95).abs() < 0.05 * share + 1e-6 && (ours[1] / mean - 1.05).abs() < 0.05 * share + 1e-6);
    Ok(())
}
