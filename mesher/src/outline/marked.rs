//! The difference of two regions with marks: every segment of the result knows which segment of the input it comes from.

use crate::boolean::{Grid, Node, Region, canonical};
use crate::geometry::{Point, Polygon, Ring};
use i_overlay::core::edge_data::{EdgeDataMerge, OverlayEdgeData};
use i_overlay::core::edge_overlay::{EdgeOverlay, InputEdge};
use i_overlay::core::fill_rule::FillRule;
use i_overlay::core::overlay::ShapeType;
use i_overlay::core::overlay_rule::OverlayRule;
use i_overlay::segm::boolean::ShapeCountBoolean;

/// Where a segment comes from; where several meet, the largest number wins.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(crate) struct Mark(pub u32);

impl OverlayEdgeData for Mark {
    type Store = ();

    fn merge(both: EdgeDataMerge<ShapeCountBoolean, Self>, _: &mut ()) -> Self {
        Self(both.lhs_data.0.max(both.rhs_data.0))
    }
}

/// A polygon with a mark for every segment (from corner `i` to the next) of every ring, the outer ring first.
#[derive(Clone, Debug, PartialEq)]
pub(crate) struct Marked {
    pub polygon: Polygon,
    pub marks: Vec<Vec<u32>>,
}

fn add(overlay: &mut EdgeOverlay<i32, Mark>, region: &Region, role: ShapeType, mark: impl Fn(usize) -> u32) {
    for (s, shape) in region.shapes.iter().enumerate() {
        let data = Mark(mark(s));
        for ring in shape {
            for (i, &a) in ring.iter().enumerate() {
                overlay.add_edge(InputEdge { a, b: ring[(i + 1) % ring.len()], data }, role);
            }
        }
    }
}

/// What is in `from` and not in `cut`; `mark_cut` numbers the shapes of `cut`, segments of `from` have mark 0. Sorted and
/// canonical like every result of [`crate::boolean`].
pub(crate) fn difference(from: &Region, cut: &Region, mark_cut: impl Fn(usize) -> u32) -> Vec<Marked> {
    let size = [from, cut].map(|r| r.shapes.iter().flatten().map(Vec::len).sum::<usize>());
    let mut overlay = EdgeOverlay::new(size[0] + size[1]);
    add(&mut overlay, from, ShapeType::Subject, |_| 0);
    add(&mut overlay, cut, ShapeType::Clip, mark_cut);
    finish(&from.grid, overlay)
}

fn finish(grid: &Grid, mut overlay: EdgeOverlay<i32, Mark>) -> Vec<Marked> {
    let shapes = overlay.build_vector_shapes(OverlayRule::Difference, FillRule::NonZero);
    let mut out: Vec<Marked> = shapes
        .into_iter()
        .filter_map(|shape| {
            let mut rings = shape.into_iter().map(|ring| {
                let nodes: Vec<(Node, u32)> = ring.into_iter().map(|e| (e.a, e.data.0)).collect();
                points(grid, &canonical(nodes))
            });
            let first = rings.next().filter(|r| r.0.len() > 2)?;
            let mut holes: Vec<(Ring, Vec<u32>)> = rings.filter(|r| r.0.len() > 2).collect();
            holes.sort_by(|a, b| crate::boolean::by_start(&a.0, &b.0));
            let (holes, hole_marks): (Vec<_>, Vec<_>) = holes.into_iter().unzip();
            let marks = std::iter::once(first.1).chain(hole_marks).collect();
            Some(Marked { polygon: Polygon { outer: first.0, holes }, marks })
        })
        .collect();
    out.sort_by(|a, b| crate::boolean::by_start(&a.polygon.outer, &b.polygon.outer));
    out
}

fn points(grid: &Grid, nodes: &[(Node, u32)]) -> (Vec<Point>, Vec<u32>) {
    nodes.iter().map(|(n, m)| (grid.point(*n), *m)).unzip()
}
