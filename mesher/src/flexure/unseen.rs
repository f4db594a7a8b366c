//! Slender strips that no leg runs along: what was not seen is told, not taken for a body in silence. In: the material, the legs
//! found, anchors and a width. Out: a point in every strip up to that width. µm.
//!
//! This looks at the material and not at its walls, so that it does not miss what facing walls miss: what a disc as wide as the
//! flexures does not reach (an opening in the sense of J. Serra, Image Analysis and Mathematical Morphology, 1982), less the legs.

use super::{SLENDER, some_inside};
use crate::boolean::{Grid, Region};
use crate::geometry::{Point, Polygon, bounds};
use crate::outline::marked::{Marked, difference};
use crate::outline::thin::distance;

/// Rounding leaves slivers thinner than this, µm.
const SLIVER_UM: f64 = 0.001;

/// A point in every strip of `material` that is no wider than `width`, slender, in no leg, and goes on at two ends at least, into
/// wider material, legs or anchors.
pub(super) fn strips(material: &[Polygon], anchors: &[Polygon], legs: &[Polygon], width: f64) -> Vec<Point> {
    let everything = || material.iter().chain(anchors);
    let grid = Grid::around(bounds(everything().flat_map(|p| &p.outer)), 2.0 * width);
    let whole = Region::of(grid, everything());
    let Some(wide) = whole.opened(0.5 * width, SLIVER_UM) else { return Vec::new() };
    let known = wide.union(&Region::of(grid, legs.iter().chain(anchors)));
    let pieces = difference(&whole, &known, |_| 1);
    pieces.iter().filter(|p| is_strip(p)).filter_map(|p| some_inside(&p.polygon)).collect()
}

fn is_strip(piece: &Marked) -> bool {
    let sides = |ring: &[Point]| (0..ring.len()).map(|i| distance(ring[i], ring[(i + 1) % ring.len()])).sum::<f64>();
    let half = 0.5 * piece.polygon.rings().map(|r| sides(r)).sum::<f64>();
    let area = piece.polygon.area();
    // Length and width of the rectangle with this area and circumference.
    let width = 0.5 * (half - (half * half - 4.0 * area).max(0.0).sqrt());
    let ends =
        |marks: &Vec<u32>| (0..marks.len()).filter(|&i| marks[i] == 0 && marks[(i + 1) % marks.len()] > 0).count();
    width > 2.0 * SLIVER_UM && half - width >= SLENDER * width && piece.marks.iter().map(ends).sum::<usize>() >= 2
}
