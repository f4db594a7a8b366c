//! Beams on shells against solids of the same layouts, invented: the reference is the full law on a graded mesh, which
//! `validation/solids.py` holds against an outside library's solids.

use modalith_mesher::drawing::{Anchoring, Drawing, Film};
use modalith_mesher::geometry::Ring;
use modalith_mesher::mesh::Mesh;
use modalith_mesher::outline::{Etch, Outline};
use modalith_mesher::triangulate::{MeshSize, triangulate};
use modalith_solver::beam_shell::{BeamShell, Cells, Wishes};
use modalith_solver::element::basis::Order;
use modalith_solver::joint::cell::{Stub, wall};
use modalith_solver::material::{Law, Orientation};
use modalith_solver::modal::{Modal, Wanted, modes};
use modalith_solver::mode::{ModeShape, ModelModes, PointWeights, Sampled, matching};
use modalith_solver::section::Section;
use modalith_solver::system::{Layer, Structure, Supports};
use modalith_validation::bench::Failure;
use modalith_validation::drawn::{polygons, rect};
use nalgebra::{Matrix3, Matrix6, Vector3};

fn silicon() -> Result<Law, Failure> {
    let lie = Orientation { wafer: [0, 0, 1], x_along: [1, 1, 0], x_off_deg: 0.0 };
    Ok(Law::cubic(2329.0, 165.7e9, 63.9e9, 79.6e9, &lie)?)
}

struct Compared {
    beam_shell: Modal,
    solid: Modal,
    shell_unknowns: usize,
    /// Number in the solid, relative difference, MAC.
    pairs: Vec<(usize, f64, f64)>,
}

fn drawn(structure: &[Ring], anchors: &[Ring]) -> Result<Outline, Failure> {
    let drawing = Drawing {
        film: Film::Drawn { structure: polygons(structure), holes: vec![] },
        anchoring: Anchoring::Drawn(polygons(anchors)),
        masses: vec![],
        electrodes: vec![],
    };
    Ok(Outline::build(&drawing, &Etch::default())?)
}

fn compare(
    structure: &[Ring],
    anchors: &[Ring],
    law: &Law,
    thickness_um: f64,
    count: usize,
) -> Result<Compared, Failure> {
    let outline = drawn(structure, anchors)?;
    let size = MeshSize::default();
    let mesh = triangulate(&outline, &size)?;
    let held = Supports::anchors(&mesh);
    let wanted = Wanted::Lowest(count);
    let solid = modes(
        &Structure::new(mesh.clone(), Layer::solid_by_region(law, thickness_um, &mesh), held.clone()),
        wanted,
        &|_| {},
    )?;
    let shell = modes(
        &Structure::new(mesh.clone(), Layer::shell(law, thickness_um), held.clone()),
        Wanted::Lowest(1),
        &|_| {},
    )?;
    let model = BeamShell::new(&outline, law, thickness_um, Wishes::new(&size, Cells::Own))?;
    let more = Wanted::Lowest(count + 2);
    let beam_shell = modes(&model.structure, more, &|_| {})?;
    let (a, b) = (solid.sample_coarse(), model.sample(&outline, &mesh, &beam_shell)?);
    let weights = PointWeights::of_cells(&a, law.density_kg_m3 * thickness_um * 1e-6, thickness_um * 1e-6);
    let (fa, fb) = (frequencies(&solid), frequencies(&beam_shell));
    let (sa, sb) = (shapes(&a), shapes(&b));
    let found = matching(
        &ModelModes { frequency_hz: &fa, shapes: &sa },
        &ModelModes { frequency_hz: &fb, shapes: &sb },
        &weights,
        1e-6,
    );
    let pairs = found.iter().map(|p| (p.first, fb[p.second] / fa[p.first] - 1.0, p.mac)).collect();
    Ok(Compared { shell_unknowns: shell.degrees_of_freedom(), beam_shell, solid, pairs })
}

fn frequencies(modal: &Modal) -> Vec<f64> {
    modal.modes.iter().map(|m| m.frequency_hz).collect()
}

fn shapes(sampled: &Sampled) -> Vec<ModeShape<'_>> {
    (0..sampled.modes.len()).map(|i| ModeShape::sampled(sampled, i)).collect()
}

/// A plate on two bars along y.
fn see_saw(width: f64, length: f64) -> (Vec<Ring>, Vec<Ring>) {
    let (x, y) = (0.5 * width, 100.0);
    let structure =
        vec![rect([-150.0, -y], [150.0, y]), rect([-x, y], [x, y + length]), rect([-x, -y - length], [x, -y])];
    let anchors = vec![
        rect([-40.0, y + length], [40.0, y + length + 30.0]),
        rect([-40.0, -y - length - 30.0], [40.0, -y - length]),
    ];
    (structure, anchors)
}

/// A plate on four guided flexures.
fn guided(width: f64, length: f64) -> (Vec<Ring>, Vec<Ring>) {
    let (x, y) = (120.0, 80.0);
    let mut structure = vec![rect([-x, -y], [x, y])];
    let mut anchors = Vec::new();
    for (sx, sy) in [(-1.0, -1.0), (1.0, -1.0), (1.0, 1.0), (-1.0, 1.0)] {
        let (left, low) = (sx * 100.0 - 0.5 * width, if sy > 0.0 { y } else { -y - length });
        structure.push(rect([left, low], [left + width, low + length]));
        let foot = if sy > 0.0 { y + length } else { -y - length - 20.0 };
        anchors.push(rect([left - 20.0, foot], [left + width + 20.0, foot + 20.0]));
    }
    (structure, anchors)
}

/// A clamped root shortens the twisting length of a 4 × 15 section by 0.18 of its height (derived with solids refined
/// until the value stood; textbook bimoment theory gives more).
#[test]
fn a_clamped_root_shortens_twist() {
    let law = Law::isotropic(2330.0, 160e9, 0.22).unwrap();
    let section = Section::rectangle(&law, 0.0, 4e-6, 15e-6).unwrap();
    let extra =
        wall(&Stub { law: &law, width_um: 4.0, thickness_um: 15.0, section: &section, size_um: 15.0, degree: 5 })
            .unwrap();
    let shorter = -extra[(3, 3)] / section.compliance[(3, 3)] / 15e-6;
    assert!((shorter - 0.18).abs() < 0.01, "{shorter}");
}

/// The mode that twists under a model on the whole mesh, Hz.
fn twisting_hz(mesh: &Mesh, layer: &Layer) -> Result<f64, Failure> {
    let found = modes(&Structure::anchored(mesh.clone(), layer.clone()), Wanted::Lowest(2), &|_| {})?;
    let twists = found.modes.iter().find(|m| m.twist_strain_share > 0.5);
    twists.map(|m| m.frequency_hz).ok_or_else(|| "no mode twists".into())
}

/// Twist-led modes of flexures up to eight times as tall as wide, from five times as long as tall: 1 %. Beside it, in per cent: beams
/// without cells at their roots, shells, and one solid layer with quadratic fields.
#[test]
fn twist_of_tall_flexures() {
    let law = silicon().unwrap();
    for (width, thickness) in [(8.0, 8.0), (8.0, 16.0), (5.0, 20.0), (3.0, 24.0)] {
        for length in [5.0, 8.0] {
            let (structure, anchors) = see_saw(width, length * thickness);
            let found = compare(&structure, &anchors, &silicon().unwrap(), thickness, 2).unwrap();
            let outline = drawn(&structure, &anchors).unwrap();
            let mesh = triangulate(&outline, &MeshSize::default()).unwrap();
            let bare =
                BeamShell::new(&outline, &law, thickness, Wishes::new(&MeshSize::default(), Cells::None)).unwrap();
            let bare = modes(&bare.structure, Wanted::Lowest(2), &|_| {});
            let twisting = found.pairs.iter().find(|p| found.solid.modes[p.0].twist_strain_share > 0.5).unwrap();
            let exact = found.solid.modes[twisting.0].frequency_hz;
            let others = [
                bare.unwrap().modes.iter().find(|m| m.twist_strain_share > 0.5).unwrap().frequency_hz,
                twisting_hz(&mesh, &Layer::shell(&law, thickness)).unwrap(),
                twisting_hz(&mesh, &Layer::solid(&law, thickness, Order::DEFAULT, 2, 2)).unwrap(),
            ]
            .map(|hz| 100.0 * (hz / exact - 1.0));
            println!(
                "t/w {:.0}, L/t {length}: {:+.3} %, MAC {:.4}; without cells {:+.2} %, shells {:+.2} %, quadratic layer {:+.2} %",
                thickness / width,
                100.0 * twisting.1,
                twisting.2,
                others[0],
                others[1],
                others[2]
            );
            assert!(twisting.1.abs() < 0.01 && twisting.2 > 0.98, "{width} {thickness} {length}: {twisting:?}");
        }
    }
}

/// The first ten modes where flexures are ten times as long as wide and tall: 1 % each, 0.4 % in the median, a tenth of the
/// shell's unknowns.
#[test]
fn ten_modes_by_mac() {
    // Two flexures alone make a small share of a shell's unknowns: a tenth is asked of the layout with four, and of the
    // demo in tests/audit.rs.
    for (name, (structure, anchors), thickness, tenth) in
        [("guided 6 x 10", guided(6.0, 100.0), 10.0, true), ("see-saw 10 x 10", see_saw(10.0, 120.0), 10.0, false)]
    {
        let found = compare(&structure, &anchors, &silicon().unwrap(), thickness, 10).unwrap();
        let mut errors: Vec<f64> = found.pairs.iter().map(|p| p.1.abs()).collect();
        errors.sort_by(f64::total_cmp);
        for p in &found.pairs {
            println!("{name}: mode {} {:+.3} %, MAC {:.4}", p.0 + 1, 100.0 * p.1, p.2);
        }
        println!("{name}: {} unknowns, shell {}", found.beam_shell.degrees_of_freedom(), found.shell_unknowns);
        assert!(found.pairs.len() >= 10 && found.pairs.iter().all(|p| p.2 > 0.95));
        assert!(errors[errors.len() - 1] < 0.01 && errors[errors.len() / 2] < 0.004, "{errors:?}");
        assert!(!tenth || 10 * found.beam_shell.degrees_of_freedom() <= found.shell_unknowns);
    }
}

/// Boxes of these side lengths and middles, µm, as one rigid body about the origin: [translations, turns] in kg, kg m, kg m².
fn rigid_boxes(boxes: &[([f64; 2], [f64; 2])], thickness_um: f64, density: f64) -> Matrix6<f64> {
    let mut exact = Matrix6::zeros();
    for ([a, b], [x, y]) in boxes.iter().map(|(sides, at)| (sides.map(|s| s * 1e-6), at.map(|c| c * 1e-6))) {
        let t = thickness_um * 1e-6;
        let m = density * a * b * t;
        let arm = Matrix3::new(0.0, 0.0, -y, 0.0, 0.0, x, y, -x, 0.0);
        let own = Matrix3::from_diagonal(&Vector3::new(b * b + t * t, a * a + t * t, a * a + b * b)) * (m / 12.0);
        let mut rigid = Matrix6::from_diagonal_element(m);
        rigid.fixed_view_mut::<3, 3>(0, 3).copy_from(&(arm * m));
        rigid.fixed_view_mut::<3, 3>(3, 0).copy_from(&(arm.transpose() * m));
        rigid.fixed_view_mut::<3, 3>(3, 3).copy_from(&(own + arm.transpose() * arm * m));
        exact += rigid;
    }
    exact
}

/// Mass, centre and inertias of two free plates and the beam between them, from the six rigid modes of the beam-shell model: mass to
/// 1e-10, the rest to 1e-3 of the value for three boxes.
#[test]
fn no_mass_lost_or_counted_twice() {
    let (thickness, density) = (10.0, 2330.0);
    // Side lengths and middle, µm.
    let boxes = [([100.0, 80.0], [-110.0, 0.0]), ([120.0, 6.0], [0.0, 10.0]), ([140.0, 90.0], [130.0, 0.0])];
    let structure: Vec<Ring> =
        boxes.iter().map(|([a, b], [x, y])| rect([x - 0.5 * a, y - 0.5 * b], [x + 0.5 * a, y + 0.5 * b])).collect();
    let drawing = Drawing {
        film: Film::Drawn { structure: polygons(&structure), holes: vec![] },
        anchoring: Anchoring::Free,
        masses: vec![],
        electrodes: vec![],
    };
    let outline = Outline::build(&drawing, &Etch::default()).unwrap();
    let law = Law::isotropic(density, 160e9, 0.22).unwrap();
    let model = BeamShell::new(&outline, &law, thickness, Wishes::new(&MeshSize::default(), Cells::Own)).unwrap();
    assert_eq!(model.structure.attachments().chains.len(), 1);
    let wanted = Wanted::Lowest(6);
    let found = modes(&model.structure, wanted, &|_| {}).unwrap();
    assert!(found.modes.iter().all(|m| m.frequency_hz == 0.0));
    let exact = rigid_boxes(&boxes, thickness, density);
    for axis in 0..3 {
        let mass: f64 = found.modes.iter().map(|m| m.effective_mass_kg()[axis]).sum();
        assert!((mass / exact[(axis, axis)] - 1.0).abs() < 1e-10, "axis {axis}: {mass:e} kg");
    }
    // Rigid modes of unit modal mass: displacement a + θ × r with coefficients A by mode gives A Aᵀ = M⁻¹.
    let mesh = triangulate(&outline, &MeshSize::default()).unwrap();
    let sampled = model.sample(&outline, &mesh, &found).unwrap();
    let mut motions = Matrix6::zeros();
    for (i, (shape, tilts)) in sampled.modes.iter().zip(&sampled.tilts).enumerate() {
        let far = [0, 1].map(|k| {
            let along = |a: &usize, b: &usize| sampled.points[*a][0].total_cmp(&sampled.points[*b][0]);
            let all = 0..sampled.points.len();
            if k == 0 { all.min_by(along).unwrap() } else { all.max_by(along).unwrap() }
        });
        let [p, q] = far.map(|k| sampled.points[k].map(|c| c * 1e-6));
        let turn_z = (shape[far[1]][1] - shape[far[0]][1]) / (q[0] - p[0]);
        let [y_turn, minus_x_turn] = tilts[far[0]];
        let turn = Vector3::new(-minus_x_turn, y_turn, turn_z);
        let moved = turn.cross(&Vector3::new(p[0], p[1], 0.0));
        for k in 0..3 {
            motions[(k, i)] = shape[far[0]][k] - moved[k];
            motions[(3 + k, i)] = turn[k];
        }
    }
    let rigid = (motions * motions.transpose()).try_inverse().unwrap();
    let size = 100e-6;
    for i in 0..6 {
        for j in 0..6 {
            let scale = exact[(0, 0)] * f64::powi(size, i32::from(i > 2) + i32::from(j > 2));
            let off = (rigid[(i, j)] - exact[(i, j)]) / scale;
            assert!(off.abs() < 1e-3, "{i} {j}: {:e} against {:e}", rigid[(i, j)], exact[(i, j)]);
        }
    }
}
