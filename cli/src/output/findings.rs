//! What a run found out besides the modes: what is printed around them and kept with them.
//!
//! In: filled by the commands. Out: read by the table, the JSON files and the report. Units stand in the names.

use super::search;
use super::units::frequency_to_its_bar;
use modalith_solver::completed::CompletedSearch;
use modalith_solver::mode::Mode;
use modalith_solver::mode::label::Words;
use modalith_solver::model::{ModeExtra, Used};
use modalith_solver::rotation::Coriolis;
use modalith_solver::sensor::{ElectrodeFound, Intended, ModeSplit};
use modalith_solver::state::{FilmRest, Instability};

/// A file that was read.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Input {
    /// The file as the user or another input named it.
    pub file: String,
    /// SHA-256 of its bytes, hexadecimal.
    pub sha256: String,
}

/// How the modes couple by rotation.
#[derive(Clone, Debug, PartialEq)]
pub struct Rotation {
    /// The modes, from 0, in the order of rows and columns.
    pub modes: Vec<usize>,
    /// Their coupling.
    pub coriolis: Coriolis,
}

/// Wall-clock seconds by stage, in the order in which the stages ran.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Timings {
    /// Name of the stage and its seconds; the fixed names are `mesh`, `assembly`, `ordering`, `factorization`, `eigen`.
    pub stages: Vec<(String, f64)>,
    /// From the start of the program to the last file, s.
    pub total_s: f64,
}

/// What a run found out besides the modes.
#[derive(Clone, Debug, PartialEq)]
pub struct Findings {
    /// The device's name.
    pub device: String,
    /// `lumped`, `beam-shell`, `shell` or `solid`.
    pub model: String,
    /// Whether that model has the full law, so that it leaves nothing but what its mesh does.
    pub full_law: bool,
    /// Why this model, a few words: "parts wider than thick".
    pub model_reason: String,
    /// Thickness of the layer, µm.
    pub thickness_um: f64,
    /// The material in a few words: "silicon, (100) wafer, x along <110>".
    pub material: String,
    /// Mass of the free material, kg.
    pub moving_mass_kg: f64,
    /// Unknowns of the constrained system.
    pub degrees_of_freedom: usize,
    /// SHA-256 over all inputs, hexadecimal.
    pub input_sha256: String,
    /// Every file that was read, the device file first.
    pub inputs: Vec<Input>,
    /// In which band the list is whole, how that was counted, and of what it may be said.
    pub search: CompletedSearch,
    /// What moves, one for each mode, as [`modalith_solver::mode::label::orient`] returns them.
    pub words: Vec<Words>,
    /// One for each mode, in their order.
    pub extras: Vec<ModeExtra>,
    /// The intended motions, the drive first.
    pub intended: Vec<Intended>,
    /// How far sense lies above drive, where both are intended and found.
    pub split: Option<ModeSplit>,
    /// Coupling by rotation, where the model has it.
    pub rotation: Option<Rotation>,
    /// Where the model is not enough for this layout, sentences.
    pub cautions: Vec<String>,
    /// What stands behind the figures.
    pub used: Vec<Used>,
    /// Electrodes, in the user's order.
    pub electrodes: Vec<ElectrodeFound>,
    /// Where softening under bias is in the modes: where on rising biases the part pulls in, if it does.
    pub pull_in: Option<Option<Instability>>,
    /// The state under film stress, where some acts.
    pub film: Option<FilmRest>,
    /// Effects of the trade that have no input here, a few words each.
    pub left_out: Vec<String>,
    /// Seconds by stage.
    pub timings: Timings,
    /// Threads used.
    pub threads: usize,
    /// Largest resident memory, bytes, where the system tells.
    pub peak_memory_bytes: Option<u64>,
    /// What the search for modes was predicted to hold, bytes; 0 where that was not asked.
    pub predicted_memory_bytes: u64,
    /// Version of the program.
    pub version: String,
}

impl Findings {
    /// What is known of mode `i` beyond its shape; nothing where the list is short.
    pub fn extra(&self, i: usize) -> Option<&ModeExtra> {
        self.extras.get(i)
    }

    /// Which intended motions mode `i` is: criterion and name, "drive", "sense", or "sense y" where there are several.
    pub fn roles(&self, i: usize) -> Vec<(f64, String)> {
        let senses = self.intended.iter().filter(|m| m.rate_axis.is_some()).count();
        let role = |axis: Option<usize>| match axis {
            None => "drive".to_owned(),
            Some(axis) if senses > 1 => format!("sense {}", ["x", "y", "z"][axis]),
            Some(_) => "sense".to_owned(),
        };
        let own = self.intended.iter().filter(|m| m.mode == Some(i));
        own.map(|m| (m.mac.get(i).copied().unwrap_or(0.0), role(m.rate_axis))).collect()
    }

    /// The label of mode `i`; empty where there are no words for it.
    pub fn label(&self, i: usize) -> &str {
        self.words.get(i).map_or("", |w| &w.label)
    }

    /// The frequency of a mode for a screen and the error bar of its mesh, empty where there is none, Hz.
    pub fn frequency(&self, i: usize, mode: &Mode) -> [String; 2] {
        frequency_to_its_bar(mode.frequency_hz, self.extra(i).and_then(|e| e.mesh_error_hz))
    }

    /// The label and the motions of the masses in one line, "antiphase x: left +x, right -x".
    pub fn what_moves(&self, i: usize) -> String {
        let motions = self.words.get(i).map(|w| w.motions(", ")).unwrap_or_default();
        if motions.is_empty() { self.label(i).to_owned() } else { format!("{}: {motions}", self.label(i)) }
    }

    /// Effective mass of a mode along x, y, z as a share of the moving mass, 0 to 1.
    pub fn effective_share(&self, mode: &Mode) -> [f64; 3] {
        mode.effective_share(self.moving_mass_kg)
    }

    /// One sentence on completeness: how many modes lie in the band, and how many were counted there.
    pub fn completeness(&self, modes: &[Mode]) -> String {
        search::sentence(&self.search, modes)
    }
}

/// Largest resident memory of this process so far, bytes, from `VmHWM` in `/proc/self/status`; `None` elsewhere.
pub fn peak_memory_bytes() -> Option<u64> {
    let status = std::fs::read_to_string("/proc/self/status").ok()?;
    let line = status.lines().find_map(|l| l.strip_prefix("VmHWM:"))?;
    let kib: u64 = line.trim().strip_suffix("kB")?.trim().parse().ok()?;
    Some(kib * 1024)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[cfg(target_os = "linux")]
    #[test]
    fn peak_memory_grows_with_what_is_touched() {
        let before = peak_memory_bytes().unwrap();
        let block = vec![1u8; 64 << 20];
        assert!(block.iter().map(|&b| u64::from(b)).sum::<u64>() == 64 << 20);
        let after = peak_memory_bytes().unwrap();
        assert!(after > 64 << 20 && after >= before, "{before} {after}");
    }
}
