//! `modalith modes`: the main job, from a device file to its vibration modes.

use super::folder;
use crate::args::{Model, ModesArgs};
use crate::device::Device;
use crate::exit::Stop;

/// Runs the command.
///
/// # Errors
/// For wrong input.
pub fn run(args: &ModesArgs) -> Result<(), Stop> {
    super::threads(args.common.threads)?;
    if !matches!(args.model, Model::Auto | Model::Shell) {
        let hint = "this version has shells: leave --model out, or write --model shell";
        return Err(Stop::Usage { what: "this model does not exist yet".into(), hint: hint.into() });
    }
    folder::check(&args.out)?;
    if let Some(folder) = &args.export_matrices {
        folder::check(folder)?;
    }
    let device = Device::read(&args.device)?;
    device.outline(&device.drawing()?)?;
    Ok(())
}
