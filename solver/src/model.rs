//! A layout under one of four models. In: [`ModelInput`], a mesh ([`SolveContext`]), the modes wanted. Out: a [`ModalSolution`] that
//! reads alike whichever model it is of: modes, shapes on the mesh of the whole layout, couplings, error bars, first-order terms,
//! what stands in the place of parts, and where the model is not enough.

mod accuracy;
mod beam_shell;
mod beams;
mod bias;
mod budget;
mod caution;
mod choice;
mod context;
mod error;
mod input;
mod left_out;
mod lumped;
mod meshed;
mod roots;
mod second;
mod solution;
mod solve;
mod stepped;
mod task;
mod used;

pub use accuracy::solve_to_accuracy;
pub use beam_shell::{beam_shell_model, wide_moved_to};
pub use bias::Bias;
pub use budget::Budget;
pub use caution::{shell_cautions, without_mirror};
pub use choice::{Choice, Refusal, Why};
pub use context::{SolveContext, moved_by_um, reach_um};
pub use error::ModelError;
pub use input::{AnchorsHeld, Model, ModelInput};
pub use left_out::{WallTilt, left_out};
pub use roots::root_stiffness;
pub use second::SecondModel;
pub use solution::{ModalSolution, ModeExtra, Purpose, SolvedSystem};
pub use solve::solve;
pub use task::Task;
pub use used::{StatementKind, Used, numbers};
