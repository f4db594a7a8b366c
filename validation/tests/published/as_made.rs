//! A stated difference of width, right wider than left, by the eigenproblem between the modes drawn, against a full solve with the
//! same difference on a moved mesh: criteria of the intent, coupling, visibility and quadrature. Bound: 1 % of the largest of
//! each over the differences that are tried. The meshes are coarse, of the same triangles: what is compared is one discrete
//! system with itself.

use modalith::device::Device;
use modalith_mesher::mesh::Mesh;
use modalith_mesher::motion::{MeshMotion, Wall};
use modalith_mesher::outline::Outline;
use modalith_mesher::triangulate::{MeshSize, triangulate};
use modalith_solver::element::basis::Order;
use modalith_solver::element::prism::SHEAR_CORRECTION;
use modalith_solver::modal::{Modal, Wanted, modes};
use modalith_solver::mode::{Mode, Pattern};
use modalith_solver::process::{Forms, flexure_terms};
use modalith_solver::rate::Oscillator;
use modalith_solver::rate::answer::WorkingPair;
use modalith_solver::rate::as_made::made;
use modalith_solver::rate::errors::{coupling_from_readings, quadrature};
use modalith_solver::rate::pairing::pair;
use modalith_solver::rate::reading::reading;
use modalith_solver::rotation::{Coriolis, coriolis};
use modalith_solver::system::{AddedMass, Layer, Supports};
use modalith_validation::bench::Failure;
use std::path::Path;

const COUNT: usize = 20;
const BOUND: f64 = 0.01;
/// Quadrature that a mirror forbids: what rounding leaves, rad/s.
const NOTHING: f64 = 1e-5;
const REACH_UM: f64 = 4.0;
const DIFFERENCES_UM: [f64; 3] = [0.005, 0.02, 0.1];

/// What is compared: names and values in one order.
fn figures(modes: &[Mode], coriolis: &Coriolis, intent: (&Pattern, &Pattern, usize)) -> Result<[Vec<f64>; 4], Failure> {
    let (drive, sense, axis) = intent;
    let found = pair(modes, drive, sense);
    let (d, s) = found.drive.zip(found.sense).ok_or("no pair")?;
    let at = |i: usize| Oscillator { omega: modes[i].omega(), quality: None };
    let gyroscopic = coriolis.about(axis)[(d.mode, s.mode)];
    let own = WorkingPair { drive: at(d.mode), sense: at(s.mode), gyroscopic, amplitude: None };
    let read = |i: usize| reading(&modes[i].masses, sense, 0.0);
    let rate = quadrature(&own, coupling_from_readings(&own, read(d.mode), read(s.mode)));
    let visible = (0..COUNT).map(|i| (read(i) / read(s.mode)).abs()).collect();
    Ok([vec![d.mac, s.mac], vec![own.coupling()], visible, vec![rate.abs()]])
}

fn solved(mesh: &Mesh, layer: &Layer) -> Result<(Modal, Coriolis), Failure> {
    let none = AddedMass::none();
    let modal = modes(mesh, layer, &Supports::anchors(mesh), &none, Wanted::Lowest(COUNT), &|_| {})?;
    let all: Vec<usize> = (0..modal.modes.len()).collect();
    let turning = coriolis(mesh, &modal, &none, &all)?;
    Ok((modal, turning))
}

/// +1 for a flexure on the right, −1 for one on the left.
fn sides(outline: &Outline) -> Vec<f64> {
    outline.flexures.iter().map(|f| f.centre_line.iter().map(|p| p[0]).sum::<f64>().signum()).collect()
}

/// Compares a device over all differences; gives back the largest quadrature, rad/s.
fn compare(file: &Path) -> Result<f64, Failure> {
    let device = Device::read(file)?;
    let (drawing, _) = device.drawing()?;
    let outline = device.outline(&drawing)?;
    let mesh = triangulate(&outline, &MeshSize { corner_ratio: 1.0, ..MeshSize::default() })?;
    let layer = Layer::shell_with(&device.law, device.thickness_um, Order::new(3).ok_or("order")?, SHEAR_CORRECTION);
    let (modal, turning) = solved(&mesh, &layer)?;
    let names: Vec<&str> = modal.modes[0].masses.iter().map(|m| m.name.as_str()).collect();
    let drive = device.intent.drive.as_ref().ok_or("no drive")?.of_masses(names.iter().copied());
    let sense = device.intent.sense.first().ok_or("no sense")?;
    let pattern = sense.pattern.of_masses(names.iter().copied());
    let intent = (&drive, &pattern, sense.rate_axis);
    let all: Vec<usize> = (0..modal.modes.len()).collect();
    let terms = flexure_terms(&mesh, &modal, &AddedMass::none(), &outline.flexures, REACH_UM, &all)?;
    let sides = sides(&outline);
    let motions: Vec<MeshMotion> = outline
        .flexures
        .iter()
        .enumerate()
        .flat_map(|(number, f)| [Wall::Left, Wall::Right].map(|w| MeshMotion::of_wall(&mesh, number, f, w, REACH_UM)))
        .collect();
    let mut rows = Vec::new();
    for um in DIFFERENCES_UM {
        let mut change = Forms::zeros(all.len());
        for (terms, side) in terms.iter().zip(&sides) {
            let mut own = terms.widened();
            own *= 0.5 * um * side;
            change += &own;
        }
        let own = made(&modal.modes, Some(&turning), &change).ok_or("no modes made")?;
        // Half of the difference on either side, half of that on either wall.
        let moved = motions.iter().enumerate().fold(mesh.clone(), |m, (k, v)| v.moved(&m, 0.25 * um * sides[k / 2]));
        let (full, full_turning) = solved(&moved, &layer)?;
        let own = figures(&own.modes, own.coriolis.as_ref().ok_or("no coupling")?, intent)?;
        rows.push((um, own, figures(&full.modes, &full_turning, intent)?));
    }
    let mut quadrature = 0.0;
    for (k, what) in ["criterion", "coupling", "visibility", "quadrature"].into_iter().enumerate() {
        let largest = rows.iter().flat_map(|r| r.2[k].iter().copied()).fold(0.0, f64::max);
        for (um, own, full) in &rows {
            let off = own[k].iter().zip(&full[k]).map(|(a, b)| (a - b).abs()).fold(0.0, f64::max);
            println!("{what} at {um} µm: {:.4e} off, {:.4} % of {largest:.4e}", off, 100.0 * off / largest);
            let bound = if k == 3 && largest < NOTHING { NOTHING } else { BOUND * largest };
            assert!(off < bound, "{what} at {um} µm: {own:?} against {full:?}");
        }
        quadrature = largest;
    }
    Ok(quadrature)
}

/// Driven in the plane, sensed out of it: no difference of width couples the two.
#[test]
fn the_platform() -> Result<(), Failure> {
    let file = Path::new(env!("CARGO_MANIFEST_DIR")).join("../meshes/platform/device.json");
    assert!(compare(&file)? < NOTHING);
    Ok(())
}
