//! First-order terms of every demo device against central differences of full solves on the moved mesh, shells. Bound: 1 % of
//! the mode's largest term; terms are weighed as shifts by a hundredth of a flexure's width, 2 % of thickness, 1 % of a constant.

// A helper that cannot go on fails its test.
#![allow(clippy::unwrap_used, clippy::print_stdout)]

use modalith::device::Device;
use modalith_mesher::mesh::Mesh;
use modalith_mesher::motion::MeshMotion;
use modalith_mesher::triangulate::{MeshSize, triangulate};
use modalith_solver::element::basis::Order;
use modalith_solver::element::prism::SHEAR_CORRECTION;
use modalith_solver::modal::{Modal, Wanted, modes};
use modalith_solver::process::process_terms;
use modalith_solver::system::{AddedMass, Layer, Supports};
use std::path::Path;

const COUNT: usize = 6;

fn solved(mesh: &Mesh, layer: &Layer) -> Modal {
    modes(mesh, layer, &Supports::anchors(mesh), &AddedMass::none(), Wanted::Lowest(COUNT), &|_| {}).unwrap()
}

/// Frequencies of the uncoupled motions, each by itself: modes of different motions may cross.
fn frequencies(mesh: &Mesh, layer: &Layer) -> Vec<Vec<f64>> {
    let modal = modes(mesh, layer, &Supports::anchors(mesh), &AddedMass::none(), Wanted::Lowest(COUNT + 3), &|_| {});
    let modal = modal.unwrap();
    let mut own = vec![Vec::new(); modal.motions.len()];
    for (mode, &motion) in modal.modes.iter().zip(&modal.motion_of) {
        own[motion].push(mode.frequency_hz);
    }
    own
}

fn compare(name: &str) {
    let file = Path::new(env!("CARGO_MANIFEST_DIR")).join("../meshes").join(name).join("device.json");
    let device = Device::read(&file).unwrap();
    let (drawing, _) = device.drawing().unwrap();
    let outline = device.outline(&drawing).unwrap();
    // The terms are those of the discrete system: a low order and no grading keep it small.
    let size = MeshSize { largest_um: device.mesh.largest_um, corner_ratio: 1.0, ..MeshSize::default() };
    let mesh = triangulate(&outline, &size).unwrap();
    let layer = Layer::shell_with(&device.law, device.thickness_um, Order::new(2).unwrap(), SHEAR_CORRECTION);
    let constants = device.material.constants().unwrap();
    let narrowest = outline.flexures.iter().map(|f| f.width_um).fold(device.thickness_um, f64::min);
    let motion = MeshMotion::edges(&mesh, narrowest);
    let modal = solved(&mesh, &layer);
    // A multiple at the end is found whole.
    let which: Vec<usize> = (0..modal.modes.len()).collect();
    let terms = process_terms(&mesh, &modal, &AddedMass::none(), &constants, &motion, &which).unwrap();
    let (bias, thicker) = (0.01 * narrowest, 0.02 * device.thickness_um);
    let jacobian = motion.smallest_jacobian(&mesh, bias).min(motion.smallest_jacobian(&mesh, -bias));
    assert!(jacobian > 0.0, "{name}: {jacobian}");
    let law = |s: f64| constants.scaled(0, 1.0 + 0.01 * s).law().unwrap();
    let pairs = [
        [1.0, -1.0].map(|s| frequencies(&motion.moved(&mesh, s * bias), &layer)),
        [1.0, -1.0].map(|s| frequencies(&mesh, &layer.with_thickness(device.thickness_um + s * thicker))),
        [1.0, -1.0].map(|s| frequencies(&mesh, &layer.with_law(&law(s)))),
    ];
    let mut worst = 0.0_f64;
    for i in 0..COUNT {
        let own = terms.of(i);
        let shifts = [own.hz_per_nm_edge_bias * 1e3 * bias, own.hz_per_um_thickness * thicker, own.hz_per_percent[0].1];
        let largest = shifts.iter().map(|s| s.abs()).fold(0.0, f64::max);
        assert!(largest > 1e-4 * terms.frequency_hz[i], "{name}: mode {}", i + 1);
        let motion = modal.motion_of[i];
        let rank = modal.motion_of[..i].iter().filter(|m| **m == motion).count();
        for (first, [plus, minus]) in shifts.iter().zip(&pairs) {
            worst = worst.max((first - 0.5 * (plus[motion][rank] - minus[motion][rank])).abs() / largest);
        }
    }
    println!("{name}: {:.1e} of the largest term; smallest Jacobian after {bias:.3} µm {jacobian:.3}", worst);
    assert!(worst < 0.01, "{name}: {worst}");
}

#[test]
fn simple_demos() {
    ["comb-resonator", "diaphragm", "gimbal", "ring"].into_iter().for_each(compare);
}

#[test]
fn platform() {
    compare("platform");
}

#[test]
fn platform_thin() {
    compare("platform-thin");
}
