//! Makes drawn pieces meet that were meant to meet: a turned layout's corners, rounded to a grid, miss the edge they lie
//! on by a fraction of a nanometre. In come rings on the grid, one list per drawn polygon; the edge of another polygon
//! that passes within reach of a corner gets that corner too.

use crate::boolean::{Node, NodeRing};
use crate::geometry::{cross, dot};
use rstar::primitives::{GeomWithData, Line, Rectangle};
use rstar::{AABB, PointDistance, RTree};
use std::collections::HashMap;

type Box = GeomWithData<Rectangle<[f64; 2]>, usize>;
type Edges = RTree<GeomWithData<Line<[f64; 2]>, u32>>;

fn at(n: Node) -> [f64; 2] {
    [f64::from(n.x), f64::from(n.y)]
}

/// Corners of different polygons nearer than this share of the reach are one: half of a mask's grid is never so near.
const GATHER: f64 = 0.25;

/// Makes corners of different polygons that lie closer than `reach` steps one corner: the one drawn first. Then pieces drawn side by
/// side share their corners, whatever rounding did to them.
fn gather(rings: &mut [NodeRing], owner: &[u32], reach: f64) {
    if reach < 1.0 {
        return;
    }
    let cell = |n: Node| [n.x, n.y].map(|v| (f64::from(v) / reach).floor() as i64);
    let mut kept: HashMap<[i64; 2], Vec<(Node, u32)>> = HashMap::new();
    for (ring, &owner) in rings.iter_mut().zip(owner) {
        for node in ring.iter_mut() {
            let [x, y] = cell(*node);
            let around = (x - 1..=x + 1).flat_map(|x| (y - 1..=y + 1).map(move |y| [x, y]));
            let of_others = around.filter_map(|c| kept.get(&c)).flatten().filter(|k| k.1 != owner);
            let far = |k: &Node| (f64::from(k.x) - f64::from(node.x)).hypot(f64::from(k.y) - f64::from(node.y));
            let near = of_others.map(|k| (far(&k.0), k.0)).filter(|k| k.0 < reach);
            match near.min_by(|a, b| a.0.total_cmp(&b.0)) {
                Some((_, first)) => *node = first,
                None => {
                    let own = kept.entry([x, y]).or_default();
                    if !own.contains(&(*node, owner)) {
                        own.push((*node, owner));
                    }
                }
            }
        }
        ring.dedup();
        while ring.len() > 1 && ring.first() == ring.last() {
            ring.pop();
        }
    }
}

/// Gathers corners that nearly coincide, then splits edges at the corners of other rings that lie within `reach` steps of them. `owner` tells which polygon a ring
/// belongs to; rings of one polygon are left as they are. Rings from `first_hole` on are cut from the others. What overlaps already
/// is left alone: an edge only ever moves across a gap between two pieces, or across a sliver between a piece and a hole.
pub(super) fn weld(rings: &mut [NodeRing], owner: &[u32], first_hole: usize, reach: f64) {
    gather(rings, owner, GATHER * reach);
    let reach = reach.max(1.0);
    let boxes: Vec<AABB<[f64; 2]>> =
        rings.iter().map(|r| AABB::from_points(&r.iter().map(|n| at(*n)).collect::<Vec<_>>())).collect();
    let around = |b: &AABB<[f64; 2]>| {
        let (l, u) = (b.lower(), b.upper());
        AABB::from_corners([l[0] - reach, l[1] - reach], [u[0] + reach, u[1] + reach])
    };
    let tree: RTree<Box> = RTree::bulk_load(
        boxes.iter().enumerate().map(|(i, b)| GeomWithData::new(Rectangle::from_aabb(*b), i)).collect(),
    );
    let mut trees: Vec<Option<Edges>> = rings.iter().map(|_| None).collect();
    // Corners to put into edge k of ring i, with their place along it.
    let mut found: Vec<(usize, u32, f64, Node)> = Vec::new();
    for i in 0..rings.len() {
        let own = around(&boxes[i]);
        for other in tree.locate_in_envelope_intersecting(&own) {
            let j = other.data;
            if owner[i] == owner[j] || rings[i].is_empty() {
                continue;
            }
            let edges = trees[i].get_or_insert_with(|| {
                let n = rings[i].len();
                let line = |k: usize| Line::new(at(rings[i][k]), at(rings[i][(k + 1) % n]));
                RTree::bulk_load((0..n).map(|k| GeomWithData::new(line(k), k as u32)).collect())
            });
            for &corner in &rings[j] {
                let p = at(corner);
                if !rstar::Envelope::contains_point(&own, &p) {
                    continue;
                }
                let near = AABB::from_corners([p[0] - reach, p[1] - reach], [p[0] + reach, p[1] + reach]);
                for edge in edges.locate_in_envelope_intersecting(&near) {
                    let (a, b) = (edge.geom().from, edge.geom().to);
                    if p == a || p == b || edge.geom().distance_2(&p) > reach * reach {
                        continue;
                    }
                    let (u, v) = ([b[0] - a[0], b[1] - a[1]], [p[0] - a[0], p[1] - a[1]]);
                    let left = cross(u, v);
                    let alike = (i >= first_hole) == (j >= first_hole);
                    let apart = if alike { left < 0.0 } else { left > 0.0 };
                    let along = dot(u, v) / dot(u, u);
                    if apart && along > 0.0 && along < 1.0 {
                        found.push((i, edge.data, along, corner));
                    }
                }
            }
        }
    }
    split(rings, found);
}

/// Puts corners into edges: the ring, the edge, the place along it and the corner of each.
fn split(rings: &mut [NodeRing], mut found: Vec<(usize, u32, f64, Node)>) {
    found.sort_by(|a, b| {
        (b.0, b.1).cmp(&(a.0, a.1)).then(b.2.total_cmp(&a.2)).then((b.3.x, b.3.y).cmp(&(a.3.x, a.3.y)))
    });
    // From the last to the first, so that earlier places stay valid.
    for (i, k, _, corner) in found {
        let after = k as usize + 1;
        if rings[i].get(after) != Some(&corner) {
            rings[i].insert(after, corner);
        }
    }
}
