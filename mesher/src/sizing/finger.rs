//! Plain fingers: straight, of one width, with four corners, such as combs have by the hundred. They are meshed in a few long
//! triangles of high order, which bend as well as many short ones; what their ends need has no place in the sizes of the body.
//! In: pieces of the outline, root lines, borders of masses, µm. Out: which pieces are theirs, and into how many parts their walls
//! are cut.

use super::mesh_size::MeshSize;
use crate::curve::Piece;
use crate::geometry::{Point, Polygon, Ring, bounds, cross, distance, dot, middle};
use crate::outline::{Finger, Outline};
use rstar::primitives::GeomWithData;
use rstar::{AABB, RTree};
use std::collections::HashSet;

/// Longest part of a wall in widths of the finger.
pub(super) const WIDTHS_A_PART: f64 = 8.0;
/// Share of the largest size up to which a finger's width is small.
pub(super) const NARROW: f64 = 0.5;
/// Corners nearer than this are one, µm.
pub(super) const SAME_UM: f64 = 2e-5;
/// Sides that should be alike or square differ by no more than this share of the width.
pub(super) const ALIKE: f64 = 0.05;
/// Points looked at on an arc.
const STEPS_OF_ARC: u32 = 24;
/// A border of a mass that crosses a finger square does so to this share of the width.
const SQUARE: f64 = 0.2;

/// A plain finger, as it is meshed.
#[derive(Clone, Debug, PartialEq)]
pub struct LongFinger {
    /// Its root line, the finger on the left, µm.
    pub root: [Point; 2],
    /// Its corners, from those of the root line anticlockwise, µm.
    pub area: Polygon,
    /// Ring and number of the piece along its first wall, its tip and its second wall.
    pub pieces: [[usize; 2]; 3],
    /// A line across it one width from the root, from the second wall to the first, µm: triangles at the root are as long as wide.
    pub across: [Point; 2],
    /// Its width, or half of it where a mirror axis halves it, µm.
    pub meshed_width: f64,
    /// Parts that each wall is cut into from there on.
    pub parts: usize,
}

impl LongFinger {
    /// Ends of the root lines of fingers that are no corners of the outline, µm: rings are to be cut there.
    pub fn ends_of_roots(outline: &Outline) -> Vec<Point> {
        let corners: HashSet<[u64; 2]> =
            outline.parts.iter().flat_map(|p| p.polygon.rings().flatten()).map(|p| p.map(f64::to_bits)).collect();
        outline.fingers.iter().flat_map(|f| f.root).filter(|p| !corners.contains(&p.map(f64::to_bits))).collect()
    }

    /// The fingers that are plain and narrow, on rings in a frame that `enter` leads to and whose pieces end at the root lines;
    /// `axes` are the directions of mirror axes through its origin. Where more than one element across slender parts is asked for, none.
    pub fn find(
        fingers: &[Finger],
        enter: impl Fn(Point) -> Point,
        rings: &[Vec<Piece>],
        masses: &[Ring],
        axes: &[Point],
        size: &MeshSize,
    ) -> Vec<Self> {
        if size.across_flexure > 1 || fingers.is_empty() {
            return Vec::new();
        }
        let [largest, _] = size.largest(rings);
        let starts = starts(rings);
        let walls = RTree::bulk_load(rings.iter().flatten().flat_map(along).collect());
        let found = fingers.iter().filter_map(|finger| {
            let root = finger.root.map(&enter);
            let first = starts.nearest_neighbor(&root[1]).filter(|n| distance(*n.geom(), root[1]) <= SAME_UM)?;
            let finger = Self::plain(root, rings, first.data, axes, largest)?;
            // Where a wall or an anchor runs along a part of the root line, it is none that triangles could have as an edge.
            let [a, b] = finger.root;
            let (line, middle) = (Piece::straight(a, b, false), middle(a, b));
            let width = line.length();
            let on_line = |p: Point| {
                distance(line.at(line.nearest(p)), p) < ALIKE * width && distance(p, a).min(distance(p, b)) > SAME_UM
            };
            let mut near = starts.locate_within_distance(middle, 0.3 * width * width);
            (!near.any(|corner| on_line(*corner.geom()))).then_some(finger)
        });
        let empty = |finger: &Self| {
            let [low, high] = bounds(&finger.area.outer).unwrap_or_default();
            !walls.locate_in_envelope(&AABB::from_corners(low, high)).any(|wall| has_inside(&finger.area.outer, *wall))
        };
        found.filter(|f| empty(f) && masses.iter().all(|ring| f.crossed_square(ring))).collect()
    }

    fn plain(
        root: [Point; 2],
        rings: &[Vec<Piece>],
        [r, first]: [usize; 2],
        axes: &[Point],
        largest: f64,
    ) -> Option<Self> {
        let ring = &rings[r];
        let numbers = [0, 1, 2].map(|k| (first + k) % ring.len());
        let [out, tip, back] = numbers.map(|i| &ring[i]);
        let straight = [out, tip, back].iter().all(|p| p.is_straight() && !p.held);
        if ring.len() < 5 || !straight || distance(back.to, root[0]) > SAME_UM {
            return None;
        }
        let (width, length) = (distance(out.from, back.to), out.length());
        let along = out.left(0.0);
        let off = |a: Point, b: Point| ((b[0] - a[0]) * along[0] + (b[1] - a[1]) * along[1]).abs();
        // Walls along one another, tip and root square to them.
        let alike = (off(back.to, back.from) <= ALIKE * width)
            && (tip.length() - width).abs() <= ALIKE * width
            && (off(out.from, back.to) - width).abs() <= ALIKE * width
            && (back.length() - length).abs() <= ALIKE * width;
        if !alike || width > NARROW * largest {
            return None;
        }
        let beside = |u: &Point, p: Point| cross(*u, p);
        let halved = axes.iter().any(|u| beside(u, out.from) * beside(u, back.to) < 0.0);
        let meshed_width = if halved { 0.5 * width } else { width };
        let part = (WIDTHS_A_PART * meshed_width).min((largest * largest - width * width).sqrt());
        Some(Self {
            root: [back.to, out.from],
            area: Polygon::solid(vec![back.to, out.from, out.to, back.from]),
            pieces: numbers.map(|i| [r, i]),
            across: [back.at(1.0 - width / back.length()), out.at(width / length)],
            meshed_width,
            parts: ((length - width) / part).ceil().max(1.0) as usize,
        })
    }

    /// Length of one part of a wall, µm, a little more than it is.
    pub fn part_um(&self) -> f64 {
        distance(self.across[1], self.area.outer[2]) / (self.parts as f64 - 0.01)
    }

    /// Triangles that it is cut into.
    pub fn triangles(&self) -> usize {
        2 * (self.parts + 1)
    }

    /// Whether a border stays out of the finger's inside or crosses it square from wall to wall.
    fn crossed_square(&self, ring: &Ring) -> bool {
        let [a, b, c, _] = self.area.outer[..] else { return false };
        let (width, length) = (distance(a, b), distance(b, c));
        let (u, v) = (unit(a, b, width), unit(b, c, length));
        let local = |p: Point| {
            let d = [p[0] - a[0], p[1] - a[1]];
            [dot(d, u), dot(d, v)]
        };
        let margin = ALIKE * width;
        (0..ring.len()).all(|i| {
            let (from, to) = (local(ring[i]), local(ring[(i + 1) % ring.len()]));
            match clipped(from, to, [margin, margin], [width - margin, length - margin]) {
                None => true,
                Some([p, q]) => (p[0] - q[0]).abs() > 0.85 * width && (p[1] - q[1]).abs() <= SQUARE * width,
            }
        })
    }
}

/// Whether a point lies inside a convex ring that runs anticlockwise, and not on its sides.
pub(super) fn has_inside(corners: &[Point], p: Point) -> bool {
    let left = |i: usize| {
        let (a, b) = (corners[i], corners[(i + 1) % corners.len()]);
        ((b[0] - a[0]) * (p[1] - a[1]) - (b[1] - a[1]) * (p[0] - a[0])) / distance(a, b)
    };
    (0..corners.len()).all(|i| left(i) > SAME_UM)
}

/// Where every piece starts, with its ring and number.
pub(super) fn starts(rings: &[Vec<Piece>]) -> RTree<GeomWithData<Point, [usize; 2]>> {
    let of_ring = |(r, ring): (usize, &Vec<Piece>)| {
        let all = ring.iter().enumerate().map(|(i, piece)| GeomWithData::new(piece.from, [r, i]));
        all.collect::<Vec<_>>()
    };
    RTree::bulk_load(rings.iter().enumerate().flat_map(of_ring).collect())
}

/// The start of a piece, and points along it where it is an arc.
pub(super) fn along(piece: &Piece) -> impl Iterator<Item = Point> + '_ {
    let steps = if piece.is_straight() { 1 } else { STEPS_OF_ARC };
    (0..steps).map(move |i| piece.at(f64::from(i) / f64::from(steps)))
}

fn unit(a: Point, b: Point, length: f64) -> Point {
    [(b[0] - a[0]) / length, (b[1] - a[1]) / length]
}

/// The part of a segment inside a box (Y.-D. Liang, B. A. Barsky, ACM Trans. Graphics 3, 1984, 1–22).
pub(super) fn clipped(from: Point, to: Point, low: Point, high: Point) -> Option<[Point; 2]> {
    let (mut enters, mut leaves) = (0.0_f64, 1.0_f64);
    for k in 0..2 {
        let d = to[k] - from[k];
        let [mut near, mut far] = [(low[k] - from[k]) / d, (high[k] - from[k]) / d];
        if d == 0.0 {
            if from[k] <= low[k] || from[k] >= high[k] {
                return None;
            }
            continue;
        }
        if near > far {
            std::mem::swap(&mut near, &mut far);
        }
        (enters, leaves) = (enters.max(near), leaves.min(far));
    }
    let at = |t: f64| [0, 1].map(|k| from[k] + t * (to[k] - from[k]));
    (enters < leaves).then(|| [at(enters), at(leaves)])
}
