//! Where every command that solves begins: the device read, its layout understood, its loads placed.

use super::folder;
use super::progress::Progress;
use super::threads::threads;
use crate::args::Common;
use crate::device::Device;
use crate::exit::{CommandError, warn};
use modalith_mesher::drawing::Drawing;
use modalith_mesher::outline::Outline;
use modalith_solver::state::Loads;
use std::path::Path;

/// A device ready to be meshed.
pub struct Opened {
    /// The device.
    pub device: Device,
    /// Its drawing, µm.
    pub drawing: Drawing,
    /// Its outline, µm.
    pub outline: Outline,
    /// What loads it, SI.
    pub loads: Loads,
    /// Progress on stderr, begun.
    pub progress: Progress,
}

impl Opened {
    /// Reads a device file for a command that writes to the folder `out`; remarks go to stderr.
    ///
    /// # Errors
    /// For wrong input, and a folder that cannot be written to; nothing is written.
    pub fn new(file: &Path, out: &Path, common: &Common) -> Result<Self, CommandError> {
        threads(common.threads)?;
        folder::check(out)?;
        let mut progress = Progress::new(common.quiet || common.json);
        let device = Device::read(file)?;
        let (drawing, remarks) = device.drawing()?;
        remarks.iter().for_each(|r| warn(r));
        let outline = progress.stage("outline", || device.outline(&drawing))?;
        let loads = device.loads_on(&drawing, &outline)?;
        Ok(Self { device, drawing, outline, loads, progress })
    }
}
