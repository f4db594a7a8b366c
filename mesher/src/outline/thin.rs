//! How wide a thin piece is and where: material that a bias etches away, gaps that it closes, features below the least
//! width. In come regions, out come places and widths in µm.

use super::marked::{Marked, difference};
use crate::boolean::{Join, Region};
use crate::geometry::{Point, closest, distance, dot, middle};

/// Slivers of rounding are thinner than this, µm.
const SLIVER_UM: f64 = 0.001;

/// More segments than this and the width is taken at the longest wall only.
const MOST_SEGMENTS: usize = 2000;

/// A thin piece: its outline, marked 0 along its walls and 1 where it goes on into wider material.
#[derive(Clone, Debug)]
pub(crate) struct Thin {
    pub piece: Marked,
    pub width_um: f64,
    pub at: Point,
}

/// Pieces of `of` (a part of `material`) that are thinner than `width_um`.
pub(crate) fn thinner(of: &Region, material: &Region, width_um: f64) -> Vec<Thin> {
    let half = 0.5 * width_um - 2.0 * of.grid.step();
    let Some(opened) = material.opened(half, SLIVER_UM) else { return Vec::new() };
    measured(difference(of, &opened, |_| 1), |mark| mark == 0, 0.01 * width_um * width_um)
}

/// What a bias (µm, of either sign) etches away for good or fills for good, as drawn.
pub(crate) fn lost(drawn: &Region, etched: &Region, bias: f64) -> Vec<Thin> {
    let least = 0.01 * bias * bias;
    if bias < 0.0 {
        let back = etched.grown(-bias + SLIVER_UM, Join::Mitre);
        measured(difference(drawn, &back, |_| 1), |mark| mark == 0, least)
    } else {
        let back = etched.grown(-bias - SLIVER_UM, Join::Mitre);
        measured(difference(&back, drawn, |_| 1), |mark| mark == 1, least)
    }
}

fn measured(pieces: Vec<Marked>, is_wall: impl Fn(u32) -> bool, least_area: f64) -> Vec<Thin> {
    let big = pieces.into_iter().filter(|p| p.polygon.area() > least_area);
    big.map(|piece| {
        let (width_um, at) = narrowest(&piece, &is_wall);
        Thin { piece, width_um, at }
    })
    .collect()
}

/// Walls of a piece: runs of consecutive wall segments, in the order of the rings.
pub(crate) fn walls(piece: &Marked, is_wall: impl Fn(u32) -> bool) -> Vec<Vec<Point>> {
    let mut out = Vec::new();
    for (ring, marks) in piece.polygon.rings().zip(&piece.marks) {
        let n = ring.len();
        let Some(start) = (0..n).find(|&i| is_wall(marks[i]) && !is_wall(marks[(i + n - 1) % n])) else {
            if is_wall(marks[0]) {
                out.push(ring.iter().chain(ring.first()).copied().collect());
            }
            continue;
        };
        let mut run: Vec<Point> = Vec::new();
        for k in 0..=n {
            let i = (start + k) % n;
            if k < n && is_wall(marks[i]) {
                if run.is_empty() {
                    run.push(ring[i]);
                }
                run.push(ring[(i + 1) % n]);
            } else if !run.is_empty() {
                out.push(std::mem::take(&mut run));
            }
        }
    }
    out
}

/// The smallest distance between two polylines, and the middle between both points.
pub(crate) fn apart(a: &[Point], b: &[Point]) -> (f64, Point) {
    let mut best = (f64::INFINITY, [0.0; 2]);
    for (points, line) in [(a, b), (b, a)] {
        for &p in points {
            for s in line.windows(2) {
                let q = closest(p, s[0], s[1]);
                let d = distance(p, q);
                if d < best.0 {
                    best = (d, middle(p, q));
                }
            }
        }
    }
    best
}

/// The narrowest place between the walls of a piece.
fn narrowest(piece: &Marked, is_wall: &impl Fn(u32) -> bool) -> (f64, Point) {
    let walls = walls(piece, is_wall);
    let size: usize = walls.iter().map(Vec::len).sum();
    let mut best = (f64::INFINITY, [0.0; 2]);
    if size <= MOST_SEGMENTS {
        for (i, a) in walls.iter().enumerate() {
            for b in &walls[i + 1..] {
                let found = apart(a, b);
                if found.0 < best.0 {
                    best = found;
                }
            }
        }
    }
    if best.0.is_finite() { best } else { ball(&walls, piece.polygon.outer[0]) }
}

/// The circle inside the walls that touches the longest wall segment at its middle: its diameter and centre.
fn ball(walls: &[Vec<Point>], otherwise: Point) -> (f64, Point) {
    let segments = || walls.iter().flat_map(|w| w.windows(2)).map(|s| [s[0], s[1]]);
    let Some([a, b]) = segments().max_by(|s, t| distance(s[0], s[1]).total_cmp(&distance(t[0], t[1]))) else {
        return (0.0, otherwise);
    };
    let middle = middle(a, b);
    let length = distance(a, b);
    // Material lies to the left of every ring.
    let normal = [(a[1] - b[1]) / length, (b[0] - a[0]) / length];
    let centre = |r: f64| [middle[0] + r * normal[0], middle[1] + r * normal[1]];
    let mut radius = length * 1e3;
    for _ in 0..60 {
        let c = centre(radius);
        let near = segments().filter(|s| *s != [a, b]).map(|s| closest(c, s[0], s[1]));
        let Some(q) = near.min_by(|p, q| distance(*p, c).total_cmp(&distance(*q, c))) else { break };
        let r = [q[0] - middle[0], q[1] - middle[1]];
        let ahead = dot(r, normal);
        if distance(q, c) >= radius * (1.0 - 1e-9) || ahead <= 0.0 {
            break;
        }
        radius = dot(r, r) / (2.0 * ahead);
    }
    (2.0 * radius, centre(radius))
}
