//! Union, difference, intersection and offset of polygons: in come polygons in µm, out come canonical polygons in µm.
//!
//! The work is done by `i_overlay` on an integer grid of our choice: 0.01 nm where the drawing fits (up to about 10 mm
//! across), coarser by powers of ten beyond. The grid is centred on the drawing and rounding is symmetric about its
//! centre, so that symmetric drawings stay symmetric. Canonical means: outer rings anticlockwise, holes clockwise, no
//! corner on the straight line between its neighbours, every ring starts at its lowest (then leftmost) corner, polygons
//! are sorted by that corner. The same polygons in any order give the same bytes.

mod grid;
mod offset;

pub(crate) use grid::{Grid, Node, NodeRing, rings_on};

use crate::geometry::{Polygon, Ring, bounds, cross, dot, ring_area};
use grid::twice_area;
use i_overlay::core::fill_rule::FillRule;
use i_overlay::core::overlay::{IntOverlayOptions, Overlay, ShapeType};
use i_overlay::core::overlay_rule::OverlayRule;
use i_overlay::mesh::int::arc::ArcOptions;
use i_overlay::mesh::int::outline::offset::IntOutlineOffset;
use i_overlay::mesh::int::style::{IntLineJoin, IntOutlineStyle};
use i_overlay::mesh::math::MathMode;
use offset::angle;

/// How the corner of a grown region is drawn.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum Join {
    /// Sharp, down to an angle of 10°; cut below.
    Mitre,
    /// An arc, faceted to this chord error, µm.
    Round(f64),
}

/// An area of the plane on a grid: non-overlapping shapes, each an outer ring and its holes.
#[derive(Clone, Debug)]
pub(crate) struct Region {
    pub(crate) grid: Grid,
    pub(crate) shapes: Vec<Vec<NodeRing>>,
}

impl Region {
    pub(crate) fn empty(grid: Grid) -> Self {
        Self { grid, shapes: Vec::new() }
    }

    /// The union of polygons, whatever the direction of their rings.
    pub(crate) fn of<'a>(grid: Grid, polygons: impl IntoIterator<Item = &'a Polygon>) -> Self {
        let rings: Vec<NodeRing> = polygons.into_iter().flat_map(|p| rings_on(&grid, p)).collect();
        Self::of_rings(grid, &rings, FillRule::Positive)
    }

    pub(crate) fn of_rings(grid: Grid, rings: &[NodeRing], fill: FillRule) -> Self {
        let mut overlay = Overlay::new(rings.iter().map(Vec::len).sum());
        overlay.add_source(rings, ShapeType::Subject);
        Self { grid, shapes: overlay.overlay(OverlayRule::Subject, fill) }
    }

    /// What positively wound rings cover and other rings do not.
    pub(crate) fn of_difference(grid: Grid, from: &[NodeRing], cut: &[NodeRing]) -> Self {
        let mut overlay = Overlay::from_subj_and_clip(from, cut);
        Self { grid, shapes: overlay.overlay(OverlayRule::Difference, FillRule::Positive) }
    }

    /// Polygons that are known not to overlap and to be canonical.
    pub(crate) fn of_apart<'a>(grid: Grid, polygons: impl IntoIterator<Item = &'a Polygon>) -> Self {
        Self { grid, shapes: polygons.into_iter().map(|p| rings_on(&grid, p).collect()).collect() }
    }

    fn with(&self, other: &Self, rule: OverlayRule) -> Self {
        let mut overlay = Overlay::from_subj_and_clip(&self.shapes, &other.shapes);
        Self { grid: self.grid, shapes: overlay.overlay(rule, FillRule::NonZero) }
    }

    pub(crate) fn union(&self, other: &Self) -> Self {
        if other.shapes.is_empty() { self.clone() } else { self.with(other, OverlayRule::Union) }
    }

    pub(crate) fn minus(&self, other: &Self) -> Self {
        if other.shapes.is_empty() { self.clone() } else { self.with(other, OverlayRule::Difference) }
    }

    pub(crate) fn common(&self, other: &Self) -> Self {
        self.with(other, OverlayRule::Intersect)
    }

    /// Area that one of the two covers and the other does not, µm².
    pub(crate) fn differs_um2(&self, other: &Self) -> f64 {
        self.with(other, OverlayRule::Xor).area()
    }

    /// All rings of the union of both, with a corner wherever two rings meet: for finding point contacts.
    pub(crate) fn union_with_contacts(&self, other: &Self) -> Vec<NodeRing> {
        let options = IntOverlayOptions::keep_output_points();
        let mut overlay = Overlay::from_subj_and_clip_custom(&self.shapes, &other.shapes, options, Default::default());
        overlay.overlay(OverlayRule::Union, FillRule::NonZero).into_iter().flatten().collect()
    }

    /// Moves every edge outward by `um` (inward if negative).
    pub(crate) fn grown(&self, um: f64, join: Join) -> Self {
        let steps = self.grid.steps(um);
        if steps == 0 || self.shapes.is_empty() {
            return self.clone();
        }
        match join {
            Join::Mitre => self.mitred(steps).0,
            Join::Round(chord_error) => {
                let max_step = angle(2.0 * (1.0 - (chord_error / um.abs()).min(0.3)).acos());
                let arcs = IntLineJoin::Round(ArcOptions { max_step, ..ArcOptions::default() });
                let style = IntOutlineStyle::new(steps).line_join(arcs).math(MathMode::Float);
                Self { grid: self.grid, shapes: self.shapes.outline(&style).unwrap_or_default() }
            }
        }
    }

    /// Mitred offset by whole steps, and whether it only moved every ring: nothing vanished, joined or split.
    pub(crate) fn mitred(&self, steps: i32) -> (Self, bool) {
        let (rings, all_kept) = offset::moved(self.shapes.iter().flatten().cloned(), steps);
        let moved = Self::of_rings(self.grid, &rings, FillRule::Positive);
        let size = |r: &[Vec<NodeRing>]| {
            (r.len(), r.iter().map(Vec::len).sum::<usize>(), r.iter().flatten().map(Vec::len).sum::<usize>())
        };
        let unchanged = all_kept && size(&moved.shapes) == size(&self.shapes);
        (moved, unchanged)
    }

    /// The region shrunk and grown back by whole steps, then grown by `more`: what is left of material too thin for
    /// that. `None` where nothing is thinner.
    pub(crate) fn opened(&self, half_um: f64, more_um: f64) -> Option<Self> {
        let steps = self.grid.steps(half_um);
        if steps <= 0 {
            return None;
        }
        let (shrunk, unchanged) = self.mitred(-steps);
        (!unchanged).then(|| shrunk.mitred(steps.saturating_add(self.grid.steps(more_um))).0)
    }

    /// Area, µm².
    pub(crate) fn area(&self) -> f64 {
        let twice: i128 = self.shapes.iter().flatten().map(|r| twice_area(r)).sum();
        0.5 * twice as f64 * self.grid.step() * self.grid.step()
    }

    /// Canonical polygons, µm.
    pub(crate) fn polygons(&self) -> Vec<Polygon> {
        let mut out: Vec<Polygon> = self
            .shapes
            .iter()
            .filter_map(|shape| {
                let mut rings = shape.iter().map(|r| {
                    let marked: Vec<(Node, ())> = r.iter().map(|n| (*n, ())).collect();
                    canonical(marked).into_iter().map(|(n, ())| self.grid.point(n)).collect::<Ring>()
                });
                let outer = rings.next().filter(|r| r.len() > 2)?;
                let mut holes: Vec<Ring> = rings.filter(|r| r.len() > 2).collect();
                holes.sort_by(by_start);
                Some(Polygon { outer, holes })
            })
            .collect();
        out.sort_by(|a, b| by_start(&a.outer, &b.outer));
        out
    }
}

/// Lowest first, then leftmost, then the smaller ring.
pub(crate) fn by_start(a: &Ring, b: &Ring) -> std::cmp::Ordering {
    let key = |r: &Ring| r.first().map_or([0.0; 3], |p| [p[1], p[0], ring_area(r).abs()]);
    let (a, b) = (key(a), key(b));
    a[0].total_cmp(&b[0]).then(a[1].total_cmp(&b[1])).then(a[2].total_cmp(&b[2]))
}

/// Corners this close to a line lie on it, in grid steps: seams of slanted polygons leave such corners.
const NEAR: f64 = 2.0;

/// Where `p` lies along the line from `a` to `b` (0 at `a`, 1 at `b`), and its distance from it in steps.
fn beside(a: Node, b: Node, p: Node) -> (f64, f64) {
    let (u, v) = ([sub(b.x, a.x), sub(b.y, a.y)], [sub(p.x, a.x), sub(p.y, a.y)]);
    let length2 = dot(u, u);
    (dot(u, v) / length2, cross(u, v).abs() / length2.sqrt())
}

/// Takes away needles: corners from which the ring runs back along the way it came, which rounding of slanted
/// crossings leaves behind. The segment that remains keeps its own mark.
fn without_needles<M: Copy>(mut ring: Vec<(Node, M)>) -> Vec<(Node, M)> {
    let mut i = 0;
    let mut since = 0;
    while ring.len() > 2 && since < ring.len() {
        let n = ring.len();
        i %= n;
        let (k, j) = ((i + n - 1) % n, (i + 1) % n);
        let (before, after) = (ring[k].0, ring[j].0);
        let short = sub(before.x, after.x).hypot(sub(before.y, after.y)) <= NEAR;
        let (along, off) = beside(before, after, ring[i].0);
        if short || (off <= NEAR && !(0.0..=1.0).contains(&along)) {
            if short || along < 0.0 {
                ring[k].1 = ring[i].1;
            }
            ring.remove(i);
            since = 0;
            i = k;
        } else {
            since += 1;
            i += 1;
        }
    }
    ring
}

/// Drops needles and corners on the line between their neighbours, and starts the ring at its lowest, then leftmost
/// corner. A mark belongs to the segment that starts at its corner; segments of different marks stay apart.
pub(crate) fn canonical<M: Copy + PartialEq>(ring: Vec<(Node, M)>) -> Vec<(Node, M)> {
    let ring = without_needles(ring);
    let n = ring.len();
    let Some(start) = (0..n).min_by_key(|&i| (ring[i].0.y, ring[i].0.x)) else { return Vec::new() };
    let near = |a: Node, b: Node, p: Node| {
        let (along, off) = beside(a, b, p);
        (0.0..=1.0).contains(&along) && off <= NEAR
    };
    let mut out = vec![ring[start]];
    let mut dropped: Vec<Node> = Vec::new();
    for k in 1..n {
        let (p, mark) = ring[(start + k) % n];
        let (after, _) = ring[(start + k + 1) % n];
        let (before, mark_before) = out[out.len() - 1];
        dropped.push(p);
        if mark == mark_before && dropped.len() < 64 && dropped.iter().all(|d| near(before, after, *d)) {
            continue;
        }
        out.push((p, mark));
        dropped.clear();
    }
    out
}

fn sub(a: i32, b: i32) -> f64 {
    f64::from(a) - f64::from(b)
}

/// Area, µm², that the rings of a polygon lose or count twice when read by their winding: the sum of their signed areas less the
/// area that winds positively. `None` within the rounding of the grid. Rings that merely touch, keyholes among them, lose nothing.
pub(crate) fn area_lost(polygon: &Polygon) -> Option<f64> {
    let grid = common_grid(&[std::slice::from_ref(polygon)], 0.0);
    let rings: Vec<NodeRing> = rings_on(&grid, polygon).collect();
    let step = grid.step();
    let around: f64 = rings
        .iter()
        .flat_map(|r| (0..r.len()).map(move |i| (r[i], r[(i + 1) % r.len()])))
        .map(|(a, b)| sub(a.x, b.x).hypot(sub(a.y, b.y)) * step)
        .sum();
    let signed = 0.5 * rings.iter().map(|r| twice_area(r)).sum::<i128>() as f64 * step * step;
    let lost = signed - Region::of_rings(grid, &rings, FillRule::Positive).area();
    // Where a corner lies on a slanted side, the grid moves the side by up to a step.
    (lost.abs() > around * step).then_some(lost)
}

fn common_grid(sets: &[&[Polygon]], margin_um: f64) -> Grid {
    Grid::around(bounds(sets.iter().flat_map(|s| s.iter()).flat_map(|p| p.outer.iter())), margin_um)
}

/// Everything inside any of the polygons.
///
/// ```
/// use modalith_mesher::{boolean, geometry::Polygon};
/// let square = |x: f64| Polygon::solid(vec![[x, 0.0], [x + 2.0, 0.0], [x + 2.0, 2.0], [x, 2.0]]);
/// let both = boolean::union(&[square(0.0), square(1.0)]);
/// assert_eq!(both, vec![Polygon::solid(vec![[0.0, 0.0], [3.0, 0.0], [3.0, 2.0], [0.0, 2.0]])]);
/// ```
pub fn union(polygons: &[Polygon]) -> Vec<Polygon> {
    Region::of(common_grid(&[polygons], 0.0), polygons).polygons()
}

/// What is inside any of `from` and outside all of `cut`.
pub fn difference(from: &[Polygon], cut: &[Polygon]) -> Vec<Polygon> {
    let grid = common_grid(&[from, cut], 0.0);
    Region::of(grid, from).minus(&Region::of(grid, cut)).polygons()
}

/// What is inside any of `a` and any of `b`.
pub fn intersection(a: &[Polygon], b: &[Polygon]) -> Vec<Polygon> {
    let grid = common_grid(&[a, b], 0.0);
    Region::of(grid, a).common(&Region::of(grid, b)).polygons()
}

/// The united polygons with every edge moved outward by `um` (inward if negative).
pub fn offset(polygons: &[Polygon], um: f64, join: Join) -> Vec<Polygon> {
    let grid = common_grid(&[polygons], 6.0 * um.abs());
    Region::of(grid, polygons).grown(um, join).polygons()
}

#[cfg(test)]
mod tests;
