//! Straight stretches of flexures between two walls, away from their ends: meshed in a few long triangles of high order, whose length
//! grows with the distance from the ends. In: flexures, pieces of the outline, borders of masses, µm. Out: where stretches begin and
//! end, and which pieces are theirs once rings are cut there.

use super::finger::{ALIKE, NARROW, SAME_UM, WIDTHS_A_PART, along, clipped, has_inside, starts};
use super::mesh_size::MeshSize;
use crate::curve::Piece;
use crate::geometry::{Point, Polygon, Ring, bounds, cross, distance, dot, middle};
use crate::outline::Flexure;
use rstar::primitives::{GeomWithData, Line};
use rstar::{AABB, RTree};
use std::collections::HashSet;

/// How far from the ends of its walls a stretch begins, in widths: within that the stress still follows from how the flexure ends.
const OFF_ENDS: f64 = 1.5;
/// Shortest stretch, in widths.
const SHORTEST: f64 = 3.0;
/// Parts at the ends of a stretch, in widths of what is meshed.
const FIRST_PART: f64 = 2.0;
/// Shares of a leg of a middle line at which its walls are looked for.
const LOOKED_AT: [f64; 3] = [1.0 / 6.0, 0.5, 5.0 / 6.0];

/// A stretch, as it is meshed.
#[derive(Clone, Debug, PartialEq)]
pub struct LongStretch {
    /// Its corners, anticlockwise from the start of a wall: that wall, a line across, the other wall, a line across, µm.
    pub area: Polygon,
    /// Ring and number of the pieces along its walls.
    pub pieces: [[usize; 2]; 2],
    /// How its walls are cut.
    pub parts: Growing,
}

/// Parts that grow from both ends of a stretch.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Growing {
    /// Where it begins, µm.
    from: Point,
    /// Unit vector along it.
    along: Point,
    /// Its length, µm.
    length: f64,
    /// Its width, or half of it where a mirror axis halves it, µm.
    pub meshed_width: f64,
    /// Longest part, µm.
    longest: f64,
}

impl Growing {
    /// How many parts lie within a distance from an end: each is twice as long as the one before, up to the longest.
    fn count(&self, distance: f64) -> f64 {
        let first = FIRST_PART * self.meshed_width;
        let growing = distance.min((self.longest - first).max(0.0));
        (1.0 + growing / first).log2() + (distance - growing) / (first + growing)
    }

    /// The distance from an end within which so many parts lie.
    fn reached(&self, count: f64) -> f64 {
        let first = FIRST_PART * self.meshed_width;
        let grown = (self.longest - first).max(0.0);
        let growing = (1.0 + grown / first).log2();
        if count <= growing { first * (count.exp2() - 1.0) } else { grown + (count - growing) * (first + grown) }
    }

    /// Shares at which to cut a straight piece along the stretch: parts grow from those of its ends that are ends of the stretch.
    pub fn shares(&self, piece: &Piece) -> Vec<f64> {
        let at = |p: Point| dot([p[0] - self.from[0], p[1] - self.from[1]], self.along);
        let is_end = |p: Point| at(p).min(self.length - at(p)).abs() < 0.1 * self.meshed_width;
        let length = piece.length();
        let cut = |length: f64| -> Vec<f64> {
            let all = self.count(length);
            let parts = (all - 0.02).ceil().max(1.0);
            (1..parts as usize).map(|i| self.reached(all * i as f64 / parts) / length).collect()
        };
        match [is_end(piece.from), is_end(piece.to)] {
            [true, true] => {
                let all = 2.0 * self.count(0.5 * length);
                let parts = (all - 0.02).ceil().max(1.0);
                let share = |i: usize| {
                    let count = all * i as f64 / parts;
                    let near = self.reached(count.min(all - count)) / length;
                    if count <= 0.5 * all { near } else { 1.0 - near }
                };
                (1..parts as usize).map(share).collect()
            }
            [_, true] => cut(length).into_iter().rev().map(|t| 1.0 - t).collect(),
            _ => cut(length),
        }
    }

    /// Parts of a whole wall.
    fn parts(&self) -> usize {
        (2.0 * self.count(0.5 * self.length) - 0.02).ceil().max(1.0) as usize
    }
}

/// A stretch before the rings are cut at its corners.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Planned {
    /// Its corners as those of [`LongStretch::area`], µm.
    pub corners: [Point; 4],
    longest: f64,
    meshed_width: f64,
}

impl Planned {
    /// The stretches of flexures without openings, on rings in a frame that `enter` leads to; `axes` are the directions of mirror axes
    /// through its origin, `kept` the points at which walls are to be cut anyway. Where more than one element across slender parts is
    /// asked for, none.
    pub fn all(
        flexures: &[Flexure],
        enter: impl Fn(Point) -> Point,
        rings: &[Vec<Piece>],
        (masses, kept): (&[Ring], &[Point]),
        axes: &[Point],
        size: &MeshSize,
    ) -> Vec<Self> {
        if size.across_flexure > 1 || flexures.is_empty() {
            return Vec::new();
        }
        let [largest, _] = size.largest(rings);
        let pieces: Vec<&Piece> = rings.iter().flatten().collect();
        let straight = pieces.iter().enumerate().filter(|(_, p)| p.is_straight() && !p.held);
        let lines = straight.map(|(i, p)| GeomWithData::new(Line::new(p.from, p.to), i)).collect();
        let lines = RTree::bulk_load(lines);
        let points = RTree::bulk_load(pieces.iter().flat_map(|p| along(p)).chain(kept.iter().copied()).collect());
        let wall_at = |p: Point, near: f64| {
            let around = AABB::from_corners([p[0] - near, p[1] - near], [p[0] + near, p[1] + near]);
            let found = lines.locate_in_envelope_intersecting(&around).map(|found| {
                let piece = pieces[found.data];
                (distance(piece.at(piece.nearest(p)), p), found.data)
            });
            found.filter(|(d, _)| *d <= near).min_by(|a, b| a.0.total_cmp(&b.0)).map(|(_, i)| i)
        };
        let mut seen = HashSet::new();
        let mut planned = Vec::new();
        for flexure in flexures.iter().filter(|f| !f.is_perforated()) {
            let line: Vec<Point> = flexure.centre_line.iter().map(|&p| enter(p)).collect();
            for (ends, widths) in line.windows(2).zip(flexure.widths_um.windows(2)) {
                let leg = Piece::straight(ends[0], ends[1], false);
                let width = 0.5 * (widths[0] + widths[1]);
                for t in LOOKED_AT {
                    let (at, left) = (leg.at(t), leg.left(t));
                    let beside = |side: f64| {
                        let p = [at[0] + side * width * left[0], at[1] + side * width * left[1]];
                        wall_at(p, ALIKE * width)
                    };
                    let (Some(right), Some(left)) = (beside(-0.5), beside(0.5)) else { continue };
                    if seen.insert([right.min(left), right.max(left)]) {
                        planned.extend(Self::between(pieces[right], pieces[left], axes, largest));
                    }
                }
            }
        }
        planned.retain(|p| p.is_plain(&points, masses));
        planned
    }

    /// Between two straight walls with the material on their left, that face each other.
    fn between(one: &Piece, other: &Piece, axes: &[Point], largest: f64) -> Option<Self> {
        let length = one.length();
        let (along, left) = ([0, 1].map(|k| (one.to[k] - one.from[k]) / length), one.left(0.0));
        let local = |p: Point| {
            let d = [p[0] - one.from[0], p[1] - one.from[1]];
            [dot(d, along), dot(d, left)]
        };
        let ([far, w0], [near, w1]) = (local(other.from), local(other.to));
        let width = 0.5 * (w0 + w1);
        let offset = OFF_ENDS * width;
        let (start, end) = (near.max(0.0) + offset, far.min(length) - offset);
        // Walls along one another, alike over the whole of the shorter one.
        let slope = (w0 - w1) / (far - near);
        if !(width > 0.0 && width <= NARROW * largest && end - start >= SHORTEST * width)
            || slope.is_nan()
            || slope.abs() * (end - start) > ALIKE * width
        {
            return None;
        }
        let across = |s: f64| {
            let p = one.at(s / length);
            [p, other.at(other.nearest(p))]
        };
        let ([a, d], [b, c]) = (across(start), across(end));
        let corners = [a, b, c, d];
        let mut meshed_width = width;
        for axis in axes {
            let sides = corners.map(|p| cross(*axis, p));
            let crossed = sides.iter().any(|s| *s > SAME_UM) && sides.iter().any(|s| *s < -SAME_UM);
            if !crossed {
                continue;
            }
            if cross(*axis, along).abs() * length < ALIKE * width {
                meshed_width = 0.5 * width;
            } else if dot(*axis, along).abs() * width > SAME_UM {
                return None;
            }
        }
        let longest = (WIDTHS_A_PART * meshed_width).min((largest * largest - width * width).sqrt());
        Some(Self { corners, longest, meshed_width })
    }

    /// Whether nothing lies within it or on its walls: no point of the outline, no cut, no border of a mass.
    fn is_plain(&self, points: &RTree<Point>, masses: &[Ring]) -> bool {
        let [a, b, c, d] = self.corners;
        let [low, high] = bounds(&self.corners).unwrap_or_default();
        let margin = ALIKE * distance(a, d);
        let around = AABB::from_corners([low[0] - margin, low[1] - margin], [high[0] + margin, high[1] + margin]);
        let on_wall = |p: Point| {
            [[a, b], [c, d]].iter().any(|[from, to]| {
                let wall = Piece::straight(*from, *to, false);
                distance(wall.at(wall.nearest(p)), p) <= SAME_UM
            })
        };
        let free = |p: &Point| !has_inside(&self.corners, *p) && !on_wall(*p);
        let (width, length) = (distance(a, d), distance(a, b));
        let (u, v) = ([0, 1].map(|k| (b[k] - a[k]) / length), [0, 1].map(|k| (d[k] - a[k]) / width));
        let local = |p: Point| {
            let d = [p[0] - a[0], p[1] - a[1]];
            [dot(d, u), dot(d, v)]
        };
        let crosses = |ring: &Ring| {
            (0..ring.len()).any(|i| {
                let (from, to) = (local(ring[i]), local(ring[(i + 1) % ring.len()]));
                clipped(from, to, [-margin, margin], [length + margin, width - margin]).is_some()
            })
        };
        points.locate_in_envelope(&around).all(free) && !masses.iter().any(crosses)
    }
}

impl LongStretch {
    /// The planned stretches on rings that were cut at their corners.
    pub fn find(planned: &[Planned], rings: &[Vec<Piece>]) -> Vec<Self> {
        if planned.is_empty() {
            return Vec::new();
        }
        let starts = starts(rings);
        let wall = |from: Point, to: Point| {
            let mut near = starts.locate_within_distance(from, SAME_UM * SAME_UM);
            near.find(|n| distance(rings[n.data[0]][n.data[1]].to, to) <= SAME_UM).map(|n| n.data)
        };
        let found = planned.iter().filter_map(|p| {
            let [a, b, c, d] = p.corners;
            let pieces = [wall(a, b)?, wall(c, d)?];
            let length = distance(a, b);
            let parts = Growing {
                from: middle(a, d),
                along: [0, 1].map(|k| (b[k] - a[k]) / length),
                length,
                meshed_width: p.meshed_width,
                longest: p.longest,
            };
            Some(Self { area: Polygon::solid(vec![a, b, c, d]), pieces, parts })
        });
        found.collect()
    }

    /// The lines across its ends, µm.
    pub fn across(&self) -> [[Point; 2]; 2] {
        let c = &self.area.outer;
        [[c[1], c[2]], [c[3], c[0]]]
    }

    /// Triangles that it is cut into, at least.
    pub fn triangles(&self) -> usize {
        2 * self.parts.parts()
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Both walls, and the halves of a stretch that an axis crosses, are cut at the same places; parts grow from the ends.
    #[test]
    fn parts_grow_from_the_ends() {
        let parts = Growing { from: [0.0, 0.0], along: [1.0, 0.0], length: 100.0, meshed_width: 2.0, longest: 16.0 };
        let shares = parts.shares(&Piece::straight([0.0, 1.0], [100.0, 1.0], false));
        let back = parts.shares(&Piece::straight([100.0, -1.0], [0.0, -1.0], false));
        assert!(shares.iter().zip(back.iter().rev()).all(|(a, b)| (a + b - 1.0).abs() < 1e-12));
        assert_eq!(shares.len() + 1, parts.parts());
        let ends: Vec<f64> = [0.0].into_iter().chain(shares).chain([1.0]).map(|t| 100.0 * t).collect();
        let lengths: Vec<f64> = ends.windows(2).map(|w| w[1] - w[0]).collect();
        assert!(lengths[0] < 5.0 && lengths.iter().all(|l| *l > 2.0 && *l < 16.5), "{lengths:?}");
        let half = parts.shares(&Piece::straight([0.0, 1.0], [50.0, 1.0], false));
        let other = parts.shares(&Piece::straight([50.0, -1.0], [100.0, -1.0], false));
        assert!(half.len() >= 2 && half.len() == other.len());
        assert!(half.iter().zip(other.iter().rev()).all(|(a, b)| (a + b - 1.0).abs() < 1e-12));
    }
}
