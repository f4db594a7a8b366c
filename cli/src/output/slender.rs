//! Flexures and fingers on the drawing of a layout: areas tinted, middle lines, root lines, numbers. In: the outline, µm.

use super::svg::{Canvas, number};
use modalith_mesher::geometry::Point;
use modalith_mesher::outline::Outline;
use std::fmt::Write;

/// Tints of flexures and fingers.
pub(super) const FLEXURE: &str = "#d9a36a";
pub(super) const FINGER: &str = "#e6d3b8";
/// Middle lines, and the darker root lines.
const MIDDLE: &str = "#8a4b12";
const ROOT: &str = "#5b1f52";

/// Tints the areas.
pub(super) fn areas(canvas: &mut Canvas, outline: &Outline) {
    for finger in &outline.fingers {
        canvas.rings(finger.area.rings(), &format!("fill=\"{FINGER}\" fill-rule=\"evenodd\""));
    }
    for flexure in &outline.flexures {
        canvas.rings(flexure.area.rings(), &format!("fill=\"{FLEXURE}\" fill-rule=\"evenodd\""));
    }
}

/// Draws middle lines and root lines over the layout and numbers the flexures half-way along.
pub(super) fn lines(canvas: &mut Canvas, outline: &Outline) {
    let middles = outline.flexures.iter().map(|f| f.centre_line.as_slice());
    open(canvas, middles, &format!("class=\"middle-lines\" stroke=\"{MIDDLE}\" stroke-width=\".8\""));
    let roots = outline.flexures.iter().flat_map(|f| &f.ends).map(|e| e.root.as_slice());
    open(canvas, roots, &format!("class=\"root-lines\" stroke=\"{ROOT}\" stroke-width=\"2\""));
    for (i, flexure) in outline.flexures.iter().enumerate() {
        canvas.label(canvas.place(half_way(&flexure.centre_line)), 12.0, &(i + 1).to_string());
    }
}

/// Open lines as one path.
fn open<'a>(canvas: &mut Canvas, lines: impl Iterator<Item = &'a [Point]>, attributes: &str) {
    let mut data = String::new();
    for line in lines {
        for (k, p) in line.iter().enumerate() {
            let [x, y] = canvas.place(*p);
            let _ = write!(data, "{}{} {}", if k == 0 { 'M' } else { 'L' }, number(x), number(y));
        }
    }
    if !data.is_empty() {
        canvas.element(&format!("<path d=\"{data}\" fill=\"none\" {attributes}/>"));
    }
}

/// The point half-way along a line.
fn half_way(line: &[Point]) -> Point {
    let length = |w: &[Point]| (w[0][0] - w[1][0]).hypot(w[0][1] - w[1][1]);
    let mut left = 0.5 * line.windows(2).map(length).sum::<f64>();
    for w in line.windows(2) {
        let l = length(w);
        if left <= l && l > 0.0 {
            return [0, 1].map(|c| w[0][c] + (w[1][c] - w[0][c]) * left / l);
        }
        left -= l;
    }
    line.first().copied().unwrap_or_default()
}
