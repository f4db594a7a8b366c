//! Folded flexures: beams side by side on a truss, half of them to one side and half to the other, two guided beams in
//! series.

use super::kind::FlexureKind;
use super::kind::{dot, flexures_of, holder, legs_of};
use super::term::{Formula, N_PER_M, SAME, term};
use crate::lumped::spring::carried;
use crate::lumped::{Body, Hold, Lumped};
use nalgebra::{Matrix6, Vector6};

/// A formula for every truss that carries a folded flexure.
pub(super) fn folded(lumped: &Lumped) -> Vec<Formula> {
    (0..lumped.pieces.bodies.len()).filter_map(|truss| on(lumped, truss)).collect()
}

/// Recognised if all flexures of the truss are straight and alike, leave it to the same side from one line, and go in
/// equal number to two holders: then the truss moves half as far as the shuttle and does not turn.
fn on(lumped: &Lumped, truss: usize) -> Option<Formula> {
    let pieces = &lumped.pieces;
    if matches!(pieces.bodies[truss], Body::Held(_)) {
        return None;
    }
    let own = flexures_of(pieces, truss);
    let mut holders: Vec<Hold> = own.iter().map(|&(f, end)| holder(pieces, f, 1 - end)).collect();
    let targets = holders.clone();
    holders.sort_by_key(|h| if let Hold::Body(b) = h { b + 1 } else { 0 });
    holders.dedup();
    let [first, second] = holders.as_slice() else { return None };
    let toward = |hold: &Hold| targets.iter().filter(|t| *t == hold).count();
    if toward(first) != toward(second) || own.iter().any(|&(f, _)| !matches!(lumped.kinds[f], FlexureKind::Guided)) {
        return None;
    }
    // Root on the truss, direction away from it, length, width.
    let beams = own
        .iter()
        .map(|&(f, end)| {
            let legs = legs_of(&lumped.springs[f].stretches)?;
            let leg = legs.first()?;
            let (root, sign) = if end == 0 { (leg.from, 1.0) } else { (leg.to, -1.0) };
            Some((root, leg.axis().map(|x| x * sign), leg.length(), leg.width))
        })
        .collect::<Option<Vec<_>>>()?;
    let (root, axis, l, w) = *beams.first()?;
    let alike = beams.iter().all(|(r, a, length, width)| {
        dot(*a, axis) > 1.0 - SAME
            && (length / l - 1.0).abs() < SAME
            && (width / w - 1.0).abs() < SAME
            && dot([r[0] - root[0], r[1] - root[1]], axis).abs() < SAME * l
    });
    if !alike {
        return None;
    }
    let across = Vector6::new(-axis[1], axis[0], 0.0, 0.0, 0.0, 0.0);
    let (mut of_truss, mut coupling, mut of_shuttle) = (Matrix6::zeros(), Vector6::zeros(), 0.0);
    for (&(f, end), target) in own.iter().zip(&targets) {
        let k = &lumped.springs[f].stiffness;
        let block = |i: usize, j: usize| k.fixed_view::<6, 6>(6 * i, 6 * j).into_owned();
        let carry = carried(lumped.springs[f].ends_m()[end], lumped.inertia[truss].centre_m);
        of_truss += carry.transpose() * block(end, end) * carry;
        if target == second {
            coupling += carry.transpose() * block(end, 1 - end) * across;
            of_shuttle += across.dot(&(block(1 - end, 1 - end) * across));
        }
    }
    let extracted = of_shuttle - coupling.dot(&of_truss.cholesky()?.solve(&coupling));
    let spring = &lumped.springs[own.first()?.0];
    let (e, t, n) = (spring.stretches.first()?.moduli.youngs_pa, spring.thickness_m, toward(second) as f64);
    Some(Formula {
        flexures: own.iter().map(|&(f, _)| f).collect(),
        name: "folded, across in plane",
        expression: "n E t w³ / (2 L³)",
        terms: vec![term("n", n, ""), term("E", e, "Pa"), term("t", t, "m"), term("w", w, "m"), term("L", l, "m")],
        value: n * e * t * w.powi(3) / (2.0 * l.powi(3)),
        extracted,
        unit: N_PER_M,
    })
}
