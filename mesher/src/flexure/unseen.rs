//! Slender strips that no leg runs along: what was not seen is told, not taken for a body in silence. In: the material, the legs
//! found, anchors and a width. Out: the strips up to that width. µm.
//!
//! This looks at the material and not at its walls, so that it does not miss what facing walls miss: what is gone when all borders
//! move in by half a width and out again, corners kept sharp (an opening in the sense of J. Serra, Image Analysis and Mathematical
//! Morphology, 1982), less the legs.
//! Legs that end where material goes on are told too.

use super::chain::{Chain, SLENDER};
use super::graph::Graph;
use crate::boolean::{Grid, Region};
use crate::geometry::{Point, Polygon, Ring, bounds, distance, sides};
use crate::outline::cut::Border;
use crate::outline::marked::{Marked, difference};
use crate::outline::{Flexure, Outline};

/// Strips up to so many times as wide as the widest flexure, or as the material of a part is on the whole, carry load as flexures do.
const AS_NARROW: f64 = 1.4;

/// What is thinner than this share of the narrowest flexure is the rim of something known; without flexures, than this, µm.
const RIM: f64 = 0.1;
const LEAST_UM: f64 = 0.05;

/// Outlines of more corners are not searched for wide strips: borders moved that far cross each other as often as its square.
const MOST_CORNERS: usize = 400;

/// Rounding leaves slivers thinner than this, µm.
const SLIVER_UM: f64 = 0.001;
/// An anchor is looked for so far beyond a side, µm.
const BEYOND_UM: f64 = 0.02;

/// Points in slender strips of which nothing was made: those without a leg, and legs that end where material goes on.
pub(super) fn unrecognised(
    outline: &Outline,
    borders: &[Border],
    kept: &[bool],
    graph: &Graph,
    chains: &[Chain],
    flexures: &[Flexure],
) -> Vec<Point> {
    let cut_off = chains.iter().filter(|c| c.cut_off(graph));
    let mut out: Vec<Point> = cut_off.filter_map(|c| Some(c.line.get(c.line.len() / 2)?.at)).collect();
    let mut material: Vec<Polygon> = Vec::new();
    for border in borders.iter().zip(kept).filter(|(_, kept)| **kept).map(|(b, _)| b) {
        match material.last_mut().filter(|_| border.number > 0) {
            Some(part) => part.holes.push(border.points.clone()),
            None => material.push(Polygon::solid(border.points.clone())),
        }
    }
    let widest = flexures.iter().flat_map(|f| &f.widths_um).fold(0.0_f64, |m, w| m.max(*w));
    let narrowest = flexures.iter().map(|f| f.width_um).fold(f64::INFINITY, f64::min);
    let thinnest = if flexures.is_empty() { LEAST_UM } else { RIM * narrowest };
    let on_the_whole = material.iter().map(|p| length_and_width(p)[1]).fold(0.0, f64::max);
    let anchors: Vec<Polygon> = outline.anchors.iter().chain(&outline.islands).cloned().collect();
    let strips = |legs: &mut dyn Iterator<Item = usize>, width: f64| {
        let faces = legs.filter_map(|l| graph.face_of[l]).map(|f| graph.faces[f].polygon());
        let known: Vec<Polygon> = faces.chain(flexures.iter().map(|f| f.area.clone())).collect();
        strips(&material, &anchors, &known, [thinnest, AS_NARROW * width])
    };
    if widest > 0.0 {
        out.extend(strips(&mut (0..graph.legs.len()), widest).into_iter().map(|s| s.at));
    }
    // What ends on an anchor carries the part, however wide; short stretches between the teeth of a wall are none that anything was
    // made of. Elsewhere such strips are the webs of frames and lattices.
    if material.iter().flat_map(Polygon::rings).map(Vec::len).sum::<usize>() > MOST_CORNERS {
        return out;
    }
    let mut slender = chains.iter().filter(|c| c.slender()).flat_map(|c| &c.legs).map(|(l, _)| *l);
    let held = strips(&mut slender, on_the_whole).into_iter().filter(|s| s.held).map(|s| s.at);
    let new = |at: &Point| out.iter().all(|other| distance(*other, *at) > on_the_whole);
    let held: Vec<Point> = held.filter(new).collect();
    out.extend(held);
    out
}

/// A strip that no leg runs along.
struct Strip {
    /// A point in it.
    at: Point,
    /// One of its ends lies on an anchor, and it has no openings, as a lattice has.
    held: bool,
}

/// Every strip of `material` with a width between these two, slender, in no leg, and goes on at two ends at least, into wider
/// material, legs or anchors.
fn strips(material: &[Polygon], anchors: &[Polygon], legs: &[Polygon], [thinnest, width]: [f64; 2]) -> Vec<Strip> {
    let everything = || material.iter().chain(anchors);
    let grid = Grid::around(bounds(everything().flat_map(|p| &p.outer)), 2.0 * width);
    let whole = Region::of(grid, everything());
    let Some(wide) = whole.opened(0.5 * width, SLIVER_UM) else { return Vec::new() };
    let known = wide.union(&Region::of(grid, legs.iter().chain(anchors)));
    let pieces = difference(&whole, &known, |_| 1);
    let strip = |p: &Marked| {
        let touches = touches(&p.polygon, anchors);
        let held = p.polygon.holes.is_empty() && touches;
        // An anchor that rounding parts from the strip by a sliver is an end all the same; beside a leg the rest of that ends there too.
        let ends = ends(p).max(if touches && legs.is_empty() { 2 } else { 0 });
        let [length, own] = length_and_width(&p.polygon);
        let is_strip = ends >= 2 && own > thinnest && length >= SLENDER * own;
        Some(Strip { at: p.polygon.inner_point()?, held }).filter(|_| is_strip)
    };
    pieces.iter().filter_map(strip).collect()
}

/// Whether an anchor lies right beyond a side of a polygon, which has its material on the left.
fn touches(polygon: &Polygon, anchors: &[Polygon]) -> bool {
    let beyond = |ring: &Ring, i: usize| {
        let (a, b) = (ring[i], ring[(i + 1) % ring.len()]);
        let out = BEYOND_UM / distance(a, b).max(f64::MIN_POSITIVE);
        [0.5 * (a[0] + b[0]) + out * (b[1] - a[1]), 0.5 * (a[1] + b[1]) - out * (b[0] - a[0])]
    };
    let mut sides = polygon.rings().flat_map(|r| (0..r.len()).map(move |i| beyond(r, i)));
    sides.any(|p| anchors.iter().any(|a| a.contains(p)))
}

/// Length and width of the rectangle with the area and circumference of a polygon.
fn length_and_width(polygon: &Polygon) -> [f64; 2] {
    let around = |ring: &Ring| sides(ring).map(|[a, b]| distance(a, b)).sum::<f64>();
    let half = 0.5 * polygon.rings().map(around).sum::<f64>();
    let width = 0.5 * (half - (half * half - 4.0 * polygon.area()).max(0.0).sqrt());
    [half - width, width]
}

/// How often the border of a piece goes over into what is known.
fn ends(piece: &Marked) -> usize {
    let ends =
        |marks: &Vec<u32>| (0..marks.len()).filter(|&i| marks[i] == 0 && marks[(i + 1) % marks.len()] > 0).count();
    piece.marks.iter().map(ends).sum()
}
