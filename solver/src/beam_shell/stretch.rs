//! A flexure as straight stretches between nodes. In: its middle line and widths, µm. Out: stretches, m, with the corners between them.

use super::sections::Key;
use modalith_mesher::geometry::Point;
use modalith_mesher::outline::Flexure;
use std::f64::consts::PI;

/// Elements along a straight stretch: a flexure's own first bending mode is good to 1e-4 with six.
const ALONG: f64 = 6.0;
/// A curve's chords are joined until they turn by this, rad.
const CHORD_TURN: f64 = 0.1;
/// Chords leave the middle line by at most this share of the width, or of the height of the whole bow.
const NEAR_LINE: f64 = 0.02;
const NEAR_BOW: f64 = 0.01;
/// A bend sharper than this is a corner, rad; less is a chord of a curve.
const CORNER: f64 = 0.35;

/// A stretch of a flexure between two nodes.
pub(super) struct Stretch {
    pub from: [f64; 2],
    pub to: [f64; 2],
    pub angle: f64,
    pub width_um: f64,
    pub section: Key,
    /// A corner lies at its start: angle from the stretch before, rad.
    pub corner: Option<f64>,
}

/// The stretches of a flexure, in order.
pub(super) fn stretches(flexure: &Flexure) -> Vec<Stretch> {
    let (line, widths_um) = merged(flexure);
    let lengths: Vec<f64> = line.windows(2).map(|w| (w[1][0] - w[0][0]).hypot(w[1][1] - w[0][1])).collect();
    // A straight stretch in six, but no more than eighteen for the whole: statics are exact with one, mass needs no more.
    let longest = lengths.iter().copied().fold(0.0, f64::max);
    let step = (longest / ALONG).max(lengths.iter().sum::<f64>() / (3.0 * ALONG));
    let mut out: Vec<Stretch> = Vec::new();
    for (i, ends) in line.windows(2).enumerate() {
        let d = [ends[1][0] - ends[0][0], ends[1][1] - ends[0][1]];
        let angle = d[1].atan2(d[0]);
        let widths = [widths_um[i], widths_um[i + 1]];
        let tapers = (widths[1] / widths[0] - 1.0).abs() > 1e-6;
        let corner = out.last().map(|before| wrapped(angle - before.angle)).filter(|turn| turn.abs() > CORNER);
        let n = ((lengths[i] / step - 1e-9).ceil() as usize).max(1) * if tapers { 2 } else { 1 };
        for k in 0..n {
            let at = |s: usize| [0, 1].map(|c| (ends[0][c] + d[c] * s as f64 / n as f64) * 1e-6);
            let width_um = widths[0] + (widths[1] - widths[0]) * (k as f64 + 0.5) / n as f64;
            let corner = if k == 0 { corner } else { None };
            out.push(Stretch { from: at(k), to: at(k + 1), angle, width_um, section: Key::new(), corner });
        }
    }
    out
}

/// The centre-line with the fine chords of its curves joined, and its widths.
fn merged(flexure: &Flexure) -> (Vec<Point>, Vec<f64>) {
    let (line, widths) = (&flexure.centre_line, &flexure.widths_um);
    let step = |i: usize| [line[i + 1][0] - line[i][0], line[i + 1][1] - line[i][1]];
    let angle = |i: usize| step(i)[1].atan2(step(i)[0]);
    let length = |i: usize| step(i)[0].hypot(step(i)[1]);
    let off_line = |k: usize, from: usize, to: usize| {
        let (a, d) = (line[from], [0, 1].map(|c| line[to][c] - line[from][c]));
        let across = d[0] * (line[k][1] - a[1]) - d[1] * (line[k][0] - a[0]);
        (across / d[0].hypot(d[1]).max(f64::MIN_POSITIVE)).abs()
    };
    // A bow, however slight, is soft along the line by 12 times the square of its height over the width.
    let bow = (1..line.len() - 1).map(|k| off_line(k, 0, line.len() - 1)).fold(0.0, f64::max);
    let near = (NEAR_LINE * flexure.width_um).max(NEAR_BOW * bow);
    let mut kept = vec![0];
    let mut turned = 0.0;
    for i in 1..line.len() - 1 {
        let turn = wrapped(angle(i) - angle(i - 1)).abs();
        turned += turn;
        // Corners and the ends of straight stretches stay.
        let (before, after) = (length(i - 1), length(i));
        // Joints change the ends' flexibility: their elements must be longer than that.
        let ends = [0, line.len() - 1].map(|e| (line[i][0] - line[e][0]).hypot(line[i][1] - line[e][1]));
        if turn <= CORNER && ends[0].min(ends[1]) < 2.0 * flexure.width_um {
            continue;
        }
        let last = kept[kept.len() - 1];
        let bows = (last + 1..=i).any(|k| off_line(k, last, i + 1) > near);
        if bows || turned > CHORD_TURN || turn > CORNER || before.max(after) > 3.0 * before.min(after) {
            kept.push(i);
            turned = 0.0;
        }
    }
    kept.push(line.len() - 1);
    (kept.iter().map(|&i| line[i]).collect(), kept.iter().map(|&i| widths[i]).collect())
}

/// An angle between −π and π.
fn wrapped(angle: f64) -> f64 {
    angle - 2.0 * PI * (angle / (2.0 * PI)).round()
}
