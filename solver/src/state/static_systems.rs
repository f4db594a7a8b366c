//! A structure's systems for static loads, taken apart into what does not couple, and where electrodes pull on its mesh.

use crate::electrode::{Electrode, ElectrodeError, Law, Spot, cover};
use crate::spectrum::{Compliance, Factored};
use crate::system::{Beams, Motion, Structure, System, SystemError};
use modalith_mesher::geometry::Point;
use nalgebra_sparse::CscMatrix;

/// Degree to which forces on a mesh of order 4 are integrated.
const DEGREE: usize = 6;

/// A structure's uncoupled systems, for static loads.
pub struct StaticSystems<'a> {
    pub(super) structure: &'a Structure,
    pub(super) parts: Vec<Part>,
}

/// One of them.
pub(super) struct Part {
    pub(super) motion: Motion,
    pub(super) k: CscMatrix<f64>,
    pub(super) m: CscMatrix<f64>,
    pub(super) groups: Vec<u32>,
}

impl<'a> StaticSystems<'a> {
    /// Assembles the systems as [`crate::modal::modes`] does.
    ///
    /// # Errors
    /// See [`SystemError`].
    pub fn new(structure: &'a Structure) -> Result<Self, SystemError> {
        let mut parts = Vec::new();
        for part in structure.uncoupled() {
            let system = System::assemble(&part)?;
            let beams = Beams::new(&part, &system.unknowns);
            let (k, m, groups) = beams.join(part.mesh(), &system);
            parts.push(Part { motion: system.into_motion(beams), k, m, groups });
        }
        Ok(Self { structure, parts })
    }

    /// Spots of an electrode on the mesh and their weights.
    ///
    /// # Errors
    /// [`ElectrodeError::OverNothing`].
    pub fn spots(&self, electrode: &Electrode) -> Result<(Vec<Spot>, Vec<f64>), ElectrodeError> {
        let (mesh, added) = (self.structure.mesh(), self.structure.added_mass());
        let cells: Vec<[Point; 6]> = (0..mesh.triangles.len()).map(|t| mesh.geometry(t)).collect();
        let mut spots = cover(&cells, &electrode.over, DEGREE);
        spots.iter_mut().for_each(|s| s.area_um2 *= added.solid(s.cell));
        if spots.is_empty() || spots.iter().map(|s| s.area_um2).sum::<f64>() <= 0.0 {
            return Err(ElectrodeError::OverNothing { name: electrode.name.clone() });
        }
        let weights = electrode.weights(&spots);
        Ok((spots, weights))
    }

    pub(super) fn compliances(&self, electrodes: &[Electrode]) -> Result<Vec<Option<Compliance>>, ElectrodeError> {
        let pulled = |part: &Part| {
            let has =
                |along_z: bool| part.motion.unknowns.fields().iter().any(|f| (f.axis == 2) == along_z && f.degree == 0);
            electrodes.iter().any(|e| has(matches!(e.law, Law::Plate(_))))
        };
        let one = |part: &Part| pulled(part).then(|| Compliance::new(&part.k, Some(&part.groups))).transpose();
        Ok(self.parts.iter().map(one).collect::<Result<_, _>>()?)
    }
}

/// Factors of the parts' stiffness, where a part is pulled.
pub(super) fn factors(compliances: &[Option<Compliance>]) -> Result<Vec<Option<Factored<'_>>>, ElectrodeError> {
    Ok(compliances.iter().map(|c| c.as_ref().map(Compliance::factor).transpose()).collect::<Result<_, _>>()?)
}
