//! How large the triangles should be where. In: the pieces of the outline, material on their left, and the wishes of
//! [`MeshSize`]. Out: a size for every point, µm.
//!
//! The local width of the material is found by casting a ray inward from the walls; the wall there asks for that width
//! times a constant. Corners where a slender part is rooted ask for less: the stress is singular there, and the order of
//! an element does not help against it (the error of ω² at a 270° corner falls as h^1.09 whatever the order), while
//! sizes that shrink in a geometric progression do (I. Babuška, B. Q. Guo, SIAM J. Numer. Anal. 25, 1988, 837–861). Away from
//! the walls the size grows with distance. Plain fingers of combs (`finger`) and straight
//! stretches of flexures (`stretch`) have long triangles of their own; fingers ask for twice their width at their roots.

mod count;
mod finger;
mod long;
mod mesh_size;
mod stretch;

pub use count::Count;
pub(crate) use count::TRIANGLE;
pub(crate) use finger::LongFinger;
pub(crate) use long::{LongParts, Parts};
pub use mesh_size::MeshSize;
pub(crate) use stretch::{LongStretch, Planned};

use crate::curve::Piece;
use crate::geometry::{Point, Polygon, cross, distance, dot};
use crate::locate::Locator;
use crate::walls::Walls;
use rstar::RTree;
use rstar::primitives::GeomWithData;
use std::collections::HashMap;
use std::f64::consts::{PI, TAU};

/// Edge length along a wall in units of the local width: a strip of nearly equilateral triangles.
const EDGE_PER_WIDTH: f64 = 1.15;
/// Largest turn of one edge along an arc; a quadratic edge is then 5e-5 of the radius off the circle.
const ARC_TURN: f64 = PI / 8.0;
/// The same on a hole much smaller than the material around it, where the circle matters less than the count.
const HOLE_TURN: f64 = PI / 4.0;
/// Edges across fewer facets than this follow every one.
const FACETS_AN_EDGE: f64 = 3.0;
/// Size at the root of a plain finger in units of its width: combs are no denser than leaves one edge between two of them.
const FINGER_ROOT: f64 = 2.0;
/// Turn to the right at which a corner counts as re-entrant.
const REENTRANT: f64 = PI / 12.0;

/// Walls as segments: arcs as chords.
fn segments(pieces: &[&Piece]) -> Vec<[Point; 2]> {
    let mut segments = Vec::new();
    for piece in pieces {
        let n = (piece.sweep().abs() / 0.2).ceil().max(1.0) as usize;
        segments.extend((0..n).map(|i| [piece.at(i as f64 / n as f64), piece.at((i + 1) as f64 / n as f64)]));
    }
    segments
}

/// Distance from a wall to the wall it faces along `direction`; `None` where the ray leaves at a slant.
fn width(walls: &Walls, from: Point, direction: Point) -> Option<f64> {
    walls.hit(from, direction).filter(|h| h.facing < -0.6).map(|h| h.along)
}

/// Places with the size they ask for.
type SizeTree = RTree<GeomWithData<[f64; 2], f64>>;

/// The size wanted at every point.
#[derive(Debug, Default)]
pub struct Sizing {
    /// Sizes no larger than this, µm.
    pub largest: f64,
    /// Growth with distance.
    growth: f64,
    /// Wishes of alike size together, smallest first: the smallest size, and the places.
    classes: Vec<(f64, SizeTree)>,
    /// Parts of long triangles, whose sizes these are not.
    long: Locator,
    /// Their triangles.
    in_long: usize,
}

/// Ratio between the smallest sizes of neighbouring classes.
const CLASS_RATIO: f64 = 1.2;

impl Sizing {
    /// From the rings of the outline, µm (pieces in order, closed, material on the left), the areas of known flexures with
    /// their widths, and what is meshed in long triangles of its own.
    pub fn new(rings: &[Vec<Piece>], flexures: &[(Polygon, f64)], long: &LongParts, size: &MeshSize) -> Self {
        let [largest, coarse] = size.largest(rings);
        let pieces: Vec<&Piece> = rings.iter().flatten().collect();
        let own: HashMap<[usize; 2], f64> = long.pieces().into_iter().map(|(piece, _, width)| (piece, width)).collect();
        let mut wishes: Vec<(Point, f64)> = Vec::new();
        if let Some(walls) = Walls::new(segments(&pieces)) {
            let per_width = EDGE_PER_WIDTH / f64::from(size.across_flexure.max(1));
            let numbered = rings.iter().enumerate().flat_map(|(r, ring)| (0..ring.len()).map(move |i| [r, i]));
            for [r, i] in numbered.filter(|number| !own.contains_key(number)) {
                along_piece(&rings[r][i], &walls, per_width, coarse, &mut wishes);
            }
            at_corners(rings, flexures, &own, &walls, size, &mut wishes);
        }
        let mut sizing = Self::from_wishes(wishes, largest, size.grading.max(0.05));
        sizing.long = long.locator();
        sizing.in_long = long.triangles();
        sizing
    }

    /// Keeps the wishes that are not met by a smaller one nearby.
    fn from_wishes(mut wishes: Vec<(Point, f64)>, largest: f64, growth: f64) -> Self {
        wishes.retain(|w| w.1 < largest);
        wishes.sort_by(|a, b| a.1.total_cmp(&b.1).then(a.0[0].total_cmp(&b.0[0])).then(a.0[1].total_cmp(&b.0[1])));
        let mut sizing = Self { largest, growth, ..Self::default() };
        for (p, h) in wishes {
            if sizing.at(p) <= 1.02 * h {
                continue;
            }
            match sizing.classes.last_mut() {
                Some((least, tree)) if h < *least * CLASS_RATIO => tree.insert(GeomWithData::new(p, h)),
                _ => sizing.classes.push((h, RTree::bulk_load(vec![GeomWithData::new(p, h)]))),
            }
        }
        sizing
    }

    /// Size wanted at a point, µm.
    pub fn at(&self, p: Point) -> f64 {
        let mut best = self.largest;
        for (least, tree) in &self.classes {
            if *least >= best {
                break;
            }
            if let Some(near) = tree.nearest_neighbor(&p) {
                best = best.min(near.data + self.growth * distance(p, *near.geom()));
            }
        }
        best
    }

    /// The shares at which to cut a piece so that its edges have the wanted size; `finer` divides the turn allowed on arcs.
    pub fn cuts(&self, piece: &Piece, finer: f64) -> Vec<f64> {
        let count = self.count_along(piece);
        let Some(radius) = radius(piece) else { return count.cuts(0.0, 1.0, 1.0) };
        let small = is_small_hole(piece) && self.at(piece.from) > 0.6 * radius;
        let turn = if small { HOLE_TURN } else { ARC_TURN };
        let corners = piece.corners();
        let facet = piece.sweep().abs() / (corners.len() - 1) as f64;
        if !small && FACETS_AN_EDGE * facet > ARC_TURN * (1.0 + 1e-9) {
            let inside = corners.windows(2).flat_map(|w| {
                let corner = (w[0].0 > 0.0).then_some(w[0].0);
                corner.into_iter().chain(count.cuts(w[0].0, w[1].0, 1.0))
            });
            return inside.collect();
        }
        let cuts = count.cuts(0.0, 1.0, (piece.sweep().abs() * finer / turn - 1e-9).ceil());
        let ends = |i: usize| (i.checked_sub(1).map_or(0.0, |i| cuts[i]), cuts.get(i + 1).copied().unwrap_or(1.0));
        (0..cuts.len()).map(|i| piece.to_corner(cuts[i], 0.5 * (ends(i).1 - ends(i).0))).collect()
    }

    /// Edges of the wanted size along a piece: the integral of 1/size.
    fn count_along(&self, piece: &Piece) -> CountAlong {
        let length = piece.length();
        let (mut t, mut counted) = (0.0, 0.0);
        let mut table = vec![(0.0, 0.0)];
        let mut size_here = self.at(piece.at(0.0));
        while t < 1.0 {
            let step = (0.2 * size_here / length).min(1.0 / 8.0).min(1.0 - t);
            let next = if 1.0 - t - step < 1e-9 { 1.0 } else { t + step };
            let size_next = self.at(piece.at(next));
            counted += (next - t) * length * 0.5 * (1.0 / size_here + 1.0 / size_next);
            (t, size_here) = (next, size_next);
            table.push((t, counted));
        }
        CountAlong(table)
    }
}

/// Shares of a piece with the number of edges of the wanted size before them, both rising.
struct CountAlong(Vec<(f64, f64)>);

impl CountAlong {
    /// Edges before a share.
    fn before(&self, t: f64) -> f64 {
        let k = self.0.partition_point(|row| row.0 <= t).clamp(1, self.0.len() - 1);
        let ((t0, c0), (t1, c1)) = (self.0[k - 1], self.0[k]);
        c0 + (c1 - c0) * (t - t0) / (t1 - t0)
    }

    /// Shares between two that cut what lies there into at least so many edges of the wanted size.
    fn cuts(&self, from: f64, to: f64, least: f64) -> Vec<f64> {
        let (first, last) = (self.before(from), self.before(to));
        let edges = (last - first - 0.02).ceil().max(least).min(1e7);
        let mut k = self.0.partition_point(|row| row.1 < first).saturating_sub(1);
        let mut cuts = Vec::with_capacity(edges as usize);
        for i in 1..edges as usize {
            let want = first + (last - first) * i as f64 / edges;
            while k + 2 < self.0.len() && self.0[k + 1].1 < want {
                k += 1;
            }
            let ((t0, c0), (t1, c1)) = (self.0[k], self.0[k + 1]);
            cuts.push(t0 + (t1 - t0) * (want - c0) / (c1 - c0));
        }
        cuts
    }
}

/// A full circle with the material outside.
fn is_small_hole(piece: &Piece) -> bool {
    piece.sweep() <= -TAU + 1e-9
}

/// Radius of an arc, µm.
fn radius(piece: &Piece) -> Option<f64> {
    piece.facets().map(|facets| facets.circle().1)
}

/// Wishes along a piece: the local width, the turn of an arc, the length of a short piece. Rays start no farther apart
/// than the width they find, or than `coarse`.
fn along_piece(piece: &Piece, walls: &Walls, per_width: f64, coarse: f64, wishes: &mut Vec<(Point, f64)>) {
    let length = piece.length();
    let mut narrowest = f64::INFINITY;
    let parts = (piece.sweep().abs() / ARC_TURN - 1e-9).ceil().max(1.0) as usize;
    let mut open: Vec<(f64, f64)> =
        (0..parts).rev().map(|i| (i as f64 / parts as f64, (i + 1) as f64 / parts as f64)).collect();
    while let Some((t0, t1)) = open.pop() {
        let t = 0.5 * (t0 + t1);
        let (p, normal) = (piece.at(t), piece.left(t));
        let width = width(walls, p, normal);
        if let Some(w) = width {
            narrowest = narrowest.min(w);
            wishes.push((p, w * per_width));
            wishes.push(([p[0] + w * normal[0], p[1] + w * normal[1]], w * per_width));
        }
        let step = (t1 - t0) * length;
        if step > 0.8 * width.unwrap_or(f64::INFINITY).min(coarse) && step > 1e-3 * length.min(coarse) {
            open.push((t, t1));
            open.push((t0, t));
        }
    }
    if let Some(radius) = radius(piece) {
        let small = is_small_hole(piece) && narrowest > 2.5 * radius;
        let turn = if small { HOLE_TURN } else { ARC_TURN };
        let n = (piece.sweep().abs() / turn).ceil() as usize;
        for i in 0..=n {
            wishes.push((piece.at(i as f64 / n as f64), turn * radius));
        }
    } else {
        for t in [0.0, 0.5, 1.0] {
            wishes.push((piece.at(t), length));
        }
    }
}

/// One side of a corner: the width of the material there and whether it is slender.
fn leg(piece: &Piece, from_start: bool, walls: &Walls) -> (f64, bool) {
    let length = piece.length();
    let cast = |s: f64| {
        let t = if from_start { s } else { 1.0 - s };
        width(walls, piece.at(t), piece.left(t)).unwrap_or(f64::INFINITY)
    };
    let width = [0.03, 0.1, 0.25, 0.5].map(cast).into_iter().fold(f64::INFINITY, f64::min);
    if !width.is_finite() || length < 2.0 * width {
        return (width, false);
    }
    let alike = [0.5, 1.0, 1.9].iter().filter(|k| cast(**k * width / length) < 1.3 * width).count();
    (width, alike >= 2)
}

/// Wishes at corners, and where held meets free.
fn at_corners(
    rings: &[Vec<Piece>],
    flexures: &[(Polygon, f64)],
    fingers: &HashMap<[usize; 2], f64>,
    walls: &Walls,
    size: &MeshSize,
    wishes: &mut Vec<(Point, f64)>,
) {
    let shrink = size.corner_ratio.clamp(1e-3, 1.0).powi(2);
    for (r, ring) in rings.iter().enumerate() {
        for (i, before) in ring.iter().enumerate() {
            let after = &ring[(i + 1) % ring.len()];
            if ring.len() < 2 {
                continue;
            }
            let (n0, n1) = (before.left(1.0), after.left(0.0));
            let turn = cross(n0, n1).atan2(dot(n0, n1));
            let clamped_end = before.held != after.held;
            if turn > -REENTRANT && !clamped_end {
                continue;
            }
            let (w0, slender0) = if before.held { (f64::INFINITY, false) } else { leg(before, false, walls) };
            let (w1, slender1) = if after.held { (f64::INFINITY, false) } else { leg(after, true, walls) };
            let narrow = w0.min(w1);
            let root = (slender0 && (slender1 || w0 < 0.5 * w1)) || (slender1 && (slender0 || w1 < 0.5 * w0));
            let known = flexures.iter().find(|(area, width)| {
                area.rings().any(|r| {
                    (0..r.len()).any(|k| {
                        let edge = Piece::straight(r[k], r[(k + 1) % r.len()], false);
                        distance(edge.at(edge.nearest(before.to)), before.to) < 0.6 * width
                    })
                })
            });
            if let Some((_, width)) = known {
                wishes.push((before.to, width.min(narrow) * shrink));
            } else if let Some(width) = fingers.get(&[r, i]).or_else(|| fingers.get(&[r, (i + 1) % ring.len()])) {
                // A finger's stress at its root matters to its own bending alone, and the bars tell what is left of it.
                wishes.push((before.to, FINGER_ROOT * width));
            } else if root {
                wishes.push((before.to, narrow * shrink));
            } else if narrow.is_finite() {
                wishes.push((before.to, 0.5 * narrow));
            }
        }
    }
}
