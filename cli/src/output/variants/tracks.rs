//! Modes followed through a batch: which mode of a point is which of the device as drawn, where they change places, and how far
//! they stay themselves. In: for every point the modes that were found again. Out: crossings, text, JSON, drawings.

use super::Batch;
use super::plot::{Series, clouds, short};
use super::track::Track;
use crate::output::lines::Lines;
use crate::output::svg::escape;
use modalith_solver::mode::{Approach, Crossing, ITSELF, crossings, mover};
use serde_json::{Value, json};
use std::fmt::Write as _;

/// Crossings named on the screen, and drawn.
const NAMED: usize = 4;

impl Batch<'_> {
    fn track(&self, point: usize, mode: usize) -> Option<&Track> {
        self.rows[point].modes.get(mode)?.as_ref()
    }

    /// Points whose modes were compared.
    fn followed(&self) -> usize {
        self.rows.iter().filter(|r| !r.modes.is_empty()).count()
    }

    fn in_words(&self, mode: usize) -> String {
        format!("{} ({})", mode + 1, self.labels[mode])
    }

    /// Pairs of modes that change places in some point, those of most points first.
    pub fn crossings(&self) -> Vec<Crossing> {
        let hz = |point: usize, mode: usize| self.track(point, mode).map(|t| t.frequency_hz);
        crossings(self.rows.len(), self.labels.len(), hz)
    }

    /// Smallest MAC of a mode with itself as drawn, and points in which it was not found again.
    fn faithfulness(&self, mode: usize) -> (Option<f64>, usize) {
        let found = (0..self.rows.len()).filter_map(|p| self.track(p, mode));
        let least = found.map(|t| t.mac).min_by(f64::total_cmp);
        let lost = self.rows.iter().filter(|r| r.modes.get(mode).is_some_and(Option::is_none)).count();
        (least, lost)
    }

    /// A variable's value and the frequencies of modes, Hz, over the points that have all.
    fn along<const N: usize>(&self, variable: usize, modes: [usize; N]) -> Vec<(f64, [f64; N])> {
        let point_of = |p: usize| {
            let x = self.points[p][variable].as_f64()?;
            let f = modes.map(|m| self.track(p, m).map_or(f64::NAN, |t| t.frequency_hz));
            f.iter().all(|f| f.is_finite()).then_some((x, f))
        };
        (0..self.rows.len()).filter_map(point_of).collect()
    }

    /// The variable that moves a difference of two modes most: the largest correlation.
    fn mover(&self, modes: [usize; 2]) -> Option<usize> {
        mover(self.plan.variables.len(), |v| self.along(v, modes))
    }
}

/// Lines for the screen.
pub fn text(t: &mut Lines, batch: &Batch) {
    let (crossings, followed) = (batch.crossings(), batch.followed());
    for c in crossings.iter().take(NAMED) {
        let [a, b] = c.modes.map(|m| batch.in_words(m));
        let said = format!("modes {a} and {b} as drawn change places in {} of {followed} points", c.points);
        t.told("Crossing  ", &said);
    }
    if crossings.len() > NAMED {
        t.told("Crossing  ", &format!("and {} more: see report.html", crossings.len() - NAMED));
    }
    if !crossings.is_empty() && batch.plan.kept.iter().any(|k| k.steps[0] == "modes") {
        let hint =
            "/modes/… counts by frequency and takes either; /tracks/NUMBER or /tracks/LABEL keeps to the mode as drawn";
        t.told("          ", hint);
    }
    for mode in 0..batch.labels.len() {
        let (least, lost) = batch.faithfulness(mode);
        let name = batch.in_words(mode);
        if lost > 0 {
            t.told("Lost      ", &format!("mode {name} as drawn in {lost} of {followed} points"));
        } else if let Some(mac) = least.filter(|m| *m < ITSELF) {
            t.told("Changing  ", &format!("mode {name} keeps a MAC of {mac:.2} with itself as drawn"));
        }
    }
}

/// The same as JSON: `tracks` and `crossings`, modes by their number as drawn, from 1.
pub fn document(batch: &Batch) -> [Value; 2] {
    let track_of = |m: usize| {
        let (least, lost) = batch.faithfulness(m);
        json!({"mode": m + 1, "label": batch.labels[m], "smallest_mac": least, "lost": lost})
    };
    let tracks: Vec<Value> =
        if batch.followed() == 0 { Vec::new() } else { (0..batch.labels.len()).map(track_of).collect() };
    let crossing = |c: &Crossing| json!({"modes": c.modes.map(|m| m + 1), "points": c.points});
    [tracks.into(), batch.crossings().iter().map(crossing).collect::<Vec<_>>().into()]
}

/// The chapter of the report.
pub fn html(out: &mut String, batch: &Batch) {
    let (crossings, followed) = (batch.crossings(), batch.followed());
    if followed == 0 {
        return;
    }
    out.push_str("<h2>Modes followed</h2>\n");
    out.push_str(
        "<p>Every point's modes are paired with those as drawn by MAC, so that a crossing is seen as a crossing. Where two modes near \
         each other exchange their shapes instead, the MAC falls.</p>\n",
    );
    if crossings.is_empty() {
        let _ = writeln!(out, "<p>No two modes change places in {followed} points.</p>");
    }
    for c in &crossings {
        let [a, b] = c.modes.map(|m| escape(&batch.in_words(m)));
        let _ = writeln!(out, "<p>Modes {a} and {b} as drawn change places in {} of {followed} points.</p>", c.points);
    }
    out.push_str(
        "<div class=\"wide\"><table>\n<tr><th>mode as drawn</th><th class=\"n\">smallest MAC</th><th class=\"n\">points without it</th></tr>\n",
    );
    for mode in 0..batch.labels.len() {
        let (least, lost) = batch.faithfulness(mode);
        let least = least.map_or_else(|| "none".to_owned(), |m| format!("{m:.3}"));
        let name = escape(&batch.in_words(mode));
        let _ = writeln!(out, "<tr><td>{name}</td><td class=\"n\">{least}</td><td class=\"n\">{lost}</td></tr>");
    }
    out.push_str("</table></div>\n<div>\n");
    let numbers = (0..batch.plan.variables.len()).find(|v| batch.plan.variables[*v].variation.is_number());
    let leading = crossings.first().and_then(|c| batch.mover(c.modes)).or(numbers);
    if let Some(v) = leading {
        let all: Vec<usize> = (0..batch.labels.len()).filter(|m| batch.faithfulness(*m).0.is_some()).collect();
        out.push_str(&tracks(batch, v, &all, &format!("All modes, Hz, against {}", batch.plan.variables[v].pointer)));
    }
    for c in crossings.iter().take(NAMED) {
        if let Some(v) = batch.mover(c.modes) {
            let [a, b] = c.modes.map(|m| m + 1);
            let title = format!("Modes {a} and {b}, Hz, against {}", batch.plan.variables[v].pointer);
            out.push_str(&tracks(batch, v, &c.modes, &title));
        }
    }
    out.push_str("</div>\n");
}

/// Tracks against a variable, the modes in two shades by turns; where two cross, a line.
fn tracks(batch: &Batch, variable: usize, modes: &[usize], title: &str) -> String {
    // A mode that is lost somewhere must not take the others' points away.
    let series: Vec<Series> = modes
        .iter()
        .map(|&m| {
            let (x, y) = batch.along(variable, [m]).into_iter().map(|(x, f)| (x, f[0])).unzip();
            Series { name: (m + 1).to_string(), x, y }
        })
        .collect();
    let mut mark = None;
    let mut below = batch.plan.variables[variable].pointer.clone();
    if let [a, b] = modes {
        let all = batch.along(variable, [*a, *b]);
        mark = Approach::fit(&all).and_then(|line| line.meets_at(&all));
        if let Some(x) = mark {
            let _ = write!(below, ", crossing at {}", short(x));
        }
    }
    clouds(&series, mark, title, &below)
}
