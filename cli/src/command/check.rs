//! `modalith check`: what was understood of a layout, as a table or as JSON, as a drawing, and as a
//! GDSII stream of its flexures. Solves nothing.

use super::folder::{self, Folder, write_flexures};
use super::solved::SolveContext;
use super::stated::filled;
use crate::args::{CheckArgs, Model};
use crate::check_report::CheckReport;
use crate::device::Device;
use crate::exit::{CommandError, say, say_json};
use crate::output::drawing::check_svg;

/// Runs the command.
///
/// # Errors
/// For wrong input, and when the drawing cannot be written.
pub fn run(args: &CheckArgs) -> Result<(), CommandError> {
    super::threads(args.common.threads)?;
    if let Some(out) = &args.out {
        folder::check(out)?;
    }
    let device = Device::read(&args.device)?;
    let (drawing, mut remarks) = device.drawing()?;
    let outline = device.outline(&drawing)?;
    device.electrodes_on(&drawing, &outline)?;
    remarks.extend(filled(&device, &outline));
    // What is accepted can be meshed.
    SolveContext::of(Model::Shell, &device, &outline)?;
    if let Some(out) = &args.out {
        let mut folder = Folder::open(out)?;
        folder.write("check.svg", check_svg(&outline, &device.name).as_bytes())?;
        write_flexures(&mut folder, &outline)?;
        folder.finish()?;
    }
    let report = CheckReport::new(&device, &outline, remarks);
    if args.common.json {
        say_json(&report.json())
    } else if args.common.quiet {
        Ok(())
    } else {
        say(&report.table())
    }
}
