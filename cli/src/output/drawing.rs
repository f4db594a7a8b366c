//! Drawings for people: what was understood of the layout, and how each mode moves.
//!
//! In: the outline (µm), the mesh, shapes sampled on six-node triangles. Out: SVG, at most about 200 kB each. Motion is drawn
//! larger than life; up (towards the viewer) is blue, down is amber, no motion out of the plane is grey.

use super::arrows::{arrow, radius_um};
use super::bands::Triangles;
use super::placing::{diagonal, extent, grown, name_place, view};
use super::slender;
use super::svg::{Canvas, INK, NARROW, WIDE, within_size};
use super::table::mirror_axes;
use super::units::frequency;
use modalith_mesher::geometry::{Point, Polygon, Ring};
use modalith_mesher::mesh::Mesh;
use modalith_mesher::outline::Outline;
use modalith_solver::mode::{Mode, Sampled};

/// Largest motion in a drawing as a share of the layout's diagonal.
const AMPLITUDE: f64 = 0.028;
/// Steps of the colour for motion out of the plane; odd, so that the middle one is no motion.
const STEPS: u16 = 11;
/// Moments of half a period that a playable drawing shows, as shares of the extreme.
const MOMENTS: [f64; 5] = [1.0, 0.7, 0.0, -0.7, -1.0];
/// Ends and middle of that colour: down, none, up.
const DOWN: [f64; 3] = [196.0, 120.0, 8.0];
const NONE: [f64; 3] = [232.0, 233.0, 231.0];
const UP: [f64; 3] = [38.0, 92.0, 160.0];
/// A direction that moves less than this share of the largest motion is not drawn or explained.
const SEEN: f64 = 0.02;

/// The layout as it was understood: free material, anchors hatched, masses named, flexures numbered, with middle and root lines, mirror axes
/// dash-dotted, pieces that are held altogether pale.
pub fn check_svg(outline: &Outline, title: &str) -> String {
    within_size(|deviation| layout(outline, title, deviation))
}

fn layout(outline: &Outline, title: &str, deviation: f64) -> String {
    let area = view(outline);
    let mut canvas = Canvas::new(area, "layout", deviation, WIDE);
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
    slender::areas(&mut canvas, outline);
    for part in &outline.parts {
        canvas.rings(part.polygon.rings(), &format!("fill=\"none\" stroke=\"{INK}\" stroke-width=\".9\""));
    }
    for mirror in &outline.mirrors {
        mirror_axis(&mut canvas, area, mirror.axis.point, mirror.axis.angle_deg);
    }
    for mass in &outline.masses {
        if let Some(at) = name_place(&mass.polygons) {
            canvas.label(canvas.place(at), 15.0, &mass.name);
        }
    }
    slender::lines(&mut canvas, outline);
    let mut x = 28.0;
    let hatch = canvas.hatch();
    for (there, colour, text) in [
        (!outline.parts.is_empty(), "#c9d3d8", "free"),
        (!outline.masses.is_empty(), "#9fb9b4", "named mass"),
        (!outline.flexures.is_empty(), slender::FLEXURE, "flexure"),
        (!outline.fingers.is_empty(), slender::FINGER, "finger"),
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
        "{} free parts, {} anchors, {} named masses, {} flexures, {} fingers, {}",
        outline.parts.len(),
        outline.anchors.len(),
        outline.masses.len(),
        outline.flexures.len(),
        outline.fingers.len(),
        mirror_axes(outline.mirrors.len())
    );
    canvas.finish(title, &explanation)
}

/// One mode (`mode_index` counted from 0): the silhouette at both extremes of the motion, one solid and filled, one dashed; one arrow
/// for each named mass; motion out of the plane as a two-sided colour.
///
/// Arrows show the largest of four motions of the mass at the filled extreme: a shift in the plane (straight), out of the
/// plane (circle with a point: towards the viewer; with a cross: away), a turn in the plane (curved), a tilt (two heads: the
/// axis of a right-handed turn). A small circle marks a mass that stands still.
pub fn mode_svg(parts: &Sheet, index: usize, mode: &Mode) -> String {
    let motion = Motion::new(parts, index, &[1.0]);
    within_size(|deviation| motion.drawn(parts, index, mode, deviation))
}

/// The same with five moments of half a period, from one extreme to the other, as groups of class `moment`; the first is shown, a
/// page that plays them shows one at a time.
pub fn playable_svg(parts: &Sheet, index: usize, mode: &Mode) -> String {
    let motion = Motion::new(parts, index, &MOMENTS);
    within_size(|deviation| motion.drawn(parts, index, mode, deviation))
}

/// What the drawings of all modes of a layout share.
pub struct Sheet<'a> {
    outline: &'a Outline,
    mesh: &'a Mesh,
    sampled: &'a Sampled,
    triangles: Triangles,
}

impl<'a> Sheet<'a> {
    /// Of modes sampled on a mesh of the outline.
    pub fn new(outline: &'a Outline, mesh: &'a Mesh, sampled: &'a Sampled) -> Self {
        let cut = |&[a, b, c, d, e, f]: &[u32; 6]| [[a, d, f], [d, b, e], [f, e, c], [d, e, f]];
        let triangles = Triangles::new(sampled.cells.iter().flat_map(cut).collect());
        Self { outline, mesh, sampled, triangles }
    }
}

/// One moment of a motion: the bands, each with its colour, and the silhouette.
struct Moment {
    bands: Vec<(String, Vec<Ring>)>,
    silhouette: Vec<Ring>,
}

/// A mode's silhouettes and bands of colour, µm: found once, drawn as coarsely as their size asks.
struct Motion {
    area: [Point; 2],
    largest: f64,
    reach: f64,
    in_plane: bool,
    out_of_plane: bool,
    moments: Vec<Moment>,
    /// The silhouette at the other extreme.
    other: Vec<Ring>,
}

impl Motion {
    fn new(parts: &Sheet, index: usize, moments: &[f64]) -> Self {
        let Sheet { outline, sampled, triangles, .. } = parts;
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
        let up: Vec<f64> = (0..sampled.points.len()).map(|i| at(i)[2] / largest).collect();
        let in_plane = (0..shape.len()).map(|i| at(i)[0].hypot(at(i)[1])).fold(0.0, f64::max) / largest >= SEEN;
        let out_of_plane = up.iter().fold(0.0, |most: f64, u| most.max(u.abs())) >= SEEN;
        let moment = |share: f64| {
            let points = moved(share);
            let outer = triangles.silhouette(&points);
            if !out_of_plane {
                return Moment { bands: vec![(colour(0.0), outer.clone())], silhouette: outer };
            }
            let up: Vec<f64> = up.iter().map(|u| share * u).collect();
            let step = |k: usize| colour(2.0 * k as f64 / f64::from(STEPS - 1) - 1.0);
            let coloured = triangles.bands(&points, &up, STEPS).into_iter().enumerate();
            Moment { bands: coloured.map(|(k, rings)| (step(k), rings)).collect(), silhouette: outer }
        };
        let moments = moments.iter().map(|&share| moment(share)).collect();
        // Openings narrower than the motion, drawn twice, would only be noise: the other extreme shows the larger rings.
        let other = if in_plane { triangles.silhouette(&moved(-1.0)) } else { Vec::new() };
        let other = other.into_iter().filter(|r| extent(r) > 4.0 * reach).collect();
        Self { area, largest, reach, in_plane, out_of_plane, moments, other }
    }

    fn drawn(&self, parts: &Sheet, index: usize, mode: &Mode, deviation: f64) -> String {
        let Sheet { outline, mesh, .. } = parts;
        let mut canvas = Canvas::new(self.area, &format!("mode-{}", index + 1), deviation, NARROW);
        for island in &outline.islands {
            canvas.rings(island.rings(), "fill=\"#f7f6f2\" fill-rule=\"evenodd\"");
        }
        anchors(&mut canvas, outline);
        let line = "fill=\"none\" stroke-linejoin=\"round\"";
        let plays = self.moments.len() > 1;
        for (k, moment) in self.moments.iter().enumerate() {
            if plays {
                let hidden = if k == 0 { "" } else { " style=\"display:none\"" };
                canvas.element(&format!("<g class=\"moment\"{hidden}>"));
            }
            for (colour, rings) in &moment.bands {
                // The thin rim of the same colour hides the seam that smoothing leaves between neighbours.
                canvas.rings(rings, &format!("fill=\"{colour}\" stroke=\"{colour}\" stroke-width=\".5\""));
            }
            canvas.rings(&moment.silhouette, &format!("{line} stroke=\"{INK}\" stroke-width=\"1.1\""));
            if plays {
                canvas.element("</g>");
            }
        }
        canvas.rings(&self.other, &format!("{line} stroke=\"#59636b\" stroke-width=\"1\" stroke-dasharray=\"5 3.5\""));
        for (m, mass) in mode.masses.iter().enumerate() {
            arrow(&mut canvas, mass, radius_um(mesh, m), self.largest, self.reach);
        }
        let mut x = 28.0;
        if self.out_of_plane {
            canvas.note(x, &colour(1.0), "towards the viewer");
            canvas.note(x + 165.0, &colour(-1.0), "away");
            x += 250.0;
        }
        if self.in_plane {
            canvas.note(x, &colour(0.0), "solid and dashed: the two extremes, larger than life");
        }
        let title = format!("Mode {}, {} Hz", index + 1, frequency(mode.frequency_hz, '\u{a0}'));
        let [x, y, z] = mode.kinetic_share.map(|s| 100.0 * s);
        canvas.finish(&title, &format!("Kinetic energy along x {x:.0} %, y {y:.0} %, z {z:.0} %"))
    }
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
        // One path of middle lines and one of root lines, two of these a flexure.
        let path = |class: &str| svg.lines().find(|l| l.contains(class)).unwrap().matches('M').count();
        assert_eq!(path("middle-lines"), outline.flexures.len());
        assert_eq!(path("root-lines"), 2 * outline.flexures.len());
        assert_eq!(svg.matches("stroke-dasharray=\"14 4 2 4\"").count(), outline.mirrors.len());
        assert!(svg.contains("fill=\"url(#layout-hatch)\"") && svg.len() < LARGEST);
    }

    #[test]
    fn motion_shows_both_extremes_and_its_sign() {
        let (outline, mesh, sampled, modes) = sensor();
        let apart = mode_svg(&Sheet::new(&outline, &mesh, &sampled), 0, &modes[0]);
        let rocking = mode_svg(&Sheet::new(&outline, &mesh, &sampled), 1, &modes[1]);
        for svg in [&apart, &rocking] {
            assert_well_formed(svg);
            assert!(svg.len() < LARGEST, "{}", svg.len());
        }
        // The other extreme is drawn, and explained, only where it lies elsewhere in the plane.
        let dashed = |svg: &str| svg.matches("stroke-dasharray=\"5 3.5\"").count();
        assert_eq!((dashed(&apart), dashed(&rocking)), (1, 0));
        assert!(apart.contains("two extremes") && !apart.contains("towards the viewer"));
        assert!(!rocking.contains("two extremes") && rocking.contains("towards the viewer"));
        // Motion in the plane has the middle colour only; a rocking has both ends.
        let ends = [colour(-1.0), colour(1.0)];
        let filled = |svg: &str, c: &str| svg.contains(&format!("fill=\"{c}\" stroke=\"{c}\""));
        assert!(!ends.iter().any(|c| filled(&apart, c)) && filled(&apart, &colour(0.0)));
        assert!(ends.iter().all(|c| filled(&rocking, c)));
        assert_eq!(rocking, mode_svg(&Sheet::new(&outline, &mesh, &sampled), 1, &modes[1]));
        // A shape turned round swaps the solid and the dashed silhouette.
        let mut turned = sampled.clone();
        turned.modes[0].iter_mut().flatten().for_each(|u| *u = -*u);
        let back = mode_svg(&Sheet::new(&outline, &mesh, &turned), 0, &modes[0]);
        let path = |svg: &str, style: &str| {
            let line = svg.lines().find(|l| l.contains(style)).unwrap();
            line.split('"').nth(1).unwrap().to_owned()
        };
        let (solid, dashed) = ("stroke-width=\"1.1\"", "stroke-dasharray=\"5 3.5\"");
        assert!(path(&apart, solid).contains(&path(&back, dashed)));
        assert!(path(&back, solid).contains(&path(&apart, dashed)));
        assert_ne!(path(&apart, solid), path(&apart, dashed));
    }

    #[test]
    fn nothing_and_no_number_draw_without_fault() {
        let (outline, mesh, mut sampled, modes) = sensor();
        let empty = Outline {
            parts: vec![],
            anchors: vec![],
            masses: vec![],
            flexures: vec![],
            fingers: vec![],
            ..outline.clone()
        };
        assert_well_formed(&check_svg(&empty, ""));
        sampled.modes[0][5] = [f64::NAN; 3];
        for index in [0, 7] {
            let svg = mode_svg(&Sheet::new(&outline, &mesh, &sampled), index, &modes[0]);
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
}
