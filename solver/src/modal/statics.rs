//! Static deflection under base acceleration: what all modes together do at rest, for the correction of a modal sum that is cut off.
//! In: the structure. Out: motion of the named masses, m per m/s².

use super::ModalError;
use crate::mode::{MassMotion, Mode, describe};
use crate::spectrum::{Compliance, Problem, statics};
use crate::system::{Beams, Fold, Layer, Motion, Structure, System, Unknowns};
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
/// use modalith_solver::{material::Law, modal::base_acceleration, system::{Layer, Structure}};
/// // A stiff block at the end of a soft strip sags by m g L³/3EI and what its length adds.
/// let mut strip = Mesh::rectangle(200.0, 10.0, 16, 1)?;
/// strip.hold(|middle| middle[0] == 0.0);
/// strip.mass_names = vec!["whole".into()];
/// strip.mass_of = vec![Some(0); strip.triangles.len()];
/// let layer = Layer::shell(&Law::isotropic(2330.0, 160e9, 0.0)?, 2.0);
/// let found = base_acceleration(&Structure::anchored(strip, layer))?;
/// // Mean deflection of a cantilever under its own weight: ρ L⁴/20EI · A.
/// let exact = -2330.0 * 200e-6_f64.powi(4) * 12.0 / (20.0 * 160e9 * 2e-6_f64.powi(2));
/// assert!((found[2][0].translation[2] / exact - 1.0).abs() < 2e-3);
/// # Ok::<(), Box<dyn std::error::Error>>(())
/// ```
pub fn base_acceleration(structure: &Structure) -> Result<[Vec<MassMotion>; 3], ModalError> {
    let fold = Fold::along(structure);
    let parts = structure.uncoupled();
    let fields_of = |part: &Structure| -> Result<Vec<Mode>, ModalError> {
        let (motion, shapes) = match &fold {
            Some(fold) => {
                let motion = Motion::new(part);
                let shapes = in_pieces(fold, part.layer(), &motion.unknowns)?;
                (motion, shapes)
            }
            None => whole(part)?,
        };
        let shapes = shapes.into_iter().map(|shape| (0.0, 0.0, shape)).collect::<Vec<_>>();
        Ok(describe(structure, &motion, &shapes)?)
    };
    let mut found: [Vec<MassMotion>; 3] = Default::default();
    for parts in parts.par_iter().map(fields_of).collect::<Result<Vec<_>, ModalError>>()? {
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

/// Translation along an axis over the unknowns of a mesh with so many corners: 1 at every corner in its constant field, since
/// edge and interior functions vanish there.
fn translation(unknowns: &Unknowns, groups: &[u32], corners: usize, axis: usize) -> DVector<f64> {
    let along = |u: usize| {
        let field = unknowns.field(u);
        (groups[u] as usize) < corners && usize::from(field.axis) == axis && field.degree == 0
    };
    DVector::from_fn(groups.len(), |u, _| f64::from(u8::from(u < unknowns.len() && along(u))))
}

/// Displacement of one of the uncoupled motions, by axis, over its unknowns.
fn whole(part: &Structure) -> Result<(Motion, Vec<Vec<f64>>), ModalError> {
    let mesh = part.mesh();
    let system = System::assemble(part)?;
    let beams = Beams::new(part, &system.unknowns);
    let (k, m, groups) = beams.join(mesh, &system);
    let mut loads = DMatrix::zeros(k.nrows(), 3);
    for axis in 0..3 {
        let mut along = translation(&system.unknowns, &groups, mesh.points.len(), axis);
        beams.translation(axis).for_each(|unknown| along[unknown as usize] = 1.0);
        loads.set_column(axis, &-(&m * &along));
    }
    let moved = statics(&k, Some(&groups), &loads)?;
    let shapes = moved.column_iter().map(|c| c.iter().copied().collect()).collect();
    Ok((system.into_motion(beams), shapes))
}

/// The same from the piece of a folded mesh: every axis has a parity, which alone is solved.
fn in_pieces(fold: &Fold, part: &Layer, whole: &Unknowns) -> Result<Vec<Vec<f64>>, ModalError> {
    let system = fold.assemble(part)?;
    let groups = system.unknowns.groups();
    let piece = Problem::symmetric(&system.k, &system.m, Some(groups))?;
    let order = Arc::new(piece.entity_order()?);
    let shape = |axis: usize| -> Result<Vec<f64>, ModalError> {
        let mut values = vec![0.0; groups.len()];
        let along = translation(&system.unknowns, groups, fold.mesh.points.len(), axis);
        let parity = fold.parity_of_translation(axis);
        let own = fold.unknowns_of(&system.unknowns, &parity);
        if !own.is_empty() && along.iter().any(|x| *x != 0.0) {
            let load = -(&system.m * &along);
            let load = DMatrix::from_fn(own.len(), 1, |i, _| load[own[i] as usize]);
            let moved = Compliance::of(piece.restricted(&own).ordered_as(&order))?.factor()?.solve(&load);
            own.iter().zip(moved.iter()).for_each(|(&u, x)| values[u as usize] = *x);
        }
        Ok(fold.unfold(whole, &system.unknowns, &parity, &values))
    };
    (0..3).into_par_iter().map(shape).collect()
}
