//! Small drawings of numbers: histograms and scatters as SVG. In: values. Out: one `<svg>` element each. Coordinates are written to
//! a tenth of a pixel; of many points an even choice is drawn, the same for the same input.

use crate::output::svg::{escape, number};
use std::fmt::Write as _;

const WIDTH: f64 = 300.0;
const HEIGHT: f64 = 190.0;
const LEFT: f64 = 12.0;
const TOP: f64 = 10.0;
const BOTTOM: f64 = 40.0;
/// Points drawn in a scatter.
const MOST_DOTS: usize = 600;
const INK: &str = "#1f5f8b";
const MARK: &str = "#c4640a";

/// A number in four digits.
pub fn short(value: f64) -> String {
    if value == 0.0 {
        return "0".into();
    }
    let decimals = 4 - value.abs().log10().floor() as i32;
    match decimals {
        -3..=9 => {
            let text = format!("{value:.*}", (decimals - 1).max(0) as usize);
            if text.contains('.') { text.trim_end_matches('0').trim_end_matches('.').to_owned() } else { text }
        }
        _ => format!("{value:.3e}"),
    }
}

/// An interval of the axis that has some width.
fn axis(values: &[f64], marks: &[f64]) -> Option<[f64; 2]> {
    let all = || values.iter().chain(marks).copied();
    let (low, high) = (all().fold(f64::INFINITY, f64::min), all().fold(f64::NEG_INFINITY, f64::max));
    if values.is_empty() || !(high - low).is_finite() {
        return None;
    }
    let room = if high > low { 0.02 * (high - low) } else { 0.5 * low.abs().max(1e-30) };
    Some([low - room, high + room])
}

fn frame(inside: &str, title: &str, below: &str, [low, high]: [f64; 2]) -> String {
    let foot = HEIGHT - BOTTOM;
    format!(
        "<svg xmlns=\"http://www.w3.org/2000/svg\" viewBox=\"0 0 {WIDTH} {HEIGHT}\" width=\"{WIDTH}\" height=\"{HEIGHT}\" role=\"img\" \
         font-family=\"Helvetica, Arial, 'DejaVu Sans', sans-serif\" font-size=\"11\" fill=\"#1d2730\">\n<title>{}</title>\n{inside}\
         <path d=\"M{LEFT} {foot}H{}\" stroke=\"#6b7680\" fill=\"none\"/>\n<text x=\"{LEFT}\" y=\"{y}\">{}</text>\
         <text x=\"{}\" y=\"{y}\" text-anchor=\"end\">{}</text>\
         <text x=\"{}\" y=\"{}\" text-anchor=\"middle\" fill=\"#3c4750\">{}</text>\n</svg>\n",
        escape(title),
        WIDTH - LEFT,
        short(low),
        WIDTH - LEFT,
        short(high),
        0.5 * WIDTH,
        HEIGHT - 8.0,
        escape(below),
        y = foot + 14.0,
    )
}

/// A histogram; `marks` are values with a line of their own (limits, the device as drawn).
pub fn histogram(values: &[f64], marks: &[f64], title: &str, below: &str) -> String {
    let Some([low, high]) = axis(values, marks) else { return String::new() };
    // Sturges, *J. Am. Stat. Assoc.* 21 (1926) 65, twice as fine.
    let bars = (2.0 * ((values.len() as f64).log2() + 1.0)).clamp(5.0, 40.0) as usize;
    let mut counts = vec![0_usize; bars];
    for v in values {
        counts[(((v - low) / (high - low) * bars as f64) as usize).min(bars - 1)] += 1;
    }
    let most = counts.iter().copied().max().unwrap_or(1).max(1) as f64;
    let (wide, tall) = (WIDTH - 2.0 * LEFT, HEIGHT - BOTTOM - TOP);
    let mut inside = String::new();
    for (i, count) in counts.iter().enumerate().filter(|(_, c)| **c > 0) {
        let height = tall * *count as f64 / most;
        let _ = writeln!(
            inside,
            "<rect x=\"{}\" y=\"{}\" width=\"{}\" height=\"{}\" fill=\"{INK}\" fill-opacity=\".7\"/>",
            number(LEFT + wide * i as f64 / bars as f64),
            number(TOP + tall - height),
            number(wide / bars as f64 - 1.0),
            number(height)
        );
    }
    for mark in marks {
        let x = number(LEFT + wide * (mark - low) / (high - low));
        let _ = writeln!(inside, "<path d=\"M{x} {TOP}V{}\" stroke=\"{MARK}\" stroke-width=\"1.5\"/>", TOP + tall);
    }
    frame(&inside, title, below, [low, high])
}

/// A scatter of pairs: x to the right, y upward.
pub fn scatter(x: &[f64], y: &[f64], title: &str, below: &str) -> String {
    let (Some([left, right]), Some([low, high])) = (axis(x, &[]), axis(y, &[])) else { return String::new() };
    let (wide, tall) = (WIDTH - 2.0 * LEFT, HEIGHT - BOTTOM - TOP);
    let mut path = String::new();
    let step = x.len().div_ceil(MOST_DOTS).max(1);
    for (x, y) in x.iter().zip(y).step_by(step) {
        let (px, py) = (LEFT + wide * (x - left) / (right - left), TOP + tall * (high - y) / (high - low));
        let _ = write!(path, "M{} {}h0", number(px), number(py));
    }
    let inside = format!(
        "<path d=\"{path}\" stroke=\"{INK}\" stroke-opacity=\".55\" stroke-width=\"3\" stroke-linecap=\"round\"/>\n\
         <text x=\"{}\" y=\"{}\">{}</text><text x=\"{}\" y=\"{}\">{}</text>\n",
        LEFT,
        TOP + 8.0,
        short(high),
        LEFT,
        TOP + tall - 4.0,
        short(low)
    );
    frame(&inside, title, below, [left, right])
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn numbers_in_four_digits() {
        for (value, text) in
            [(12_930.6, "12931"), (0.123_456, "0.1235"), (-2.5, "-2.5"), (1e-13, "1.000e-13"), (20.0, "20")]
        {
            assert_eq!(short(value), text);
        }
    }

    #[test]
    fn every_value_stands_in_a_bar() {
        let values: Vec<f64> = (0..100).map(f64::from).collect();
        let drawing = histogram(&values, &[50.0], "t", "b");
        let bars = drawing.matches("<rect").count();
        assert!((5..=40).contains(&bars) && drawing.contains(MARK));
        assert!(scatter(&values, &values, "t", "b").matches("h0").count() == 100);
        assert!(histogram(&[], &[], "t", "b").is_empty() && !histogram(&[3.0], &[], "t", "b").contains("NaN"));
    }
}
