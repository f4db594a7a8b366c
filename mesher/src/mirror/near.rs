//! Distance from a point to the nearest of many segments, as far as a given reach: a uniform grid of cells, each with the
//! segments that pass within reach of it. µm.

use crate::geometry::{Point, closest, distance, middle};

/// Segments sorted into cells.
pub(super) struct Near {
    segments: Vec<[Point; 2]>,
    corner: Point,
    cell: f64,
    columns: usize,
    rows: usize,
    /// Segments of cell k are `entries[starts[k]..starts[k + 1]]`.
    starts: Vec<u32>,
    entries: Vec<u32>,
    reach: f64,
}

/// How finely the largest distance of a segment is sought, µm: a tenth of the grid of the outline.
const FINE: f64 = 1e-6;

/// Most cells along one side.
const MOST_CELLS: f64 = 2048.0;

impl Near {
    pub(super) fn new(segments: Vec<[Point; 2]>, reach: f64) -> Self {
        let [a, b] = crate::geometry::bounds(segments.iter().flatten()).unwrap_or_default();
        let size = (b[0] - a[0]).max(b[1] - a[1]).max(reach);
        let side = (segments.len() as f64).sqrt().clamp(1.0, MOST_CELLS);
        let cell = (size / side).max(2.0 * reach);
        let count = |k: usize| ((b[k] - a[k] + 2.0 * reach) / cell) as usize + 1;
        let mut near = Self {
            corner: a.map(|v| v - reach),
            cell,
            columns: count(0),
            rows: count(1),
            starts: Vec::new(),
            entries: Vec::new(),
            segments,
            reach,
        };
        let mut starts = vec![0u32; near.columns * near.rows + 1];
        near.visit(|cell, _| starts[cell + 1] += 1);
        for k in 1..starts.len() {
            starts[k] += starts[k - 1];
        }
        let mut next = starts.clone();
        let mut entries = vec![0u32; starts.last().map_or(0, |n| *n as usize)];
        near.visit(|cell, s| {
            entries[next[cell] as usize] = s;
            next[cell] += 1;
        });
        (near.starts, near.entries) = (starts, entries);
        near
    }

    fn index(&self, v: f64, k: usize) -> usize {
        let most = [self.columns, self.rows][k] - 1;
        (((v - self.corner[k]) / self.cell).max(0.0) as usize).min(most)
    }

    /// Every cell within reach of every segment; long segments are taken in pieces of a cell's size.
    fn visit(&self, mut at: impl FnMut(usize, u32)) {
        for (s, [a, b]) in self.segments.iter().enumerate() {
            let pieces = (distance(*a, *b) / self.cell).ceil().max(1.0);
            for k in 0..pieces as usize {
                let along = |t: f64| [0, 1].map(|c| a[c] + (b[c] - a[c]) * t / pieces);
                let (p, q) = (along(k as f64), along(k as f64 + 1.0));
                let range =
                    |c: usize| self.index(p[c].min(q[c]) - self.reach, c)..=self.index(p[c].max(q[c]) + self.reach, c);
                for row in range(1) {
                    for column in range(0) {
                        at(row * self.columns + column, s as u32);
                    }
                }
            }
        }
    }

    /// Segments that may lie within reach of a point.
    fn around(&self, p: Point) -> &[u32] {
        let cell = self.index(p[1], 1) * self.columns + self.index(p[0], 0);
        &self.entries[self.starts[cell] as usize..self.starts[cell + 1] as usize]
    }

    fn to(&self, p: Point, segment: u32) -> f64 {
        let [a, b] = self.segments[segment as usize];
        distance(closest(p, a, b), p)
    }

    /// The nearest segment and its distance, if it is within reach.
    fn nearest(&self, p: Point) -> Option<(f64, u32)> {
        let all = self.around(p).iter().map(|&s| (self.to(p, s), s));
        all.min_by(|a, b| a.0.total_cmp(&b.0)).filter(|(d, _)| *d <= self.reach)
    }

    /// Distance to the nearest segment; infinite beyond the reach.
    pub(super) fn distance(&self, p: Point) -> f64 {
        self.nearest(p).map_or(f64::INFINITY, |(d, _)| d)
    }

    /// How far the segment from `a` to `b` strays from the segments at most: no less than that, and no more than [`FINE`]
    /// above it. Infinite, or any value above `enough`, where it strays farther than that.
    ///
    /// The distance to one segment is convex along another, so that one segment near both ends of a stretch is as near in
    /// between; a stretch without such a segment is cut where the one at its start ends.
    pub(super) fn farthest(&self, a: Point, b: Point, enough: f64) -> f64 {
        let mut worst: f64 = 0.0;
        let mut stretches = vec![[a, b]];
        while let Some([p, q]) = stretches.pop() {
            // Mostly the segment is the image of one of them.
            let middle = middle(p, q);
            if let Some((_, same)) = self.nearest(middle) {
                let off = self.to(p, same).max(self.to(q, same));
                if off <= FINE {
                    worst = worst.max(off);
                    continue;
                }
            }
            let (Some((at_p, first)), Some((at_q, _))) = (self.nearest(p), self.nearest(q)) else {
                return f64::INFINITY;
            };
            let least = at_p.max(at_q);
            if least > enough {
                return least;
            }
            let along = |s: &u32| self.to(p, *s).max(self.to(q, *s));
            let one = self.around(p).iter().map(along).fold(f64::INFINITY, f64::min);
            let length = distance(p, q);
            let most = one.min(least + 0.5 * length);
            if most <= least + FINE {
                worst = worst.max(most);
                continue;
            }
            let ends = self.segments[first as usize];
            let share = |e: &Point| ((e[0] - p[0]) * (q[0] - p[0]) + (e[1] - p[1]) * (q[1] - p[1])) / (length * length);
            let inside = |t: &f64| *t * length > FINE && (1.0 - *t) * length > FINE;
            let cut = ends.iter().map(share).find(inside).unwrap_or(0.5);
            let middle = [0, 1].map(|k| p[k] + cut * (q[k] - p[k]));
            stretches.extend([[p, middle], [middle, q]]);
        }
        worst
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Beside a broken line: exactly as far as its corner; along a cut line: nowhere off; across a gap: half of it.
    #[test]
    fn the_middle_of_an_edge_strays_though_its_ends_do_not() {
        let roof = Near::new(vec![[[0.0, 0.0], [5.0, 0.1]], [[5.0, 0.1], [10.0, 0.0]]], 0.2);
        let strays = roof.farthest([0.0, 0.0], [10.0, 0.0], 1.0);
        assert!((strays - 0.1 * 5.0 / 5.0_f64.hypot(0.1)).abs() <= FINE, "{strays}");
        let cut = Near::new(vec![[[0.0, 0.0], [3.0, 0.0]], [[3.0, 0.0], [10.0, 0.0]]], 0.2);
        assert_eq!(cut.farthest([10.0, 0.0], [0.0, 0.0], 1.0), 0.0);
        let gap = Near::new(vec![[[0.0, 0.0], [3.0, 0.0]], [[3.1, 0.0], [10.0, 0.0]]], 0.2);
        let strays = gap.farthest([0.0, 0.0], [10.0, 0.0], 1.0);
        assert!((strays - 0.05).abs() <= FINE, "{strays}");
        let wide = Near::new(vec![[[0.0, 0.0], [3.0, 0.0]], [[7.0, 0.0], [10.0, 0.0]]], 0.2);
        assert!(wide.farthest([0.0, 0.0], [10.0, 0.0], 0.1) > 0.1);
    }
}
