//! `modalith check`: what was understood of a layout, as a table or as JSON, as a drawing, and as a
//! GDSII stream of its flexures. Solves nothing.

use super::fault;
use super::folder::{self, Folder, write_flexures};
use super::solved::model_input;
use super::stated::filled;
use super::threads::threads;
use crate::args::CheckArgs;
use crate::check_report::CheckReport;
use crate::device::Device;
use crate::exit::{CommandError, say, say_json};
use crate::output::drawing::check_svg;
use crate::output::screen::Screen;
use modalith_solver::model::{Model, SolveContext};

/// Runs the command.
///
/// # Errors
/// For wrong input, and when the drawing cannot be written.
pub fn run(args: &CheckArgs) -> Result<(), CommandError> {
    threads(args.common.threads)?;
    if let Some(out) = &args.out {
        folder::check(out)?;
    }
    let device = Device::read(&args.device)?;
    let (drawing, mut remarks) = device.drawing()?;
    let outline = device.outline(&drawing)?;
    let loads = device.loads_on(&drawing, &outline)?;
    remarks.extend(filled(&device, &outline));
    // What is accepted can be meshed.
    let input = model_input(&device, &drawing, &outline, &loads)?;
    SolveContext::of(Model::Shell, &input).map_err(|e| fault::of_model(&device, &e))?;
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
        say(&report.text(Screen::of_stdout(args.common.wide)).finish())
    }
}
