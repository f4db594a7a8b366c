//! K and M of a whole structure as matrices: the uncoupled systems one after the other on the diagonal, softening and what is attached to
//! the mesh among them.

use super::{Beams, Structure, System, SystemError};
use nalgebra_sparse::{CooMatrix, CscMatrix};

impl Structure {
    /// The constrained stiffness (N/m, N, N m) and mass (kg, kg m, kg m²) as modes are solved from them.
    ///
    /// # Errors
    /// See [`SystemError`].
    pub fn matrices(&self) -> Result<(CscMatrix<f64>, CscMatrix<f64>), SystemError> {
        let (mut k, mut m) = (Vec::new(), Vec::new());
        for part in self.uncoupled() {
            let system = System::assemble(&part)?;
            let (stiffness, mass, _) = Beams::new(&part, &system.unknowns).join(part.mesh(), &system);
            k.push(stiffness);
            m.push(mass);
        }
        Ok((block_diagonal(&k), block_diagonal(&m)))
    }
}

fn block_diagonal(blocks: &[CscMatrix<f64>]) -> CscMatrix<f64> {
    let rows = blocks.iter().map(CscMatrix::nrows).sum();
    let mut whole = CooMatrix::new(rows, rows);
    let mut start = 0;
    for block in blocks {
        block.triplet_iter().for_each(|(i, j, v)| whole.push(start + i, start + j, *v));
        start += block.nrows();
    }
    CscMatrix::from(&whole)
}
