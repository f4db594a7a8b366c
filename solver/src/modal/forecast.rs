//! What a search for modes will need, from mesh and layer alone: no matrix is made. In: what [`super::modes`] takes. Out: unknowns
//! and bytes.
//!
//! Error bars, first-order terms and sampled shapes are not in it: they come after the search has given its factor back. Of a whole
//! run it held the peak all the same on what was measured: flagship, shell 0.84 GB told and 0.74 held, solid 6.4 and 4.3; a fork
//! of 40 µm, shell 4.0 and 3.1, with rate report and second model 4.2 and 3.3, audited 4.0 and 3.3. No solid of the fork was run:
//! 39 GB are told. Where modes are many beside a small factor nobody measured it.

use super::{GUESSED, ModalError, Wanted, in_lambda};
use crate::spectrum::{Fill, Held, Options};
use crate::system::{Fold, Structure};

/// Bytes of an entry of one triangle while matrices are assembled: K and M with both triangles, and the pencil made of them.
const ASSEMBLED: usize = 2 * 2 * 16 + 24;

/// What a search will need.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub struct Forecast {
    /// Unknowns of the whole.
    pub unknowns: usize,
    /// Bytes at the fullest of the search.
    pub bytes: usize,
}

/// Forecasts a search. What is attached to the mesh adds little and is left out, but that with it, or with the springs of `biased`
/// electrodes still to come, the whole is solved in one.
///
/// # Errors
/// When the order of the unknowns cannot be found.
pub fn forecast(structure: &Structure, biased: bool, wanted: Wanted) -> Result<Forecast, ModalError> {
    let fold = if biased { None } else { Fold::along(structure) };
    let motions = structure.uncoupled();
    let pieces = fold.as_ref().map_or(1, Fold::pieces);
    let mut forecast = Forecast::default();
    let (mut assembled, mut held) = (0, Vec::new());
    for motion in &motions {
        let (unknowns, mesh) = match &fold {
            Some(fold) => (fold.unknowns(motion.layer()), &*fold.mesh),
            None => (motion.unknowns(), structure.mesh()),
        };
        let fill = Fill::of(&unknowns.per_entity(), &unknowns.elements(mesh))?;
        let parts = motions.len() * pieces;
        forecast.unknowns += pieces * fill.unknowns;
        let part = fill.held(in_lambda(wanted), Options::default().block.max(1), GUESSED, parts);
        held.extend(std::iter::repeat_n(part, pieces));
        assembled += ASSEMBLED * fill.entries;
    }
    forecast.bytes = Held::bytes(&held).max(assembled);
    Ok(forecast)
}
