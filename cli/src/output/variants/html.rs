//! report.html of a batch: the answer, then for each kept result its histogram, its scatter against each variable, and the variables
//! ranked by the variance they cause. HTML 5 that opens offline.

use super::plot::{histogram, scatter, short};
use super::text::{departure, meshes, sampling};
use super::{Batch, table, tracks};
use crate::output::page;
use crate::output::svg::escape;
use crate::output::units::percent;
use serde_json::Value;
use std::fmt::Write as _;

/// Scatters of one result.
const MOST_SCATTERS: usize = 12;

/// The report; `answer` is the text as printed.
pub fn report_html(batch: &Batch, answer: &str) -> String {
    let plan = batch.plan;
    let mut out = page::head(batch.device, "variants");
    let _ = writeln!(
        out,
        "<p class=\"answer\">{}; {} with {}. {} failed.</p>\n<p>Meshes: {}.</p>",
        escape(&sampling(plan)),
        plan.run.name(),
        escape(batch.model),
        batch.failed(),
        meshes(batch)
    );
    if let Some(n) = batch.all_within() {
        let share = percent(n as f64 / batch.rows.len().max(1) as f64);
        let _ = writeln!(
            out,
            "<p class=\"answer\">{n} of {} points keep all limits: a yield of {share}.</p>",
            batch.rows.len()
        );
    }
    varied(&mut out, batch);
    for k in 0..plan.kept.len() {
        result(&mut out, batch, k);
    }
    tracks::html(&mut out, batch);
    out.push_str(
        "<h2>How to read it</h2>\n<p>In a histogram the orange lines are the device as drawn and stated limits. A share of variance \
         is the first-order share of Sobol: how much of the variance would go if the variable were held, averaged over the \
         others. What only acts jointly is in no share; with correlated variables a share holds what the others bring along. Few \
         points make shares uncertain by about the root of one over their number.</p>\n",
    );
    page::end(out, answer)
}

fn varied(out: &mut String, batch: &Batch) {
    out.push_str("<h2>What varies</h2>\n<div class=\"wide\"><table>\n<tr><th>value</th><th>how</th></tr>\n");
    for v in &batch.plan.variables {
        let how = batch.plan.value()["vary"].get(&v.pointer).map(Value::to_string).unwrap_or_default();
        let how = if how.chars().count() > 160 { how.chars().take(160).collect::<String>() + "…" } else { how };
        let _ = writeln!(out, "<tr><td>{}</td><td><code>{}</code></td></tr>", escape(&v.pointer), escape(&how));
    }
    out.push_str("</table></div>\n");
    if let Some(list) = batch.plan.value()["correlation"].as_array() {
        let _ = writeln!(out, "<p>Correlated: <code>{}</code></p>", escape(&Value::from(list.clone()).to_string()));
    }
}

// One section of the page from top to bottom.
fn result(out: &mut String, batch: &Batch, k: usize) {
    let (plan, kept) = (batch.plan, &batch.plan.kept[k]);
    let _ = writeln!(out, "<h2>{}</h2>\n<p><code>{}</code></p>", escape(&kept.name), escape(&kept.pointer));
    let values = batch.column(k);
    let Some(f) = batch.figures(k) else {
        out.push_str("<p class=\"bad\">No point has this result.</p>\n");
        return;
    };
    let _ = write!(
        out,
        "<p>Mean {}, deviation {}, from {} to {}",
        short(f.mean),
        short(f.deviation),
        short(f.low),
        short(f.high)
    );
    if let Some(drawn) = batch.as_drawn[k] {
        let _ = write!(out, "; as drawn {}", short(drawn));
    }
    if let Some(n) = batch.kept_within(k) {
        let _ = write!(out, "; {n} of {} within limits", batch.rows.len());
    }
    out.push_str(".</p>\n");
    if let Some(expected) = batch.first_order[k] {
        let _ = writeln!(
            out,
            "<p>First-order terms expect mean {}, deviation {}; sampled: {}.</p>",
            short(expected[0]),
            short(expected[1]),
            escape(&departure(&f, expected, batch.rows.len(), batch.plan.sampling.method))
        );
    }
    let ranking = batch.ranking(k);
    if !ranking.is_empty() {
        out.push_str("<table>\n<tr><th>variable</th><th class=\"n\">share of variance</th></tr>\n");
        for (v, share) in &ranking {
            let _ = writeln!(
                out,
                "<tr><td>{}</td><td class=\"n\">{}</td></tr>",
                escape(&plan.variables[*v].pointer),
                percent(*share)
            );
        }
        out.push_str("</table>\n");
    }
    out.push_str("<div>\n");
    let limits = kept.limits.into_iter().flatten().flatten();
    let marks: Vec<f64> = batch.as_drawn[k].into_iter().chain(limits).collect();
    out.push_str(&histogram(&values, &marks, &format!("Histogram of {}", kept.name), &kept.name));
    // The variables that matter most come first.
    let mut order: Vec<usize> = ranking.iter().map(|(v, _)| *v).collect();
    let others: Vec<usize> = (0..plan.variables.len()).filter(|v| !order.contains(v)).collect();
    order.extend(others);
    for v in order.into_iter().take(MOST_SCATTERS) {
        let (x, y) = batch.pairs(v, k);
        let pointer = &plan.variables[v].pointer;
        out.push_str(&scatter(&x, &y, &format!("{} against {pointer}", kept.name), pointer));
    }
    out.push_str("</div>\n");
    let missing: Vec<String> = batch
        .rows
        .iter()
        .enumerate()
        .filter(|(_, r)| r.kept[k].is_none() && !r.error.is_empty())
        .take(5)
        .map(|(n, r)| {
            let values: Vec<String> = batch.points[n].iter().map(table::plain).collect();
            format!("point {} ({}): {}", n + 1, values.join(", "), r.error)
        })
        .collect();
    if !missing.is_empty() {
        page::list(out, "Points without it", &missing);
    }
}
