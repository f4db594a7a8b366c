//! Slender strips between an anchor and a mass as they are drawn: bent by a few degrees out of two bars that overlap, slanted, tapered,
//! curved. Each is found whole, whatever is mirrored, turned, drawn first or overlaps by how much; and a strip of which nothing can
//! be made is told. Lengths in µm. Devices are invented.

#![allow(clippy::unwrap_used, clippy::panic)]

use modalith_mesher::boolean;
use modalith_mesher::drawing::{Anchoring, Drawing, Film};
use modalith_mesher::geometry::{Point, Polygon};
use modalith_mesher::layout::{Ends, LayoutShape};
use modalith_mesher::outline::{Etch, Outline};
use proptest::prelude::*;

/// Largest error of lengths, and of narrowest widths, which a bridge over a step may cut by as much as the step, as shares.
const BOUND: f64 = 0.02;
const CUT: f64 = 0.05;

fn rect(x0: f64, y0: f64, x1: f64, y1: f64) -> Polygon {
    Polygon::solid(vec![[x0, y0], [x1, y0], [x1, y1], [x0, y1]])
}

/// A bar along a direction from a point: from one length to another, `shift` to the left.
fn bar(from: Point, deg: f64, [start, end]: [f64; 2], width: f64, shift: f64) -> Polygon {
    let (s, c) = deg.to_radians().sin_cos();
    let p = |l: f64, h: f64| [from[0] + l * c - h * s, from[1] + l * s + h * c];
    let (low, high) = (shift - 0.5 * width, shift + 0.5 * width);
    Polygon::solid(vec![p(start, low), p(end, low), p(end, high), p(start, high)])
}

/// How a drawing is put on the wafer and written down; what is found must not depend on it.
#[derive(Clone, Copy, Debug, Default)]
struct Put {
    mirrored: [bool; 2],
    turn_deg: f64,
    backwards: bool,
    first: usize,
}

impl Put {
    fn polygons(&self, list: &[Polygon]) -> Vec<Polygon> {
        let (s, c) = self.turn_deg.to_radians().sin_cos();
        let at = |p: &Point| {
            let [x, y] = [0, 1].map(|k| if self.mirrored[k] { -p[k] } else { p[k] });
            [c * x - s * y, s * x + c * y]
        };
        let put = list.iter().map(|p| {
            let mut ring: Vec<Point> = p.outer.iter().map(at).collect();
            if self.mirrored[0] != self.mirrored[1] {
                ring.reverse();
            }
            let n = ring.len();
            ring.rotate_left(self.first % n);
            Polygon::solid(ring)
        });
        if self.backwards { put.rev().collect() } else { put.collect() }
    }

    fn outline(&self, structure: &[Polygon], anchors: &[Polygon]) -> Outline {
        let drawing = Drawing {
            film: Film::Drawn { structure: self.polygons(structure), holes: vec![] },
            anchoring: Anchoring::Drawn(self.polygons(anchors)),
            masses: vec![],
            electrodes: vec![],
        };
        // Steps of nanometres are what this is about.
        Outline::build(&drawing, &Etch { smallest_feature_um: 1e-4, ..Etch::default() }).unwrap()
    }
}

fn puts() -> impl Strategy<Value = Put> {
    (any::<[bool; 2]>(), prop_oneof![Just(0.0), Just(90.0), 0.0..360.0], any::<bool>(), 0..8usize)
        .prop_map(|(mirrored, turn_deg, backwards, first)| Put { mirrored, turn_deg, backwards, first })
}

/// Two bars that meet at an angle.
#[derive(Clone, Copy, Debug)]
struct Knee {
    deg: f64,
    widths: [f64; 2],
    lengths: [f64; 2],
    /// How far each bar goes on past the knee, and how far the second lies aside.
    overlaps: [f64; 2],
    aside: f64,
}

impl Knee {
    /// The flexure, its mass and its anchor, with bars drawn or as one path.
    fn drawn(&self, as_path: bool) -> (Vec<Polygon>, Vec<Polygon>) {
        let (half, [l, m]) = (0.5 * self.deg, self.lengths);
        let end = |deg: f64, l: f64| [l * deg.to_radians().cos(), l * deg.to_radians().sin()];
        let (a, b) = (end(180.0 + half, l), end(-half, m));
        let strip = if as_path {
            let points = vec![end(180.0 + half, l + 4.0), [0.0, 0.0], end(-half, m + 4.0)];
            LayoutShape::Path { points, width: self.widths[0], ends: Ends::Flush }.polygons(0.001).unwrap()
        } else {
            vec![
                bar([0.0, 0.0], 180.0 + half, [-self.overlaps[0], l + 4.0], self.widths[0], 0.0),
                bar([0.0, 0.0], -half, [-self.overlaps[1], m + 4.0], self.widths[1], self.aside),
            ]
        };
        let mass = rect(b[0], b[1] - 60.0, b[0] + 120.0, b[1] + 60.0);
        ([strip, vec![mass]].concat(), vec![rect(a[0] - 20.0, a[1] - 25.0, a[0], a[1] + 25.0)])
    }
}

fn knees() -> impl Strategy<Value = Knee> {
    let angle = prop_oneof![0.2..2.0f64, 1.0..20.0f64];
    let lengths = (60.0..150.0f64, 60.0..150.0f64);
    // Nothing, next to nothing, anything up to a width.
    let overlap = || prop_oneof![Just(0.0), 1e-4..1e-2f64, 0.01..0.2f64, 0.2..1.0f64];
    let overlaps = prop_oneof![overlap().prop_map(|o| [o, o]), (overlap(), overlap()).prop_map(|(a, b)| [a, b])];
    let differ = || prop_oneof![Just(0.0), -0.01..0.01f64];
    (angle, 4.0..6.0f64, differ(), lengths, overlaps, differ()).prop_map(|(deg, w, more, (l, m), overlaps, aside)| {
        Knee { deg, widths: [w, w + more], lengths: [l, m], overlaps: overlaps.map(|o| o * w), aside }
    })
}

/// One flexure of a width and, but for what slanted ends leave open, a length; and nothing that is unclear.
fn whole(outline: &Outline, length: f64, width: f64) -> Result<(), TestCaseError> {
    let found: Vec<(f64, f64)> = outline.flexures.iter().map(|f| (f.length_um, f.width_um)).collect();
    prop_assert_eq!(found.len(), 1, "{:?}", found);
    let off = [(found[0].0 - length) / (0.5 * width + BOUND * length), (found[0].1 / width - 1.0) / CUT];
    prop_assert!(off.iter().all(|o| o.abs() < 1.0), "{:?} for {} {}", found, length, width);
    prop_assert!(outline.unrecognised.is_empty() && outline.fingers.is_empty(), "{:?}", outline.unrecognised);
    Ok(())
}

proptest! {
    #![proptest_config(ProptestConfig { cases: 3000, failure_persistence: None, ..ProptestConfig::default() })]

    #[test]
    fn a_bent_strip_is_one_flexure(knee in knees(), put in puts(), as_path in any::<bool>()) {
        let (structure, anchors) = knee.drawn(as_path);
        let width = if as_path { knee.widths[0] } else { knee.widths[0].min(knee.widths[1]) };
        whole(&put.outline(&structure, &anchors), knee.lengths[0] + knee.lengths[1], width)?;
    }

    #[test]
    fn a_slanted_or_tapered_strip_is_one_flexure(
        deg in -25.0..25.0f64, width in 4.0..6.0f64, more in 0.0..3.0f64, length in 60.0..150.0f64, put in puts()
    ) {
        let (s, c) = deg.to_radians().sin_cos();
        let p = |l: f64, h: f64| [l * c - h * s, l * s + h * c];
        // Widths at the anchor and at the mass, going on by 4 on both sides.
        let half = |l: f64| 0.5 * (width + more * l / length);
        let corners = [(-4.0, -1.0), (length + 4.0, -1.0), (length + 4.0, 1.0), (-4.0, 1.0)];
        let strip = Polygon::solid(corners.map(|(l, side)| p(l, side * half(l))).to_vec());
        let mass = rect(length * c, length * s - 60.0, length * c + 120.0, length * s + 60.0);
        let outline = put.outline(&[strip, mass], &[rect(-20.0, -25.0, 0.0, 25.0)]);
        whole(&outline, length, width)?;
    }

    #[test]
    fn an_arc_is_one_flexure(radius in 200.0..2000.0f64, length in 60.0..120.0f64, width in 4.0..6.0f64, put in puts()) {
        let half_deg = (0.5 * length / radius).to_degrees();
        let (from_deg, to_deg) = (90.0 - half_deg - 2.0, 90.0 + half_deg + 2.0);
        let shape = LayoutShape::Arc { centre: [0.0, -radius], radius, width, from_deg, to_deg, ends: Ends::Flush };
        let strip = shape.polygons(0.001).unwrap();
        let (s, c) = half_deg.to_radians().sin_cos();
        let (x, y) = (radius * s, radius * (c - 1.0));
        let mass = rect(x, y - 60.0, x + 120.0, y + 60.0);
        let anchors = [rect(-x - 80.0, y - 60.0, -x, y + 30.0)];
        whole(&put.outline(&[strip, vec![mass]].concat(), &anchors), length, width)?;
    }
}

/// A strip whose walls are saws has no walls that face each other; it is told, whatever else is found.
#[test]
fn a_strip_of_which_nothing_is_made_is_told() {
    let saw = |tooth: f64| {
        let lower: Vec<Point> =
            (0..52).flat_map(|k| [[2.0 * f64::from(k) - 1.0, 0.0], [2.0 * f64::from(k), -tooth]]).collect();
        let upper = lower.iter().rev().map(|p| [p[0], 4.0 - p[1]]);
        Polygon::solid(lower.iter().copied().chain(upper).collect())
    };
    let straight = rect(-1.0, 40.0, 101.0, 44.0);
    let mass = rect(100.0, -60.0, 220.0, 60.0);
    let anchors = [rect(-20.0, -60.0, 0.0, 60.0)];
    for mirrored in [[false, false], [true, false], [false, true], [true, true]] {
        let put = Put { mirrored, turn_deg: 33.0, ..Put::default() };
        let outline = put.outline(&[straight.clone(), saw(0.6), mass.clone()], &anchors);
        assert_eq!((outline.flexures.len(), outline.unrecognised.len()), (1, 1), "{mirrored:?}");
        let area = put.polygons(&[saw(0.6)]);
        let dot = Polygon::solid(
            [[-0.01, -0.01], [0.01, -0.01], [0.0, 0.01]]
                .map(|d| [0, 1].map(|k| outline.unrecognised[0][k] + d[k]))
                .to_vec(),
        );
        assert!(!boolean::intersection(&area, &[dot]).is_empty(), "{:?}", outline.unrecognised);
        assert!(put.outline(&[straight.clone(), mass.clone()], &anchors).unrecognised.is_empty());
        // It ends on an anchor, so that no flexure has to say how wide such things are; nor where a stub on its side makes it a frame,
        // or a waist in it is the only flexure.
        let alone = put.outline(&[saw(0.6), mass.clone()], &anchors);
        assert_eq!((alone.flexures.len(), alone.unrecognised.len()), (0, 1), "{mirrored:?}");
        let stub = put.outline(&[straight.clone(), rect(48.0, 20.0, 52.0, 42.0), mass.clone()], &anchors);
        assert_eq!((stub.flexures.len(), stub.unrecognised.is_empty()), (0, false), "{mirrored:?}");
        let ends = [rect(-1.0, 38.0, 30.0, 46.0), rect(70.0, 38.0, 101.0, 46.0)];
        let waist = put.outline(&[straight.clone(), ends[0].clone(), ends[1].clone(), mass.clone()], &anchors);
        assert_eq!((waist.flexures.len(), waist.unrecognised.len()), (1, 2), "{mirrored:?}");
    }
}
