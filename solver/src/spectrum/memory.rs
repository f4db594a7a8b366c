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

/// Bytes for `count` modes, `block` vectors at a time.
pub(super) fn bytes(analysis: &Analysis, block: usize, count: usize) -> usize {
    let n = analysis.pencil.len();
    let need = (count + 1).min(n);
    let vectors = 2 * capacity(n, block, need) + REFINING * need;
    NUMBER * (analysis.factor_entries() + n * vectors) + ENTRY * analysis.pencil.k.values.len()
}
