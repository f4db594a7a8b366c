//! Static deflection under base acceleration: what all modes together do at rest, for the correction of a modal sum that is cut off.
//! In: mesh, layer, supports. Out: motion of the named masses, m per m/s².

use super::ModalError;
use crate::mode::{MassMotion, Mode, describe};
use crate::spectrum::statics;
use crate::system::{AddedMass, Beams, Hangers, Layer, Supports, System};
use modalith_mesher::mesh::Mesh;
use nalgebra::{DMatrix, DVector};
use rayon::prelude::*;
use std::sync::Arc;

/// Motion of the named masses, relative to the base, while the base accelerates by 1 m/s² along x, y, z: K u = −M e. Lengths in
/// m, turns in rad. The inertia of elements next to held edges is counted up to a part that moves with the base.
///
/// # Errors
/// No system, or one that is not held.
///
/// ```
/// use modalith_mesher::mesh::Mesh;
/// use modalith_solver::{material::Law, modal::base_acceleration, system::{AddedMass, Layer, Supports}};
/// // A stiff block at the end of a soft strip sags by m g L³/3EI and what its length adds.
/// let mut strip = Mesh::rectangle(200.0, 10.0, 16, 1)?;
/// strip.hold(|middle| middle[0] == 0.0);
/// strip.mass_names = vec!["whole".into()];
/// strip.mass_of = vec![Some(0); strip.triangles.len()];
/// let layer = Layer::shell(&Law::isotropic(2330.0, 160e9, 0.0)?, 2.0);
/// let found = base_acceleration(&strip, &layer, &Supports::anchors(&strip), &AddedMass::none(), &Default::default())?;
/// // Mean deflection of a cantilever under its own weight: ρ L⁴/20EI · A.
/// let exact = -2330.0 * 200e-6_f64.powi(4) * 12.0 / (20.0 * 160e9 * 2e-6_f64.powi(2));
/// assert!((found[2][0].translation[2] / exact - 1.0).abs() < 2e-3);
/// # Ok::<(), Box<dyn std::error::Error>>(())
/// ```
pub fn base_acceleration(
    mesh: &Mesh,
    layer: &Layer,
    supports: &Supports,
    added: &AddedMass,
    hangers: &Arc<Hangers>,
) -> Result<[Vec<MassMotion>; 3], ModalError> {
    let parts = layer.uncoupled(supports);
    let of = |part: &Layer| one(mesh, layer, part, supports, added, hangers);
    let mut found: [Vec<MassMotion>; 3] = Default::default();
    for parts in parts.par_iter().map(of).collect::<Result<Vec<_>, ModalError>>()? {
        for (sum, own) in found.iter_mut().zip(parts) {
            if sum.is_empty() {
                *sum = own.masses;
                continue;
            }
            for (mass, own) in sum.iter_mut().zip(own.masses) {
                for k in 0..3 {
                    mass.translation[k] += own.translation[k];
                    mass.turn[k] += own.turn[k];
                }
            }
        }
    }
    Ok(found)
}

/// What one of the uncoupled motions adds, by axis.
fn one(
    mesh: &Mesh,
    layer: &Layer,
    part: &Layer,
    supports: &Supports,
    added: &AddedMass,
    hangers: &Arc<Hangers>,
) -> Result<Vec<Mode>, ModalError> {
    let system = System::assemble(mesh, part, supports, added)?;
    let beams = Beams::new(mesh, part, &system.unknowns, hangers);
    let (k, m, groups) = beams.join(mesh, &system);
    let corners = mesh.points.len();
    // A translation is 1 at every corner and at every node of a beam in its constant field: edge and interior functions
    // vanish.
    let mut loads = DMatrix::zeros(k.nrows(), 3);
    for axis in 0..3 {
        let mut along = DVector::zeros(k.nrows());
        for unknown in 0..system.unknowns.len() {
            let field = system.unknowns.field(unknown);
            if (groups[unknown] as usize) < corners && usize::from(field.axis) == axis && field.degree == 0 {
                along[unknown] = 1.0;
            }
        }
        beams.translation(axis).for_each(|unknown| along[unknown as usize] = 1.0);
        loads.set_column(axis, &-(&m * &along));
    }
    let moved = statics(&k, Some(&groups), &loads)?;
    let motion = system.into_motion(beams);
    let shapes: Vec<(f64, f64, Vec<f64>)> =
        (0..3).map(|axis| (0.0, 0.0, moved.column(axis).iter().copied().collect())).collect();
    Ok(describe(mesh, layer, &motion, added, &shapes)?)
}
