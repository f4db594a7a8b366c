//! The rate report on one screen: the answer first, then requirements with drawn and made side by side, then what it rests on.

use super::words::{self, AXES, Digits, figure, signed};
use crate::output::columns::Column;
use crate::output::findings::Findings;
use crate::output::lines::Lines;
use crate::output::screen::Screen;
use crate::output::search;
use crate::output::state;
use crate::output::units::{frequency, grouped, length_um};
use crate::output::used;
use modalith_solver::mode::Mode;
use modalith_solver::rate::noise::Limit;
use modalith_solver::rate::requirements::Verdict;
use modalith_solver::rate::tally::Tally;
use modalith_solver::sensor::{AxisAnswer, NearMode, RateReport, Work};
use std::fmt::Write as _;

/// Near modes that are told on the screen.
const TOLD: usize = 4;

/// The answer, all but the line of files: the verdicts first.
pub fn answer(findings: &Findings, modes: &[Mode], report: &RateReport, screen: Screen) -> Lines {
    let mut t = Lines::new(screen);
    t.sentence(&findings.device);
    for axis in &report.axes {
        let about = if report.axes.len() > 1 { format!("About {}: ", AXES[axis.axis]) } else { String::new() };
        let said = axis.work.as_ref().map_or_else(|| NO_PAIR.to_owned(), verdict);
        t.sentence(&format!("{about}{said}"));
    }
    for axis in &report.axes {
        one_axis(&mut t, findings, modes, axis);
    }
    t.blank();
    t.told("Model", &format!("{} ({}); {}", findings.model, findings.model_reason, words::compared(report)));
    t.told(search::heading(&findings.search), &findings.completeness(modes));
    for caution in &findings.cautions {
        t.told("Caution", caution);
    }
    if let Some(film) = &findings.film {
        t.told("State", &state::line(film));
    }
    used::push(&mut t, &findings.used);
    for line in &report.missing {
        t.told("Missing", line);
    }
    t.told("Left out", &findings.left_out.join(", "));
    t
}

/// Where there is nothing to weigh.
const NO_PAIR: &str = "NO ANSWER without a drive and a sense mode of their own.";

fn one_axis(t: &mut Lines, findings: &Findings, modes: &[Mode], axis: &AxisAnswer) {
    let hz = |i: usize| {
        let [hz, _] = findings.frequency(i, &modes[i]);
        hz
    };
    t.sentence(&pair(axis, &hz));
    let matches = [("drive", axis.drive.as_ref()), ("sense", axis.sense.as_ref())];
    let mut doubts: Vec<String> = matches.into_iter().flat_map(|(role, m)| words::doubts(role, m, findings)).collect();
    doubts.extend(axis.work.iter().flat_map(words::doubts_as_made));
    for doubt in doubts {
        t.told("Look at", &format!("{doubt}."));
    }
    let Some(work) = &axis.work else { return };
    if let Some(said) = words::as_made_pair(work) {
        t.told("As made", &said);
    }
    let near = near_modes(findings, work, &hz);
    for (i, said) in near.iter().take(TOLD).enumerate() {
        t.told(&format!("{:>2}", i + 1), said);
    }
    if near.len() > TOLD {
        t.told("", &format!("and {} more modes within guards (rate.json)", near.len() - TOLD));
    }
    if let Some(said) = nearest(findings, work, &hz) {
        t.told("Nearest", &said);
    }
    shock(t, work);
    requirements(t, work);
    let others: Vec<String> = (0..3)
        .filter(|k| *k != axis.axis)
        .map(|k| format!("{} about {}", figure(work.coupling_about(k).abs()), AXES[k]))
        .collect();
    let coupling = work.pair.coupling();
    t.told("Coriolis", &format!("{coupling:.3} of ideal about {}; {}", AXES[axis.axis], others.join(", ")));
    figures(t, work);
}

/// The axis and its pair of modes.
fn pair(axis: &AxisAnswer, hz: &dyn Fn(usize) -> String) -> String {
    let mut said = format!("Rate about {}.", AXES[axis.axis]);
    if let Some(drive) = &axis.drive {
        let _ = write!(said, " Drive mode {}, {} Hz (MAC {:.3})", drive.mode + 1, hz(drive.mode), drive.mac);
        if let Some((um, place)) = axis.work.as_ref().and_then(|w| w.drive_amplitude.as_ref()) {
            let _ = write!(said, ", {um} µm peak at {place}");
        }
        said.push('.');
    }
    if let Some(sense) = &axis.sense {
        let _ = write!(said, " Sense mode {}, {} Hz (MAC {:.3}).", sense.mode + 1, hz(sense.mode), sense.mac);
    }
    said
}

/// Whether it will do, in one line.
fn verdict(work: &Work) -> String {
    let Tally { all, failed, open } = Tally::of(&work.verdicts);
    match (all, failed, open) {
        (0, ..) => "NO VERDICT: no requirements are stated.".into(),
        (1, 0, 0) => "YES: the one requirement is met.".into(),
        (_, 0, 0) => format!("YES: all {all} requirements are met."),
        (_, 0, _) => format!("OPEN: of {all} requirements none fails, {open} without a verdict."),
        (_, 1, 0) => format!("NOT YET: 1 of {all} requirements fails."),
        (_, _, 0) => format!("NOT YET: {failed} of {all} requirements fail."),
        _ => format!("NOT YET: of {all} requirements {failed} not met, {open} without a verdict."),
    }
}

/// The modes within guards: those made where imperfections are stated, else those drawn; `hz` writes the frequency of one drawn.
pub fn near_modes(findings: &Findings, work: &Work, hz: &dyn Fn(usize) -> String) -> Vec<String> {
    match work.worst_made() {
        None => {
            let who = |i: usize| format!("mode {} ({}, {} Hz)", i + 1, findings.label(i), hz(i));
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

/// The mode nearest to a guard as drawn, where it is none of those within one; `hz` writes the frequency of one drawn.
pub fn nearest(findings: &Findings, work: &Work, hz: &dyn Fn(usize) -> String) -> Option<String> {
    let near = work.nearest.as_ref()?;
    let shown = work.worst_made().map_or(work, |made| &made.work);
    let listed = shown.near.iter().any(|n| (n.near.mode, n.near.guard) == (near.mode, near.guard));
    (!listed).then(|| {
        format!(
            "to a guard is mode {} ({}, {} Hz) as drawn, {} Hz {} {}.",
            near.mode + 1,
            findings.label(near.mode),
            hz(near.mode),
            grouped(near.distance_hz.abs(), 0, ' '),
            if near.distance_hz < 0.0 { "under" } else { "over" },
            words::guard(&work.guards[near.guard])
        )
    })
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
        let held = 100.0 * near.held();
        let _ = write!(text, " {held:.0} % of its strain energy is in flexures {}", numbers.join(", "));
        if let Some((um, moved)) = near.remedy.and_then(|remedy| remedy.widening(n.half_width_hz)) {
            let [mode, guard, split] = moved.map(signed);
            let _ = write!(
                text,
                ": {} wider there moves it {mode} Hz, the guard {guard} Hz and the split {split} Hz, to first order",
                length_um(um)
            );
        }
        text.push('.');
    }
    text
}

fn shock(t: &mut Lines, work: &Work) {
    for touch in work.touches.iter().filter(|touch| touch.touches()) {
        let said = format!(
            "{} travels {} µm along {}, gap {} µm{}; touches from {} g; nothing is claimed after",
            touch.place,
            figure(touch.travel.peak_m * 1e6),
            touch.direction,
            figure(touch.gap_m * 1e6),
            words::taken(touch),
            grouped(touch.first_touch_g, 0, ' ')
        );
        t.told("Shock", &said);
    }
    if work.touches.is_empty()
        && let Some((mass, travel)) = &work.free_travel
    {
        t.told("Shock", &format!("{mass} travels {} µm; no stopper given.", figure(travel.peak_m * 1e6)));
    }
}

/// Every requirement, its unit beside its name, drawn and made side by side in the digits that the error of its figure supports.
fn requirements(t: &mut Lines, work: &Work) {
    if work.verdicts.is_empty() {
        return;
    }
    let column = |head: &str, cell: &dyn Fn(&Verdict, Digits) -> String| {
        let cells = work.verdicts.iter().map(|v| {
            let error = v.found().error.as_ref().map_or(0.0, |e| *e);
            let text = cell(v, &|value| words::figure_within(value, error));
            text.strip_suffix(v.figure().unit()).unwrap_or(&text).trim_end().to_owned()
        });
        Column::figures(head, cells)
    };
    let named = |v: &Verdict| match v.figure().unit() {
        "" => words::name(v.figure()).to_owned(),
        unit => format!("{}, {unit}", words::name(v.figure())),
    };
    t.table(vec![
        Column::texts("requirement", work.verdicts.iter().map(named)),
        column("asked", &|v, _| words::asked(v)).rank(2),
        column("drawn", &|v, figure| words::drawn(v, work.forbidden, figure)).rank(3),
        column("as made", &|v, figure| words::as_made(v, figure)).rank(1),
        column("margin", &|v, figure| words::margin(v, figure)),
    ]);
    for verdict in &work.verdicts {
        let remark = words::remark(verdict);
        if !remark.is_empty() {
            let key = if verdict.met().is_some() { "Lacks" } else { "Open" };
            t.told(key, &format!("{}: {remark}", words::name(verdict.figure())));
        }
    }
}

fn figures(t: &mut Lines, work: &Work) {
    if let Some(scale) = work.scale_pm {
        t.told("Per °/s", &answer_to_rate(scale, work));
    }
    if let Some(volts) = work.drive_volts {
        t.told("Drive", &format!("{} V peak beside the bias hold the amplitude", figure(volts)));
    }
    for offer in &work.biases {
        t.told("Bias", &words::bias(offer));
    }
    if let Some(found) = &work.stress {
        t.told("Stress", &words::stress(found, work.shaken_mass));
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
        t.told("Noise", &format!("one-sided: {} °/h/√Hz; {walk} °/√h (two-sided){limit}", noise.join(", ")));
    }
    zero(t, work);
    let force = work.loads[0].force_ratio().map(|ratio| {
        let floor = if work.forbidden.drive_force { FLOOR } else { "" };
        format!("the drive leaves {} of one mass's inertial force at the anchors{floor}", figure(ratio))
    });
    let as_made = work.drive_load_as_made().and_then(|l| l.force_ratio());
    let as_made = as_made.map(|ratio| format!("as made, with the stated imperfections, {}", figure(ratio)));
    t.all_told("Balance", force.into_iter().chain(as_made));
}

/// What a rate does: travel, charge, bandwidth, linearity.
fn answer_to_rate(scale_pm: f64, work: &Work) -> String {
    let mut said = format!("{} pm", figure(scale_pm));
    if let Some(af) = work.scale_af {
        let _ = write!(said, ", {} aF", figure(af));
    }
    if let Some(b) = work.bandwidth {
        let way = if b.rises { "rising" } else { "falling" };
        let _ = write!(said, "; open-loop bandwidth {} Hz ({way})", figure(b.hz));
    }
    if let Some((full, linearity)) = &work.linearity {
        let _ = write!(said, "; linear to {} ppm at {full} °/s", figure(linearity.worst_ppm()));
    }
    said
}

/// What is read without a rate.
fn zero(t: &mut Lines, work: &Work) {
    let terms: Vec<String> = work
        .in_phase
        .terms
        .iter()
        .map(|term| format!("{} {} °/s", words::cause(term.cause), figure(term.rate.to_degrees())))
        .collect();
    let in_phase = (!terms.is_empty()).then(|| format!("in phase, as made: {}", terms.join(", ")));
    let q = &work.quadrature;
    let is_known = in_phase.is_some() || q.lean.is_some() || q.width.is_some() || q.lean_partly.is_some();
    let quadrature = is_known.then(|| format!("quadrature: {}", quadrature(work)));
    t.all_told("Zero", in_phase.into_iter().chain(quadrature));
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
