//! How much memory a search for modes will hold at its fullest. In: the pattern of the factor, vectors in a block, modes. Out: bytes.
//!
//! A factor, of several parts as many as are held side by side, the pencil twice over while it is shifted, the Lanczos basis and its product with M, and what refining
//! and giving back the modes takes; nothing else grows with the unknowns.

use super::lanczos::capacity;

/// Arrays of unknowns × modes while modes are refined and given back: vectors, their products with K and M, residuals, solves.
const REFINING: usize = 6;
/// Bytes of an entry of K and M with its row, and of the shifted copy that is factored.
const ENTRY: usize = 8 + 8 + 4 + 8;
/// Bytes of a number.
const NUMBER: usize = 8;

/// Modes that are always looked for.
const ALWAYS: usize = 100;
/// Unknowns for every mode: of a cantilever with 7800 unknowns a hundred modes took a second, and two hundred no longer converged.
const UNKNOWNS_A_MODE: usize = 50;
/// Products of unknowns and modes squared, to which the work on a basis is proportional: such a cantilever took a second for every
/// hundred million of them, so that this is some twenty minutes.
const WORK: f64 = 1e11;

/// The most modes that are looked for among so many unknowns: beyond, modes are those of the mesh, and a search would not end.
pub fn most_modes(unknowns: usize) -> usize {
    let by_work = (WORK / unknowns.max(1) as f64).sqrt() as usize;
    (unknowns / UNKNOWNS_A_MODE).min(by_work).max(ALWAYS)
}

/// Bytes of factors that the parts of one problem hold side by side; beyond, parts take turns and factor again. A fork of 40 µm, eight
/// parts with 1.9 GB of factors: 3.1 GB for 4.4 GB, in the same seconds.
const SIDE_BY_SIDE: usize = 1280 << 20;
/// Parts that are searched side by side all the same.
const ALWAYS_AT_ONCE: usize = 2;

/// How many parts hold their factors at a time, from the entries of each: a number of the problem, not of the machine.
pub(super) fn at_once(factor_entries: impl Iterator<Item = usize> + Clone) -> usize {
    let (parts, all) = factor_entries.clone().fold((0, 0), |(parts, all), entries| (parts + 1, all + NUMBER * entries));
    if all <= SIDE_BY_SIDE {
        return parts;
    }
    let largest = NUMBER * factor_entries.max().unwrap_or(0);
    (SIDE_BY_SIDE / largest.max(1)).clamp(ALWAYS_AT_ONCE, parts.max(ALWAYS_AT_ONCE))
}

/// What a search holds.
#[derive(Clone, Copy, Debug)]
pub struct Held {
    unknowns: usize,
    /// Entries of one triangle of K.
    entries: usize,
    factor_entries: usize,
    /// Vectors of the basis.
    basis: usize,
    /// Modes that are refined.
    need: usize,
}

impl Held {
    /// By a search for `count` modes, `block` vectors at a time, from the unknowns and the entries of matrix and factor.
    pub(super) fn of(unknowns: usize, (entries, factor_entries): (usize, usize), block: usize, count: usize) -> Self {
        let need = (count + 1).min(unknowns);
        Self { unknowns, entries, factor_entries, basis: capacity(unknowns, block, need), need }
    }

    /// Bytes of searches in parts of one problem.
    pub fn bytes(parts: &[Self]) -> usize {
        let factors = || parts.iter().map(|part| part.factor_entries);
        let most = at_once(factors()) * factors().max().unwrap_or(0);
        NUMBER * most.min(factors().sum()) + parts.iter().map(Self::without_factor).sum::<usize>()
    }

    fn without_factor(&self) -> usize {
        let vectors = 2 * self.basis + REFINING * self.need;
        NUMBER * self.unknowns * vectors + ENTRY * self.entries
    }
}
