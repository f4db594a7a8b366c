//! The parts of an outline without chosen flexures, fingers and small holes, for models that put something else in their
//! place. In: the outline with its flexures and fingers. Out: parts whose borders hold the root lines, corner for corner. µm.

use super::cut::{self, Border, Face, Loop, Place, Side};
use super::{Joins, Outline, Part};
use crate::boolean::by_start;
use crate::geometry::{Point, Polygon, Ring, bounds, closest, distance};
use rstar::primitives::GeomWithData;
use rstar::{AABB, RTree};

/// An end of a root line lies this close to its border, µm: rounding of one foot of a perpendicular.
const ON_BORDER_UM: f64 = 1e-6;

/// What is left of the parts.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Bodies {
    /// Connected pieces with marks of what is held, in the order and orientation of [`Outline::parts`]. Every root line of a
    /// flexure that was taken out, unless it lies on an anchor, is a segment of exactly one of them, with the same
    /// coordinates bit for bit.
    pub parts: Vec<Part>,
    /// Holes that were filled: their mass is to be taken off.
    pub filled_holes: Vec<Polygon>,
}

impl Outline {
    /// The parts without some flexures (by number), without fingers, and with all openings filled whose largest extent,
    /// corner to corner, is below `holes_below_um`; an opening with a held border stays. Area is neither lost nor doubled:
    /// parts, flexures taken out and fingers together, less the filled holes, are the outline's parts. Holes inside flexures
    /// stay in their [`super::Flexure::area`]. Numbers beyond the list are passed over.
    pub fn bodies(&self, flexures: &[usize], without_fingers: bool, holes_below_um: Option<f64>) -> Bodies {
        let borders = cut::borders(&self.parts);
        let taken: Vec<&super::Flexure> = flexures.iter().filter_map(|f| self.flexures.get(*f)).collect();
        let ends = taken.iter().flat_map(|f| &f.ends).filter(|e| e.joins != Joins::Anchor).map(|e| e.root);
        let fingers = self.fingers.iter().filter(|_| without_fingers).map(|f| f.root);
        let chords = placed(&borders, &ends.chain(fingers).collect::<Vec<_>>());
        let whole: Vec<usize> = taken
            .iter()
            .filter(|f| f.ends.iter().all(|e| e.joins == Joins::Anchor))
            .filter_map(|f| self.parts.iter().position(|p| p.polygon.outer.iter().any(|c| f.area.outer.contains(c))))
            .collect();
        let filled = |l: &Loop| match (l.sides.first(), holes_below_um) {
            (Some(Side::Wall { ring, .. }), Some(limit)) => {
                let border = &borders[*ring];
                let own = |s: &Side| matches!(s, Side::Wall { ring: r, .. } if r == ring);
                border.number > 0
                    && l.sides.iter().all(own)
                    && !border.held.contains(&true)
                    && below(border.points, limit)
            }
            _ => false,
        };
        let mut bodies = Bodies::default();
        for face in cut::faces(&borders, |_| true, &chords) {
            if whole.contains(&face.part) || face.chords().any(|(_, forward)| forward) {
                continue;
            }
            let Face { outer, holes, .. } = face;
            let (small, holes): (Vec<Loop>, Vec<Loop>) = holes.into_iter().partition(filled);
            bodies.filled_holes.extend(small.into_iter().map(|l| Polygon::solid(l.points.into_iter().rev().collect())));
            bodies.parts.push(part(&borders, outer, holes));
        }
        bodies.parts.sort_by(|a, b| by_start(&a.polygon.outer, &b.polygon.outer));
        bodies
    }
}

/// A part with rings that start at their lowest, then leftmost corner.
fn part(borders: &[Border], outer: Loop, holes: Vec<Loop>) -> Part {
    let mut rings: Vec<(Ring, Vec<bool>)> = std::iter::once(outer)
        .chain(holes)
        .map(|l| {
            let (mut points, sides) = (l.points, l.sides);
            let held = |s: &Side| matches!(s, Side::Wall { ring, segment } if borders[*ring].held[*segment]);
            let mut held: Vec<bool> = sides.iter().map(held).collect();
            let start = lowest(&points);
            points.rotate_left(start);
            held.rotate_left(start);
            (points, held)
        })
        .collect();
    rings[1..].sort_by(|a, b| by_start(&a.0, &b.0));
    let (mut rings, held): (Vec<Ring>, Vec<Vec<bool>>) = rings.into_iter().unzip();
    let holes = rings.split_off(1);
    Part { polygon: Polygon { outer: rings.pop().unwrap_or_default(), holes }, held }
}

/// Heights that differ by less are one height, µm: an edge bias leaves the two ends of a level edge a few grid steps apart, and
/// what is counted first must not hang on that.
pub(crate) const LEVEL_UM: f64 = 1e-4;

/// The lowest, then leftmost point.
pub(crate) fn lowest(ring: &[Point]) -> usize {
    let floor = ring.iter().map(|p| p[1]).fold(f64::INFINITY, f64::min) + LEVEL_UM;
    let low = (0..ring.len()).filter(|&i| ring[i][1] <= floor);
    low.min_by(|&i, &j| ring[i][0].total_cmp(&ring[j][0]).then(ring[i][1].total_cmp(&ring[j][1]))).unwrap_or(0)
}

/// Whether no two corners are `limit` or more apart.
fn below(ring: &[Point], limit: f64) -> bool {
    let [a, b] = bounds(ring).unwrap_or_default();
    if (b[0] - a[0]).max(b[1] - a[1]) >= limit {
        return false;
    }
    distance(a, b) < limit || !ring.iter().enumerate().any(|(i, p)| ring[..i].iter().any(|q| distance(*p, *q) >= limit))
}

/// Where the ends of root lines lie on the borders; a line whose ends lie on none is left out.
fn placed(borders: &[Border], roots: &[[Point; 2]]) -> Vec<[Place; 2]> {
    if roots.is_empty() {
        return Vec::new();
    }
    let points = roots.iter().flatten().enumerate().map(|(k, p)| GeomWithData::new(*p, k)).collect();
    let tree: RTree<GeomWithData<Point, usize>> = RTree::bulk_load(points);
    let mut found: Vec<Option<(f64, Place)>> = vec![None; 2 * roots.len()];
    for (ring, border) in borders.iter().enumerate() {
        for (segment, &a) in border.points.iter().enumerate() {
            let b = border.points[(segment + 1) % border.points.len()];
            let low = [0, 1].map(|k| a[k].min(b[k]) - ON_BORDER_UM);
            let high = [0, 1].map(|k| a[k].max(b[k]) + ON_BORDER_UM);
            for near in tree.locate_in_envelope(&AABB::from_corners(low, high)) {
                let at = *near.geom();
                let off = distance(closest(at, a, b), at);
                // The end of a segment is the start of the next.
                if off <= ON_BORDER_UM && at != b && found[near.data].is_none_or(|f| off < f.0) {
                    found[near.data] = Some((off, Place { ring, segment, at }));
                }
            }
        }
    }
    found.chunks(2).filter_map(|ends| Some([ends[0]?.1, ends[1]?.1])).collect()
}
