//! Terms of single flexures: what the width of one does to every mode and to the couplings between modes.

use super::ProcessError;
use super::sensitivity::{Elements, ModalSensitivity, Parameter};
use crate::modal::Modal;
use modalith_mesher::motion::{MeshMotion, Wall};
use modalith_mesher::outline::Flexure;
use nalgebra::DMatrix;
use rayon::prelude::*;

/// ModalSensitivity of one flexure's walls, per µm by which a wall moves outward.
#[derive(Clone, Debug, PartialEq)]
pub struct FlexureTerms {
    /// The wall on the left of the centre-line, seen from its first end.
    pub left: ModalSensitivity,
    /// The wall on the right.
    pub right: ModalSensitivity,
}

impl FlexureTerms {
    /// The same between combinations of the modes: one a column of `of`.
    pub fn between(&self, of: &DMatrix<f64>) -> Self {
        Self { left: self.left.between(of), right: self.right.between(of) }
    }

    /// δK (s⁻²) and δM per µm of width, half on each side.
    pub fn widened(&self) -> ModalSensitivity {
        let mut sum = self.left.clone();
        sum += &self.right;
        sum *= 0.5;
        sum
    }
}

/// Terms between the modes numbered `which` (from 0) for every flexure of the outline that the mesh was made of; motions of
/// the mesh fade within `reach_um`.
///
/// # Errors
/// A curved triangle that folds over.
pub fn flexure_terms(
    modal: &Modal,
    flexures: &[Flexure],
    reach_um: f64,
    which: &[usize],
) -> Result<Vec<FlexureTerms>, ProcessError> {
    let (mesh, elements) = (modal.structure.mesh(), Elements::new(modal, which));
    let terms_of = |(number, flexure): (usize, &Flexure)| {
        let wall = |wall: Wall| -> Result<ModalSensitivity, ProcessError> {
            let motion = MeshMotion::of_wall(mesh, number, flexure, wall, reach_um);
            let sensitivities = elements.sensitivities(&motion.triangles(mesh), &[Parameter::Edges(&motion)])?.pop();
            Ok(sensitivities.unwrap_or_else(|| ModalSensitivity::zeros(which.len())))
        };
        Ok(FlexureTerms { left: wall(Wall::Left)?, right: wall(Wall::Right)? })
    };
    flexures.par_iter().enumerate().map(terms_of).collect()
}
