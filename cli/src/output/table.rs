//! The table on stdout: the answer first, every figure with its unit, then what to look at and what was left out.
//!
//! In: findings, modes, the outline, the screen. Out: plain text without colour or control codes, so that a file or a pipe gets the
//! same as a terminal of their width.

use super::columns::Column;
use super::findings::Findings;
use super::lines::Lines;
use super::screen::Screen;
use super::search;
use super::state;
use super::units::{grouped, length_um, mass, percent, to_its_bar};
use super::used;
use modalith_mesher::mirror::ROUND_AXES;
use modalith_mesher::outline::Outline;
use modalith_solver::mode::Mode;
use modalith_solver::process::{FirstOrder, Steps};
use modalith_solver::state::Instability;

/// Effective masses below this share are not worth a word in the table.
const WORTH: f64 = 0.01;

/// The table, all but the line of files.
pub fn answer(findings: &Findings, modes: &[Mode], outline: &Outline, screen: Screen) -> Lines {
    let mut t = Lines::new(screen);
    let layer = format!("{} {}", length_um(findings.thickness_um), findings.material);
    t.spread("", &findings.device, &layer);
    t.told(search::heading(&findings.search), &findings.completeness(modes));
    t.spread("Layout", &layout(outline), &format!("{} ({})", findings.model, findings.model_reason));
    t.blank();
    t.table(columns(findings, modes, outline));
    t.blank();
    let unknowns = grouped(findings.degrees_of_freedom as f64, 0, ' ');
    let share = "effective mass is a share of it, twist of the strain energy";
    t.told("Mass", &format!("{} moves; {share}; {unknowns} unknowns", mass(findings.moving_mass_kg)));
    if let Some(split) = findings.split {
        let [hz, bar] = to_its_bar(split.hz, split.mesh_error_hz.unwrap_or(0.0), 1);
        let bar = if bar.is_empty() { bar } else { format!(", ± {bar} of the mesh") };
        let model = if findings.full_law {
            String::new()
        } else {
            format!(
                "; what the {} model leaves of it is not measured here, `modalith rate` measures it",
                findings.model
            )
        };
        t.told("Split", &format!("sense less drive {hz} Hz{bar}{model}"));
    }
    t.all_told("Look at", &findings.cautions);
    used::push(&mut t, &findings.used);
    if let Some(film) = &findings.film {
        t.told("State", &state::line(film));
    }
    if let Some(pull_in) = &findings.pull_in {
        let limit = match pull_in {
            None => "no pull-in".to_owned(),
            Some(Instability { ratio, touches: None, .. }) => format!("pulls in at {ratio:.3} times the biases"),
            Some(Instability { ratio, touches: Some(name), .. }) => {
                format!("the part meets \"{name}\", or its fingertips what lies ahead, at {ratio:.3} times the biases")
            }
        };
        t.told("Bias", &format!("static deflection and softening are in the modes; {limit}"));
    }
    if !findings.left_out.is_empty() {
        t.told("Left out", &format!("{} (no input for them)", findings.left_out.join(", ")));
    }
    t
}

/// The columns that there is something to say in.
fn columns(findings: &Findings, modes: &[Mode], outline: &Outline) -> Vec<Column> {
    let all = || 0..modes.len();
    let (hz, bars): (Vec<String>, Vec<String>) =
        modes.iter().enumerate().map(|(i, m)| findings.frequency(i, m).into()).unzip();
    let mut columns =
        vec![Column::figures("mode", all().map(|i| (i + 1).to_string())), Column::decimals("frequency Hz", hz)];
    if bars.iter().any(|b| !b.is_empty()) {
        columns.push(Column::decimals("± mesh", bars));
    }
    columns.extend(shifts(findings, modes, outline));
    columns.push(Column::texts("what moves", all().map(|i| findings.label(i))).rank(2));
    let motions = |i: usize| findings.words.get(i).map(|w| w.motions("  ")).unwrap_or_default();
    if all().any(|i| !motions(i).is_empty()) {
        columns.push(Column::texts("masses", all().map(motions)).rank(7));
    }
    if !findings.intended.is_empty() {
        let roles = |i| findings.roles(i).iter().map(|(mac, role)| format!("{mac:.3}  {role}")).collect::<Vec<_>>();
        columns.push(Column::texts("MAC to intent", all().map(|i| roles(i).join(", "))).rank(1));
    }
    columns.push(Column::texts("effective mass", modes.iter().map(|m| shares(findings.effective_share(m)))).rank(5));
    columns.push(Column::figures("twist", modes.iter().map(|m| percent(m.twist_strain_share))).rank(6));
    columns
}

/// Shifts of the frequencies by round steps of edge and layer, where they are known.
fn shifts(findings: &Findings, modes: &[Mode], outline: &Outline) -> Vec<Column> {
    let known = |i: usize| findings.extra(i).and_then(|e| e.first_order.as_ref());
    if !(0..modes.len()).any(|i| known(i).is_some()) {
        return Vec::new();
    }
    let Steps { edge_um, layer_um } = Steps::of(outline, findings.thickness_um);
    let column = |head: String, rank: u8, of: &dyn Fn(&FirstOrder) -> f64| {
        let signed = |hz: f64| {
            let text = grouped(hz, usize::from(hz.abs() < 10.0), ' ');
            if text.starts_with('-') { text } else { format!("+{text}") }
        };
        let cells = (0..modes.len()).map(|i| known(i).map_or_else(String::new, |f| signed(of(f))));
        Column::decimals(head, cells.collect()).rank(rank)
    };
    vec![
        column(format!("Hz at +{} edge", length_um(edge_um)), 3, &|f| f.edge_shift_hz(edge_um)),
        column(format!("Hz at +{} layer", layer_in_um(layer_um)), 4, &|f| f.thickness_shift_hz(layer_um)),
    ]
}

/// A step of thickness in µm, as thicknesses are given.
fn layer_in_um(um: f64) -> String {
    if um < 0.01 { length_um(um) } else { format!("{} µm", (um * 1e4).round() / 1e4) }
}

/// Shares by axis worth naming, largest first: "z 98 %", "x 62 %, y 38 %".
pub(super) fn shares(shares: [f64; 3]) -> String {
    let mut named: Vec<(f64, char)> = shares.into_iter().zip(['x', 'y', 'z']).filter(|s| s.0 >= WORTH).collect();
    named.sort_by(|a, b| b.0.total_cmp(&a.0));
    let text: Vec<String> = named.iter().map(|(s, axis)| format!("{axis} {}", percent(*s))).collect();
    if text.is_empty() { "none".to_owned() } else { text.join(", ") }
}

/// What was understood of the layout, in one line.
pub fn layout(outline: &Outline) -> String {
    let mut said = Vec::new();
    if !outline.masses.is_empty() {
        let names: Vec<&str> = outline.masses.iter().map(|m| m.name.as_str()).collect();
        said.push(format!("masses {}", names.join(", ")));
    }
    said.push(counted(outline.flexures.len(), "flexure"));
    said.push(counted(outline.anchors.len(), "anchor"));
    if !outline.islands.is_empty() {
        said.push(format!("{} set aside", counted(outline.islands.len(), "held island")));
    }
    if !outline.idle_anchors.is_empty() {
        said.push(format!("{} touching nothing", counted(outline.idle_anchors.len(), "anchor")));
    }
    if !outline.mirrors.is_empty() {
        let inexact = outline.mirrors.iter().filter(|m| !m.is_exact()).map(|m| m.deviation_um).reduce(f64::max);
        let to = inexact.map_or_else(|| "exactly".to_owned(), |worst| format!("to {}", length_um(worst)));
        said.push(format!("{} {to}", mirror_axes(outline.mirrors.len())));
    }
    said.join("; ")
}

/// How many mirror axes; of a round outline no more are listed.
pub fn mirror_axes(listed: usize) -> String {
    match listed {
        1 => "1 mirror axis".to_owned(),
        ROUND_AXES => format!("{ROUND_AXES} or more mirror axes"),
        n => format!("{n} mirror axes"),
    }
}

fn counted(n: usize, what: &str) -> String {
    format!("{n} {what}{}", if n == 1 { "" } else { "s" })
}

#[cfg(test)]
mod tests {
    use super::super::specimen::{findings, sensor};
    use super::*;
    use modalith_solver::mode::label::orient;
    use std::path::Path;

    fn text() -> String {
        let (outline, _, mut sampled, mut modes) = sensor();
        let found = Findings { words: orient(&mut modes, &mut sampled), ..findings() };
        let mut lines = answer(&found, &modes, &outline, Screen::FILE);
        lines.wrote(&["modes.json", "modes.vtu"].map(str::to_owned), Path::new("out"), "2.0 s");
        lines.finish()
    }

    #[test]
    fn answers_first_and_reads_in_order() {
        let text = text();
        let order = [
            "20 µm silicon, (100) wafer",
            "Complete 3 modes found below 40 kHz, 3 counted independently",
            "Layout   masses left <&> proof, right; 5 flexures; 2 anchors",
            "mode  frequency Hz  ± mesh  Hz at +50 nm edge  Hz at +0.5 µm layer  what moves ",
            "masses",
            "   1      14 812.0     2.6               +545                 -2.0  antiphase x",
            "left <&> proof +x  right -x",
            "0.998  drive",
            "Look at  flexure 2 is taller than wide",
            "Left out anchor give, package stress (no input for them)",
            "Wrote    modes.json  modes.vtu  in out",
            "Design estimate, not a test.",
        ];
        let mut from = 0;
        for piece in order {
            let at = text[from..].find(piece);
            assert!(at.is_some(), "{piece:?} is missing after position {from} of\n{text}");
            from += at.unwrap_or(0);
        }
        assert!(text.lines().all(|l| l == l.trim_end()) && !text.contains('\u{1b}'), "{text}");
    }

    #[test]
    fn steps_are_printed_as_thicknesses_are() {
        assert_eq!(
            (layer_in_um(0.5), layer_in_um(0.2), layer_in_um(0.001)),
            ("0.5 µm".into(), "0.2 µm".into(), "1 nm".into())
        );
    }

    #[test]
    fn shares_worth_naming() {
        assert_eq!(shares([0.62, 0.005, 0.38]), "x 62 %, z 38 %");
        assert_eq!(shares([0.0; 3]), "none");
    }
}
