//! `report.html` of the rate report: verdicts first, then requirements, spectrum, near modes, mode pictures that play, coupling,
//! budgets, inputs, what is left out, care. HTML 5 that opens offline; every text of the user is escaped.

use super::words::{self, AXES, figure};
use super::{play, spectrum, text};
use crate::output::drawing::{Sheet, check_svg, playable_svg};
use crate::output::findings::Findings;
use crate::output::page::{self, list};
use crate::output::svg::escape;
use crate::output::units::{NARROW_SPACE, frequency};
use crate::output::used;
use modalith_mesher::mesh::Mesh;
use modalith_mesher::outline::Outline;
use modalith_solver::mode::{Mode, Sampled};
use modalith_solver::rate::tally::Tally;
use modalith_solver::sensor::{AxisAnswer, RateReport, Work};
use rayon::prelude::*;
use std::fmt::Write as _;

/// A drawing of every mode that a page can play.
pub fn drawings(outline: &Outline, mesh: &Mesh, sampled: &Sampled, modes: &[Mode]) -> Vec<String> {
    let sheet = Sheet::new(outline, mesh, sampled);
    modes.par_iter().enumerate().map(|(i, mode)| playable_svg(&sheet, i, mode)).collect()
}

/// The report, with the [`drawings`] of its modes. `printed` is the answer as printed on the terminal.
pub fn report_html(
    findings: &Findings,
    modes: &[Mode],
    report: &RateReport,
    outline: &Outline,
    drawings: &[String],
    printed: &str,
) -> String {
    let mut out = page::head(&findings.device, "rate report");
    out.push_str(play::STYLE);
    page::about(&mut out, findings);
    for axis in &report.axes {
        one_axis(&mut out, findings, modes, axis);
    }
    out.push_str(
        "<h2>How each mode moves</h2>\n<p>Drawn larger than life. Blue moves towards the viewer while amber moves away. Play steps through \
         half a period and back.</p>\n<div class=\"modes\">\n",
    );
    for (i, drawing) in drawings.iter().enumerate() {
        let moves = escape(&findings.what_moves(i));
        let _ = writeln!(
            out,
            "<figure id=\"mode-{}\">\n{drawing}<figcaption>{} {moves}</figcaption>\n</figure>",
            i + 1,
            play::BUTTON
        );
    }
    out.push_str("</div>\n");
    let drawing = check_svg(outline, &findings.device);
    let _ = write!(out, "<h2>The layout as understood</h2>\n<figure>\n{drawing}</figure>\n");
    rests_on(&mut out, findings, modes, report);
    let _ = write!(out, "{}", play::SCRIPT);
    page::end(out, printed)
}

fn one_axis(out: &mut String, findings: &Findings, modes: &[Mode], axis: &AxisAnswer) {
    let _ = writeln!(out, "<h2>Rate about {}</h2>", AXES[axis.axis]);
    let matches = [("drive", axis.drive.as_ref()), ("sense", axis.sense.as_ref())];
    let doubts = matches.into_iter().flat_map(|(role, m)| words::doubts(role, m, findings));
    for doubt in doubts.chain(axis.work.iter().flat_map(words::doubts_as_made)) {
        let _ = writeln!(out, "<p class=\"bad\">{}.</p>", escape(&doubt));
    }
    let Some(work) = &axis.work else {
        out.push_str("<p class=\"answer bad\">No answer without a drive and a sense mode of their own.</p>\n");
        return;
    };
    verdicts(out, work);
    if let Some(said) = words::as_made_pair(work) {
        let _ = writeln!(out, "<p>As made: {}</p>", escape(&said));
    }
    requirements(out, work);
    let _ = write!(
        out,
        "<figure>\n{}<figcaption>Modes by number, as drawn; guards as bands, those with a mode in them in amber; drive and sense \
                         in blue.</figcaption>\n</figure>\n",
        spectrum::spectrum_svg(work)
    );
    let hz = |i: usize| frequency(modes[i].frequency_hz, ' ');
    let said = text::near_modes(findings, work, &hz);
    if !said.is_empty() {
        list(out, "Modes within guards", &said);
    }
    if let Some(said) = text::nearest(findings, work, &hz) {
        let _ = writeln!(out, "<p>Nearest {}</p>", escape(&said));
    }
    pair(out, modes, axis, work);
    budgets(out, work);
    shock(out, work);
}

fn verdicts(out: &mut String, work: &Work) {
    let tally = Tally::of(&work.verdicts);
    let (class, said) = match tally {
        Tally { all: 0, .. } => ("answer", "No requirements are stated, so there is no verdict.".to_owned()),
        Tally { all, .. } if tally.is_yes() => ("answer", format!("All {all} requirements are met.")),
        Tally { all, failed: 0, open } => {
            ("answer bad", format!("Open: of {all} requirements none fails, {open} without a verdict."))
        }
        Tally { all, failed, open } => {
            ("answer bad", format!("Not yet: of {all} requirements {failed} not met, {open} without a verdict."))
        }
    };
    let _ = writeln!(out, "<p class=\"{class}\">{said}</p>");
}

fn requirements(out: &mut String, work: &Work) {
    if work.verdicts.is_empty() {
        return;
    }
    out.push_str(
        "<div class=\"wide\"><table>\n<thead><tr><th>requirement</th><th class=\"n\">asked</th><th class=\"n\">drawn</th>\
         <th class=\"n\">as made</th><th class=\"n\">margin</th><th>because</th></tr></thead>\n<tbody>\n",
    );
    for v in &work.verdicts {
        let class = if v.met() == Some(false) { "n bad" } else { "n" };
        let _ = writeln!(
            out,
            "<tr><td>{}</td><td class=\"n\">{}</td><td class=\"n\">{}</td><td class=\"n\">{}</td><td class=\"{class}\">{}</td><td>{}</td></tr>",
            words::name(v.figure()),
            words::asked(v),
            words::drawn(v, work.forbidden, &figure),
            words::as_made(v, &figure),
            words::margin(v, &figure),
            escape(&words::remark(v))
        );
    }
    out.push_str("</tbody>\n</table></div>\n");
    if work.forbidden.quadrature || work.forbidden.vibration {
        out.push_str(
            "<p>Where the column as drawn says floor, a mirror of the drawing forbids the figure: it is the numerical floor of mesh and \
             solver and no property of the device; the column as made rests on the imperfections and spreads that are stated.</p>\n",
        );
    }
}

/// Rows of figure, value and the formula behind it.
fn rows(out: &mut String, title: &str, rows: &[(&str, String, &str)]) {
    let _ = writeln!(
        out,
        "<h2>{title}</h2>\n<div class=\"wide\"><table>\n<thead><tr><th>figure</th><th class=\"n\">value</th><th>formula and source</th></tr></thead>\n<tbody>"
    );
    for (name, value, formula) in rows {
        let _ = writeln!(out, "<tr><td>{name}</td><td class=\"n\">{}</td><td>{formula}</td></tr>", escape(value));
    }
    out.push_str("</tbody>\n</table></div>\n");
}

fn pair(out: &mut String, modes: &[Mode], axis: &AxisAnswer, work: &Work) {
    let hz = |i: usize| format!("{} Hz (mode {})", frequency(modes[i].frequency_hz, NARROW_SPACE), i + 1);
    let mut all = vec![
        ("drive", hz(work.modes.0), "best match with the intended drive motion (MAC)"),
        ("sense", hz(work.modes.1), "best match with the intended sense motion (MAC)"),
        ("mode split", format!("{:.1} Hz", work.pair.mode_split_hz()), "sense less drive"),
    ];
    for k in 0..3 {
        let name = ["Coriolis coupling about x", "Coriolis coupling about y", "Coriolis coupling about z"][k];
        let value = work.coupling_about(k);
        let own = if k == axis.axis { " (rate axis)" } else { "" };
        all.push((
            name,
            format!("{}{own}", figure(value)),
            "|G|/2, G = 2 ∫ ρ φ_d · (e × φ_s) dV; 1 is an ideal point mass",
        ));
    }
    if let Some(split) = work.split {
        let value = format!("{:.0} to {:.0} Hz", split.low_hz, split.high_hz);
        all.push((
            "mode split as made",
            value,
            "edge, layer and material at 3 sigma: first-order terms, and the modes that each of them mixes; root of squares, the wider",
        ));
    }
    if let Some(scale) = work.scale_pm {
        let value = format!("{} pm per °/s", figure(scale));
        all.push((
            "answer to rate",
            value,
            "|G| Ω ω_d q_d / √((ω_s² − ω_d²)² + (ω_s ω_d/Q_s)²), peak at the sense masses",
        ));
    }
    if let Some(b) = work.bandwidth {
        let value = format!("{} Hz ({})", figure(b.hz), if b.rises { "rises by 3 dB" } else { "falls by 3 dB" });
        all.push(("open-loop bandwidth", value, "3 dB of the demodulated answer to a swinging rate"));
    }
    if let Some((full, l)) = &work.linearity {
        let value = format!("{} and {} ppm at ±{full} °/s", figure(l.at_minus_ppm), figure(l.at_plus_ppm));
        all.push((
            "linearity",
            value,
            "quadratic eigenproblem on the kept modes, centrifugal term included, prestress left out",
        ));
    }
    all.extend(loads(work));
    rows(out, "The pair", &all);
    if !work.biases.is_empty() {
        let said: Vec<String> = work.biases.iter().map(words::bias).collect();
        list(out, "What biases could do", &said);
    }
}

/// What the pair leaves at the anchors, and what a shock makes of the flexures.
fn loads(work: &Work) -> Vec<(&'static str, String, &'static str)> {
    let mut all = Vec::new();
    if let Some(ratio) = work.loads[0].force_ratio() {
        let formula = "|∫ ρ φ dV| of the drive over the inertial force of its liveliest mass";
        all.push(("force at the anchors", figure(ratio), formula));
    }
    if let Some(ratio) = work.drive_load_as_made().and_then(|l| l.force_ratio()) {
        let formula = "the same of the drive as made, with the stated imperfections";
        all.push(("force at the anchors as made", figure(ratio), formula));
    }
    if let Some(found) = &work.stress {
        let formula = "N/A ± M c/I at the ends of the flexure's straight stretches, modes added over time, undamped, up to first contact";
        all.push(("stress under shock", words::stress(found, work.shaken_mass), formula));
    }
    all
}

/// A budget as bars: name and size.
fn bars(out: &mut String, title: &str, unit: &str, parts: &[(String, f64)]) {
    let most = parts.iter().map(|p| p.1).fold(0.0, f64::max);
    if most <= 0.0 {
        return;
    }
    let _ = writeln!(out, "<h2>{title}</h2>\n<div class=\"wide\"><table>\n<tbody>");
    for (name, value) in parts {
        let _ = writeln!(
            out,
            "<tr><td>{}</td><td class=\"n\">{} {unit}</td><td><svg xmlns=\"http://www.w3.org/2000/svg\" width=\"320\" height=\"12\" \
             role=\"img\" aria-label=\"bar\"><rect width=\"{:.1}\" height=\"12\" fill=\"#5d7f79\"/></svg></td></tr>",
            escape(name),
            figure(*value),
            320.0 * value / most
        );
    }
    out.push_str("</tbody>\n</table></div>\n");
}

fn budgets(out: &mut String, work: &Work) {
    let noise: Vec<(String, f64)> = [("Brownian", work.noise.brownian), ("readout", work.noise.readout)]
        .into_iter()
        .filter_map(|(name, n)| Some((name.to_owned(), n?.deg_per_h_per_rthz())))
        .collect();
    bars(out, "Noise, one-sided", "°/h/√Hz", &noise);
    if let Some(total) = work.noise.total() {
        let _ = writeln!(
            out,
            "<p>Together {} °/h/√Hz one-sided, angle random walk {} °/√h (root of the two-sided density over 60, IEEE Std 952).</p>",
            figure(total.deg_per_h_per_rthz()),
            figure(total.angle_random_walk_deg_per_rth())
        );
    }
    let q = &work.quadrature;
    let floor = if work.forbidden.quadrature { "as drawn (numerical floor)" } else { "as drawn" };
    let mut quadrature = vec![(floor.to_owned(), q.drawn.to_degrees())];
    quadrature.extend(q.lean.map(|rate| ("leaning walls".to_owned(), rate.to_degrees())));
    quadrature.extend(q.width.map(|rate| ("widths left and right".to_owned(), rate.to_degrees())));
    let both = q.together.filter(|_| q.lean.is_some() && q.width.is_some());
    quadrature.extend(both.map(|rate| ("both together".to_owned(), rate.to_degrees())));
    bars(out, "Quadrature", "°/s", &quadrature);
    let zero: Vec<(String, f64)> =
        work.in_phase.terms.iter().map(|t| (words::cause(t.cause).to_owned(), t.rate.to_degrees())).collect();
    bars(out, "Zero rate in phase, as made", "°/s", &zero);
    if let Some(rates) = work.vibration_as_made().or(work.vibration.as_ref()) {
        let along: Vec<(String, f64)> = rates
            .iter()
            .enumerate()
            .filter_map(|(k, r)| {
                Some((format!("along {}, worst at {:.0} Hz", AXES[k], r.worst_hz), r.worst?.to_degrees()))
            })
            .collect();
        bars(out, "False rate of vibration", "°/s per g", &along);
    }
}

fn shock(out: &mut String, work: &Work) {
    if work.touches.is_empty() {
        return;
    }
    out.push_str(
        "<h2>Shock</h2>\n<table>\n<thead><tr><th>place</th><th>towards</th><th class=\"n\">gap</th><th class=\"n\">travel</th>\
         <th class=\"n\">as made</th><th class=\"n\">first touch</th></tr></thead>\n<tbody>\n",
    );
    for (stopper, touch) in work.touches.iter().enumerate() {
        let as_made = work.travel_as_made_m(stopper).map(|m| format!("{} µm", figure(m * 1e6)));
        let class = if touch.touches() { "n bad" } else { "n" };
        let _ = writeln!(
            out,
            "<tr><td>{}</td><td>{}</td><td class=\"n\">{} µm</td><td class=\"{class}\">{} µm</td><td class=\"n\">{}</td><td class=\"n\">{} g</td></tr>",
            escape(&touch.place),
            touch.direction,
            figure(touch.gap_m * 1e6),
            figure(touch.travel.peak_m * 1e6),
            as_made.as_deref().unwrap_or("not known"),
            figure(touch.first_touch_g)
        );
    }
    out.push_str(
        "</tbody>\n</table>\n<p>Half-sine pulse, modal superposition with the static correction for what is left out, undamped. Nothing \
         is claimed after contact.</p>\n",
    );
}

fn rests_on(out: &mut String, findings: &Findings, modes: &[Mode], report: &RateReport) {
    let mut said = vec![
        words::compared(report),
        findings.completeness(modes),
        "in-run bias is not predicted: it follows from how constant the zero-rate terms are over temperature, charge and stress".into(),
    ];
    said.extend(findings.cautions.iter().cloned());
    list(out, "What this rests on", &said);
    if !report.missing.is_empty() {
        list(out, "Not given, and what it would bring", &report.missing);
    }
    if !findings.used.is_empty() {
        list(out, "Used", &used::lines(&findings.used));
    }
    list(out, "Left out", &findings.left_out);
    out.push_str("<h2>Inputs</h2>\n<table>\n<thead><tr><th>file</th><th>SHA-256</th></tr></thead>\n<tbody>\n");
    for input in &findings.inputs {
        let _ =
            writeln!(out, "<tr><td>{}</td><td><code>{}</code></td></tr>", escape(&input.file), escape(&input.sha256));
    }
    out.push_str("</tbody>\n</table>\n");
}
