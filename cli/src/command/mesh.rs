//! `modalith mesh`: the mesh alone, with how good it is.

use super::folder;
use crate::args::MeshArgs;
use crate::device::Device;
use crate::exit::Stop;

/// Runs the command.
///
/// # Errors
/// For wrong input.
pub fn run(args: &MeshArgs) -> Result<(), Stop> {
    super::threads(args.common.threads)?;
    folder::check(&args.out)?;
    let device = Device::read(&args.device)?;
    device.outline(&device.drawing()?)?;
    Ok(())
}
