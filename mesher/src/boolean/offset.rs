//! Moves the rings of a region sideways: in come rings on the grid (outer anticlockwise, holes clockwise), out come raw
//! rings whose positive winding is the moved region.
//!
//! Where no segment of a ring turns round, the ring of its mitre points is enough, however it crosses itself or others:
//! what has collapsed winds negatively, what overlaps winds more than once. That costs a fraction of a general offset and
//! adds no corners. A ring with a segment that turns round goes through the general offset of `i_overlay`.

use super::grid::{Node, NodeRing, twice_area};
use crate::geometry::{cross, dot};
use i_overlay::i_float::int::angle::Angle;
use i_overlay::mesh::int::outline::offset::IntOutlineOffset;
use i_overlay::mesh::int::style::{IntLineJoin, IntOutlineStyle};
use i_overlay::mesh::math::MathMode;

/// The sharpest corner that keeps its point, degrees; sharper ones are cut square to their middle.
const SHARPEST_DEG: f64 = 10.0;

/// Raw rings, and whether every ring kept all its segments.
pub(super) fn moved(rings: impl Iterator<Item = NodeRing>, steps: i32) -> (Vec<NodeRing>, bool) {
    let mut out = Vec::new();
    let mut all_kept = true;
    for ring in rings {
        match mitred(&ring, f64::from(steps)) {
            Some(r) => out.push(r),
            None => {
                all_kept = false;
                out.extend(general(ring, steps));
            }
        }
    }
    (out, all_kept)
}

/// The ring of mitre points `by` steps to the right of every segment (material lies to the left).
fn mitred(ring: &[Node], by: f64) -> Option<NodeRing> {
    let n = ring.len();
    let directions: Vec<[f64; 2]> = (0..n)
        .map(|i| {
            let (a, b) = (ring[i], ring[(i + 1) % n]);
            let d = [f64::from(b.x) - f64::from(a.x), f64::from(b.y) - f64::from(a.y)];
            let l = d[0].hypot(d[1]);
            [d[0] / l, d[1] / l]
        })
        .collect();
    let sharpest = SHARPEST_DEG.to_radians().cos();
    let mut out = NodeRing::with_capacity(n);
    // Where the moved segment i starts and ends, before rounding.
    let (mut starts, mut ends) = (vec![[0.0; 2]; n], vec![[0.0; 2]; n]);
    for i in 0..n {
        let before = (i + n - 1) % n;
        let (d, e) = (directions[before], directions[i]);
        let p = [f64::from(ring[i].x), f64::from(ring[i].y)];
        let (cos, sin) = (dot(d, e), cross(d, e));
        let mut put = |q: [f64; 2]| out.push(Node::new(q[0].round() as i32, q[1].round() as i32));
        if cos > -sharpest {
            let s = by / (1.0 + cos);
            let q = [p[0] + s * (d[1] + e[1]), p[1] - s * (d[0] + e[0])];
            put(q);
            (ends[before], starts[i]) = (q, q);
        } else if sin * by > 0.0 {
            let [q, r] = [d, e].map(|u| [p[0] + by * u[1], p[1] - by * u[0]]);
            put(q);
            put(r);
            (ends[before], starts[i]) = (q, r);
        } else {
            return None;
        }
    }
    let kept = |i: usize| {
        let (a, b, d) = (starts[i], ends[i], directions[i]);
        (b[0] - a[0]) * d[0] + (b[1] - a[1]) * d[1] > 1.0
    };
    (0..n).all(kept).then_some(out)
}

/// The general offset of one ring; a hole is moved as a polygon of its own and turned back into a hole.
fn general(mut ring: NodeRing, steps: i32) -> Vec<NodeRing> {
    let hole = twice_area(&ring) < 0;
    if hole {
        ring.reverse();
    }
    let style = IntOutlineStyle::new(if hole { -steps } else { steps })
        .line_join(IntLineJoin::Miter(angle(SHARPEST_DEG.to_radians())))
        .miter_min_turn(angle(1e-4))
        .math(MathMode::Float);
    let mut out: Vec<NodeRing> = ring.outline(&style).unwrap_or_default().into_iter().flatten().collect();
    if hole {
        out.iter_mut().for_each(|r| r.reverse());
    }
    out
}

pub(super) fn angle(radians: f64) -> Angle {
    Angle::from_radians(radians).unwrap_or_default()
}
