//! Everything that comes out: the table on stdout, `modes.json`, `run.json`, VTU, Matrix Market, drawings, `report.html`.
//!
//! In: [`findings::Findings`], the modes and their shapes sampled on a six-node triangulation, the outline, the mesh.
//! Out: text and bytes; `command::folder` puts them on disk, whole or not at all. The same input gives the same bytes in
//! everything but `run.json` and the time printed under the table.

mod arrows;
pub mod audit;
pub mod audit_report;
pub mod bands;
pub mod columns;
pub mod drawing;
pub mod findings;
pub mod lines;
pub mod lumped;
pub mod matrix_market;
pub mod modes_json;
pub mod page;
mod placing;
pub mod printable;
pub mod rate;
pub mod report;
pub mod run_json;
pub mod screen;
pub mod search;
mod slender;
#[cfg(test)]
pub(crate) mod specimen;
mod state;
pub mod svg;
pub mod table;
pub mod units;
pub mod used;
pub mod variants;
pub mod vtu;

use std::path::PathBuf;

/// Why a result could not be put into its form or onto the disk.
#[derive(Debug, thiserror::Error)]
pub enum OutputError {
    /// The disk refused.
    #[error("cannot write {}: {source}", .path.display())]
    Disk {
        /// The file or folder.
        path: PathBuf,
        /// What the system said.
        source: std::io::Error,
    },
    /// A number that is not finite: it would turn into `null` or text that no reader takes back.
    #[error("{what} of mode {mode} is not a finite number")]
    NotFinite {
        /// The quantity.
        what: &'static str,
        /// The mode, counted from 1.
        mode: usize,
    },
    /// Two inputs that do not belong together.
    #[error("{what}: {found} given, {wanted} wanted")]
    Mismatch {
        /// What was counted.
        what: &'static str,
        /// How many there are.
        found: usize,
        /// How many there should be.
        wanted: usize,
    },
    /// A matrix that is not symmetric, or of which only one triangle is stored.
    #[error("the matrix is not symmetric at row {row}, column {column} (counted from 0)")]
    NotSymmetric {
        /// Row of the entry.
        row: usize,
        /// Column of the entry.
        column: usize,
    },
    /// The writer of VTK files refused.
    #[error("cannot write VTK data: {0}")]
    Vtk(String),
}
