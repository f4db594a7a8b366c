//! How much memory a search for modes will hold at its fullest. In: the pattern of the factor, vectors in a block, modes. Out: bytes.
//!
//! One factor at a time, the pencil twice over while it is shifted, the Lanczos basis and its product with M, and what refining
//! and giving back the modes takes; nothing else grows with the unknowns.

use super::factor::Analysis;
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

/// What a search holds.
pub(super) struct Held {
    pub unknowns: usize,
    /// Entries of one triangle of K.
    pub entries: usize,
    pub factor_entries: usize,
    /// Vectors of the basis.
    pub basis: usize,
    /// Modes that are refined.
    pub need: usize,
}

/// Bytes of what is held.
pub(super) fn of(held: &Held) -> usize {
    let vectors = 2 * held.basis + REFINING * held.need;
    NUMBER * (held.factor_entries + held.unknowns * vectors) + ENTRY * held.entries
}

/// Bytes for `count` modes, `block` vectors at a time.
pub(super) fn bytes(analysis: &Analysis, block: usize, count: usize) -> usize {
    let unknowns = analysis.pencil.len();
    let need = (count + 1).min(unknowns);
    of(&Held {
        unknowns,
        entries: analysis.pencil.k.values.len(),
        factor_entries: analysis.factor_entries(),
        basis: capacity(unknowns, block, need),
        need,
    })
}
