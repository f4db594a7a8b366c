//! Openings inside a flexure: no section describes it then, however slender its outer walls are. In: its area, the parts of the
//! outline. Out: the narrowest material beside such an opening, µm.

use crate::boolean::intersection;
use crate::geometry::{Point, Polygon, bounds};
use crate::outline::thin::apart;

/// An opening beside the flexure shares its walls, and one ahead of it may touch a root line: of an opening in it at least this share of
/// the smaller of both areas lies in both.
const INSIDE: f64 = 1e-3;

/// The narrowest material between an opening that lies in a flexure, whole or in part, and any other border of the part; none where
/// the flexure has no opening.
pub(super) fn ligament_um<'a>(area: &Polygon, parts: impl Iterator<Item = &'a Polygon>) -> Option<f64> {
    let strip = Polygon::solid(area.outer.clone());
    let [low, high] = bounds(&strip.outer)?;
    let mut narrowest: Option<f64> = None;
    for part in parts {
        for (number, hole) in part.holes.iter().enumerate() {
            let Some([a, b]) = bounds(hole) else { continue };
            if (0..2).any(|k| a[k] >= high[k] || b[k] <= low[k]) {
                continue;
            }
            // Rings of openings run clockwise.
            let opening = Polygon::solid(hole.iter().rev().copied().collect());
            let inside: f64 = intersection(std::slice::from_ref(&opening), std::slice::from_ref(&strip))
                .iter()
                .map(Polygon::area)
                .sum();
            if inside <= INSIDE * opening.area().min(strip.area()) {
                continue;
            }
            let others = part.holes.iter().enumerate().filter(|(n, _)| *n != number).map(|(_, ring)| ring);
            let beside = std::iter::once(&part.outer).chain(others);
            let own = closed(hole);
            let found = beside.map(|ring| apart(&own, &closed(ring)).0).fold(f64::INFINITY, f64::min);
            narrowest = Some(narrowest.map_or(found, |n| n.min(found)));
        }
    }
    narrowest
}

/// A ring as a line that ends where it begins.
fn closed(ring: &[Point]) -> Vec<Point> {
    ring.iter().chain(ring.first()).copied().collect()
}
