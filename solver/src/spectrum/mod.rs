//! Natural modes of a pencil: K φ = λ M φ, λ = ω², by shift-invert block Lanczos, counted from the factor.
//!
//! In: K (symmetric, positive semidefinite) and M (symmetric, positive definite) as sparse matrices in any consistent
//! units. Out: eigenvalues, M-orthonormal vectors, a backward error for each, and the interval in which a count shows that
//! none is missing. `problem` checks and scales, `order` and `factor` factor K − σM, `lanczos` finds Ritz pairs,
//! `canonical` refines them and fixes signs and bases, `count` counts, `search` goes from a shift to counted modes, alone or
//! with other parts of one problem, `solve` drives.
//!
//! Sources: Grimes, Lewis & Simon, SIAM J. Matrix Anal. Appl. 15 (1994) 228 (shift-invert block Lanczos with counts);
//! Ericsson & Ruhe, Math. Comp. 35 (1980) 1251 (spectral transformation).

mod analysed;
mod canonical;
mod count;
mod covered;
mod dense;
mod error;
mod factor;
mod forecast;
mod lanczos;
mod memory;
mod order;
mod pencil;
mod problem;
mod search;
mod session;
mod solve;
mod sound;
mod statics;
mod sweep;
mod wanted;
mod window;

pub use analysed::{Analysed, Spectrum};
pub use count::{Purpose, ShiftReport};
pub use covered::{Covered, Proof};
pub use dense::{inner, subtract};
pub use error::SpectrumError;
pub use forecast::Fill;
pub use memory::{Held, most_modes};
pub use order::EntityOrder;
pub use problem::Problem;
pub use search::{held_at_once, in_turns, together};
pub use session::Progress;
pub use solve::solve;
pub use statics::{Compliance, Factored, is_definite, statics};
pub use wanted::{Options, Timings, Wanted};
pub use window::Nearest;
