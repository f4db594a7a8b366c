//! A batch on one screen: each kept result as drawn, as expected to first order, and as sampled; yield; what causes the variance.

use super::Batch;
use super::plot::short;
use super::tracks;
use crate::output::columns::Column;
use crate::output::lines::Lines;
use crate::output::screen::Screen;
use crate::output::units::percent;
use crate::plan::Plan;
use modalith_solver::process::{Departure, Figures, Method};
use serde_json::{Value, json};

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
pub fn expected(t: &mut Lines, plan: &Plan, as_drawn: &[Option<f64>], first_order: &[Option<[f64; 2]>]) {
    for ((kept, drawn), expected) in plan.kept.iter().zip(as_drawn).zip(first_order) {
        if let Some([mean, deviation]) = expected {
            let drawn = drawn.map_or_else(|| "nothing".to_owned(), short);
            let (mean, deviation) = (short(*mean), short(*deviation));
            let to_first_order = format!("to first order mean {mean}, deviation {deviation}");
            t.told("Expected  ", &format!("{}: {drawn} as drawn; {to_first_order}", kept.name));
        }
    }
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
/// not a sample: no chance moves their mean.
pub fn departure(figures: &Figures, expected: [f64; 2], points: usize, method: Method) -> String {
    // First-order terms are of all points: what some of them lack is no departure.
    if figures.count < points {
        return format!(
            "by how much from first order is not known: {} of {points} points lack it",
            points - figures.count
        );
    }
    let Departure { mean: off, standard_errors, deviation_ratio } = Departure::of(figures, expected, method.values());
    let errors = standard_errors.map_or_else(String::new, |errors| format!(" ({errors:+.1} standard errors)"));
    let ratio = deviation_ratio.map_or_else(String::new, |ratio| format!(", deviation × {ratio:.3}"));
    format!("mean {}{}{errors}{ratio}", if off < 0.0 { "" } else { "+" }, short(off))
}

/// The answer: what came of the batch, every result, then what explains them.
pub fn answer(batch: &Batch, screen: Screen) -> Lines {
    let plan = batch.plan;
    let mut t = Lines::new(screen);
    t.sentence(&format!("{}: {} with {}", batch.device, plan.run.name(), batch.model));
    t.told("Points    ", &format!("{}; {} failed", sampling(plan), batch.failed()));
    if let Some(n) = batch.all_within() {
        t.told("Yield     ", &format!("{n} of {} points keep all limits", batch.rows.len()));
    }
    t.told("Meshes    ", &meshes(batch));
    if plan.variables.iter().any(|v| v.pointer == "/process/edge_bias_um") {
        t.told(
            "Held      ",
            "gaps of electrodes that the device file types, if it does, stay as typed where edges move",
        );
    }
    t.blank();
    t.table(columns(batch));
    t.blank();
    expected(&mut t, plan, batch.as_drawn, batch.first_order);
    for (k, kept) in plan.kept.iter().enumerate() {
        let ranking = batch.ranking(k).into_iter().take(NAMED);
        let ranking: Vec<String> =
            ranking.map(|(v, share)| format!("{} {}", plan.variables[v].pointer, percent(share))).collect();
        if !ranking.is_empty() {
            t.told("Variance  ", &format!("{}: {}", kept.name, ranking.join(", ")));
        }
    }
    for (k, kept) in plan.kept.iter().enumerate() {
        let (Some(f), Some(expected)) = (batch.figures(k), batch.first_order[k]) else { continue };
        let departs = departure(&f, expected, batch.rows.len(), plan.sampling.method);
        t.told("Departs   ", &format!("{}: {departs}", kept.name));
    }
    tracks::text(&mut t, batch);
    let failed = batch.rows.iter().enumerate().filter(|(_, r)| !r.error.is_empty());
    for (n, row) in failed.take(SHOWN) {
        t.told("Failed    ", &format!("point {}: {}", n + 1, row.error));
    }
    if batch.failed() > SHOWN {
        t.told("Failed    ", &format!("and {} more: see column error", batch.failed() - SHOWN));
    }
    t
}

/// Every kept result; the key that it is kept from names its unit.
fn columns(batch: &Batch) -> Vec<Column> {
    let kept = || batch.plan.kept.iter();
    let names = kept().map(|k| match k.steps.last() {
        Some(key) if *key != k.name => format!("{} ({key})", k.name),
        _ => k.name.clone(),
    });
    let all: Vec<Option<Figures>> = (0..kept().count()).map(|k| batch.figures(k)).collect();
    let column = |head: &str, none: &str, of: &dyn Fn(&Figures) -> f64| {
        Column::figures(head, all.iter().map(|f| f.as_ref().map_or_else(|| none.to_owned(), |f| short(of(f)))))
    };
    let yields =
        |k: usize| batch.kept_within(k).map_or_else(String::new, |n| percent(n as f64 / batch.rows.len() as f64));
    let mut columns = vec![
        Column::texts("result", names),
        Column::figures("as drawn", batch.as_drawn.iter().map(|d| d.map_or_else(|| "none".into(), short))).rank(2),
        column("mean", "none", &|f| f.mean),
        column("deviation", "", &|f| f.deviation).rank(1),
        column("smallest", "", &|f| f.low).rank(3),
        column("largest", "", &|f| f.high).rank(4),
    ];
    if batch.all_within().is_some() {
        columns.push(Column::figures("yield", (0..kept().count()).map(yields)));
    }
    columns
}

/// The same as JSON.
pub fn document(batch: &Batch) -> Value {
    let kept: Vec<Value> = batch
        .plan
        .kept
        .iter()
        .enumerate()
        .map(|(k, kept)| {
            let f = batch.figures(k);
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
    use modalith_solver::process::Values;

    fn figures(which: Values) -> Figures {
        Figures::of(&[99.0, 101.0], which).unwrap_or_else(|| unreachable!())
    }

    /// Points of a grid are all that there is: equal values, one either side of the mean, deviate by one, not by √2.
    #[test]
    fn a_grid_is_no_sample() {
        assert!(departure(&figures(Values::Population), [100.0, 1.0], 2, Method::Grid).ends_with("deviation × 1.000"));
        let sample = departure(&figures(Values::Sample), [100.0, 1.0], 2, Method::MonteCarlo);
        assert!(sample.ends_with("deviation × 1.414"));
    }

    #[test]
    fn points_without_a_figure_leave_the_departure_unknown() {
        let histogram_of = |points| departure(&figures(Values::Sample), [100.0, 1.0], points, Method::MonteCarlo);
        assert!(histogram_of(2).starts_with("mean +0"), "{}", histogram_of(2));
        assert_eq!(histogram_of(3), "by how much from first order is not known: 1 of 3 points lack it");
    }
}
