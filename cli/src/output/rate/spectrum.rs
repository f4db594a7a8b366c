//! The spectrum line: modes as ticks over frequency, guards as bands, drive and sense named. In: a pair at work. Out: SVG.

use super::words;
use crate::output::svg::{escape, number};
use crate::output::units::short_frequency;
use modalith_solver::rate::guards::half_width_hz;
use modalith_solver::sensor::Work;
use std::fmt::Write as _;

const WIDTH: f64 = 960.0;
const HEIGHT: f64 = 190.0;
const LEFT: f64 = 20.0;
const LINE: f64 = 120.0;
/// Least width of a band, px.
const SEEN: f64 = 2.0;
/// Least distance of two names on one level, px.
const APART: f64 = 96.0;

/// The drawing.
// One drawing from left to right: every line places the next thing on the same canvas.
pub fn spectrum_svg(work: &Work) -> String {
    let modes = work.neighbours.iter().map(|m| m.frequency_hz);
    let guards = work.guards.iter().map(|g| g.frequency_hz);
    let top = 1.04 * modes.clone().chain(guards).fold(1.0, f64::max);
    let x = |hz: f64| LEFT + (WIDTH - 2.0 * LEFT) * hz / top;
    let mut out = format!(
        "<svg xmlns=\"http://www.w3.org/2000/svg\" viewBox=\"0 0 {WIDTH} {HEIGHT}\" width=\"{WIDTH}\" height=\"{HEIGHT}\" role=\"img\" \
         font-family=\"Helvetica, Arial, 'DejaVu Sans', sans-serif\">\n<title>Modes and guards over frequency, as drawn</title>\n\
         <rect width=\"{WIDTH}\" height=\"{HEIGHT}\" fill=\"#fff\"/>\n"
    );
    let hits = |g: usize| work.near.iter().any(|n| n.near.guard == g);
    // Names on two levels, so that neighbours do not run into each other.
    let mut last = [f64::NEG_INFINITY; 2];
    let mut order: Vec<usize> = (0..work.guards.len()).collect();
    order.sort_by(|&a, &b| work.guards[a].frequency_hz.total_cmp(&work.guards[b].frequency_hz));
    for g in order {
        let guard = &work.guards[g];
        let half = half_width_hz(&work.neighbours, work.modes, guard);
        let (a, b) = (x((guard.frequency_hz - half).max(0.0)), x(guard.frequency_hz + half));
        let colour = if hits(g) { "#f0c9a8" } else { "#dfe6ea" };
        let width = (b - a).max(SEEN);
        let _ = writeln!(
            out,
            "<rect x=\"{}\" y=\"48\" width=\"{}\" height=\"{}\" fill=\"{colour}\"/>",
            number(a),
            number(width),
            LINE - 48.0
        );
        let middle = 0.5 * (a + b);
        let level = if middle - last[0] >= APART { 0 } else { 1 };
        last[level] = middle;
        let _ = writeln!(
            out,
            "<text x=\"{}\" y=\"{}\" font-size=\"12\" text-anchor=\"middle\" fill=\"#3c4750\">{}</text>",
            number(middle.clamp(48.0, WIDTH - 48.0)),
            if level == 0 { 40.0 } else { 22.0 },
            escape(&words::guard(guard))
        );
    }
    let _ = writeln!(out, "<path d=\"M{LEFT} {LINE}H{}\" stroke=\"#59636b\" stroke-width=\"1\"/>", WIDTH - LEFT);
    let mut last = [f64::NEG_INFINITY; 2];
    for (i, mode) in work.neighbours.iter().enumerate() {
        let at = x(mode.frequency_hz);
        let pair = i == work.modes.0 || i == work.modes.1;
        let near = work.near.iter().any(|n| n.near.mode == i);
        let (colour, stroke) = match (pair, near) {
            (true, _) => ("#265ca0", 2.4),
            (_, true) => ("#9c2f14", 2.0),
            _ => ("#1d2730", 1.2),
        };
        let _ = writeln!(out, "<path d=\"M{} 60V{LINE}\" stroke=\"{colour}\" stroke-width=\"{stroke}\"/>", number(at));
        let level = if at - last[0] >= 16.0 { 0 } else { 1 };
        last[level] = at;
        let _ = writeln!(
            out,
            "<text x=\"{}\" y=\"{}\" font-size=\"11\" text-anchor=\"middle\" fill=\"{colour}\">{}</text>",
            number(at),
            LINE + 14.0 + 13.0 * level as f64,
            i + 1
        );
    }
    let step = round_step(top / 6.0);
    let mut hz = 0.0;
    while hz <= top {
        let _ = writeln!(
            out,
            "<text x=\"{}\" y=\"{}\" font-size=\"12\" text-anchor=\"middle\" fill=\"#3c4750\">{}</text>",
            number(x(hz).clamp(24.0, WIDTH - 30.0)),
            HEIGHT - 10.0,
            short_frequency(hz)
        );
        hz += step;
    }
    out.push_str("</svg>\n");
    out
}

/// 1, 2 or 5 times a power of ten, at least this.
fn round_step(least: f64) -> f64 {
    let power = 10f64.powf(least.log10().floor());
    [1.0, 2.0, 5.0].into_iter().map(|k| k * power).find(|s| *s >= least).unwrap_or(10.0 * power)
}
