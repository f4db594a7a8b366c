//! A pair of modes being weighed: what is stated, what was solved, and which modes, as drawn or as something makes them.

use super::electrode::ElectrodeFound;
use super::flaws::Flaws;
use super::stated::StatedSensor;
use crate::mode::{Mode, Pattern};
use crate::model::ModalSolution;
use crate::process::ProcessTerms;
use crate::rate::stress::FibreStresses;
use crate::rotation::Coriolis;
use modalith_mesher::mesh::Mesh;
use modalith_mesher::outline::Outline;
use nalgebra::DMatrix;

/// One pair being weighed.
#[derive(Clone, Copy)]
pub(super) struct Weighing<'a> {
    pub(super) stated: &'a StatedSensor<'a>,
    pub(super) outline: &'a Outline,
    /// The mesh of the whole layout, with the mirrors that it has exactly.
    pub(super) mesh: &'a Mesh,
    pub(super) solved: &'a ModalSolution,
    pub(super) electrodes: &'a [ElectrodeFound],
    pub(super) drive: &'a Pattern,
    pub(super) sense: &'a Pattern,
    pub(super) axis: usize,
    pub(super) modes: (usize, usize),
    /// The modes as they are taken here: those solved for, or with frequencies moved by what is not known of them.
    pub(super) list: &'a [Mode],
    /// How rotation couples them.
    pub(super) coriolis: Option<&'a Coriolis>,
    /// What the stated imperfections change between the modes drawn.
    pub(super) flaws: &'a Flaws,
    /// What the process does to these modes.
    pub(super) terms: Option<&'a ProcessTerms>,
    /// Each of these modes as a column of shares in those solved for; none where they are those.
    pub(super) shares: Option<&'a DMatrix<f64>>,
    /// What the modes solved for strain the flexures by.
    pub(super) fibres: Option<&'a FibreStresses>,
    /// Largest motion of the middle of the layer in its plane and out of it, of every mode solved for, kg^-½.
    pub(super) middle: &'a [[f64; 2]],
}

/// Whether a constant of a material is one of its stiffness, by its name.
pub(super) fn is_elastic(name: &str) -> bool {
    !name.starts_with("density") && !name.starts_with("poisson")
}
