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
