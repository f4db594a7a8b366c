//! The rate report on one screen: the answer first, then requirements with drawn and made side by side, then what it rests on.

use super::words::{self, AXES, figure, signed};
use crate::output::findings::Findings;
use crate::output::lines::push_wrapped;
use crate::output::search;
use crate::output::units::{frequency, grouped};
use crate::output::used;
use modalith_solver::mode::Mode;
use modalith_solver::rate::noise::Limit;
use modalith_solver::sensor::{AxisAnswer, NearMode, RateReport, Work};
use std::fmt::Write as _;

/// Near modes that are told on the screen.
const TOLD: usize = 4;

/// The answer, all but the line of files.
pub fn answer(findings: &Findings, modes: &[Mode], report: &RateReport) -> String {
    let mut t = format!("{}   {} model ({})\n", findings.device, findings.model, findings.model_reason);
    for axis in &report.axes {
        one_axis(&mut t, findings, modes, axis);
    }
    t.push('\n');
    push_wrapped(&mut t, "Model", &words::compared(report));
    push_wrapped(&mut t, search::heading(&findings.search), &findings.completeness(modes));
    for caution in &findings.cautions {
        push_wrapped(&mut t, "Caution", caution);
    }
    used::push(&mut t, &findings.used);
    for line in &report.missing {
        push_wrapped(&mut t, "Missing", line);
    }
    push_wrapped(&mut t, "Left out", &findings.left_out.join(", "));
    t
}

fn one_axis(t: &mut String, findings: &Findings, modes: &[Mode], axis: &AxisAnswer) {
    let _ = write!(t, "Rate about {}. ", AXES[axis.axis]);
    let hz = |i: usize| frequency(modes[i].frequency_hz, ' ');
    if let Some(drive) = &axis.drive {
        let _ = write!(t, "Drive mode {}, {} Hz (MAC {:.3})", drive.mode + 1, hz(drive.mode), drive.mac);
        if let Some((um, place)) = axis.work.as_ref().and_then(|w| w.drive_amplitude.as_ref()) {
            let _ = write!(t, ", {um} µm peak at {place}");
        }
        t.push_str(". ");
    }
    if let Some(sense) = &axis.sense {
        let _ = write!(t, "Sense mode {}, {} Hz (MAC {:.3}).", sense.mode + 1, hz(sense.mode), sense.mac);
    }
    t.push('\n');
    match &axis.work {
        Some(work) => verdict_line(t, work),
        None => t.push_str("NO ANSWER without a drive and a sense mode of their own.\n"),
    }
    let matches = [("drive", axis.drive.as_ref()), ("sense", axis.sense.as_ref())];
    let mut doubts: Vec<String> = matches.into_iter().flat_map(|(role, m)| words::doubts(role, m, findings)).collect();
    doubts.extend(axis.work.iter().flat_map(words::doubts_as_made));
    for doubt in doubts {
        push_wrapped(t, "Look at", &format!("{doubt}."));
    }
    let Some(work) = &axis.work else { return };
    if let Some(said) = words::as_made_pair(work) {
        push_wrapped(t, "As made", &said);
    }
    let near = near_modes(findings, modes, work);
    for (i, said) in near.iter().take(TOLD).enumerate() {
        push_wrapped(t, &format!("{:>2}", i + 1), said);
    }
    if near.len() > TOLD {
        let _ = writeln!(t, "   and {} more modes within guards (rate.json)", near.len() - TOLD);
    }
    shock(t, work);
    requirements(t, work);
    let _ = writeln!(
        t,
        "Coriolis {:.3} of ideal about {}; {}",
        work.pair.coupling(),
        AXES[axis.axis],
        (0..3)
            .filter(|k| *k != axis.axis)
            .map(|k| format!("{} about {}", figure(work.cross_axis[k].abs() * work.pair.coupling()), AXES[k]))
            .collect::<Vec<_>>()
            .join(", ")
    );
    figures(t, work);
}

/// Whether it will do, in one line.
fn verdict_line(t: &mut String, work: &Work) {
    let count = |met| work.verdicts.iter().filter(|v| v.met() == met).count();
    let (all, failed, open) = (work.verdicts.len(), count(Some(false)), count(None));
    let _ = match (all, failed, open) {
        (0, ..) => writeln!(t, "NO VERDICT: no requirements are stated."),
        (1, 0, 0) => writeln!(t, "YES: the one requirement is met."),
        (_, 0, 0) => writeln!(t, "YES: all {all} requirements are met."),
        (_, 0, _) => writeln!(t, "OPEN: of {all} requirements none fails, {open} without a verdict."),
        (_, 1, 0) => writeln!(t, "NOT YET: 1 of {all} requirements fails."),
        (_, _, 0) => writeln!(t, "NOT YET: {failed} of {all} requirements fail."),
        _ => writeln!(t, "NOT YET: of {all} requirements {failed} not met, {open} without a verdict."),
    };
}

/// The modes within guards: those made where imperfections are stated, else those drawn.
pub fn near_modes(findings: &Findings, modes: &[Mode], work: &Work) -> Vec<String> {
    match work.worst_made() {
        None => {
            let who = |i: usize| {
                format!("mode {} ({}, {} Hz)", i + 1, findings.label(i), frequency(modes[i].frequency_hz, ' '))
            };
            work.near.iter().map(|n| near_mode(&who(n.near.mode), work, n)).collect()
        }
        Some(made) => {
            let who = |i: usize| {
                format!(
                    "mode {} as made ({}, {} Hz)",
                    i + 1,
                    words::of_drawn(made, i, findings),
                    frequency(made.frequency_hz[i], ' ')
                )
            };
            made.work.near.iter().map(|n| near_mode(&who(n.near.mode), &made.work, n)).collect()
        }
    }
}

/// A mode within a guard: where, what excites it, what would move it.
fn near_mode(who: &str, work: &Work, near: &NearMode) -> String {
    let (n, guard) = (&near.near, &work.guards[near.near.guard]);
    let mut text = format!(
        "{who} is {} Hz {} {}; excited by {}; seen by the sense masses with {:.2} % of the sense mode.",
        grouped(n.distance_hz.abs(), 0, ' '),
        if n.distance_hz < 0.0 { "under" } else { "over" },
        words::guard(guard),
        words::excitations(&n.excitations),
        100.0 * n.visible
    );
    if !near.flexures.is_empty() {
        let numbers: Vec<String> = near.flexures.iter().map(|(f, _)| (f + 1).to_string()).collect();
        let held: f64 = near.flexures.iter().map(|(_, s)| s).sum();
        let _ = write!(text, " {:.0} % of its strain energy is in flexures {}", 100.0 * held, numbers.join(", "));
        if let Some(remedy) = near.remedy {
            // A step that moves the mode by the width of the guard, at most 1 µm.
            let apart = (remedy.mode_hz_per_um - remedy.guard_hz_per_um).abs().max(1e-9);
            let step = (((n.half_width_hz / apart) * 10.0).ceil() / 10.0).clamp(0.1, 1.0);
            let _ = write!(
                text,
                ": {step:.1} µm wider there moves it {} Hz, the guard {} Hz and the split {} Hz",
                signed(remedy.mode_hz_per_um * step),
                signed(remedy.guard_hz_per_um * step),
                signed(remedy.split_hz_per_um * step)
            );
        }
        text.push('.');
    }
    text
}

fn shock(t: &mut String, work: &Work) {
    for touch in &work.touches {
        if touch.travel.peak_m > touch.open_m() {
            let taken = words::taken(touch);
            let _ = writeln!(
                t,
                "Shock    {} travels {} µm along {}, gap {} µm{taken}; touches from {} g; nothing is claimed after",
                touch.place,
                figure(touch.travel.peak_m * 1e6),
                touch.direction,
                figure(touch.gap_m * 1e6),
                grouped(touch.first_touch_g, 0, ' ')
            );
        }
    }
    if work.touches.is_empty()
        && let Some((mass, travel)) = &work.free_travel
    {
        let _ = writeln!(t, "Shock    {mass} travels {} µm; no stopper given.", figure(travel.peak_m * 1e6));
    }
}

fn requirements(t: &mut String, work: &Work) {
    if work.verdicts.is_empty() {
        return;
    }
    let rows: Vec<[String; 5]> = work
        .verdicts
        .iter()
        .map(|v| {
            let name = words::name(v.figure()).to_owned();
            [name, words::asked(v), words::drawn(v, work.forbidden), words::as_made(v), words::margin(v)]
        })
        .collect();
    let heads = ["", "asked", "drawn", "as made", "margin"];
    let width =
        |k: usize| rows.iter().map(|r| r[k].chars().count()).chain([heads[k].chars().count()]).max().unwrap_or(0);
    let widths = [0, 1, 2, 3, 4].map(width);
    for row in std::iter::once(heads.map(str::to_owned)).chain(rows) {
        let cells: Vec<String> = row
            .iter()
            .zip(widths)
            .enumerate()
            .map(|(k, (cell, w))| {
                let fill = " ".repeat(w - cell.chars().count());
                if k == 0 { format!("{cell}{fill}") } else { format!("{fill}{cell}") }
            })
            .collect();
        let _ = writeln!(t, "{}", cells.join("   ").trim_end());
    }
    for verdict in work.verdicts.iter().filter(|v| !v.because().is_empty()) {
        push_wrapped(t, "Open", &format!("{}: {}", words::name(verdict.figure()), words::because(verdict)));
    }
}

fn figures(t: &mut String, work: &Work) {
    if let Some(scale) = work.scale_pm {
        let _ = write!(t, "Per °/s  {} pm", figure(scale));
        if let Some(af) = work.scale_af {
            let _ = write!(t, ", {} aF", figure(af));
        }
        if let Some(b) = work.bandwidth {
            let way = if b.rises { "rising" } else { "falling" };
            let _ = write!(t, "; open-loop bandwidth {} Hz ({way})", figure(b.hz));
        }
        if let Some((full, linearity)) = &work.linearity {
            let worst = linearity.at_plus_ppm.abs().max(linearity.at_minus_ppm.abs());
            let _ = write!(t, "; linear to {} ppm at {full} °/s", figure(worst));
        }
        t.push('\n');
    }
    if let Some(volts) = work.drive_volts {
        let _ = writeln!(t, "Drive    {} V peak beside the bias hold the amplitude", figure(volts));
    }
    for offer in &work.biases {
        push_wrapped(t, "Bias", &words::bias(offer));
    }
    if let Some(found) = &work.stress {
        push_wrapped(t, "Stress", &words::stress(found, work.shaken_mass));
    }
    let noise: Vec<String> = [("Brownian", work.noise.brownian), ("readout", work.noise.readout)]
        .into_iter()
        .filter_map(|(name, n)| Some(format!("{name} {}", figure(n?.deg_per_h_per_rthz()))))
        .collect();
    if let Some(total) = work.noise.total() {
        let limit = match work.noise.limit() {
            Some(Limit::Brownian) => "; Brownian limits",
            Some(Limit::Readout) => "; the readout limits",
            None => "",
        };
        let walk = figure(total.angle_random_walk_deg_per_rth());
        let _ = writeln!(t, "Noise    one-sided: {} °/h/√Hz; {walk} °/√h (two-sided){limit}", noise.join(", "));
    }
    let zero: Vec<String> = work
        .in_phase
        .terms
        .iter()
        .map(|term| format!("{} {} °/s", words::cause(term.cause), figure(term.rate.to_degrees())))
        .collect();
    if !zero.is_empty() {
        let _ = writeln!(t, "Zero     in phase, as made: {}", zero.join(", "));
    }
    let q = &work.quadrature;
    if !zero.is_empty() || q.lean.is_some() || q.width.is_some() || q.lean_partly.is_some() {
        let _ = writeln!(t, "{:<8} quadrature: {}", if zero.is_empty() { "Zero" } else { "" }, quadrature(work));
    }
    if let Some(ratio) = work.loads[0].force_ratio() {
        let _ = writeln!(
            t,
            "Balance  the drive leaves {} of one mass's inertial force at the anchors{}",
            figure(ratio),
            if work.forbidden.drive_force { FLOOR } else { "" }
        );
    }
    if let Some(ratio) = work.drive_load_as_made().and_then(|l| l.force_ratio()) {
        let _ = writeln!(t, "         as made, with the stated imperfections, {}", figure(ratio));
    }
}

/// Says that a figure is only the rounding of a symmetric drawing.
const FLOOR: &str = " (numerical floor of a symmetric drawing)";

fn quadrature(work: &Work) -> String {
    let q = &work.quadrature;
    let mut parts = Vec::new();
    // What a mirror does not forbid is in the parts too.
    let with = if work.forbidden.quadrature { "" } else { "drawn with " };
    if let Some(rate) = q.lean {
        parts.push(format!("{with}leaning walls {} °/s", figure(rate.to_degrees())));
    }
    if let Some(counted) = q.lean_partly {
        parts.push(format!("leaning walls not known, {:.1} % of the flexures' length counted", 100.0 * counted));
    }
    if let Some(rate) = q.width {
        parts.push(format!("{with}widths left and right {} °/s", figure(rate.to_degrees())));
    }
    if let Some(rate) = q.together.filter(|_| q.lean.is_some() && q.width.is_some()) {
        parts.push(format!("both together {} °/s", figure(rate.to_degrees())));
    }
    parts.push(format!("as drawn {} °/s", figure(q.drawn.to_degrees())));
    match q.left_out {
        Some(0.0) => {}
        Some(rate) => parts.push(format!("modes that are not listed add {} °/s at most", figure(rate.to_degrees()))),
        None => parts.push("what modes that are not listed add is not known".into()),
    }
    parts.join(", ")
}
