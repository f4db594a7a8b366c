//! Drawings for people: what was understood of the layout, and how each mode moves.
//!
//! In: the outline (µm), the mesh, shapes sampled on six-node triangles. Out: SVG, at most about 200 kB each. Motion is drawn
//! larger than life; up (towards the viewer) is blue, down is amber, no motion out of the plane is grey.

use super::bands::bands;
use super::svg::{Canvas, number, within_size};
use super::units::frequency;
use modalith_mesher::geometry::{Point, Polygon, bounds, ring_area};
use modalith_mesher::mesh::Mesh;
use modalith_mesher::outline::Outline;
use modalith_solver::mode::{MassMotion, Mode, Sampled};

/// Largest motion in a drawing as a share of the layout's diagonal.
const AMPLITUDE: f64 = 0.045;
/// Steps of the colour for motion out of the plane; odd, so that the middle one is no motion.
const STEPS: u16 = 11;
/// Ends and middle of that colour: down, none, up.
const DOWN: [f64; 3] = [196.0, 120.0, 8.0];
const NONE: [f64; 3] = [232.0, 233.0, 231.0];
const UP: [f64; 3] = [38.0, 92.0, 160.0];
/// A mass that moves less than this share of the largest motion stands still.
const STILL: f64 = 0.04;
const INK: &str = "#1d2730";

/// The layout as it was understood: free material, anchors hatched, masses named, flexure candidates numbered, mirror axes
/// dash-dotted, pieces that are held altogether pale.
pub fn check_svg(outline: &Outline, title: &str) -> String {
    within_size(|deviation| layout(outline, title, deviation))
}

fn layout(outline: &Outline, title: &str, deviation: f64) -> String {
    let area = view(outline);
    let mut canvas = Canvas::new(area, "layout", deviation);
    for island in &outline.islands {
        canvas.rings(island.rings(), "fill=\"#f3f1ec\" stroke=\"#d6d2c8\" stroke-width=\".8\" fill-rule=\"evenodd\"");
    }
    anchors(&mut canvas, outline);
    for part in &outline.parts {
        canvas.rings(part.polygon.rings(), "fill=\"#c9d3d8\" fill-rule=\"evenodd\"");
    }
    for mass in &outline.masses {
        canvas.rings(
            mass.polygons.iter().flat_map(Polygon::rings),
            "fill=\"#9fb9b4\" stroke=\"#5d7f79\" stroke-width=\"1\" fill-rule=\"evenodd\"",
        );
    }
    for flexure in &outline.flexures {
        canvas.rings(flexure.area.rings(), "fill=\"#d9a36a\" fill-rule=\"evenodd\"");
    }
    for part in &outline.parts {
        canvas.rings(part.polygon.rings(), &format!("fill=\"none\" stroke=\"{INK}\" stroke-width=\".9\""));
    }
    for mirror in &outline.mirrors {
        mirror_axis(&mut canvas, area, mirror.axis.point, mirror.axis.angle_deg);
    }
    for mass in &outline.masses {
        if let Some(at) = middle(&mass.polygons) {
            canvas.label(canvas.place(at), 15.0, &mass.name);
        }
    }
    for (i, flexure) in outline.flexures.iter().enumerate() {
        let line = &flexure.centre_line;
        if let Some(&at) = line.get(line.len() / 2) {
            let before = line[(line.len() - 1) / 2];
            let at = [0.5 * (at[0] + before[0]), 0.5 * (at[1] + before[1])];
            canvas.label(canvas.place(at), 12.0, &(i + 1).to_string());
        }
    }
    let mut x = 28.0;
    let hatch = canvas.hatch();
    for (there, colour, text) in [
        (!outline.parts.is_empty(), "#c9d3d8", "free"),
        (!outline.masses.is_empty(), "#9fb9b4", "named mass"),
        (!outline.flexures.is_empty(), "#d9a36a", "flexure candidate"),
        (!outline.anchors.is_empty(), hatch.as_str(), "anchor"),
        (!outline.idle_anchors.is_empty(), "#f7dcd2", "anchor that holds nothing"),
        (!outline.islands.is_empty(), "#f3f1ec", "held altogether"),
    ] {
        if there {
            canvas.note(x, colour, text);
            x += 42.0 + 7.0 * text.len() as f64;
        }
    }
    let explanation = format!(
        "{} free parts, {} anchors, {} named masses, {} flexure candidates, {} mirror axes",
        outline.parts.len(),
        outline.anchors.len(),
        outline.masses.len(),
        outline.flexures.len(),
        outline.mirrors.len()
    );
    canvas.finish(title, &explanation)
}

/// One mode (`mode_index` counted from 0): the silhouette at both extremes of the motion, one solid and filled, one dashed; one arrow
/// for each named mass; motion out of the plane as a two-sided colour.
///
/// Arrows show the largest of four motions of the mass at the filled extreme: a shift in the plane (straight), out of the
/// plane (circle with a point: towards the viewer; with a cross: away), a turn in the plane (curved), a tilt (two heads: the
/// axis of a right-handed turn). A small circle marks a mass that stands still.
pub fn mode_svg(outline: &Outline, mesh: &Mesh, sampled: &Sampled, mode_index: usize, mode: &Mode) -> String {
    within_size(|deviation| motion(outline, mesh, sampled, mode_index, mode, deviation))
}

fn motion(outline: &Outline, mesh: &Mesh, sampled: &Sampled, index: usize, mode: &Mode, deviation: f64) -> String {
    let still = Vec::new();
    let shape = sampled.modes.get(index).unwrap_or(&still);
    let at = |i: usize| shape.get(i).copied().unwrap_or_default().map(|u| if u.is_finite() { u } else { 0.0 });
    let size = |u: [f64; 3]| u[0].hypot(u[1]).hypot(u[2]);
    let largest = (0..shape.len()).map(|i| size(at(i))).fold(0.0, f64::max).max(f64::MIN_POSITIVE);
    let area = grown(view(outline), sampled.points.iter(), AMPLITUDE);
    let reach = AMPLITUDE * diagonal(area);
    let moved = |sign: f64| -> Vec<Point> {
        let to = |(i, p): (usize, &Point)| [0, 1].map(|c| p[c] + sign * reach * (at(i)[c] / largest));
        sampled.points.iter().enumerate().map(to).collect()
    };
    let triangles: Vec<[u32; 3]> =
        sampled.cells.iter().flat_map(|&[a, b, c, d, e, f]| [[a, d, f], [d, b, e], [f, e, c], [d, e, f]]).collect();
    let up: Vec<f64> = (0..sampled.points.len()).map(|i| at(i)[2] / largest).collect();
    let mut canvas = Canvas::new(area, &format!("mode-{}", index + 1), deviation);
    for island in &outline.islands {
        canvas.rings(island.rings(), "fill=\"#f7f6f2\" fill-rule=\"evenodd\"");
    }
    anchors(&mut canvas, outline);
    let extreme = moved(1.0);
    for (step, rings) in bands(&extreme, &triangles, &up, STEPS).iter().enumerate() {
        let colour = colour(2.0 * step as f64 / f64::from(STEPS - 1) - 1.0);
        // The thin rim of the same colour hides the seam that smoothing leaves between neighbours.
        canvas.rings(rings, &format!("fill=\"{colour}\" stroke=\"{colour}\" stroke-width=\".5\""));
    }
    let silhouette = |points: &[Point]| bands(points, &triangles, &[], 1).pop().unwrap_or_default();
    let line = "fill=\"none\" stroke-linejoin=\"round\"";
    canvas.rings(&silhouette(&extreme), &format!("{line} stroke=\"{INK}\" stroke-width=\"1.1\""));
    canvas.rings(
        &silhouette(&moved(-1.0)),
        &format!("{line} stroke=\"#59636b\" stroke-width=\"1\" stroke-dasharray=\"5 3.5\""),
    );
    for (m, mass) in mode.masses.iter().enumerate() {
        arrow(&mut canvas, mass, radius_um(mesh, m), largest, reach);
    }
    canvas.note(28.0, &colour(1.0), "up, towards the viewer");
    canvas.note(218.0, &colour(-1.0), "down");
    canvas.note(288.0, &colour(0.0), "solid and dashed: the two extremes, drawn larger than life");
    let title = format!("Mode {}, {} Hz", index + 1, frequency(mode.frequency_hz, '\u{a0}'));
    let [x, y, z] = mode.kinetic_share.map(|s| 100.0 * s);
    canvas.finish(&title, &format!("Kinetic energy along x {x:.0} %, y {y:.0} %, z {z:.0} %"))
}

/// Mean distance of a mass from its centre, µm: what a turn is multiplied with to compare it with a shift.
fn radius_um(mesh: &Mesh, mass: usize) -> f64 {
    let mut sums = [0.0; 4];
    for (t, corners) in mesh.triangles.iter().enumerate() {
        if mesh.mass_of.get(t).copied().flatten().is_some_and(|m| usize::from(m) == mass) {
            let area = mesh.area(t);
            let centre = [0, 1].map(|c| corners.iter().map(|&i| mesh.points[i as usize][c]).sum::<f64>() / 3.0);
            let [x, y] = centre;
            sums[0] += area;
            sums[1] += area * x;
            sums[2] += area * y;
            sums[3] += area * (x * x + y * y);
        }
    }
    let [area, x, y, square] = sums;
    if area > 0.0 { ((square - (x * x + y * y) / area) / area).max(0.0).sqrt() } else { 0.0 }
}

/// The one arrow of a mass. `largest` is the largest displacement of the mode, kg^-½; `reach` its length in the drawing, µm.
fn arrow(canvas: &mut Canvas, mass: &MassMotion, radius_um: f64, largest: f64, reach: f64) {
    let shift = mass.translation.map(|u| u / largest);
    let turn = mass.turn.map(|t| t * radius_um * 1e-6 / largest);
    let motions = [shift[0].hypot(shift[1]), shift[2].abs(), turn[2].abs(), turn[0].hypot(turn[1])];
    let greatest = motions.iter().copied().fold(0.0, f64::max);
    let [x, y] = canvas.place(mass.centre_um);
    let unit = canvas.scale() * reach;
    // Long enough to be seen beside the silhouettes, with its length still telling the amplitude.
    let length = |share: f64| unit.mul_add(1.6 * share, 12.0);
    if !(greatest.is_finite() && greatest >= STILL) {
        canvas.element(&format!(
            "<circle cx=\"{}\" cy=\"{}\" r=\"4\" fill=\"#fff\" stroke=\"{INK}\" stroke-width=\"1.4\"/>",
            number(x),
            number(y)
        ));
    } else if greatest <= motions[0] {
        let [dx, dy] = [shift[0] / motions[0] * length(motions[0]), -shift[1] / motions[0] * length(motions[0])];
        canvas.arrow([x - 0.5 * dx, y - 0.5 * dy], [x + 0.5 * dx, y + 0.5 * dy], 1, INK);
    } else if greatest <= motions[1] {
        let r = 7.0 + 5.0 * motions[1];
        let [cx, cy, rr] = [x, y, r].map(number);
        let inner = if shift[2] > 0.0 {
            format!("<circle cx=\"{cx}\" cy=\"{cy}\" r=\"2.6\" fill=\"{INK}\"/>")
        } else {
            let dd = number(-1.4 * r);
            let (left, top, across) = (number(x - 0.7 * r), number(y - 0.7 * r), number(1.4 * r));
            format!(
                "<path d=\"M{left} {top}l{across} {across}m{dd} 0l{across} {dd}\" stroke=\"{INK}\" stroke-width=\"1.8\"/>"
            )
        };
        canvas.element(&format!(
            "<circle cx=\"{cx}\" cy=\"{cy}\" r=\"{rr}\" fill=\"#fff\" stroke=\"{INK}\" stroke-width=\"1.8\"/>{inner}"
        ));
    } else if greatest <= motions[2] {
        turned(canvas, [x, y], turn[2] > 0.0, 14.0 + 0.4 * unit * motions[2]);
    } else {
        let [dx, dy] = [turn[0] / motions[3] * length(motions[3]), -turn[1] / motions[3] * length(motions[3])];
        canvas.arrow([x - 0.5 * dx, y - 0.5 * dy], [x + 0.5 * dx, y + 0.5 * dy], 2, INK);
    }
}

/// A curved arrow of radius `r` px around a place, over three quarters of a circle; anticlockwise on the layout if `left`.
fn turned(canvas: &mut Canvas, [x, y]: Point, left: bool, r: f64) {
    // Starts at the right, ends below (anticlockwise) or above (clockwise); y runs downward in px.
    let side = if left { 1.0 } else { -1.0 };
    let [x0, y0, x1, y1, rr] = [x + r, y, x, y + side * r, r].map(number);
    let sweep = u8::from(!left);
    canvas.element(&format!(
        "<path d=\"M{x0} {y0}A{rr} {rr} 0 1 {sweep} {x1} {y1}\" fill=\"none\" stroke=\"{INK}\" stroke-width=\"2.6\"/>"
    ));
    canvas.head([x + 9.0, y + side * r], [1.0, 0.0], 11.0, INK);
}

/// Anchors hatched, those that hold nothing in a colour of their own.
fn anchors(canvas: &mut Canvas, outline: &Outline) {
    let hatch = canvas.hatch();
    for anchor in &outline.anchors {
        let paint = format!("fill=\"{hatch}\" stroke=\"#59636b\" stroke-width=\".9\" fill-rule=\"evenodd\"");
        canvas.rings(anchor.rings(), &paint);
    }
    for anchor in &outline.idle_anchors {
        let paint =
            "fill=\"#f7dcd2\" stroke=\"#a3482a\" stroke-width=\".9\" stroke-dasharray=\"3 2\" fill-rule=\"evenodd\"";
        canvas.rings(anchor.rings(), paint);
    }
}

/// A dash-dotted line through a point of the layout, long enough to cross the whole view.
fn mirror_axis(canvas: &mut Canvas, area: [Point; 2], through: Point, angle_deg: f64) {
    let (s, c) = angle_deg.to_radians().sin_cos();
    let middle = [0.5 * (area[0][0] + area[1][0]), 0.5 * (area[0][1] + area[1][1])];
    let along = (middle[0] - through[0]) * c + (middle[1] - through[1]) * s;
    let half = 0.55 * diagonal(area);
    let end = |sign: f64| [through[0] + (along + sign * half) * c, through[1] + (along + sign * half) * s];
    let style = "stroke=\"#2f6b8f\" stroke-width=\"1.1\" stroke-dasharray=\"14 4 2 4\"";
    canvas.line(canvas.place(end(-1.0)), canvas.place(end(1.0)), style);
}

/// What a drawing shows: the free parts and what is near them, µm.
fn view(outline: &Outline) -> [Point; 2] {
    let parts = || outline.parts.iter().flat_map(|p| &p.polygon.outer);
    let held = [&outline.anchors, &outline.idle_anchors, &outline.islands];
    let held = held.into_iter().flatten().flat_map(|p| &p.outer);
    let Some([low, high]) = bounds(parts()).or_else(|| bounds(held.clone())) else { return [[0.0; 2], [1.0; 2]] };
    let Some([lowest, highest]) = bounds(parts().chain(held)) else { return [low, high] };
    let rim = 0.15 * diagonal([low, high]);
    [[0, 1].map(|c| lowest[c].max(low[c] - rim)), [0, 1].map(|c| highest[c].min(high[c] + rim))]
}

/// A box that also holds these points with a rim of a share of its diagonal.
fn grown<'a>([low, high]: [Point; 2], points: impl Iterator<Item = &'a Point>, share: f64) -> [Point; 2] {
    let Some([a, b]) = bounds(points) else { return [low, high] };
    let rim = share * diagonal([low, high]);
    [[0, 1].map(|c| low[c].min(a[c] - rim)), [0, 1].map(|c| high[c].max(b[c] + rim))]
}

fn diagonal([low, high]: [Point; 2]) -> f64 {
    (high[0] - low[0]).hypot(high[1] - low[1])
}

/// Centre of area of polygons, µm; nothing without area.
fn middle(polygons: &[Polygon]) -> Option<Point> {
    let mut sums = [0.0; 3];
    for ring in polygons.iter().flat_map(Polygon::rings) {
        let Some(&[x0, y0]) = ring.first() else { continue };
        let area = ring_area(ring);
        let mut moment = [0.0; 2];
        for pair in ring.windows(2) {
            let (a, b) = ([pair[0][0] - x0, pair[0][1] - y0], [pair[1][0] - x0, pair[1][1] - y0]);
            let cross = a[0] * b[1] - b[0] * a[1];
            moment[0] += (a[0] + b[0]) * cross / 6.0;
            moment[1] += (a[1] + b[1]) * cross / 6.0;
        }
        sums[0] += area;
        sums[1] += moment[0] + x0 * area;
        sums[2] += moment[1] + y0 * area;
    }
    (sums[0] > 0.0).then(|| [sums[1] / sums[0], sums[2] / sums[0]])
}

/// The colour of a motion out of the plane from -1 (down) to 1 (up).
fn colour(value: f64) -> String {
    let (end, t) = if value < 0.0 { (DOWN, -value) } else { (UP, value) };
    let [r, g, b] = [0, 1, 2].map(|c| (NONE[c] + t * (end[c] - NONE[c])).round() as u8);
    format!("#{r:02x}{g:02x}{b:02x}")
}

#[cfg(test)]
mod tests {
    use super::super::specimen::{assert_well_formed, sensor};
    use super::super::svg::LARGEST;
    use super::*;
    use modalith_mesher::outline::Part;

    #[test]
    fn layout_names_masses_and_numbers_flexures() {
        let (outline, ..) = sensor();
        let svg = check_svg(&outline, "A & B <layout>");
        assert_well_formed(&svg);
        assert_eq!(svg, check_svg(&outline, "A & B <layout>"));
        assert!(svg.contains(">left &lt;&amp;&gt; proof</text>") && svg.contains(">right</text>"));
        assert!(svg.contains("<title>A &amp; B &lt;layout&gt;</title>"));
        assert!(!outline.flexures.is_empty());
        for i in 1..=outline.flexures.len() {
            assert!(svg.contains(&format!(">{i}</text>")));
        }
        assert_eq!(svg.matches("stroke-dasharray=\"14 4 2 4\"").count(), outline.mirrors.len());
        assert!(svg.contains("fill=\"url(#layout-hatch)\"") && svg.len() < LARGEST);
    }

    #[test]
    fn motion_shows_both_extremes_and_its_sign() {
        let (outline, mesh, sampled, modes) = sensor();
        let apart = mode_svg(&outline, &mesh, &sampled, 0, &modes[0]);
        let rocking = mode_svg(&outline, &mesh, &sampled, 1, &modes[1]);
        for svg in [&apart, &rocking] {
            assert_well_formed(svg);
            assert!(svg.len() < LARGEST, "{}", svg.len());
            assert_eq!(svg.matches("stroke-dasharray=\"5 3.5\"").count(), 1);
        }
        // Motion in the plane has the middle colour only; a rocking has both ends.
        let ends = [colour(-1.0), colour(1.0)];
        let filled = |svg: &str, c: &str| svg.contains(&format!("fill=\"{c}\" stroke=\"{c}\""));
        assert!(!ends.iter().any(|c| filled(&apart, c)) && filled(&apart, &colour(0.0)));
        assert!(ends.iter().all(|c| filled(&rocking, c)));
        assert_eq!(rocking, mode_svg(&outline, &mesh, &sampled, 1, &modes[1]));
        // A shape turned round swaps the solid and the dashed silhouette.
        let mut turned = sampled.clone();
        turned.modes[0].iter_mut().flatten().for_each(|u| *u = -*u);
        let back = mode_svg(&outline, &mesh, &turned, 0, &modes[0]);
        let path = |svg: &str, style: &str| {
            let line = svg.lines().find(|l| l.contains(style)).unwrap();
            line.split('"').nth(1).unwrap().to_owned()
        };
        let (solid, dashed) = ("stroke-width=\"1.1\"", "stroke-dasharray=\"5 3.5\"");
        assert_eq!(path(&apart, solid), path(&back, dashed));
        assert_eq!(path(&apart, dashed), path(&back, solid));
        assert_ne!(path(&apart, solid), path(&apart, dashed));
    }

    #[test]
    fn nothing_and_no_number_draw_without_fault() {
        let (outline, mesh, mut sampled, modes) = sensor();
        let empty = Outline { parts: vec![], anchors: vec![], masses: vec![], flexures: vec![], ..outline.clone() };
        assert_well_formed(&check_svg(&empty, ""));
        sampled.modes[0][5] = [f64::NAN; 3];
        for index in [0, 7] {
            let svg = mode_svg(&outline, &mesh, &sampled, index, &modes[0]);
            assert_well_formed(&svg);
            assert!(!svg.contains("NaN") && !svg.contains("inf"));
        }
    }

    #[test]
    fn thousands_of_holes_stay_small_and_slender_parts_stay() {
        let ring = |x: f64, y: f64, w: f64, h: f64| vec![[x, y], [x + w, y], [x + w, y + h], [x, y + h]];
        let mut holes = Vec::new();
        for i in 0..120u32 {
            holes.extend((0..120u32).map(|j| ring(f64::from(i) * 8.0 + 2.0, f64::from(j) * 8.0 + 2.0, 4.0, 4.0)));
        }
        holes.iter_mut().for_each(|h| h.reverse());
        // A plate of 960 µm with a strip of 2 µm that is 1.2 px wide.
        let mut outer = ring(0.0, 0.0, 960.0, 960.0);
        outer.splice(2..2, [[960.0, 10.0], [1200.0, 10.0], [1200.0, 12.0], [960.0, 12.0]]);
        let part = Part { polygon: Polygon { outer, holes }, held: vec![] };
        let svg = check_svg(&Outline { parts: vec![part], ..sensor().0 }, "holes");
        assert_well_formed(&svg);
        assert!(svg.len() < LARGEST, "{}", svg.len());
        assert!(svg.contains("smallest openings are left out"));
        let fine = layout(&sensor().0, "", 0.1);
        assert!(!fine.contains("smallest openings are left out"));
        let path = svg.lines().find(|l| l.contains("fill=\"none\"")).unwrap().split('"').nth(1).unwrap();
        // 240 µm out, 2 µm across and back at 0.588 px/µm.
        assert!(path.contains(" 141.1 0 0-1.2-141.1 0 "), "{path}");
    }

    #[test]
    fn centre_of_area_knows_holes() {
        let square = |a: f64, b: f64| vec![[a, a], [b, a], [b, b], [a, b]];
        let mut hole = square(0.0, 1.0);
        hole.reverse();
        let found = middle(&[Polygon { outer: square(0.0, 2.0), holes: vec![hole] }]).unwrap();
        assert!((found[0] - 3.5 / 3.0).abs() < 1e-14 && (found[1] - 3.5 / 3.0).abs() < 1e-14);
    }
}
