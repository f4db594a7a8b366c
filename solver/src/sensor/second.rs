//! The second model of a layout, by which the errors of a rate report's figures are measured. In: two solutions. Out: how they differ.

use crate::model::{ModalSolution, ModelInput, root_stiffness};
use crate::rate::comparison::Comparison;
use crate::rate::requirements::Because;

/// Pairs off the modes of two models of one layout.
///
/// # Errors
/// Why there is nothing to compare with, as the reason for which the error of every figure is not known.
pub fn compared(first: &ModalSolution, other: &ModalSolution, input: &ModelInput) -> Result<Comparison, Because> {
    let thickness_m = input.thickness_um * 1e-6;
    let per_area = input.law.kg_per_m2(thickness_m);
    let mut found = Comparison::new(&first.seen(), &other.seen(), (per_area, thickness_m))?;
    found.stiffen(&first.modes, &root_stiffness(input));
    Ok(found)
}
