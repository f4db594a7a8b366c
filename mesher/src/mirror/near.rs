//! Distance from a point to the nearest of many segments, as far as a given reach: a uniform grid of cells, each with the
//! segments that pass within reach of it. µm.

use crate::geometry::Point;
use crate::outline::thin::{closest, distance};

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

    /// Distance to the nearest segment; infinite beyond the reach.
    pub(super) fn distance(&self, p: Point) -> f64 {
        let cell = self.index(p[1], 1) * self.columns + self.index(p[0], 0);
        let entries = &self.entries[self.starts[cell] as usize..self.starts[cell + 1] as usize];
        let to = |s: &u32| {
            let [a, b] = self.segments[*s as usize];
            distance(closest(p, a, b), p)
        };
        let nearest = entries.iter().map(to).fold(f64::INFINITY, f64::min);
        if nearest <= self.reach { nearest } else { f64::INFINITY }
    }
}
