//! A canvas for drawings of the layout as SVG 1.1: places, paths, texts, arrows, a scale bar.
//!
//! In: shapes in µm of the layout frame (y upward), texts of the user. Out: one `<svg>` element that can stand in a file or inside
//! HTML. Coordinates are written to a tenth of a pixel; the same input gives the same bytes.

use super::printable::printable;
use super::units::length_um;
use modalith_mesher::geometry::{Point, Ring};
use std::fmt::Write as _;

pub(super) const INK: &str = "#1d2730";
/// Width of a drawing that fills a page, px.
pub const WIDE: f64 = 960.0;
/// Width of a drawing that shares a page's width with another, px.
pub const NARROW: f64 = 640.0;
/// Largest height of the layout in a drawing as a share of its width.
const TALLEST: f64 = 0.625;
/// Empty border around the layout, px.
const BORDER: f64 = 28.0;
/// Room for the title above and for the line below the layout, px.
const BAND: f64 = 40.0;
/// Text of drawings is cut to this many letters.
const LONGEST_TEXT: usize = 120;
/// Drawings larger than this are made again with coarser paths, bytes.
pub const LARGEST: usize = 200_000;
/// Deviation of paths in a drawing that is not too large, px.
const FINE: f64 = 0.1;
/// Paths deviate no more than this, however large the drawing: beyond it only small openings are left out, px.
const COARSE: f64 = 0.4;

/// Text with the five special letters of XML replaced; control characters and those that turn the direction of text are written out.
///
/// ```
/// assert_eq!(modalith::output::svg::escape("<a & 'b'>\u{1}"), "&lt;a &amp; &#39;b&#39;&gt;\\u{1}");
/// ```
pub fn escape(text: &str) -> String {
    let mut out = String::with_capacity(text.len());
    for c in printable(text).chars() {
        match c {
            '&' => out.push_str("&amp;"),
            '<' => out.push_str("&lt;"),
            '>' => out.push_str("&gt;"),
            '"' => out.push_str("&quot;"),
            '\'' => out.push_str("&#39;"),
            // XML 1.0 does not allow them.
            '\u{fffe}' | '\u{ffff}' => {}
            c => out.push(c),
        }
    }
    out
}

/// Draws ever less until the drawing is small enough: first with coarser paths, then without the smallest openings. The
/// argument of `draw` is the one of [`Canvas::new`].
pub fn within_size(draw: impl Fn(f64) -> String) -> String {
    let mut deviation = FINE;
    loop {
        let drawing = draw(deviation);
        if drawing.len() <= LARGEST || deviation > 30.0 {
            return drawing;
        }
        deviation *= 2.0;
    }
}

/// A drawing in the making.
#[derive(Debug)]
pub struct Canvas {
    low: Point,
    high: Point,
    scale: f64,
    left: f64,
    width: f64,
    deviation: f64,
    name: String,
    layout: String,
    notes: String,
}

impl Canvas {
    /// An empty drawing of an area (lower-left and upper-right corner, µm). `name` makes its ids unique inside one HTML file;
    /// paths may deviate by `deviation` px, and rings no larger than twice that are left out; `width` is that of the drawing, px.
    pub fn new([low, high]: [Point; 2], name: &str, deviation: f64, width: f64) -> Self {
        let size = [(high[0] - low[0]).max(1e-6), (high[1] - low[1]).max(1e-6)];
        let scale = ((width - 2.0 * BORDER) / size[0]).min(TALLEST * width / size[1]);
        let left = 0.5 * (width - scale * size[0]);
        let (layout, notes) = (String::new(), String::new());
        Self { low, high, scale, left, width, deviation, name: name.to_owned(), layout, notes }
    }

    /// Where a point of the layout lies, px.
    pub fn place(&self, p: Point) -> Point {
        [self.left + self.scale * (p[0] - self.low[0]), BORDER + self.scale * (self.high[1] - p[1])]
    }

    /// Pixels per µm.
    pub fn scale(&self) -> f64 {
        self.scale
    }

    /// The paint for hatching.
    pub fn hatch(&self) -> String {
        format!("url(#{}-hatch)", self.name)
    }

    /// Closed rings, µm, as one path with these attributes.
    pub fn rings<'a>(&mut self, rings: impl IntoIterator<Item = &'a Ring>, attributes: &str) {
        let mut path = String::new();
        for ring in rings {
            let placed: Vec<Point> = ring.iter().map(|&p| self.place(p)).collect();
            append_ring(&mut path, &thinned(&placed, self.deviation));
        }
        if !path.is_empty() {
            let _ = writeln!(self.layout, "<path d=\"{path}\" {attributes}/>");
        }
    }

    /// A straight line between places in px with these attributes, over the layout.
    pub fn line(&mut self, from: Point, to: Point, attributes: &str) {
        let [a, b, c, d] = [from[0], from[1], to[0], to[1]].map(number);
        let _ = writeln!(self.layout, "<path d=\"M{a} {b}L{c} {d}\" fill=\"none\" {attributes}/>");
    }

    /// Any element that is ready, over the layout.
    pub fn element(&mut self, element: &str) {
        self.layout.push_str(element);
        self.layout.push('\n');
    }

    /// A user's text centred on a place in px, with a pale rim to stay legible.
    pub fn label(&mut self, at: Point, size: f64, text: &str) {
        let [x, y] = [at[0], at[1] + 0.35 * size].map(number);
        let _ = writeln!(
            self.layout,
            "<text x=\"{x}\" y=\"{y}\" font-size=\"{size}\" text-anchor=\"middle\" fill=\"#1d2730\" stroke=\"#fff\" \
             stroke-width=\"3\" stroke-linejoin=\"round\" paint-order=\"stroke\">{}</text>",
            short(text)
        );
    }

    /// A straight arrow from and to places in px, its head filled, in this colour; `heads` heads behind one another.
    pub fn arrow(&mut self, from: Point, to: Point, heads: u8, colour: &str) {
        let (dx, dy) = (to[0] - from[0], to[1] - from[1]);
        let length = dx.hypot(dy);
        if !(length.is_finite() && length > 0.5) {
            return;
        }
        let (ex, ey) = (dx / length, dy / length);
        let head = (0.4 * length).min(11.0);
        self.line(
            from,
            [to[0] - 0.6 * head * ex, to[1] - 0.6 * head * ey],
            &format!("stroke=\"{colour}\" stroke-width=\"2.6\""),
        );
        for k in 0..heads {
            let tip = [to[0] - 0.8 * f64::from(k) * head * ex, to[1] - 0.8 * f64::from(k) * head * ey];
            self.head(tip, [ex, ey], head, colour);
        }
    }

    /// The filled head of an arrow: its tip in px, the unit vector it points along, its length in px.
    pub fn head(&mut self, tip: Point, [ex, ey]: [f64; 2], length: f64, colour: &str) {
        let foot = [tip[0] - length * ex, tip[1] - length * ey];
        let side = 0.45 * length;
        let corners = [tip, [foot[0] - side * ey, foot[1] + side * ex], [foot[0] + side * ey, foot[1] - side * ex]];
        let mut path = String::new();
        append_ring(&mut path, &corners);
        let _ = writeln!(self.layout, "<path d=\"{path}\" fill=\"{colour}\"/>");
    }

    /// Adds a coloured square and its meaning to the line below the layout, at `x` px.
    pub fn note(&mut self, x: f64, colour: &str, text: &str) {
        let y = self.foot();
        let _ = writeln!(
            self.notes,
            "<rect x=\"{}\" y=\"{}\" width=\"12\" height=\"12\" fill=\"{colour}\" stroke=\"#6b7680\" stroke-width=\".6\"/>\
             <text x=\"{}\" y=\"{}\" font-size=\"13\" fill=\"#3c4750\">{}</text>",
            number(x),
            number(y - 10.0),
            number(x + 17.0),
            number(y),
            short(text)
        );
    }

    /// Base line of the line below the layout, px.
    fn foot(&self) -> f64 {
        BAND + 2.0 * BORDER + self.scale * (self.high[1] - self.low[1]) + 24.0
    }

    /// The finished drawing with its title, an explanation for those who cannot see it, and a scale bar.
    pub fn finish(self, title: &str, explanation: &str) -> String {
        let inside = 2.0 * BORDER + self.scale * (self.high[1] - self.low[1]);
        let height = inside + 2.0 * BAND;
        let bar_um = round_length(self.width / 6.0 / self.scale);
        let (bar, y) = (bar_um * self.scale, self.foot());
        let mut out = String::with_capacity(self.layout.len() + 2000);
        let _ = write!(
            out,
            "<svg xmlns=\"http://www.w3.org/2000/svg\" viewBox=\"0 0 {w} {h}\" width=\"{w}\" height=\"{h}\" \
             role=\"img\" font-family=\"Helvetica, Arial, 'DejaVu Sans', sans-serif\">\n<title>{}</title>\n<desc>{}</desc>\n\
             <defs><pattern id=\"{n}-hatch\" width=\"6\" height=\"6\" patternUnits=\"userSpaceOnUse\" \
             patternTransform=\"rotate(45)\"><rect width=\"6\" height=\"6\" fill=\"#f4f4f2\"/>\
             <path d=\"M0 0V6\" stroke=\"#7b858d\" stroke-width=\"1.6\"/></pattern></defs>\n\
             <rect width=\"{w}\" height=\"{h}\" fill=\"#fff\"/>\n\
             <text x=\"{BORDER}\" y=\"27\" font-size=\"17\" fill=\"#1d2730\">{}</text>\n\
             <svg x=\"0\" y=\"{BAND}\" width=\"{w}\" height=\"{i}\" overflow=\"hidden\">\n{}</svg>\n{}",
            short(title),
            escape(explanation),
            short(title),
            self.layout,
            self.notes,
            h = number(height),
            i = number(inside),
            n = self.name,
            w = number(self.width),
        );
        if self.deviation > COARSE {
            let _ = writeln!(
                out,
                "<text x=\"{BORDER}\" y=\"{}\" font-size=\"11\" fill=\"#3c4750\">The smallest openings are left out of this \
                 drawing.</text>",
                number(y + 14.0)
            );
        }
        let right = self.width - BORDER;
        let _ = write!(
            out,
            "<path d=\"M{a} {t}V{b}H{r}V{t}\" fill=\"none\" stroke=\"#1d2730\" stroke-width=\"1.5\"/>\n\
             <text x=\"{x}\" y=\"{yt}\" font-size=\"13\" text-anchor=\"end\" fill=\"#1d2730\">{}</text>\n</svg>\n",
            length_um(bar_um),
            a = number(right - bar),
            t = number(y - 8.0),
            b = number(y - 2.0),
            r = number(right),
            x = number(right - bar - 8.0),
            yt = number(y),
        );
        out
    }
}

/// A user's text for a drawing: cut and escaped.
fn short(text: &str) -> String {
    if text.chars().count() > LONGEST_TEXT {
        escape(&(text.chars().take(LONGEST_TEXT).collect::<String>() + "…"))
    } else {
        escape(text)
    }
}

/// The largest of 1, 2, 5 × 10ⁿ that does not exceed a length.
fn round_length(longest: f64) -> f64 {
    let power = 10f64.powf(longest.max(1e-9).log10().floor());
    [5.0, 2.0].iter().map(|f| f * power).find(|&l| l <= longest).unwrap_or(power)
}

/// Tenths of a pixel; what cannot be placed goes to 0.
fn tenths(value: f64) -> i64 {
    if value.is_finite() { (10.0 * value.clamp(-1e5, 1e5)).round() as i64 } else { 0 }
}

fn number_of(tenths: i64) -> String {
    let (whole, rest) = (tenths.abs() / 10, tenths.abs() % 10);
    let sign = if tenths < 0 { "-" } else { "" };
    match (whole, rest) {
        (w, 0) => format!("{sign}{w}"),
        (0, r) => format!("{sign}.{r}"),
        (w, r) => format!("{sign}{w}.{r}"),
    }
}

/// A coordinate to a tenth of a pixel in as few letters as SVG allows.
pub fn number(value: f64) -> String {
    number_of(tenths(value))
}

/// Adds a closed ring in px to path data: an absolute start, then steps between rounded places, so that errors do not add up.
fn append_ring(path: &mut String, ring: &[Point]) {
    if ring.len() < 3 {
        return;
    }
    let mut at = ring[0].map(tenths);
    let _ = write!(path, "M{} {}l", number_of(at[0]), number_of(at[1]));
    for (k, p) in ring[1..].iter().enumerate() {
        let next = p.map(tenths);
        let (dx, dy) = (number_of(next[0] - at[0]), number_of(next[1] - at[1]));
        let (before, between) =
            (if k > 0 && !dx.starts_with('-') { " " } else { "" }, if dy.starts_with('-') { "" } else { " " });
        let _ = write!(path, "{before}{dx}{between}{dy}");
        at = next;
    }
    path.push('z');
}

/// A ring without the points that a chord passes within `deviation` (but no more than [`COARSE`]); empty when the whole ring
/// lies within twice `deviation` of its first point.
fn thinned(ring: &[Point], deviation: f64) -> Vec<Point> {
    /// Points that one chord may skip: bounds the work on long smooth rings.
    const LONGEST_RUN: usize = 64;
    let Some(&first) = ring.first() else { return Vec::new() };
    // Squares of lengths: a report has millions of points.
    let square = |[x, y]: Point| x * x + y * y;
    if ring.iter().all(|p| square([p[0] - first[0], p[1] - first[1]]) <= (2.0 * deviation).powi(2)) {
        return Vec::new();
    }
    let allowed = deviation.min(COARSE).powi(2);
    let off = |p: Point, a: Point, b: Point| {
        let (dx, dy) = (b[0] - a[0], b[1] - a[1]);
        let length = dx * dx + dy * dy;
        let t = if length > 0.0 { ((p[0] - a[0]) * dx + (p[1] - a[1]) * dy) / length } else { 0.0 }.clamp(0.0, 1.0);
        square([p[0] - a[0] - t * dx, p[1] - a[1] - t * dy])
    };
    let mut kept = vec![first];
    let mut from = 0;
    for to in 2..=ring.len() {
        let end = ring[to % ring.len()];
        if to - from > LONGEST_RUN || ring[from + 1..to].iter().any(|&p| off(p, ring[from], end) > allowed) {
            from = to - 1;
            kept.push(ring[from]);
        }
    }
    kept
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn numbers_are_short_and_rounded() {
        for (value, text) in [(0.0, "0"), (-0.04, "0"), (0.5, ".5"), (-0.46, "-.5"), (12.04, "12"), (f64::NAN, "0")] {
            assert_eq!(number(value), text);
        }
        let mut path = String::new();
        append_ring(&mut path, &[[1.0, 2.0], [3.06, 1.0], [3.06, 4.5]]);
        assert_eq!(path, "M1 2l2.1-1 0 3.5z");
    }

    #[test]
    fn thinning_keeps_corners_and_stays_near() {
        let square: Vec<Point> = (0..40)
            .map(|i| {
                let s = f64::from(i % 10);
                [[s, 0.0], [10.0, s], [10.0 - s, 10.0], [0.0, 10.0 - s]][i as usize / 10]
            })
            .collect();
        assert_eq!(thinned(&square, 0.1), [[0.0, 0.0], [10.0, 0.0], [10.0, 10.0], [0.0, 10.0]]);
        let circle: Vec<Point> =
            (0..1000).map(|i| (f64::from(i) * 0.006_283).sin_cos()).map(|(s, c)| [50.0 * c, 50.0 * s]).collect();
        let few = thinned(&circle, 0.1);
        // The rise of a chord of angle 2a is r(1 − cos a): 0.1 px on 50 px allows a = 0.0633, so 50 chords at best.
        assert!(few.len() >= 50 && few.len() < 64, "{}", few.len());
        assert!(thinned(&circle, 60.0).is_empty());
    }

    #[test]
    fn scale_bars_are_round() {
        for (longest, length) in [(1.0, 1.0), (4.9, 2.0), (160.0, 100.0), (0.6, 0.5)] {
            assert!((round_length(longest) - length).abs() < 1e-12);
        }
    }
}
