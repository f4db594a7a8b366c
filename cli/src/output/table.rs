//! The table on stdout: the answer first, every figure with its unit, then what to look at and what was left out.

use super::findings::Findings;
use super::label::label;
use super::units::{bytes, duration, frequency, grouped, length_um, mass, percent};
use modalith_mesher::outline::Outline;
use modalith_solver::mode::Mode;
use std::fmt::Write;

/// The table; `files` are the names of the files written, `out` the folder.
pub fn table(findings: &Findings, modes: &[Mode], outline: &Outline, out: &str, files: &[String]) -> String {
    let mut t = String::new();
    let _ = writeln!(t, "{}    {} {}", findings.device, length_um(findings.thickness_um), findings.material);
    let _ = writeln!(t, "Layout   {}", layout(outline));
    let complete = findings.completeness(modes.len());
    let _ = writeln!(t, "Complete {complete}     {} ({})", findings.model, findings.model_reason);
    let _ = writeln!(t);
    let labels: Vec<String> = modes.iter().map(|m| label(m, findings.moving_mass_kg)).collect();
    let wide = labels.iter().map(|l| l.chars().count()).max().unwrap_or(0).max(10);
    let _ = writeln!(t, "{:>4}  {:>14}  {:<wide$}  {:>22}  {:>6}", "", "", "", "effective mass in %", "twist");
    let _ = writeln!(
        t,
        "{:>4}  {:>14}  {:<wide$}  {:>6}  {:>6}  {:>6}  {:>6}",
        "mode", "frequency Hz", "what moves", "x", "y", "z", "%"
    );
    for (i, (mode, label)) in modes.iter().zip(&labels).enumerate() {
        let share = findings.effective_share(mode).map(|s| grouped(100.0 * s, 1, ' '));
        let pad = " ".repeat(wide - label.chars().count());
        let _ = writeln!(
            t,
            "{:>4}  {:>14}  {label}{pad}  {:>6}  {:>6}  {:>6}  {:>6}",
            i + 1,
            frequency(mode.frequency_hz, ' '),
            share[0],
            share[1],
            share[2],
            grouped(100.0 * mode.twist_strain_share, 0, ' ')
        );
    }
    let _ = writeln!(t);
    let _ = writeln!(
        t,
        "Mass     {} moves; effective masses are shares of it, twist is a share of the strain energy",
        mass(findings.moving_mass_kg)
    );
    for (i, caution) in findings.cautions.iter().enumerate() {
        let _ = writeln!(t, "{:<8} {caution}", if i == 0 { "Look at" } else { "" });
    }
    if !findings.left_out.is_empty() {
        let _ = writeln!(t, "Left out {} (no input for them)", findings.left_out.join(", "));
    }
    let memory = findings.peak_memory_bytes.map_or(String::new(), |b| format!(", {}", bytes(b)));
    let _ = writeln!(
        t,
        "Wrote    {}  in {out}    {} unknowns, {}{memory}.  Design estimate, not a test.",
        files.join("  "),
        grouped(findings.degrees_of_freedom as f64, 0, ' '),
        duration(findings.timings.total_s)
    );
    t
}

/// What was understood of the layout, in one line.
fn layout(outline: &Outline) -> String {
    let mut said = Vec::new();
    if !outline.masses.is_empty() {
        let names: Vec<&str> = outline.masses.iter().map(|m| m.name.as_str()).collect();
        said.push(format!("masses {}", names.join(", ")));
    }
    said.push(counted(outline.flexures.len(), "flexure candidate"));
    said.push(counted(outline.anchors.len(), "anchor"));
    if !outline.islands.is_empty() {
        said.push(format!("{} set aside", counted(outline.islands.len(), "held island")));
    }
    if !outline.idle_anchors.is_empty() {
        said.push(format!("{} touching nothing", counted(outline.idle_anchors.len(), "anchor")));
    }
    if !outline.mirrors.is_empty() {
        let worst = outline.mirrors.iter().map(|m| m.deviation_um).fold(0.0, f64::max);
        let to = if worst <= 0.0 { "exactly".to_owned() } else { format!("to {}", length_um(worst)) };
        let plural = if outline.mirrors.len() == 1 { "mirror axis" } else { "mirror axes" };
        said.push(format!("{} {plural} {to}", outline.mirrors.len()));
    }
    said.join("; ")
}

fn counted(n: usize, what: &str) -> String {
    format!("{n} {what}{}", if n == 1 { "" } else { "s" })
}

/// How far a plain shell is below the true frequency of a mode in pure twist, as a share, for a flexure t/w times as tall
/// as wide: half the excess compliance of a transverse-shear plate with κ = 5/6 in twist (0.7, 2.8, 6.9, 10.9 % at
/// t/w = 1, 2, 4, 8, 17 % in the limit; derived from Saint-Venant's torsion of a rectangle).
fn twist_error(tall: f64) -> f64 {
    const KNOWN: [(f64, f64); 6] = [(0.0, 0.0), (1.0, 0.007), (2.0, 0.028), (4.0, 0.069), (8.0, 0.109), (1e9, 0.17)];
    let at = KNOWN.iter().rposition(|(x, _)| *x <= tall).unwrap_or(0).min(KNOWN.len() - 2);
    let ((x0, y0), (x1, y1)) = (KNOWN[at], KNOWN[at + 1]);
    0.5 * (y0 + (y1 - y0) * ((tall - x0) / (x1 - x0)).min(1.0))
}

/// Where a shell is not enough: flexures taller than wide, and the modes whose twist it gets wrong.
pub fn shell_cautions(outline: &Outline, thickness_um: f64, modes: &[Mode]) -> Vec<String> {
    let tall: Vec<f64> = outline.flexures.iter().map(|f| thickness_um / f.width_um).filter(|&r| r > 1.0).collect();
    let Some(worst) = tall.iter().copied().reduce(f64::max) else { return Vec::new() };
    let mut said = vec![format!(
        "{} of {} flexures are taller than wide, up to {worst:.1} times: a shell is too soft in their twist and up to 1.3 % \
         low in plane where they are short",
        tall.len(),
        outline.flexures.len()
    )];
    let error = twist_error(worst);
    let touched: Vec<String> = modes
        .iter()
        .enumerate()
        .filter(|(_, m)| m.twist_strain_share * error > 0.001)
        .map(|(i, m)| format!("{} (up to {:.1} %)", i + 1, 100.0 * m.twist_strain_share * error))
        .collect();
    if !touched.is_empty() {
        said.push(format!("too low by twist of tall flexures: mode {}", touched.join(", ")));
    }
    let twisting = modes.iter().map(|m| m.twist_strain_share).fold(0.0, f64::max);
    if twisting > 0.0 {
        said.push(format!("largest share of twist in the strain energy: {}", percent(twisting)));
    }
    said
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn twist_error_follows_the_known_points() {
        for (tall, percent) in [(1.0, 0.35), (2.0, 1.4), (4.0, 3.45), (8.0, 5.45)] {
            assert!((100.0 * twist_error(tall) - percent).abs() < 1e-12);
        }
        assert!(twist_error(6.0) > twist_error(4.0) && twist_error(1e12) < 0.0851);
    }
}
