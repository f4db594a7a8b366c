//! Flexure candidates: in comes an outline, out come the slender pieces that join wider material or anchors, with area,
//! middle line, clear length and narrowest width, µm.
//!
//! Method: material that vanishes when the outline is shrunk and grown back by half a width is thinner than that width.
//! The width runs from fine to coarse; a piece that has two ends on wider material or anchors and is at least three
//! widths long is a candidate at the first width that shows it. A branching piece of one width (beams on a truss no wider
//! than they are) is split into its straight strips. Small compact openings are release holes and are filled first, so
//! that the webs between them do not count.
//!
//! Limits: no curved strips from branching pieces; a flexure wider than an eighth of the device is taken for a body.

mod strip;

use crate::boolean::{Grid, Join, Region};
use crate::geometry::{Point, Polygon, Ring, bounds};
use crate::layout::inside;
use crate::outline::marked::{self, Marked};
use crate::outline::thin::{apart, distance, walls};
use crate::outline::{Flexure, Outline, Part};

/// A flexure is at least so many widths long.
pub const SLENDER: f64 = 3.0;

/// Openings smaller than this share of their part, corner to corner, are release holes if they are compact.
const RELEASE_HOLE: f64 = 0.08;

/// From one width tried to the next.
const WIDTH_RATIO: f64 = 1.25;

/// The finest and coarsest width tried, as shares of the device's diagonal.
const WIDTHS: [f64; 2] = [2.5e-4, 0.125];

/// Wider material is grown by this so that rounding leaves no slivers, µm.
const SLIVER_UM: f64 = 0.001;

/// Marks of segments: a free wall, an anchor, the border of wider material.
const WALL: u32 = 0;
const HELD: u32 = 1;
const WIDER: u32 = 2;

/// Flexure candidates, numbered from the lower left: by the lowest, then leftmost corner.
pub fn candidates(outline: &Outline) -> Vec<Flexure> {
    let corners = outline.parts.iter().flat_map(|p| p.polygon.outer.iter());
    let Some([a, b]) = bounds(corners) else { return Vec::new() };
    let size = distance(a, b);
    let all = outline.parts.iter().map(|p| &p.polygon).chain(&outline.anchors);
    let grid = Grid::around(bounds(all.flat_map(|p| p.outer.iter())), size * WIDTHS[1] * 4.0);
    let rings: Vec<(&Ring, Vec<u32>)> = outline.parts.iter().flat_map(kept_rings).collect();
    let free = Region::of(grid, &rings_to_polygons(&rings));
    let material = free.union(&Region::of(grid, &outline.anchors));
    let mut found: Vec<Flexure> = Vec::new();
    let mut width = size * WIDTHS[0];
    while width < size * WIDTHS[1] {
        let half = 0.5 * width;
        let wider = material.grown(-half, Join::Mitre).grown(half + SLIVER_UM, Join::Mitre);
        for piece in marked::rest(rings.iter().map(|(r, m)| (*r, m.as_slice())), &wider, WIDER) {
            let known = |f: &Flexure| {
                let middle = f.centre_line[f.centre_line.len() / 2];
                let before = f.centre_line[(f.centre_line.len() - 1) / 2];
                within(&piece.polygon, [0.5 * (middle[0] + before[0]), 0.5 * (middle[1] + before[1])])
            };
            if piece.polygon.area() > 0.5 * SLENDER * width * width / WIDTH_RATIO.powi(2) && !found.iter().any(known) {
                found.extend(flexures_of(&piece, width));
            }
        }
        width *= WIDTH_RATIO;
    }
    found.sort_by(|a, b| crate::boolean::by_start(&a.area.outer, &b.area.outer));
    found
}

/// The rings of a part without its release holes, with the marks of their segments.
fn kept_rings(part: &Part) -> Vec<(&Ring, Vec<u32>)> {
    let size = bounds(&part.polygon.outer).map_or(0.0, |[a, b]| distance(a, b));
    let release_hole = |ring: &Ring, held: &[bool]| {
        let [a, b] = bounds(ring).unwrap_or_default();
        let (w, h) = (b[0] - a[0], b[1] - a[1]);
        let filled = crate::geometry::ring_area(ring).abs() / (w * h);
        !held.iter().any(|h| *h) && w.hypot(h) < RELEASE_HOLE * size && w.max(h) < 3.0 * w.min(h) && filled > 0.4
    };
    let rings = part.polygon.rings().zip(&part.held).enumerate();
    rings
        .filter(|(k, (ring, held))| *k == 0 || !release_hole(ring, held))
        .map(|(_, (ring, held))| (ring, held.iter().map(|h| if *h { HELD } else { WALL }).collect()))
        .collect()
}

fn rings_to_polygons(rings: &[(&Ring, Vec<u32>)]) -> Vec<Polygon> {
    let mut out: Vec<Polygon> = Vec::new();
    for (ring, _) in rings {
        if crate::geometry::ring_area(ring) > 0.0 {
            out.push(Polygon::solid((*ring).clone()));
        } else if let Some(last) = out.last_mut() {
            last.holes.push((*ring).clone());
        }
    }
    out
}

fn within(polygon: &Polygon, p: Point) -> bool {
    inside(&polygon.outer, p) && !polygon.holes.iter().any(|h| inside(h, p))
}

/// A piece between two ends is one flexure if it is slender; a branching piece is split into strips.
fn flexures_of(piece: &Marked, width: f64) -> Vec<Flexure> {
    let sides = walls(piece, |m| m == WALL);
    let closed = |w: &Vec<Point>| w.first() == w.last();
    match sides.as_slice() {
        [] | [_] => Vec::new(),
        [a, b] if !closed(a) && !closed(b) => {
            let (width_um, _) = apart(a, b);
            let centre_line = strip::middle(a, b, width_um.max(0.1 * width));
            let length_um = strip::length(&centre_line);
            if width_um > 0.0 && length_um >= SLENDER * width_um {
                vec![Flexure { area: piece.polygon.clone(), centre_line, length_um, width_um }]
            } else {
                Vec::new()
            }
        }
        many => strip::strips(&piece.polygon, many, width, SLENDER),
    }
}

#[cfg(test)]
mod tests;
