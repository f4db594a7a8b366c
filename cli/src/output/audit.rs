//! The audit of the lumped model as text and as JSON: assumptions with measure, limit and verdict, then every mode by model.

use super::columns::Column;
use super::lines::Lines;
use super::screen::Screen;
use super::units::{frequency, grouped, small_percent};
use super::used;
use modalith_solver::audit::Assumption;
use modalith_solver::model::ModalSolution;
use modalith_solver::sensor::{Audit, AuditRow};
use serde_json::{Value, json};

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
                .enumerate()
                .filter_map(|(k, m)| {
                    let ((hz, mac), (difference, _)) = row.models[k].zip(row.difference(k))?;
                    let value = json!({"frequency_hz": hz, "mac": mac, "difference": difference});
                    Some((m.model.name().to_owned(), value))
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
            "name": a.name, "measured": a.measured, "measure": a.measure, "limit": a.limit, "doubt": a.doubt, "holds": a.holds(),
            "because": because,
        })).collect::<Vec<_>>(),
        "models": models,
        "modes": modes,
        "left_out_models": audit.missing.iter().map(|(m, why)| json!({"model": m, "why": why})).collect::<Vec<_>>(),
    })
}

/// Which model to use, a sentence.
pub fn answer(heading: &Heading, audit: &Audit) -> String {
    let allowed = small_percent(heading.accuracy);
    let about = match (audit.pair_intended, audit.intent_stated) {
        (true, _) => "drive and sense modes",
        (false, true) => "first two modes (no two modes answer the intent)",
        (false, false) => "first two modes (drive and sense are not both intended)",
    };
    if !audit.is_against_solid() {
        let reference = audit.reference();
        return format!(
            "no verdict: the solid is left out, so that nothing is held against the full law; below, the {about} and all others \
             are compared with the {reference} model"
        );
    }
    match audit.best.filter(|model| *model != audit.reference()) {
        Some(model) => format!("{model} is the simplest model that keeps the {about} within {allowed} of the solid"),
        None => format!("no simpler model surely keeps the {about} within {allowed}: use the solid"),
    }
}

/// The verdict on an assumption, a word or two.
pub fn verdict(assumption: &Assumption) -> &'static str {
    match assumption.holds() {
        Some(true) => "holds",
        Some(false) => "FAILS",
        None if assumption.measure.is_some() => "open: mesh",
        None => "not measured",
    }
}

/// The audit as tables, the answer first.
pub fn text(heading: &Heading, audit: &Audit, screen: Screen) -> Lines {
    let mut t = Lines::new(screen);
    let failing: Vec<&str> = audit.assumptions.iter().filter(|a| a.holds() == Some(false)).map(|a| a.name).collect();
    t.sentence(heading.device);
    t.told("Use", &answer(heading, audit));
    if failing.is_empty() {
        t.told("Springs", "between rigid masses: no assumption that could be measured fails");
    } else {
        let fail = "between rigid masses fail as a model where one assumes";
        t.told("Springs", &format!("{fail}: {}", failing.join("; ")));
    }
    t.blank();
    assumptions(&mut t, audit);
    t.blank();
    modes(&mut t, audit);
    t.blank();
    models(&mut t, audit);
    t.all_told("Used", used_lines(audit));
    for (model, why) in &audit.missing {
        t.told("Left out", &format!("{model}: {why}"));
    }
    t.sentence(&format!(
        "Modes are matched by MAC, * marks those that the verdicts are about; the reference is the {}.",
        audit.reference()
    ));
    t
}

/// What the simple model assumes, with verdicts; why one is missing stands below.
fn assumptions(t: &mut Lines, audit: &Audit) {
    let all = || audit.assumptions.iter();
    t.table(vec![
        Column::texts("assumption", all().map(|a| a.name)),
        Column::figures("measure", all().map(|a| a.measure.map_or_else(|| "-".to_owned(), small_percent))).rank(1),
        Column::figures("limit", all().map(|a| small_percent(a.limit))).rank(2),
        Column::texts("verdict", all().map(verdict)),
        Column::texts("measured as", all().map(|a| a.measured)).rank(3),
    ]);
    let mut unknown: Vec<(&str, Vec<&str>)> = Vec::new();
    for (a, because) in all().zip(&audit.because) {
        let Some(because) = because else { continue };
        match unknown.iter_mut().find(|(why, _)| why == because) {
            Some((_, names)) => names.push(a.name),
            None => unknown.push((because, vec![a.name])),
        }
    }
    t.all_told("Unknown", unknown.iter().map(|(why, names)| format!("{}: {why}", names.join("; "))));
}

/// Every mode by model; a star marks those that the verdicts are about.
fn modes(t: &mut Lines, audit: &Audit) {
    let number = |(i, row): (usize, &AuditRow)| format!("{}{}", i + 1, if row.matters { "*" } else { " " });
    let others = audit.models.len() - 1;
    let mut columns = vec![
        Column::figures("mode ", audit.rows.iter().enumerate().map(number)),
        Column::decimals(
            format!("{} Hz", audit.reference()),
            audit.rows.iter().map(|row| frequency(row.reference_hz, ' ')).collect(),
        ),
    ];
    for (m, model) in audit.models[..others].iter().enumerate() {
        let cell = |row: &AuditRow| {
            row.difference(m).map_or_else(
                || "no such mode".to_owned(),
                |(share, mac)| format!("{:+.2} %  MAC {mac:.3}", 100.0 * share),
            )
        };
        columns.push(Column::figures(model.model.name(), audit.rows.iter().map(cell)).rank(1));
    }
    columns.push(Column::texts("what moves", audit.rows.iter().map(|row| &row.label)).rank(2));
    t.table(columns);
}

/// What each model takes, and how far it is off.
fn models(t: &mut Lines, audit: &Audit) {
    let off = |f: Option<f64>| f.map_or_else(|| "no match".to_owned(), |d| format!("{:.2} %", 100.0 * d));
    let unknowns = |m: &ModalSolution| grouped(m.degrees_of_freedom as f64, 0, ' ');
    let coupling = |g: &Option<f64>| g.map_or_else(|| "-".to_owned(), |g| format!("{g:.4}"));
    t.table(vec![
        Column::texts("model", audit.models.iter().map(|m| m.model.name())),
        Column::figures("unknowns", audit.models.iter().map(unknowns)).rank(2),
        Column::figures("seconds", audit.models.iter().map(|m| format!("{:.1}", m.total_s))).rank(3),
        Column::figures("frequency", audit.candidates.iter().map(|c| off(c.frequency))),
        Column::figures("coupling", audit.coupling.iter().map(coupling)).rank(1),
    ]);
}
