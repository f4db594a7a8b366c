//! The audit of the lumped model as text and as JSON: assumptions with measure, limit and verdict, then every mode by model.

use super::lines::push_wrapped;
use super::units::{frequency, grouped, percent};
use super::used;
use modalith_solver::audit::Assumption;
use modalith_solver::model::ModalSolution;
use modalith_solver::sensor::Audit;
use serde_json::{Value, json};
use std::fmt::Write as _;

/// What stands behind the figures of each model, in lines.
pub fn used_lines(audit: &Audit) -> Vec<String> {
    let lines_of = |m: &ModalSolution| m.used.iter().map(|u| format!("{}: {}", m.model, u.line())).collect::<Vec<_>>();
    audit.models.iter().flat_map(lines_of).collect()
}

/// What the audit is of.
pub struct Heading<'a> {
    /// Name of the device.
    pub device: &'a str,
    /// Hash of the inputs.
    pub input_sha256: &'a str,
    /// Error allowed, a share.
    pub accuracy: f64,
}

/// The audit in JSON.
pub fn document(heading: &Heading, audit: &Audit) -> Value {
    let models: Vec<Value> = audit
        .models
        .iter()
        .zip(&audit.candidates)
        .zip(&audit.coupling)
        .map(|((m, c), coupling)| {
            json!({
                "model": m.model.name(),
                "degrees_of_freedom": m.degrees_of_freedom,
                "count_verified": m.search.is_counted(),
                "used": used::document(&m.used),
                "frequency_difference": c.frequency,
                "coriolis_coupling": coupling,
                "coriolis_coupling_difference": c.coupling,
            })
        })
        .collect();
    let modes: Vec<Value> = audit
        .rows
        .iter()
        .enumerate()
        .map(|(i, row)| {
            let by_model: serde_json::Map<String, Value> = audit
                .models
                .iter()
                .zip(&row.models)
                .filter_map(|(m, found)| {
                    found.map(|(hz, mac)| {
                        let value = json!({
                            "frequency_hz": hz, "mac": mac, "difference": hz / row.reference_hz - 1.0,
                        });
                        (m.model.name().to_owned(), value)
                    })
                })
                .collect();
            json!({"index": i + 1, "label": row.label, "matters": row.matters, "models": by_model})
        })
        .collect();
    json!({
        "format": "modalith.audit/1",
        "device": heading.device,
        "input_sha256": heading.input_sha256,
        "accuracy": heading.accuracy,
        "cheapest_model": audit.best,
        "reference": audit.reference(),
        "assumptions": audit.assumptions.iter().zip(&audit.because).map(|(a, because)| json!({
            "name": a.name, "measured": a.measured, "measure": a.measure, "limit": a.limit, "holds": a.holds(),
            "because": because,
        })).collect::<Vec<_>>(),
        "models": models,
        "modes": modes,
        "left_out_models": audit.missing.iter().map(|(m, why)| json!({"model": m, "why": why})).collect::<Vec<_>>(),
    })
}

/// Which model to use, a sentence.
pub fn answer(heading: &Heading, audit: &Audit) -> String {
    let allowed = percent(heading.accuracy);
    let about = match (audit.pair_intended, audit.intent_stated) {
        (true, _) => "drive and sense modes",
        (false, true) => "first two modes (no two modes answer the intent)",
        (false, false) => "first two modes (drive and sense are not both intended)",
    };
    let reference = audit.reference();
    if reference != "solid" {
        return format!(
            "no verdict: the solid is left out, so that nothing is held against the full law; below, the {about} and all others \
             are compared with the {reference} model"
        );
    }
    match audit.best {
        Some(model) => format!("{model} is the cheapest model that keeps the {about} within {allowed} of the solid"),
        None => format!("no model keeps the {about} within {allowed}: use the solid"),
    }
}

/// The verdict on an assumption, a word or two.
pub fn verdict(assumption: &Assumption) -> &'static str {
    match assumption.holds() {
        Some(true) => "holds",
        Some(false) => "FAILS",
        None => "not measured",
    }
}

/// The audit as a table, the answer first.
pub fn text(heading: &Heading, audit: &Audit) -> String {
    let mut t = String::new();
    let failing: Vec<&str> = audit.assumptions.iter().filter(|a| a.holds() == Some(false)).map(|a| a.name).collect();
    let _ = writeln!(t, "{}\nUse      {}", heading.device, answer(heading, audit));
    if failing.is_empty() {
        let _ = writeln!(t, "Springs  between rigid masses: every assumption that could be measured holds");
    } else {
        let _ = writeln!(t, "Springs  between rigid masses fail as a model where one assumes: {}", failing.join("; "));
    }
    let _ = writeln!(t, "\n{:<46}{:>12}{:>10}  verdict", "assumption", "measure", "limit");
    for (a, because) in audit.assumptions.iter().zip(&audit.because) {
        let verdict = verdict(a);
        let measure = a.measure.map_or_else(|| "-".to_owned(), percent);
        let what = because.as_deref().unwrap_or(a.measured);
        let _ = writeln!(t, "{:<46}{measure:>12}{:>10}  {verdict}   {what}", a.name, percent(a.limit));
    }
    let _ = write!(t, "\n{:<5}{:>14}", "mode", format!("{} Hz", audit.reference()));
    let others = audit.models.len() - 1;
    for m in &audit.models[..others] {
        let _ = write!(t, "{:>22}", m.model.name());
    }
    let _ = writeln!(t, "   what moves");
    for (i, row) in audit.rows.iter().enumerate() {
        let star = if row.matters { "*" } else { "" };
        let _ = write!(t, "{:>4}{star:<1}{:>14}", i + 1, frequency(row.reference_hz, ' '));
        for found in &row.models[..others] {
            let cell = found.map_or_else(
                || "no such mode".to_owned(),
                |(hz, mac)| format!("{:+.2} %  MAC {mac:.3}", 100.0 * (hz / row.reference_hz - 1.0)),
            );
            let _ = write!(t, "{cell:>22}");
        }
        let _ = writeln!(t, "   {}", row.label);
    }
    let _ = writeln!(t, "\n{:<12}{:>12}{:>10}{:>14}{:>16}", "model", "unknowns", "seconds", "frequency", "coupling");
    for ((m, c), coupling) in audit.models.iter().zip(&audit.candidates).zip(&audit.coupling) {
        let difference = c.frequency.map_or_else(|| "no match".to_owned(), |d| format!("{:.2} %", 100.0 * d));
        let coupling = coupling.map_or_else(|| "-".to_owned(), |g| format!("{g:.4}"));
        let unknowns = grouped(m.degrees_of_freedom as f64, 0, ' ');
        let _ = writeln!(t, "{:<12}{unknowns:>12}{:>10.1}{difference:>14}{coupling:>16}", m.model.name(), m.total_s);
    }
    for (i, line) in used_lines(audit).iter().enumerate() {
        push_wrapped(&mut t, if i == 0 { "Used" } else { "" }, line);
    }
    for (model, why) in &audit.missing {
        let _ = writeln!(t, "Left out {model}: {why}");
    }
    let _ = writeln!(
        t,
        "Modes are matched by MAC, * marks those that the verdicts are about; the reference is the {}.",
        audit.reference()
    );
    t
}
