//! Error bars against truth: layouts on their default meshes, and the same model on nested meshes whose own error is far smaller.
//!
//! In: demo devices and generated layouts, all invented. Out: for every mode its frequency, its bar and its true error, Hz.

use crate::bench::Failure;
use crate::drawn::{default_mesh, polygons, rect};
use modalith::device::Device;
use modalith_mesher::drawing::Anchoring;
use modalith_mesher::geometry::{Point, Polygon, Ring};
use modalith_mesher::mesh::Mesh;
use modalith_mesher::outline::Outline;
use modalith_mesher::refine::graded;
use modalith_mesher::singular::singular_corners;
use modalith_mesher::triangulate::{MeshSize, triangulate};
use modalith_solver::element::basis::Order;
use modalith_solver::element::through::Field;
use modalith_solver::material::Law;
use modalith_solver::modal::{Modal, Wanted, modes};
use modalith_solver::mode::{MeshError, mesh_errors};
use modalith_solver::system::{Layer, Regions, Structure};
use std::path::Path;
use std::time::Instant;

/// A layout on its default mesh under one model.
pub struct Case {
    /// Which kind it is.
    pub family: &'static str,
    /// Which one.
    pub name: String,
    /// Its mesh.
    pub mesh: Mesh,
    /// Its layer.
    pub layer: Layer,
    /// A mesh of its own for the reference; without it, the same, nested.
    pub finer: Option<Mesh>,
}

/// Cuts towards singular corners in the reference: each leaves a sixth of what is missing there.
const CUTS: usize = 2;
/// Order of the reference's elements.
const REFERENCE: u8 = 7;

/// One mode.
#[derive(Clone, Copy, Debug)]
pub struct Row {
    /// Frequency on the default mesh, Hz.
    pub frequency_hz: f64,
    /// How far it lies above the reference, Hz.
    pub error_hz: f64,
    /// The bar, Hz.
    pub bar: MeshError,
    /// The bar of the reference, Hz.
    pub left_hz: f64,
}

impl Row {
    /// Whether the mode counts: no rigid motion, and an error over 1e-6 of the frequency.
    pub fn counts(&self) -> bool {
        self.frequency_hz > 1.0 && self.error_hz > 1e-6 * self.frequency_hz
    }

    /// The bar over the true error.
    pub fn ratio(&self) -> f64 {
        self.bar.hz / self.error_hz
    }
}

/// What a case gave.
pub struct Outcome {
    /// Its modes.
    pub rows: Vec<Row>,
    /// Unknowns on the default mesh and in the reference.
    pub unknowns: [usize; 2],
    /// Seconds for modes, bars, and the reference.
    pub seconds: [f64; 3],
}

fn solved(mesh: &Mesh, layer: &Layer, count: usize) -> Result<(Modal, Vec<MeshError>, [f64; 2]), Failure> {
    let clock = Instant::now();
    let modal = modes(&Structure::anchored(mesh.clone(), layer.clone()), Wanted::Lowest(count), &|_| {})?;
    let solving = clock.elapsed().as_secs_f64();
    let clock = Instant::now();
    let bars = mesh_errors(&modal)?;
    Ok((modal, bars, [solving, clock.elapsed().as_secs_f64()]))
}

/// Solves a case on its mesh and on the reference.
///
/// # Errors
/// Whatever the solver reports.
pub fn measure(case: &Case, count: usize) -> Result<Outcome, Failure> {
    let (own, bars, [solving, barring]) = solved(&case.mesh, &case.layer, count)?;
    let clock = Instant::now();
    let solid = case.family.starts_with("solid");
    let coarse = case.finer.as_ref().unwrap_or(&case.mesh);
    let (finer, _) = graded(coarse, &singular_corners(coarse), CUTS)?;
    let mut layer = case.layer.clone();
    if solid {
        let law = law()?;
        let degrees = |top: u8| 0..=top;
        let fields = [(0, 9), (1, 9), (2, 8)].into_iter();
        let all: Vec<Field> =
            fields.flat_map(|(axis, top)| degrees(top).map(move |degree| Field { axis, degree })).collect();
        let order = Order::new(5).unwrap_or(Order::DEFAULT);
        layer = Layer::solid_with(&law, layer.thickness_m * 1e6, order, Regions::uniform(all));
    } else {
        layer.order = Order::new(REFERENCE).unwrap_or(Order::DEFAULT);
    }
    let (truth, left, _) = solved(&finer, &layer, count)?;
    let rows = own.modes.iter().zip(&truth.modes).enumerate().map(|(i, (a, b))| Row {
        frequency_hz: a.frequency_hz,
        error_hz: a.frequency_hz - b.frequency_hz,
        bar: bars[i],
        left_hz: left[i].hz,
    });
    Ok(Outcome {
        rows: rows.collect(),
        unknowns: [own.degrees_of_freedom(), truth.degrees_of_freedom()],
        seconds: [solving, barring, clock.elapsed().as_secs_f64()],
    })
}

/// A demo device and its outline.
///
/// # Errors
/// Whatever is wrong with the file.
pub fn outlined(name: &str) -> Result<(Device, Outline), Failure> {
    let path = Path::new(env!("CARGO_MANIFEST_DIR")).join("../meshes").join(name).join("device.json");
    let device = Device::read(&path).map_err(|e| format!("{e:?}"))?;
    let (drawing, _) = device.drawing().map_err(|e| format!("{e:?}"))?;
    let outline = device.outline(&drawing).map_err(|e| format!("{e:?}"))?;
    Ok((device, outline))
}

/// A demo device under the shell model; with `finer_um`, the reference has a mesh of its own of triangles no larger.
///
/// # Errors
/// Whatever is wrong with the file.
pub fn demo(name: &str, finer_um: Option<f64>) -> Result<Case, Failure> {
    let (device, outline) = outlined(name)?;
    let default = MeshSize::default();
    let size = MeshSize {
        largest_um: device.mesh.largest_um,
        across_flexure: device.mesh.across_flexure.map_or(default.across_flexure, |n| n as u32),
        ..default
    };
    let mesh = triangulate(&outline, &size)?;
    let finer = |um: f64| triangulate(&outline, &MeshSize { largest_um: Some(um), ..size });
    let layer = Layer::shell(&device.law, device.thickness_um);
    Ok(Case { family: "demo", name: name.into(), mesh, layer, finer: finer_um.map(finer).transpose()? })
}

fn law() -> Result<Law, Failure> {
    Ok(Law::isotropic(2330.0, 160e9, 0.22)?)
}

/// Numbers that look random and are the same every time (D. H. Lehmer's generator with the constants of Park & Miller 1988).
struct Dice(u64);

impl Dice {
    fn between(&mut self, low: f64, high: f64) -> f64 {
        self.0 = self.0 * 48_271 % 2_147_483_647;
        low + (high - low) * self.0 as f64 / 2_147_483_647.0
    }

    fn chance(&mut self, share: f64) -> bool {
        self.between(0.0, 1.0) < share
    }
}

/// A held bar with five fingers 3 µm wide and 100 µm long, each with a bending resonance of its own: a shell, or a solid.
///
/// # Errors
/// Whatever outline and mesher report.
pub fn fingers(thickness_um: f64, solid: bool) -> Result<Case, Failure> {
    let finger = |i: u32| rect([40.0 + 53.0 * f64::from(i), 60.0], [43.0 + 53.0 * f64::from(i), 160.0]);
    let rings: Vec<Ring> = std::iter::once(rect([0.0, 0.0], [310.0, 60.0])).chain((0..5).map(finger)).collect();
    let held = Anchoring::Drawn(polygons(&[rect([0.0, -20.0], [310.0, 0.0])]));
    let mesh = default_mesh(polygons(&rings), held)?;
    let (family, layer) = match solid {
        true => ("solid fingers", Layer::solid_by_region(&law()?, thickness_um, &mesh)),
        false => ("fingers", Layer::shell(&law()?, thickness_um)),
    };
    Ok(Case { family, name: format!("{thickness_um} µm thick"), mesh, layer, finer: None })
}

/// A plate, with or without an opening, on two to six straight or cranked flexures.
///
/// # Errors
/// Whatever outline and mesher report.
pub fn generated(seed: u64) -> Result<Case, Failure> {
    let dice = &mut Dice(seed * 7919 + 12_345);
    (0..10).for_each(|_| {
        dice.between(0.0, 1.0);
    });
    let (w, h) = (dice.between(80.0, 400.0), dice.between(60.0, 300.0));
    let mut plate = Polygon { outer: rect([0.0, 0.0], [w, h]), holes: vec![] };
    if dice.chance(0.5) {
        let (x, y) = (dice.between(0.2, 0.4) * w, dice.between(0.2, 0.4) * h);
        let mut hole = rect([x, y], [x + 0.4 * w, y + 0.3 * h]);
        hole.reverse();
        plate.holes.push(hole);
    }
    let (mut structure, mut anchors) = (vec![plate], Vec::new());
    let width = dice.between(3.0, 12.0);
    for side in 0..4 {
        let count = if side < 2 || dice.chance(0.5) { 1 } else { 0 } + usize::from(dice.chance(0.3));
        for i in 0..count {
            let extent = if side % 2 == 0 { h } else { w };
            let at = extent * (0.05 + (i as f64 + dice.between(0.1, 0.8)) * 0.85 / count as f64);
            let at = at.min(extent - 2.0 * width);
            let length = width * dice.between(4.0, 20.0);
            // Along and across the flexure, from the plate's side.
            let mut shapes: Vec<Ring> = vec![rect([-0.1 * width, 0.0], [length, width])];
            let end = if dice.chance(0.4) {
                let second = width * dice.between(3.0, 10.0);
                shapes.push(rect([length - width, 0.0], [length, second]));
                rect([length - 2.0 * width, second], [length + width, second + 2.0 * width])
            } else {
                rect([length, -width], [length + 2.0 * width, 2.0 * width])
            };
            let place = |ring: &Ring| -> Ring {
                let to = |p: &Point| match side {
                    0 => [w + p[0], at + p[1]],
                    1 => [at - p[1] + width, h + p[0]],
                    2 => [-p[0], at - p[1] + width],
                    _ => [at + p[1], -p[0]],
                };
                ring.iter().map(to).collect()
            };
            structure.extend(shapes.iter().map(|s| Polygon { outer: place(s), holes: vec![] }));
            anchors.push(Polygon { outer: place(&end), holes: vec![] });
        }
    }
    let mesh = default_mesh(structure, Anchoring::Drawn(anchors))?;
    let layer = Layer::shell(&law()?, dice.between(2.0, 30.0));
    Ok(Case { family: "generated", name: format!("{seed}"), mesh, layer, finer: None })
}

/// A thin square plate held at one side: along its free sides the twist dies out within a thirtieth of a triangle.
///
/// # Errors
/// Whatever mesh and law report.
pub fn thin_plate() -> Result<Case, Failure> {
    let mut mesh = Mesh::rectangle(300.0, 300.0, 6, 6)?;
    mesh.hold(|middle| middle[0] == 0.0);
    let finer = {
        let mut finer = Mesh::rectangle(300.0, 300.0, 18, 18)?;
        finer.hold(|middle| middle[0] == 0.0);
        finer
    };
    let layer = Layer::shell(&law()?, 5.0);
    Ok(Case { family: "plate", name: "thin".into(), mesh, layer, finer: Some(finer) })
}

/// A generated layout as a solid.
///
/// # Errors
/// As [`generated`].
pub fn generated_solid(seed: u64) -> Result<Case, Failure> {
    let case = generated(seed)?;
    let layer = Layer::solid_by_region(&law()?, case.layer.thickness_m * 1e6, &case.mesh);
    Ok(Case { family: "solid generated", layer, ..case })
}
