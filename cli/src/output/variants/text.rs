//! A batch on one screen: each kept result as drawn, as expected to first order, and as sampled; yield; what causes the variance.

use super::Batch;
use super::numbers::{Figures, figures};
use super::plot::short;
use super::tracks;
use crate::output::units::percent;
use crate::plan::Plan;
use crate::plan::sampling::Method;
use serde_json::{Value, json};
use std::fmt::Write as _;

/// Variables named in a ranking.
const NAMED: usize = 3;
/// Failed points whose message is shown.
const SHOWN: usize = 3;

/// What a plan asks for, in one line.
pub fn sampling(plan: &Plan) -> String {
    let (n, sampling) = (plan.variables.len(), &plan.sampling);
    let variables = if n == 1 { "one variable".to_owned() } else { format!("{n} variables") };
    let seed = if sampling.method == Method::Grid { String::new() } else { format!(", seed {}", sampling.seed) };
    format!("{} points of {variables}, {}{seed}", sampling.points, sampling.method.name())
}

/// What first-order terms expect, before any sampling.
pub fn expected(plan: &Plan, as_drawn: &[Option<f64>], first_order: &[Option<[f64; 2]>]) -> String {
    let mut out = String::new();
    for ((kept, drawn), expected) in plan.kept.iter().zip(as_drawn).zip(first_order) {
        if let Some([mean, deviation]) = expected {
            let drawn = drawn.map_or_else(|| "nothing".to_owned(), short);
            let _ = writeln!(
                out,
                "Expected  {}: {drawn} as drawn; to first order mean {}, deviation {}",
                kept.name,
                short(*mean),
                short(*deviation)
            );
        }
    }
    out
}

/// What the points were solved on.
pub fn meshes(batch: &Batch) -> String {
    match batch.meshed_anew() {
        0 => "every point on the mesh as drawn, its edges moved where the bias says so".to_owned(),
        n => format!(
            "{n} of {} points meshed anew, their outline being another one or moved too far; what a mesh leaves is in their differences",
            batch.rows.len()
        ),
    }
}

/// By how much mean and deviation of the points depart from what first-order terms expect. Points of a grid are all that there is,
/// not a sample: their deviation is that of n, and no chance moves their mean.
pub fn departure(figures: &Figures, [mean, deviation]: [f64; 2], points: usize, method: Method) -> String {
    // First-order terms are of all points: what some of them lack is no departure.
    if figures.count < points {
        return format!(
            "by how much from first order is not known: {} of {points} points lack it",
            points - figures.count
        );
    }
    let count = figures.count as f64;
    let (own, error) = match method {
        Method::Grid => (figures.deviation * ((count - 1.0) / count).sqrt(), 0.0),
        _ => (figures.deviation, figures.deviation / count.sqrt()),
    };
    let off = figures.mean - mean;
    let errors = if error > 0.0 { format!(" ({:+.1} standard errors)", off / error) } else { String::new() };
    let ratio = if deviation > 0.0 { format!(", deviation × {:.3}", own / deviation) } else { String::new() };
    format!("mean {}{}{errors}{ratio}", if off < 0.0 { "" } else { "+" }, short(off))
}

/// The answer.
pub fn answer(batch: &Batch) -> String {
    let plan = batch.plan;
    let mut out = format!("{}: {} with {}\n", batch.device, plan.run.name(), batch.model);
    let _ = writeln!(out, "Points    {}; {} failed", sampling(plan), batch.failed());
    let _ = writeln!(out, "Meshes    {}", meshes(batch));
    // The key that a result is kept from names its unit.
    let names: Vec<String> = plan
        .kept
        .iter()
        .map(|k| match k.steps.last() {
            Some(key) if *key != k.name => format!("{} ({key})", k.name),
            _ => k.name.clone(),
        })
        .collect();
    let width = names.iter().map(|n| n.chars().count()).max().unwrap_or(0).max(6);
    let _ = writeln!(
        out,
        "\n{:<width$}  {:>11}  {:>11}  {:>11}  {:>11}  {:>11}  {:>8}",
        "result", "as drawn", "mean", "deviation", "smallest", "largest", "yield"
    );
    for (k, name) in names.iter().enumerate() {
        let drawn = batch.as_drawn[k].map_or_else(|| "none".into(), short);
        let yields = batch.kept_within(k).map_or_else(String::new, |n| percent(n as f64 / batch.rows.len() as f64));
        let cells = match figures(&batch.column(k)) {
            Some(f) => [f.mean, f.deviation, f.low, f.high].map(short),
            None => ["none", "", "", ""].map(str::to_owned),
        };
        let [mean, deviation, low, high] = cells;
        let line =
            format!("{name:<width$}  {drawn:>11}  {mean:>11}  {deviation:>11}  {low:>11}  {high:>11}  {yields:>8}");
        let _ = writeln!(out, "{}", line.trim_end());
    }
    out.push('\n');
    if let Some(n) = batch.all_within() {
        let _ = writeln!(out, "Yield     {n} of {} points keep all limits", batch.rows.len());
    }
    for (k, kept) in plan.kept.iter().enumerate() {
        let ranking: Vec<String> = batch
            .ranking(k)
            .into_iter()
            .take(NAMED)
            .map(|(v, share)| format!("{} {}", plan.variables[v].pointer, percent(share)))
            .collect();
        if !ranking.is_empty() {
            let _ = writeln!(out, "Variance  {}: {}", kept.name, ranking.join(", "));
        }
    }
    for (k, kept) in plan.kept.iter().enumerate() {
        let (Some(f), Some(expected)) = (figures(&batch.column(k)), batch.first_order[k]) else { continue };
        let _ = writeln!(
            out,
            "Departs   {}: {}",
            kept.name,
            departure(&f, expected, batch.rows.len(), plan.sampling.method)
        );
    }
    out.push_str(&tracks::text(batch));
    let failed = batch.rows.iter().enumerate().filter(|(_, r)| !r.error.is_empty());
    for (n, row) in failed.take(SHOWN) {
        let _ = writeln!(out, "Failed    point {}: {}", n + 1, row.error);
    }
    if batch.failed() > SHOWN {
        let _ = writeln!(out, "Failed    and {} more: see column error", batch.failed() - SHOWN);
    }
    out
}

/// The same as JSON.
pub fn document(batch: &Batch) -> Value {
    let kept: Vec<Value> = batch
        .plan
        .kept
        .iter()
        .enumerate()
        .map(|(k, kept)| {
            let f = figures(&batch.column(k));
            let shares: serde_json::Map<String, Value> = batch
                .ranking(k)
                .into_iter()
                .map(|(v, share)| (batch.plan.variables[v].pointer.clone(), json!(share)))
                .collect();
            json!({
                "name": kept.name, "pointer": kept.pointer, "as_drawn": batch.as_drawn[k],
                "first_order": batch.first_order[k].map(|[mean, deviation]| json!({"mean": mean, "deviation": deviation})),
                "count": f.map_or(0, |f| f.count), "mean": f.map(|f| f.mean), "deviation": f.map(|f| f.deviation),
                "smallest": f.map(|f| f.low), "largest": f.map(|f| f.high),
                "within_limits": batch.kept_within(k), "variance_share": shares,
            })
        })
        .collect();
    let [tracks, crossings] = tracks::document(batch);
    json!({
        "format": "modalith.variants/1", "device": batch.device, "command": batch.plan.run.name(), "model": batch.model,
        "points": batch.rows.len(), "failed": batch.failed(), "within_all_limits": batch.all_within(), "results": kept,
        "meshed_anew": batch.meshed_anew(), "tracks": tracks, "crossings": crossings,
    })
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Points of a grid are all that there is: equal values, one either side of the mean, deviate by one, not by √2.
    #[test]
    fn a_grid_is_no_sample() {
        let all = figures(&[99.0, 101.0]).unwrap_or_else(|| unreachable!());
        assert!(departure(&all, [100.0, 1.0], 2, Method::Grid).ends_with("deviation × 1.000"));
        assert!(departure(&all, [100.0, 1.0], 2, Method::MonteCarlo).ends_with("deviation × 1.414"));
    }

    #[test]
    fn points_without_a_figure_leave_the_departure_unknown() {
        let histogram_of = |points| {
            departure(
                &figures(&[99.0, 101.0]).unwrap_or_else(|| unreachable!()),
                [100.0, 1.0],
                points,
                Method::MonteCarlo,
            )
        };
        assert!(histogram_of(2).starts_with("mean +0"), "{}", histogram_of(2));
        assert_eq!(histogram_of(3), "by how much from first order is not known: 1 of 3 points lack it");
    }
}
