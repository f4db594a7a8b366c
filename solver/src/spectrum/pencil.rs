//! The pencil (K, M) as the solver keeps it: the lower triangles of both.
//!
//! In: entries. Out: products with blocks of vectors, the same pencil in another order.
//! No units here: the entries are scaled.

use faer::{MatMut, MatRef};
use std::borrow::Cow;

/// Which matrix a product is taken with.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) enum Which {
    /// Stiffness.
    K,
    /// Mass.
    M,
}

/// Lower triangle of a symmetric matrix by columns, rows ascending, the diagonal first in every column.
#[derive(Clone, Debug, Default)]
pub(super) struct Lower {
    pub(super) col_ptr: Vec<u32>,
    pub(super) row_idx: Vec<u32>,
    pub(super) values: Vec<f64>,
}

/// K on the union of both patterns, for the factor; M on its own, often a third of it.
#[derive(Clone, Debug, Default)]
pub(super) struct Pencil {
    pub(super) k: Lower,
    pub(super) m: Lower,
}

/// Columns handled at once by the product: one vector register.
const LANES: usize = 4;

impl Pencil {
    /// Number of unknowns.
    pub(super) fn len(&self) -> usize {
        self.k.len()
    }

    /// One of the two matrices.
    pub(super) fn matrix(&self, which: Which) -> &Lower {
        match which {
            Which::K => &self.k,
            Which::M => &self.m,
        }
    }

    /// y = A x for a block of vectors.
    pub(super) fn multiply(&self, which: Which, x: MatRef<'_, f64>, y: MatMut<'_, f64>) {
        self.matrix(which).multiply(x, y);
    }

    /// Values of K − σM on the pattern of K.
    pub(super) fn shifted(&self, shift: f64) -> Cow<'_, [f64]> {
        if shift == 0.0 {
            return Cow::Borrowed(&self.k.values);
        }
        let mut values = self.k.values.clone();
        self.add_mass(&mut values, -shift);
        Cow::Owned(values)
    }

    /// Adds `factor` · M to values on the pattern of K, which holds that of M.
    pub(super) fn add_mass(&self, values: &mut [f64], factor: f64) {
        for j in 0..self.len() {
            let mut place = self.k.column(j).start;
            for p in self.m.column(j) {
                while self.k.row_idx[place] != self.m.row_idx[p] {
                    place += 1;
                }
                values[place] += factor * self.m.values[p];
            }
        }
    }

    /// The rows and columns of some unknowns, given in rising order.
    pub(super) fn restricted(&self, unknowns: &[u32]) -> Pencil {
        let mut number = vec![u32::MAX; self.len()];
        unknowns.iter().zip(0..).for_each(|(&old, new)| number[old as usize] = new);
        Pencil { k: self.k.restricted(unknowns, &number), m: self.m.restricted(unknowns, &number) }
    }

    /// The same pencil with old unknown `i` at place `inverse[i]`.
    pub(super) fn permuted(&self, inverse: &[u32]) -> Pencil {
        Pencil { k: self.k.permuted(inverse), m: self.m.permuted(inverse) }
    }
}

impl Lower {
    /// Number of unknowns.
    pub(super) fn len(&self) -> usize {
        self.col_ptr.len() - 1
    }

    /// Entries of column `j`.
    pub(super) fn column(&self, j: usize) -> std::ops::Range<usize> {
        self.col_ptr[j] as usize..self.col_ptr[j + 1] as usize
    }

    /// Largest column sum of absolute values of the whole symmetric matrix.
    pub(super) fn norm_one(&self) -> f64 {
        let values = &self.values;
        let mut sums = vec![0.0; self.len()];
        for j in 0..self.len() {
            for p in self.column(j) {
                let i = self.row_idx[p] as usize;
                sums[i] += values[p].abs();
                if i != j {
                    sums[j] += values[p].abs();
                }
            }
        }
        sums.into_iter().fold(0.0, f64::max)
    }

    /// y = A x for a block of vectors.
    fn multiply(&self, x: MatRef<'_, f64>, mut y: MatMut<'_, f64>) {
        let (n, count) = (self.len(), x.ncols());
        let values = &self.values;
        let mut xs = vec![[0.0; LANES]; n];
        let mut ys = vec![[0.0; LANES]; n];
        let mut first = 0;
        while first < count {
            let width = LANES.min(count - first);
            for c in 0..LANES {
                for (i, slot) in xs.iter_mut().enumerate() {
                    slot[c] = if c < width { x[(i, first + c)] } else { 0.0 };
                }
            }
            ys.fill([0.0; LANES]);
            for j in 0..n {
                let range = self.column(j);
                let xj = xs[j];
                let mut sum = [0.0; LANES];
                let diagonal = values[range.start];
                for c in 0..LANES {
                    sum[c] = diagonal * xj[c];
                }
                let (rows, entries) = (&self.row_idx[range.start + 1..range.end], &values[range.start + 1..range.end]);
                for (&i, &a) in rows.iter().zip(entries) {
                    let (xi, yi) = (&xs[i as usize], &mut ys[i as usize]);
                    for c in 0..LANES {
                        yi[c] += a * xj[c];
                        sum[c] += a * xi[c];
                    }
                }
                for c in 0..LANES {
                    ys[j][c] += sum[c];
                }
            }
            for c in 0..width {
                for (i, slot) in ys.iter().enumerate() {
                    y[(i, first + c)] = slot[c];
                }
            }
            first += width;
        }
    }

    /// `number` of an unknown that is not among them is `u32::MAX`.
    fn restricted(&self, unknowns: &[u32], number: &[u32]) -> Lower {
        let room = self.row_idx.len();
        let (mut col_ptr, mut row_idx, mut values) = (vec![0], Vec::with_capacity(room), Vec::with_capacity(room));
        for &j in unknowns {
            let range = self.column(j as usize);
            for (&row, &value) in self.row_idx[range.clone()].iter().zip(&self.values[range]) {
                if number[row as usize] != u32::MAX {
                    row_idx.push(number[row as usize]);
                    values.push(value);
                }
            }
            col_ptr.push(row_idx.len() as u32);
        }
        Lower { col_ptr, row_idx, values }
    }

    fn permuted(&self, inverse: &[u32]) -> Lower {
        let n = self.len();
        // Bucket by the larger index first, then by the smaller: rows come out ascending without a sort.
        let upper = self.upper_entries(inverse);
        let mut col_ptr = vec![0u32; n + 1];
        for &(low, _) in &upper.entries {
            col_ptr[low as usize + 1] += 1;
        }
        for j in 0..n {
            col_ptr[j + 1] += col_ptr[j];
        }
        let mut next = col_ptr.clone();
        let total = self.row_idx.len();
        let (mut row_idx, mut values) = (vec![0u32; total], vec![0.0; total]);
        for high in 0..n {
            for &(low, source) in &upper.entries[upper.start[high] as usize..upper.start[high + 1] as usize] {
                let place = next[low as usize] as usize;
                next[low as usize] += 1;
                row_idx[place] = high as u32;
                values[place] = self.values[source as usize];
            }
        }
        Lower { col_ptr, row_idx, values }
    }

    /// For every column of the permuted upper triangle its rows (unsorted, diagonal included) and where they come from.
    pub(super) fn upper_entries(&self, inverse: &[u32]) -> UpperEntries {
        let n = self.len();
        let mut start = vec![0u32; n + 1];
        for j in 0..n {
            for p in self.column(j) {
                let high = inverse[j].max(inverse[self.row_idx[p] as usize]);
                start[high as usize + 1] += 1;
            }
        }
        for j in 0..n {
            start[j + 1] += start[j];
        }
        let mut next = start.clone();
        let mut entries = vec![(0u32, 0u32); self.row_idx.len()];
        for j in 0..n {
            for p in self.column(j) {
                let (a, b) = (inverse[j], inverse[self.row_idx[p] as usize]);
                let place = &mut next[a.max(b) as usize];
                entries[*place as usize] = (a.min(b), p as u32);
                *place += 1;
            }
        }
        UpperEntries { start, entries }
    }
}

/// The upper triangle of a permuted matrix by columns: (row, place in the unpermuted matrix).
pub(super) struct UpperEntries {
    pub(super) start: Vec<u32>,
    pub(super) entries: Vec<(u32, u32)>,
}
