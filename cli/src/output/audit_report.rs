//! `report.html` of the audit: which model to use, the layout as understood, assumptions with verdicts, every mode by model.
//!
//! In: the audit, the outline, the text as printed. Out: HTML 5 with drawings and style inside, no scripts, nothing fetched.

use super::audit::{Heading, answer, used_lines, verdict};
use super::drawing::check_svg;
use super::page::{self, list};
use super::svg::escape;
use super::units::{NARROW_SPACE, frequency, grouped, small_percent};
use modalith_mesher::outline::Outline;
use modalith_solver::sensor::Audit;
use std::fmt::Write as _;

/// The report. `text` is the audit as printed on the terminal.
pub fn report_html(heading: &Heading, audit: &Audit, outline: &Outline, text: &str) -> String {
    let mut out = page::head(heading.device, "audit of models");
    let class = if audit.best.is_some() { "answer" } else { "answer bad" };
    let _ = writeln!(out, "<p class=\"{class}\">{}.</p>", escape(&answer(heading, audit)));
    out.push_str(
        "<h2>What the lumped model assumes</h2>\n<div class=\"wide\"><table>\n<thead><tr><th>assumption</th><th class=\"n\">measure</th>\
         <th class=\"n\">limit</th><th>verdict</th><th>measured as</th></tr></thead>\n<tbody>\n",
    );
    for (a, because) in audit.assumptions.iter().zip(&audit.because) {
        let class = if a.holds() == Some(false) { " class=\"bad\"" } else { "" };
        let _ = writeln!(
            out,
            "<tr><td>{}</td><td class=\"n\">{}</td><td class=\"n\">{}</td><td{class}>{}</td><td>{}</td></tr>",
            escape(a.name),
            a.measure.map_or_else(|| "-".to_owned(), small_percent),
            small_percent(a.limit),
            verdict(a),
            escape(because.as_deref().unwrap_or(a.measured))
        );
    }
    out.push_str("</tbody>\n</table></div>\n");
    modes(&mut out, audit);
    models(&mut out, audit);
    list(&mut out, "What was used", &used_lines(audit));
    if !audit.missing.is_empty() {
        let missing: Vec<String> = audit.missing.iter().map(|(model, why)| format!("{model}: {why}")).collect();
        list(&mut out, "Models left out", &missing);
    }
    let drawing = check_svg(outline, heading.device);
    let _ = write!(out, "<h2>The layout as understood</h2>\n<figure>\n{drawing}</figure>\n");
    let _ = writeln!(out, "<p>Inputs, SHA-256: <code>{}</code></p>", escape(heading.input_sha256));
    page::end(out, text)
}

fn modes(out: &mut String, audit: &Audit) {
    let others = audit.models.len() - 1;
    out.push_str(
        "<h2>Every mode by model</h2>\n<div class=\"wide\"><table>\n<thead><tr><th class=\"n\">mode</th>\
         <th class=\"n\">",
    );
    let _ = write!(out, "{}, Hz</th>", audit.reference());
    for m in &audit.models[..others] {
        let _ = write!(out, "<th>{}</th>", m.model);
    }
    out.push_str("<th>what moves</th></tr></thead>\n<tbody>\n");
    for (i, row) in audit.rows.iter().enumerate() {
        let star = if row.matters { "*" } else { "" };
        let hz = frequency(row.reference_hz, NARROW_SPACE);
        let _ = write!(out, "<tr><td class=\"n\">{star}{}</td><td class=\"n\">{hz}</td>", i + 1);
        for m in 0..others {
            let cell = row.difference(m).map_or_else(
                || "no such mode".to_owned(),
                |(share, mac)| format!("{:+.2} %, MAC {mac:.3}", 100.0 * share),
            );
            let _ = write!(out, "<td>{cell}</td>");
        }
        let _ = writeln!(out, "<td>{}</td></tr>", escape(&row.label));
    }
    out.push_str(
        "</tbody>\n</table></div>\n<p>Frequency against that of the solid; modes are matched by MAC, not by number. * marks the \
         modes that the verdicts are about.</p>\n",
    );
}

fn models(out: &mut String, audit: &Audit) {
    out.push_str(
        "<h2>Models</h2>\n<table>\n<thead><tr><th>model</th><th class=\"n\">unknowns</th><th class=\"n\">frequency off by</th>\
         <th class=\"n\">coupling of the pair</th></tr></thead>\n<tbody>\n",
    );
    for ((m, c), coupling) in audit.models.iter().zip(&audit.candidates).zip(&audit.coupling) {
        let _ = writeln!(
            out,
            "<tr><td>{}</td><td class=\"n\">{}</td><td class=\"n\">{}</td><td class=\"n\">{}</td></tr>",
            m.model,
            grouped(m.degrees_of_freedom as f64, 0, NARROW_SPACE),
            c.frequency.map_or_else(|| "no match".to_owned(), |d| format!("{:.2} %", 100.0 * d)),
            coupling.map_or_else(|| "-".to_owned(), |g| format!("{g:.4}"))
        );
    }
    out.push_str("</tbody>\n</table>\n");
}
