//! A stated difference of width, right wider than left, by the eigenproblem between the modes drawn, against a full solve with the
//! same difference on a moved mesh: criteria of the intent, coupling, visibility and quadrature. Bound: 1 % of the largest of
//! each over the differences that are tried. The meshes are coarse, of the same triangles: what is compared is one discrete
//! system with itself.

use modalith::device::Device;
use modalith_mesher::mesh::Mesh;
use modalith_mesher::motion::{MeshMotion, Wall};
use modalith_mesher::outline::{Flexure, Outline};
use modalith_mesher::triangulate::{MeshSize, triangulate};
use modalith_solver::element::basis::Order;
use modalith_solver::element::prism::SHEAR_CORRECTION;
use modalith_solver::modal::{Modal, Wanted, modes};
use modalith_solver::mode::{Mode, Pattern, mac_to_pattern};
use modalith_solver::process::{ModalSensitivity, flexure_terms};
use modalith_solver::rate::Oscillator;
use modalith_solver::rate::answer::WorkingPair;
use modalith_solver::rate::as_made::made;
use modalith_solver::rate::errors::{coupling_from_readings, quadrature};
use modalith_solver::rate::pairing::pair;
use modalith_solver::rate::reading::reading;
use modalith_solver::rotation::{Coriolis, coriolis};
use modalith_solver::system::{Layer, Structure};
use modalith_validation::bench::Failure;
use nalgebra::{Matrix2, Vector2};
use serde_json::{Value, json};
use std::path::Path;

const COUNT: usize = 20;
const BOUND: f64 = 0.01;
/// Quadrature that a mirror forbids: what rounding leaves, rad/s.
const NOTHING: f64 = 1e-5;
const REACH_UM: f64 = 4.0;
const DIFFERENCES_UM: [f64; 3] = [0.005, 0.02, 0.1];

/// What is compared, in one order, of the modes taken for drive and sense, else of those like the intent; none where no two are.
fn figures(
    modes: &[Mode],
    coriolis: &Coriolis,
    intent: (&Pattern, &Pattern, usize),
    taken: Option<[usize; 2]>,
) -> Option<[Vec<f64>; 4]> {
    let (drive, sense, axis) = intent;
    let [d, s] = match taken {
        Some(taken) => taken,
        None => {
            let found = pair(modes, drive, sense);
            [found.drive?.mode, found.sense?.mode]
        }
    };
    let at = |i: usize| Oscillator { omega: modes[i].omega(), quality: None };
    let gyroscopic = coriolis.about(axis)[(d, s)];
    let own = WorkingPair { drive: at(d), sense: at(s), gyroscopic, amplitude: None };
    let mac = |i: usize, pattern: &Pattern| mac_to_pattern(&modes[i].masses, pattern);
    let read = |i: usize| reading(&modes[i].masses, sense, 0.0);
    let rate = quadrature(&own, coupling_from_readings(&own, read(d), read(s)));
    let visible = (0..taken.map_or(COUNT, |[_, s]| s + 1)).map(|i| (read(i) / read(s)).abs()).collect();
    Some([vec![mac(d, drive), mac(s, sense)], vec![own.coupling()], visible, vec![rate.abs()]])
}

fn solved(mesh: &Mesh, layer: &Layer) -> Result<(Modal, Coriolis), Failure> {
    let modal = modes(&Structure::anchored(mesh.clone(), layer.clone()), Wanted::Lowest(COUNT), &|_| {})?;
    let all: Vec<usize> = (0..modal.modes.len()).collect();
    let turning = coriolis(&modal, &all)?;
    Ok((modal, turning))
}

/// +1 for a flexure on the right, −1 for one on the left.
fn sides(outline: &Outline) -> Vec<f64> {
    outline.flexures.iter().map(|f| f.centre_line.iter().map(|p| p[0]).sum::<f64>().signum()).collect()
}

/// A device on a mesh, solved.
struct Drawn {
    device: Device,
    outline: Outline,
    mesh: Mesh,
    layer: Layer,
    modal: Modal,
    turning: Coriolis,
}

impl Drawn {
    fn new(file: &Path) -> Result<Self, Failure> {
        let device = Device::read(file)?;
        let (drawing, _) = device.drawing()?;
        let outline = device.outline(&drawing)?;
        let mesh = triangulate(&outline, &MeshSize { corner_ratio: 1.0, ..MeshSize::default() })?;
        let order = Order::new(3).ok_or("order")?;
        let layer = Layer::shell_with(&device.law, device.thickness_um, order, SHEAR_CORRECTION);
        let (modal, turning) = solved(&mesh, &layer)?;
        Ok(Self { device, outline, mesh, layer, modal, turning })
    }

    /// Motions of all walls, two a flexure.
    fn motions(&self) -> Vec<MeshMotion> {
        let terms_of = |(number, flexure): (usize, &Flexure)| {
            [Wall::Left, Wall::Right].map(|wall| MeshMotion::of_wall(&self.mesh, number, flexure, wall, REACH_UM))
        };
        self.outline.flexures.iter().enumerate().flat_map(terms_of).collect()
    }

    /// The mesh with every flexure wider by so much, µm.
    fn widened(&self, wider_um: &[f64]) -> Mesh {
        let step = |k: usize| 0.5 * wider_um[k / 2];
        self.motions().iter().enumerate().fold(self.mesh.clone(), |m, (k, v)| v.moved(&m, step(k)))
    }

    /// The same between the modes, to first order.
    fn forms(&self, wider_um: &[f64]) -> Result<ModalSensitivity, Failure> {
        let all: Vec<usize> = (0..self.modal.modes.len()).collect();
        let terms = flexure_terms(&self.modal, &self.outline.flexures, REACH_UM, &all)?;
        let mut change = ModalSensitivity::zeros(all.len());
        for (terms, um) in terms.iter().zip(wider_um) {
            let mut own = terms.widened();
            own *= *um;
            change += &own;
        }
        Ok(change)
    }

    /// Compares over all differences; gives back the largest quadrature, rad/s.
    fn compare(&self, taken: Option<[usize; 2]>) -> Result<f64, Failure> {
        let names: Vec<&str> = self.modal.modes[0].masses.iter().map(|m| m.name.as_str()).collect();
        let drive = self.device.intent.drive.as_ref().ok_or("no drive")?.of_masses(names.iter().copied());
        let sense = self.device.intent.sense.first().ok_or("no sense")?;
        let pattern = sense.pattern.of_masses(names.iter().copied());
        let intent = (&drive, &pattern, sense.rate_axis);
        let sides = sides(&self.outline);
        let one = self.forms(&sides)?;
        let mut rows = Vec::new();
        for um in DIFFERENCES_UM {
            // Half of the difference on either side.
            let mut change = one.clone();
            change *= 0.5 * um;
            let own = made(&self.modal.modes, Some(&self.turning), &change).ok_or("no modes made")?;
            let wider: Vec<f64> = sides.iter().map(|side| 0.5 * um * side).collect();
            let (full, full_turning) = solved(&self.widened(&wider), &self.layer)?;
            let own = figures(&own.modes, own.coriolis.as_ref().ok_or("no coupling")?, intent, taken);
            let full = figures(&full.modes, &full_turning, intent, taken);
            // Where no mode is like the intent any more, both say so.
            assert_eq!(own.is_some(), full.is_some(), "{um} µm");
            rows.extend(own.zip(full).map(|(own, full)| (um, own, full)));
        }
        assert!(rows.len() > 1, "{} of the differences leave a pair", rows.len());
        let mut quadrature = 0.0;
        for (k, what) in ["criterion", "coupling", "visibility", "quadrature"].into_iter().enumerate() {
            let largest = rows.iter().flat_map(|r| r.2[k].iter().copied()).fold(0.0, f64::max);
            for (um, own, full) in &rows {
                let off = own[k].iter().zip(&full[k]).map(|(a, b)| (a - b).abs()).fold(0.0, f64::max);
                let bound = if k == 3 && largest < NOTHING { NOTHING } else { BOUND * largest };
                assert!(off < bound, "{what} at {um} µm: {own:?} against {full:?}");
            }
            quadrature = largest;
        }
        Ok(quadrature)
    }
}

/// Driven in the plane, sensed out of it: no difference of width couples the two.
#[test]
fn the_platform() -> Result<(), Failure> {
    let file = Path::new(env!("CARGO_MANIFEST_DIR")).join("../meshes/platform/device.json");
    assert!(Drawn::new(&file)?.compare(None)? < NOTHING);
    Ok(())
}

/// Thick tines whose sense mode has a twin 1.6 Hz off: 20 nm mix the two fully.
#[test]
fn the_tines() -> Result<(), Failure> {
    let file = Path::new(env!("CARGO_MANIFEST_DIR")).join("../tests/data/tines/device.json");
    assert!(Drawn::new(&file)?.compare(None)? < NOTHING);
    Ok(())
}

/// Angles of the ring's spokes, degrees: five of them leave a pair of modes with four nodal lines alike, and a difference of
/// width between right and left couples the two.
const SPOKES: [f64; 5] = [17.0, 89.0, 161.0, 233.0, 305.0];

/// A ring on five spokes with loops; invented.
fn ring() -> Value {
    let at = |radius: f64, degrees: f64| {
        let (sin, cos) = degrees.to_radians().sin_cos();
        json!([radius * cos, radius * sin])
    };
    let mut structure = vec![json!({"ring": [0, 0], "inner_radius": 270, "outer_radius": 290})];
    for degrees in SPOKES {
        structure.push(json!({"path": [at(30.0, degrees), at(118.0, degrees)], "width": 4}));
        structure.push(json!({"path": [at(202.0, degrees), at(275.0, degrees)], "width": 4}));
        structure.push(json!({"arc": at(160.0, degrees), "radius": 42, "width": 4, "from_deg": 0, "to_deg": 360}));
    }
    json!({
        "format": "modalith.device/1", "name": "ring on five spokes",
        "layout": {"unit": "um", "structure": structure, "anchors": [{"circle": [0, 0], "radius": 40}]},
        "process": {"thickness_um": 10.0}, "material": {"name": "polysilicon"},
        "masses": {
            "east": [{"rect": [[260, -15], [300, 15]]}], "west": [{"rect": [[-300, -15], [-260, 15]]}],
            "north": [{"rect": [[-15, 260], [15, 300]]}], "south": [{"rect": [[-15, -300], [15, -260]]}],
        },
        "intent": {
            "drive": {"east": "+x", "west": "-x", "north": "-y", "south": "+y"},
            "sense": [{"rate_axis": "z", "east": "+y", "west": "-y", "north": "+x", "south": "-x"}],
        },
    })
}

/// Two modes of a ring brought to 1 Hz of each other, and to the intended axes, by widths of the spokes that go round four times.
#[test]
fn a_ring_with_a_pair_1_hz_apart() -> Result<(), Failure> {
    let folder = tempfile::tempdir()?;
    let file = folder.path().join("device.json");
    std::fs::write(&file, ring().to_string())?;
    let mut drawn = Drawn::new(&file)?;
    let names: Vec<String> = drawn.modal.modes[0].masses.iter().map(|m| m.name.clone()).collect();
    let masses_of =
        |pattern: &modalith_solver::sensor::MotionByMass| pattern.of_masses(names.iter().map(String::as_str));
    let drive = masses_of(drawn.device.intent.drive.as_ref().ok_or("no drive")?);
    let sense = masses_of(&drawn.device.intent.sense[0].pattern);
    let around = |f: &Flexure, wave: fn(f64) -> f64| {
        let n = f.centre_line.len() as f64;
        let [x, y] = [0, 1].map(|k| f.centre_line.iter().map(|p| p[k]).sum::<f64>() / n);
        let off = |a: &f64| ((y.atan2(x).to_degrees() - a + 540.0).rem_euclid(360.0) - 180.0).abs();
        let nearest = SPOKES.into_iter().min_by(|a, b| off(a).total_cmp(&off(b)));
        wave(4.0 * nearest.unwrap_or(0.0).to_radians())
    };
    let waves: [fn(f64) -> f64; 2] = [f64::cos, f64::sin];
    let wider = waves.map(|wave| drawn.outline.flexures.iter().map(|f| around(f, wave)).collect::<Vec<f64>>());
    for _ in 0..2 {
        let modes = &drawn.modal.modes;
        let like = |i: &usize| mac_to_pattern(&modes[*i].masses, &drive) + mac_to_pattern(&modes[*i].masses, &sense);
        let mut ranked: Vec<usize> = (0..modes.len()).collect();
        ranked.sort_by(|a, b| like(b).total_cmp(&like(a)));
        let pair = [ranked[0].min(ranked[1]), ranked[0].max(ranked[1])];
        // Towards the intended drive, and across it.
        let read = pair.map(|i| reading(&modes[i].masses, &drive, 0.0));
        let size = read[0].hypot(read[1]);
        let turn = Matrix2::new(read[0], -read[1], read[1], read[0]) / size;
        let squares = pair.map(|i| modes[i].omega().powi(2));
        let block = |m: [[f64; 2]; 2]| turn.transpose() * Matrix2::from_fn(|i, j| m[i][j]) * turn;
        let own = block([[squares[0], 0.0], [0.0, squares[1]]]);
        let mut changes = Vec::new();
        for wider in &wider {
            let forms = drawn.forms(wider)?;
            let at = |i: usize, j: usize| forms.at(pair[i], pair[j], 0.5 * (squares[0] + squares[1]));
            changes.push(block([[at(0, 0), at(0, 1)], [at(1, 0), at(1, 1)]]));
        }
        let wanted = 2.0 * squares[0].sqrt() * std::f64::consts::TAU;
        let apart = |m: &Matrix2<f64>| m[(1, 1)] - m[(0, 0)];
        let system = Matrix2::new(apart(&changes[0]), apart(&changes[1]), changes[0][(0, 1)], changes[1][(0, 1)]);
        let asked = Vector2::new(wanted - apart(&own), -own[(0, 1)]);
        let steps = system.lu().solve(&asked).ok_or("the spokes do not part the pair")?;
        println!("modes {pair:?}, steps {steps:?} µm");
        let widths: Vec<f64> = wider[0].iter().zip(&wider[1]).map(|(c, s)| steps[0] * c + steps[1] * s).collect();
        let mesh = drawn.widened(&widths);
        let (modal, turning) = solved(&mesh, &drawn.layer)?;
        drawn = Drawn { mesh, modal, turning, ..drawn };
    }
    let found = pair(&drawn.modal.modes, &drive, &sense);
    let (d, s) = found.drive.zip(found.sense).ok_or("no pair")?;
    let apart = (drawn.modal.modes[d.mode].frequency_hz - drawn.modal.modes[s.mode].frequency_hz).abs();
    println!("{apart} Hz apart, criteria {} and {}", d.mac, s.mac);
    assert!((apart - 1.0).abs() < 0.1, "{apart}");
    // Fully mixed neither is like the intended sense: the pair is told by its place.
    let taken = [d.mode.min(s.mode), d.mode.max(s.mode)];
    assert!(drawn.compare(Some(taken))? > 1e3 * NOTHING);
    Ok(())
}
