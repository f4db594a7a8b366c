//! Slender strips that no leg runs along: what was not seen is told, not taken for a body in silence. In: the material, the legs
//! found, anchors and a width. Out: the strips up to that width. µm.
//!
//! This looks at the material and not at its walls, so that it does not miss what facing walls miss: what is gone when all borders
//! move in by half a width and out again, corners kept sharp (an opening in the sense of J. Serra, Image Analysis and Mathematical
//! Morphology, 1982), less the legs.

use super::chain::SLENDER;
use crate::boolean::{Grid, Region};
use crate::geometry::{Point, Polygon, Ring, bounds, distance};
use crate::outline::marked::{Marked, difference};

/// Rounding leaves slivers thinner than this, µm.
const SLIVER_UM: f64 = 0.001;
/// An anchor is looked for so far beyond a side, µm.
const BEYOND_UM: f64 = 0.02;

/// A strip that no leg runs along.
pub(super) struct Strip {
    /// A point in it.
    pub at: Point,
    /// One of its ends lies on an anchor, and it has no openings, as a lattice has.
    pub held: bool,
}

/// Every strip of `material` with a width between these two, slender, in no leg, and goes on at two ends at least, into wider
/// material, legs or anchors.
pub(super) fn strips(
    material: &[Polygon],
    anchors: &[Polygon],
    legs: &[Polygon],
    [thinnest, width]: [f64; 2],
) -> Vec<Strip> {
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
pub(super) fn length_and_width(polygon: &Polygon) -> [f64; 2] {
    let sides = |ring: &[Point]| (0..ring.len()).map(|i| distance(ring[i], ring[(i + 1) % ring.len()])).sum::<f64>();
    let half = 0.5 * polygon.rings().map(|r| sides(r)).sum::<f64>();
    let width = 0.5 * (half - (half * half - 4.0 * polygon.area()).max(0.0).sqrt());
    [half - width, width]
}

/// How often the border of a piece goes over into what is known.
fn ends(piece: &Marked) -> usize {
    let ends =
        |marks: &Vec<u32>| (0..marks.len()).filter(|&i| marks[i] == 0 && marks[(i + 1) % marks.len()] > 0).count();
    piece.marks.iter().map(ends).sum()
}
