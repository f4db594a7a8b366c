//! The command line: raw flags as clap reads them. Help, with every unit and default, comes from here alone.

use crate::command::variants::Shard;
use clap::{Args, Parser, Subcommand, ValueEnum};
use std::path::PathBuf;

/// From a mask layout to vibration modes one can trust: how a planar suspended structure vibrates.
#[derive(Debug, Parser)]
#[command(name = "modalith", version, disable_help_subcommand = true)]
#[command(
    after_help = "Exit codes: 0 done; 2 the input or the command line is wrong, nothing was written; 3 with --enforce, a stated requirement is not met; 1 anything else."
)]
pub struct Cli {
    /// What to do.
    #[command(subcommand)]
    pub command: Command,
}

/// The commands.
#[derive(Debug, Subcommand)]
pub enum Command {
    /// Read the layout and say what was understood: parts, flexures, anchors, mirror axes; solve nothing
    Check(CheckArgs),
    /// Find the vibration modes: mesh, solve, write results
    Modes(ModesArgs),
    /// Say whether it works as a rate sensor: pairing, Coriolis coupling, near modes, balance, shock, resolution
    Rate(RateArgs),
    /// Run the layout under every model and say which assumption of the lumped one fails, and by how much
    Audit(AuditArgs),
    /// Make the mesh alone and say how good it is
    Mesh(MeshArgs),
    /// Run many variants of a device after a plan: in parallel, in parts, resumable
    Variants(VariantsArgs),
    /// Print a JSON Schema (draft 2020-12)
    Schema(SchemaArgs),
}

/// Options of every command that reads a device.
#[derive(Args, Clone, Debug)]
pub struct Common {
    /// Threads to use; by default one for every processor
    #[arg(long, value_name = "N", value_parser = clap::value_parser!(u16).range(1..=1024))]
    pub threads: Option<u16>,
    /// Print the result as JSON on stdout, and nothing else there
    #[arg(long)]
    pub json: bool,
    /// No table and no progress; errors and warnings stay
    #[arg(long)]
    pub quiet: bool,
    /// Print every column of a table, however wide that makes it; by default those that the terminal has room for (COLUMNS, if it is set)
    #[arg(long)]
    pub wide: bool,
}

/// Memory that a command which solves may take.
#[derive(Args, Clone, Copy, Debug)]
pub struct Budget {
    /// Memory that models are chosen within, such as 4GB; what would take more is refused before the work starts
    #[arg(long, value_name = "SIZE", default_value = "8GB", value_parser = memory)]
    pub memory_limit: u64,
}

/// Arguments of `audit`.
#[derive(Args, Debug)]
pub struct AuditArgs {
    /// Device file (format modalith.device/1)
    #[arg(value_name = "DEVICE.json")]
    pub device: PathBuf,
    /// Folder for audit.json, audit.txt, report.html and lumped.json; made if it is not there
    #[arg(long, value_name = "DIR")]
    pub out: PathBuf,
    /// Modes compared; by default what the device file asks, else 10
    #[arg(long, value_name = "N", value_parser = clap::value_parser!(u32).range(1..=200))]
    pub count: Option<u32>,
    /// Memory.
    #[command(flatten)]
    pub budget: Budget,
    /// Error of frequency and coupling that is allowed, percent
    #[arg(long, value_name = "PERCENT", default_value = "1%", value_parser = percent)]
    pub accuracy: f64,
    /// Shared options.
    #[command(flatten)]
    pub common: Common,
}

/// Arguments of `check`.
#[derive(Args, Debug)]
pub struct CheckArgs {
    /// Device file (format modalith.device/1)
    #[arg(value_name = "DEVICE.json")]
    pub device: PathBuf,
    /// Folder for the drawing check.svg and for flexures.gds, to lay over the mask; without it nothing is written
    #[arg(long, value_name = "DIR")]
    pub out: Option<PathBuf>,
    /// Shared options.
    #[command(flatten)]
    pub common: Common,
}

/// Arguments of `mesh`.
#[derive(Args, Debug)]
pub struct MeshArgs {
    /// Device file (format modalith.device/1)
    #[arg(value_name = "DEVICE.json")]
    pub device: PathBuf,
    /// Folder for the mesh, mesh.vtu; made if it is not there
    #[arg(long, value_name = "DIR")]
    pub out: PathBuf,
    /// Shared options.
    #[command(flatten)]
    pub common: Common,
}

/// Arguments of `modes`.
#[derive(Args, Debug)]
pub struct ModesArgs {
    /// Device file (format modalith.device/1)
    #[arg(value_name = "DEVICE.json")]
    pub device: PathBuf,
    /// Folder for modes.json, run.json, modes.vtu and report.html; made if it is not there
    #[arg(long, value_name = "DIR")]
    pub out: PathBuf,
    /// Mechanical model
    #[arg(long, value_enum, default_value = "auto")]
    pub model: Model,
    /// How many modes; by default what the device file asks, else 12
    #[arg(long, value_name = "N", value_parser = clap::value_parser!(u32).range(1..=crate::device::MOST_MODES as i64))]
    pub count: Option<u32>,
    /// All modes up to this frequency, Hz; with --count, no more than so many
    #[arg(long, value_name = "HZ", value_parser = frequency, conflicts_with = "near", allow_negative_numbers = true)]
    pub up_to: Option<f64>,
    /// The modes nearest this frequency, Hz
    #[arg(long, value_name = "HZ", value_parser = frequency, allow_negative_numbers = true)]
    pub near: Option<f64>,
    /// Make the mesh finer until every error bar is inside this share of its frequency, percent
    #[arg(long, value_name = "PERCENT", value_parser = percent, allow_negative_numbers = true)]
    pub accuracy: Option<f64>,
    /// Memory.
    #[command(flatten)]
    pub budget: Budget,
    /// Folder for the constrained system as solved: K.mtx and M.mtx, Matrix Market, symmetric
    #[arg(long, value_name = "DIR")]
    pub export_matrices: Option<PathBuf>,
    /// Also write one period of this mode (numbered from 1) as a VTU series that plays as an animation
    #[arg(long, value_name = "MODE", value_parser = clap::value_parser!(u32).range(1..))]
    pub animate: Option<u32>,
    /// Shared options.
    #[command(flatten)]
    pub common: Common,
}

/// Arguments of `rate`.
#[derive(Args, Debug)]
pub struct RateArgs {
    /// Device file (format modalith.device/1) with an intent
    #[arg(value_name = "DEVICE.json")]
    pub device: PathBuf,
    /// Folder for rate.json, run.json and report.html; made if it is not there
    #[arg(long, value_name = "DIR")]
    pub out: PathBuf,
    /// Mechanical model
    #[arg(long, value_enum, default_value = "auto")]
    pub model: Model,
    /// How many modes; at least 20
    #[arg(long, value_name = "N", value_parser = clap::value_parser!(u32).range(1..=crate::device::MOST_MODES as i64), conflicts_with = "up_to")]
    pub count: Option<u32>,
    /// All modes up to this frequency, Hz
    #[arg(long, value_name = "HZ", value_parser = frequency)]
    pub up_to: Option<f64>,
    /// Memory.
    #[command(flatten)]
    pub budget: Budget,
    /// End with exit code 3 unless every stated requirement is met
    #[arg(long)]
    pub enforce: bool,
    /// Shared options.
    #[command(flatten)]
    pub common: Common,
}

/// Arguments of `schema`.
#[derive(Args, Debug)]
pub struct SchemaArgs {
    /// Which file the schema describes
    #[arg(value_enum, value_name = "FILE")]
    pub of: SchemaOf,
}

/// Arguments of `variants`.
#[derive(Args, Debug)]
pub struct VariantsArgs {
    /// Plan of variants (format modalith.plan/1)
    #[arg(value_name = "PLAN.json")]
    pub plan: PathBuf,
    /// Folder for results.parquet, results.csv, report.html, variants.json and timings.csv, and for the journal that a run which
    /// was stopped goes on from; made if it is not there
    #[arg(long, value_name = "DIR", required_unless_present = "dry_run")]
    pub out: Option<PathBuf>,
    /// Do part K of N only, K from 1; by default what the array variables of Slurm or Grid Engine say, else everything
    #[arg(long, value_name = "K/N", value_parser = crate::command::variants::parse_shard)]
    pub shard: Option<Shard>,
    /// Memory.
    #[command(flatten)]
    pub budget: Budget,
    /// Join the parts in the folder into the results; solve nothing
    #[arg(long, conflicts_with_all = ["shard", "dry_run"])]
    pub merge: bool,
    /// Count the points, show the first, estimate time and memory from one of them; write nothing
    #[arg(long)]
    pub dry_run: bool,
    /// Shared options.
    #[command(flatten)]
    pub common: Common,
}

/// Files with a schema.
#[derive(Clone, Copy, Debug, PartialEq, Eq, ValueEnum)]
pub enum SchemaOf {
    /// The device file
    Device,
    /// The plan of variants
    Plan,
    /// modes.json
    Results,
}

/// Mechanical models.
#[derive(Clone, Copy, Debug, PartialEq, Eq, ValueEnum)]
pub enum Model {
    /// Solids where there are flexures, else shells; the output says which and why
    Auto,
    /// In-plane stretch and transverse-shear plate, high-order triangles
    Shell,
    /// Rigid masses on springs taken from the layout: what a sheet of closed forms says, with lumped.json
    Lumped,
    /// Timoshenko beams for flexures, shells for wide parts, joints corrected by three-dimensional cells
    BeamShell,
    /// Full three-dimensional law, polynomials through the thickness: right for tall flexures, and the dearest
    Solid,
}

/// A percentage as a share.
fn percent(text: &str) -> Result<f64, String> {
    match text.trim().trim_end_matches('%').trim().parse::<f64>() {
        Ok(p) if p > 0.0 && p <= 50.0 => Ok(p / 100.0),
        _ => Err("a percentage over 0 and up to 50 is needed, such as 1%".into()),
    }
}

/// A size of memory in bytes, with or without a decimal unit.
fn memory(text: &str) -> Result<u64, String> {
    let text = text.trim();
    let units = [("GB", 1e9), ("MB", 1e6), ("kB", 1e3), ("B", 1.0)];
    let (number, unit) = units.iter().find_map(|(u, x)| Some((text.strip_suffix(u)?, *x))).unwrap_or((text, 1.0));
    match number.trim().parse::<f64>() {
        Ok(size) if size > 0.0 && size * unit < 1e18 => Ok((size * unit) as u64),
        _ => Err("a size of memory is needed, such as 4GB or 800MB".into()),
    }
}

fn frequency(text: &str) -> Result<f64, String> {
    match text.parse::<f64>() {
        Ok(hz) if hz > 0.0 && hz <= 1e12 => Ok(hz),
        Ok(_) => Err("a frequency over 0 and up to 1e12 Hz is needed".into()),
        Err(_) => Err("a number of Hz is needed, such as 40000 or 4e4".into()),
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use clap::CommandFactory;

    #[test]
    fn the_command_line_is_well_formed_and_documents_every_flag() {
        let mut command = Cli::command();
        command.build();
        command.clone().debug_assert();
        for sub in command.get_subcommands() {
            for arg in sub.get_arguments() {
                assert!(arg.get_help().is_some(), "{} {} has no help", sub.get_name(), arg.get_id());
            }
        }
    }
}
