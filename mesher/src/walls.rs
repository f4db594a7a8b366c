//! Which wall a ray from inside the material meets first: segments sorted into a uniform grid of cells. µm.

use crate::geometry::{Point, bounds, cross};

/// Where a ray ends.
#[derive(Clone, Copy, Debug)]
pub struct Hit {
    /// Number of the segment.
    pub segment: u32,
    /// Length of the ray, µm.
    pub along: f64,
    /// Cosine of the angle between the ray and the wall's normal into the material: -1 where it ends squarely.
    pub facing: f64,
}

/// Walls made ready for rays.
#[derive(Debug)]
pub struct Walls {
    low: Point,
    cell: f64,
    columns: usize,
    rows: usize,
    cells: Vec<Vec<u32>>,
    segments: Vec<[Point; 2]>,
}

impl Walls {
    /// From segments with the material on their left; `None` without any.
    pub fn new(segments: Vec<[Point; 2]>) -> Option<Self> {
        let [low, high] = bounds(segments.iter().flatten())?;
        let (width, height) = (high[0] - low[0], high[1] - low[1]);
        // A cell for every two segments, a square as far as it goes.
        let wanted = (segments.len() / 2).clamp(16, 1 << 20) as f64;
        let cell = (width * height / wanted).sqrt().max(width.max(height) / 4096.0).max(f64::MIN_POSITIVE);
        let (columns, rows) = ((width / cell) as usize + 1, (height / cell) as usize + 1);
        let mut cells = vec![Vec::new(); columns * rows];
        let column = |x: f64| (((x - low[0]) / cell) as usize).min(columns - 1);
        let row = |y: f64| (((y - low[1]) / cell) as usize).min(rows - 1);
        for (i, [a, b]) in segments.iter().enumerate() {
            let slack = 1e-6 * cell;
            for r in row(a[1].min(b[1]) - slack)..=row(a[1].max(b[1]) + slack) {
                // Only the columns that the segment reaches within this row.
                let (y0, y1) = (low[1] + r as f64 * cell - slack, low[1] + (r + 1) as f64 * cell + slack);
                let at = |y: f64| {
                    let t = if a[1] == b[1] { 0.0 } else { ((y - a[1]) / (b[1] - a[1])).clamp(0.0, 1.0) };
                    a[0] + t * (b[0] - a[0])
                };
                let (x0, x1) = if a[1] == b[1] { (a[0], b[0]) } else { (at(y0), at(y1)) };
                for c in column(x0.min(x1) - slack)..=column(x0.max(x1) + slack) {
                    cells[r * columns + c].push(i as u32);
                }
            }
        }
        Some(Self { low, cell, columns, rows, cells, segments })
    }

    /// The first wall that a ray along a unit vector meets from inside the material. The wall that the ray starts on does
    /// not count.
    pub fn hit(&self, from: Point, direction: Point) -> Option<Hit> {
        let mut column = ((from[0] - self.low[0]) / self.cell).floor() as i64;
        let mut row = ((from[1] - self.low[1]) / self.cell).floor() as i64;
        let clamp = |k: i64, n: usize| k.clamp(0, n as i64 - 1);
        (column, row) = (clamp(column, self.columns), clamp(row, self.rows));
        let next = |k: i64, low: f64, x: f64, d: f64| {
            if d == 0.0 { f64::INFINITY } else { (low + (k + i64::from(d > 0.0)) as f64 * self.cell - x) / d }
        };
        loop {
            let exit_x = next(column, self.low[0], from[0], direction[0]);
            let exit_y = next(row, self.low[1], from[1], direction[1]);
            let exit = exit_x.min(exit_y);
            let mut hit: Option<Hit> = None;
            for &i in &self.cells[row as usize * self.columns + column as usize] {
                let [a, b] = self.segments[i as usize];
                let s = [b[0] - a[0], b[1] - a[1]];
                let facing = (direction[1] * s[0] - direction[0] * s[1]) / s[0].hypot(s[1]);
                // Only walls that the ray meets from inside; the one it starts on is met from outside or not at all.
                if facing >= -1e-6 || facing.is_nan() {
                    continue;
                }
                let w = [a[0] - from[0], a[1] - from[1]];
                let det = cross(direction, s);
                let along = cross(w, s) / det;
                let share = cross(w, direction) / det;
                if along > 1e-9 * self.cell
                    && (-1e-9..=1.0 + 1e-9).contains(&share)
                    && along <= exit + 1e-6 * self.cell
                    && hit.is_none_or(|h| along < h.along)
                {
                    hit = Some(Hit { segment: i, along, facing });
                }
            }
            if hit.is_some() {
                return hit;
            }
            if exit_x <= exit_y {
                column += if direction[0] > 0.0 { 1 } else { -1 };
            } else {
                row += if direction[1] > 0.0 { 1 } else { -1 };
            }
            if column < 0 || row < 0 || column >= self.columns as i64 || row >= self.rows as i64 {
                return None;
            }
        }
    }
}
