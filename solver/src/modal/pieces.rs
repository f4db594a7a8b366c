//! The pieces of a structure with mirrors: one problem for every motion and parity, and the way back to the whole.

use super::error::ModalError;
use crate::spectrum::{EntityOrder, Problem, SpectrumError};
use crate::system::{Fold, Mirrored, Parity, Structure, Unknowns};
use rayon::prelude::*;
use std::sync::Arc;
use std::time::Instant;

/// A problem that is a part of the whole: one of its motions, or what of it has one parity.
pub(super) struct Part {
    /// Number of the motion.
    pub motion: usize,
    /// What of the motion, if it is folded.
    pub parity: Option<OfParity>,
}

/// What of a folded motion has one parity.
pub(super) struct OfParity {
    parity: Parity,
    /// Unknowns of the piece that it has.
    unknowns: Vec<u32>,
}

impl OfParity {
    /// What the images of the motion in the mirrors are.
    pub fn mirrored(&self, fold: &Fold) -> Vec<Mirrored> {
        fold.mirrored(&self.parity)
    }

    /// A mode of the whole, of unit modal mass.
    pub fn unfold(&self, fold: &Fold, whole: &Unknowns, piece: &Unknowns, mode: &[f64]) -> Vec<f64> {
        let share = (fold.pieces() as f64).sqrt().recip();
        let mut values = vec![0.0; piece.len()];
        self.unknowns.iter().zip(mode).for_each(|(&u, x)| values[u as usize] = share * x);
        fold.unfold(whole, piece, &self.parity, &values)
    }
}

/// The motions of a folded layer by parity.
pub(super) struct Pieces {
    /// One problem for every parity of every motion.
    pub problems: Vec<(Part, Problem)>,
    /// Unknowns of the piece, by motion.
    pub unknowns: Vec<Unknowns>,
    /// Seconds that taking them apart and ordering took.
    pub ordering_s: f64,
}

/// Takes motions apart by parity. A piece is checked and scaled once for all its parities, and its mesh ordered once for all motions.
pub(super) fn taken_apart(fold: &Fold, motions: &[Structure]) -> Result<Pieces, ModalError> {
    let assembled = |part: &Structure| -> Result<(Unknowns, Problem), ModalError> {
        let system = fold.assemble(part.layer())?;
        let problem = Problem::symmetric(&system.k, &system.m, Some(system.unknowns.groups()))?;
        Ok((system.unknowns, problem))
    };
    let whole = motions.par_iter().map(assembled).collect::<Result<Vec<_>, ModalError>>()?;
    let clock = Instant::now();
    let parities = fold.parities();
    let parts_of = |(motion, (unknowns, problem)): (usize, &(Unknowns, Problem))| -> Vec<(Part, Problem)> {
        let part_of = |parity: &Parity| {
            let own = fold.unknowns_of(unknowns, parity);
            let problem = problem.restricted(&own);
            (Part { motion, parity: Some(OfParity { parity: parity.clone(), unknowns: own }) }, problem)
        };
        parities.par_iter().map(part_of).collect()
    };
    let apart = || whole.par_iter().enumerate().flat_map(parts_of).collect::<Vec<_>>();
    let (orders, problems) = rayon::join(|| orders(whole.iter().map(|(u, p)| (u.groups(), p))), apart);
    let orders = orders?;
    // On a few triangles nothing may be left of a parity.
    let problems = problems.into_iter().filter(|(_, problem)| problem.unknowns() > 0);
    let problems = problems.map(|(part, problem)| {
        let order = &orders[part.motion];
        (part, problem.ordered_as(order))
    });
    Ok(Pieces {
        problems: problems.collect(),
        ordering_s: clock.elapsed().as_secs_f64(),
        unknowns: whole.into_iter().map(|(unknowns, _)| unknowns).collect(),
    })
}

/// The order of every motion's entities, from their numbers by unknown: one for all of them that move the same ones.
pub(super) fn orders<'a>(
    motions: impl Iterator<Item = (&'a [u32], &'a Problem)>,
) -> Result<Vec<Arc<EntityOrder>>, SpectrumError> {
    let mut orders: Vec<Arc<EntityOrder>> = Vec::new();
    for (groups, problem) in motions {
        let known = orders.iter().find(|order| order.knows(groups)).cloned();
        orders.push(known.map_or_else(|| problem.entity_order().map(Arc::new), Ok)?);
    }
    Ok(orders)
}
