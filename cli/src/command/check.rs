//! `modalith check`: what was understood of a layout, as a table or as JSON, and as a drawing. Solves nothing.

use super::folder;
use crate::args::CheckArgs;
use crate::device::Device;
use crate::exit::{Stop, say};
use crate::understood::Understood;

/// Runs the command.
///
/// # Errors
/// For wrong input, and when the drawing cannot be written.
pub fn run(args: &CheckArgs) -> Result<(), Stop> {
    super::threads(args.common.threads)?;
    if let Some(out) = &args.out {
        folder::check(out)?;
    }
    let device = Device::read(&args.device)?;
    let outline = device.outline(&device.drawing()?)?;
    let understood = Understood::new(&device, &outline, Vec::new());
    if args.common.json {
        say(&understood.json())
    } else if args.common.quiet {
        Ok(())
    } else {
        say(&understood.table())
    }
}
