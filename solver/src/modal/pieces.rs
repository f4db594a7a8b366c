//! The pieces of a structure with mirrors: one problem for every motion and parity, and the way back to the whole.

use super::ModalError;
use crate::spectrum::{EntityOrder, Problem, SpectrumError};
use crate::system::{Fold, Layer, Parity, Unknowns, restricted};
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
    /// A mode of the whole, of unit modal mass.
    pub fn unfold(&self, fold: &Fold, whole: &Unknowns, piece: &Unknowns, mode: &[f64]) -> Vec<f64> {
        let share = (fold.pieces() as f64).sqrt().recip();
        let mut values = vec![0.0; piece.len()];
        self.unknowns.iter().zip(mode).for_each(|(&u, x)| values[u as usize] = share * x);
        fold.unfold(whole, piece, &self.parity, &values)
    }
}

/// A folded motion.
pub(super) struct Folded {
    /// One problem a parity.
    pub problems: Vec<(Part, Problem)>,
    /// Unknowns of its piece.
    pub unknowns: Unknowns,
    /// Seconds that ordering took.
    pub ordering_s: f64,
}

/// Takes a motion apart by parity; `motion` is its number.
pub(super) fn folded(fold: &Fold, layer: &Layer, motion: usize) -> Result<Folded, ModalError> {
    let system = fold.assemble(layer)?;
    let clock = Instant::now();
    let order = Arc::new(EntityOrder::of(&system.k, system.unknowns.groups())?);
    let ordering = clock.elapsed().as_secs_f64();
    let of = |parity: Parity| -> Option<Result<(Part, Problem), SpectrumError>> {
        let unknowns = fold.unknowns_of(&system.unknowns, &parity);
        // On a few triangles nothing may be left of a parity.
        if unknowns.is_empty() {
            return None;
        }
        let groups: Vec<u32> = unknowns.iter().map(|&u| system.unknowns.groups()[u as usize]).collect();
        let problem = Problem::new(&restricted(&system.k, &unknowns), &restricted(&system.m, &unknowns), Some(&groups));
        let part = Part { motion, parity: Some(OfParity { parity, unknowns }) };
        Some(problem.map(|problem| (part, problem.ordered_as(&order))))
    };
    let problems = fold.parities().into_par_iter().filter_map(of).collect::<Result<Vec<_>, SpectrumError>>()?;
    Ok(Folded { problems, unknowns: system.unknowns, ordering_s: ordering })
}
