//! The middle line between two walls, and the straight strips of a branching piece; µm.

use super::within;
use crate::geometry::{Point, Polygon};
use crate::outline::Flexure;
use crate::outline::thin::{closest, distance};

/// Most points taken along one wall.
const MOST_POINTS: f64 = 600.0;

/// More wall segments than this are no flexure but a texture.
const MOST_SEGMENTS: usize = 1500;

/// Length of a polyline.
pub(super) fn length(line: &[Point]) -> f64 {
    line.windows(2).map(|w| distance(w[0], w[1])).sum()
}

/// Points along a polyline, corners included, at most `step` apart.
fn sampled(line: &[Point], step: f64) -> Vec<Point> {
    let mut out = Vec::new();
    for s in line.windows(2) {
        let n = (distance(s[0], s[1]) / step).ceil().max(1.0);
        let at = |k: f64| [0, 1].map(|c| s[0][c] + (s[1][c] - s[0][c]) * k / n);
        out.extend((0..n as usize).map(|k| at(k as f64)));
    }
    out.extend(line.last());
    out
}

/// The middle line between two walls of one piece. Both run with the material on their left, so that the second runs
/// back. Middles of the shortest chords between the walls, taken in order; at a corner the inner wall waits for the outer.
pub(super) fn middle(a: &[Point], b: &[Point], width: f64) -> Vec<Point> {
    let step = (0.25 * width).max(length(a).max(length(b)) / MOST_POINTS);
    let a = sampled(a, step);
    let mut b = sampled(b, step);
    b.reverse();
    let (mut i, mut j) = (0, 0);
    let mut line = vec![mean(a[0], b[0])];
    while i + 1 < a.len() || j + 1 < b.len() {
        let next = |i: usize, j: usize| match (a.get(i), b.get(j)) {
            (Some(p), Some(q)) => distance(*p, *q),
            _ => f64::INFINITY,
        };
        let (step_a, step_b, both) = (next(i + 1, j), next(i, j + 1), next(i + 1, j + 1));
        if both <= step_a && both <= step_b {
            (i, j) = (i + 1, j + 1);
        } else if step_a <= step_b {
            i += 1;
        } else {
            j += 1;
        }
        line.push(mean(a[i], b[j]));
    }
    thinned(&line, 2e-3 * width)
}

fn mean(a: Point, b: Point) -> Point {
    [0.5 * (a[0] + b[0]), 0.5 * (a[1] + b[1])]
}

/// Drops points within `near` of the line between the points kept around them.
fn thinned(line: &[Point], near: f64) -> Vec<Point> {
    let mut out = vec![line[0]];
    let mut start = 0;
    for k in 1..line.len() {
        let last = k + 1 == line.len();
        let ahead = if last { k } else { k + 1 };
        let fits = |d: &Point| distance(closest(*d, line[start], line[ahead]), *d) <= near;
        if last || !line[start + 1..=k].iter().all(fits) || k - start > 64 {
            out.push(line[k]);
            start = k;
        }
    }
    // Points dropped by the cap on the look-ahead leave straight pieces in several segments.
    let mut tidy: Vec<Point> = Vec::with_capacity(out.len());
    for p in out {
        while tidy.len() > 1
            && distance(closest(tidy[tidy.len() - 1], tidy[tidy.len() - 2], p), tidy[tidy.len() - 1]) <= 1e-6
        {
            tidy.pop();
        }
        tidy.push(p);
    }
    tidy
}

/// Straight strips between facing walls no farther apart than `widest` and at least `slender` widths long; strips with a
/// free end are fingers and left out.
pub(super) fn strips(piece: &Polygon, walls: &[Vec<Point>], widest: f64, slender: f64) -> Vec<Flexure> {
    let all: Vec<[Point; 2]> = walls.iter().flat_map(|w| w.windows(2)).map(|s| [s[0], s[1]]).collect();
    if all.len() > MOST_SEGMENTS {
        return Vec::new();
    }
    let mut out = Vec::new();
    for (i, [a, b]) in all.iter().enumerate() {
        let l = distance(*a, *b);
        let u = [(b[0] - a[0]) / l, (b[1] - a[1]) / l];
        for [c, d] in &all[i + 1..] {
            let m = distance(*c, *d);
            let parallel = ((d[0] - c[0]) * u[0] + (d[1] - c[1]) * u[1]) / m;
            // Along the first wall and to its left.
            let local = |p: &Point| {
                let r = [p[0] - a[0], p[1] - a[1]];
                [r[0] * u[0] + r[1] * u[1], u[0] * r[1] - u[1] * r[0]]
            };
            let (c, d) = (local(c), local(d));
            let width = 0.5 * (c[1] + d[1]);
            if parallel > -1.0 + 1e-6 || width <= 0.0 || width > widest {
                continue;
            }
            let (from, to) = (d[0].max(0.0), c[0].min(l));
            if to - from < slender * width {
                continue;
            }
            let at =
                |along: f64, across: f64| [a[0] + along * u[0] - across * u[1], a[1] + along * u[1] + across * u[0]];
            let free_end = |along: f64| {
                let (p, q) = (at(along, 0.0), at(along, width));
                let near = 1e-3 * width;
                let same = |s: &[Point; 2], p: Point, q: Point| distance(s[0], p) < near && distance(s[1], q) < near;
                all.iter().any(|s| same(s, p, q) || same(s, q, p))
            };
            if !within(piece, at(0.5 * (from + to), 0.5 * width)) || free_end(from) || free_end(to) {
                continue;
            }
            let mut outer = vec![at(from, 0.0), at(to, 0.0), at(to, width), at(from, width)];
            let lowest =
                (0..4).min_by(|i, j| outer[*i][1].total_cmp(&outer[*j][1]).then(outer[*i][0].total_cmp(&outer[*j][0])));
            outer.rotate_left(lowest.unwrap_or(0));
            out.push(Flexure {
                area: Polygon::solid(outer),
                centre_line: vec![at(from, 0.5 * width), at(to, 0.5 * width)],
                length_um: to - from,
                width_um: width,
            });
        }
    }
    out
}
