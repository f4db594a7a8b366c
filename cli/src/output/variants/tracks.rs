//! Modes followed through a batch: which mode of a point is which of the device as drawn, where they change places, and how far
//! they stay themselves. In: for every point the modes that were found again. Out: crossings, text, JSON, drawings.

use super::Batch;
use super::plot::{Series, clouds, short};
use super::track::Track;
use crate::output::lines::Lines;
use crate::output::svg::escape;
use modalith_solver::mode::MULTIPLE;
use serde_json::{Value, json};
use std::fmt::Write as _;

/// Crossings named on the screen, and drawn.
const NAMED: usize = 4;
/// A mode that keeps less of its shape than this is on its way to become another one.
const ITSELF: f64 = 0.9;

/// Two modes that change places.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Crossing {
    /// Numbers as drawn, from 0, the lower one first.
    pub modes: [usize; 2],
    /// Points in which the lower one as drawn is the upper one.
    pub points: usize,
}

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
        let mut all = Vec::new();
        for b in 0..self.labels.len() {
            for a in 0..b {
                let crossed = |p: &usize| {
                    let both = self.track(*p, a).zip(self.track(*p, b));
                    both.is_some_and(|(a, b)| a.frequency_hz > b.frequency_hz * (1.0 + MULTIPLE))
                };
                let points = (0..self.rows.len()).filter(crossed).count();
                if points > 0 {
                    all.push(Crossing { modes: [a, b], points });
                }
            }
        }
        all.sort_by_key(|c| (std::cmp::Reverse(c.points), c.modes));
        all
    }

    /// Smallest MAC of a mode with itself as drawn, and points in which it was not found again.
    fn faithfulness(&self, mode: usize) -> (Option<f64>, usize) {
        let found = (0..self.rows.len()).filter_map(|p| self.track(p, mode));
        let least = found.map(|t| t.mac).min_by(f64::total_cmp);
        let lost = self.rows.iter().filter(|r| r.modes.get(mode).is_some_and(Option::is_none)).count();
        (least, lost)
    }

    /// A variable's value and the frequencies of modes, over the points that have all.
    fn along(&self, variable: usize, modes: &[usize]) -> Vec<(f64, Vec<f64>)> {
        let point_of = |p: usize| {
            let x = self.points[p][variable].as_f64()?;
            let f = modes.iter().map(|m| self.track(p, *m).map(|t| t.frequency_hz)).collect::<Option<Vec<f64>>>()?;
            Some((x, f))
        };
        (0..self.rows.len()).filter_map(point_of).collect()
    }

    /// The variable that moves a difference of two modes most: the largest correlation.
    fn mover(&self, modes: [usize; 2]) -> Option<usize> {
        let strength = |v: usize| {
            let all = self.along(v, &modes);
            let (x, y): (Vec<f64>, Vec<f64>) = all.iter().map(|(x, f)| (*x, f[1] - f[0])).unzip();
            Some((v, line(&x, &y)?.2.abs()))
        };
        let all = (0..self.plan.variables.len()).filter_map(strength);
        all.max_by(|a, b| a.1.total_cmp(&b.1).then(b.0.cmp(&a.0))).map(|(v, _)| v)
    }
}

/// The line of least squares y = a + b x and the correlation; `None` where x or y does not vary.
fn line(x: &[f64], y: &[f64]) -> Option<(f64, f64, f64)> {
    let n = x.len() as f64;
    let (mx, my) = (x.iter().sum::<f64>() / n, y.iter().sum::<f64>() / n);
    let sum = |f: &dyn Fn(f64, f64) -> f64| x.iter().zip(y).map(|(x, y)| f(x - mx, y - my)).sum::<f64>();
    let (xx, xy, yy) = (sum(&|x, _| x * x), sum(&|x, y| x * y), sum(&|_, y| y * y));
    (xx > 0.0 && yy > 0.0).then(|| (my - xy / xx * mx, xy / xx, xy / (xx * yy).sqrt()))
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
            let (x, y) = batch.along(variable, &[m]).into_iter().map(|(x, f)| (x, f[0])).unzip();
            Series { name: (m + 1).to_string(), x, y }
        })
        .collect();
    let mut mark = None;
    let mut below = batch.plan.variables[variable].pointer.clone();
    if let [a, b] = modes {
        let all = batch.along(variable, &[*a, *b]);
        let (x, y): (Vec<f64>, Vec<f64>) = all.iter().map(|(x, f)| (*x, f[1] - f[0])).unzip();
        let (low, high) = x.iter().fold((f64::INFINITY, f64::NEG_INFINITY), |(l, h), x| (l.min(*x), h.max(*x)));
        mark = line(&x, &y).map(|(at_zero, slope, _)| -at_zero / slope).filter(|x| (low..=high).contains(x));
        if let Some(x) = mark {
            let _ = write!(below, ", crossing at {}", short(x));
        }
    }
    clouds(&series, mark, title, &below)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_line_of_least_squares() {
        let (a, b, r) = line(&[0.0, 1.0, 2.0], &[1.0, 3.0, 5.0]).unwrap();
        assert!((a - 1.0).abs() < 1e-12 && (b - 2.0).abs() < 1e-12 && (r - 1.0).abs() < 1e-12);
        assert!(line(&[1.0, 1.0], &[0.0, 1.0]).is_none());
    }
}
