//! Forward and backward sweeps through a supernodal factor for four right-hand sides at once.
//!
//! In: the values of L by supernodes (dense columns, the triangle on top) and a block of four vectors, interleaved.
//! Out: L⁻¹x or L⁻ᵀx in place. Four columns of L are applied in one pass over the rows, so that every number of L is read
//! once for four vectors and every partial sum once for four columns. Everything is inlined into its caller, which compiles it for
//! the processor at hand.

/// Four vectors at one unknown.
pub(super) type Lanes = [f64; 4];

/// One supernode of the factor.
#[derive(Clone, Copy)]
pub(super) struct Supernode<'a> {
    /// Its first column.
    pub(super) first: usize,
    /// Number of columns.
    pub(super) columns: usize,
    /// Rows below the triangle, as unknowns.
    pub(super) below: &'a [u32],
    /// Dense columns, each of `columns + below.len()` rows.
    pub(super) values: &'a [f64],
    /// The diagonal of L is one; what is stored there is something else.
    pub(super) unit: bool,
}

/// Columns applied in one pass.
const GROUP: usize = 4;

#[inline(always)]
fn minus(x: &mut Lanes, a: f64, y: &Lanes) {
    for c in 0..4 {
        x[c] = (-a).mul_add(y[c], x[c]);
    }
}

#[inline(always)]
fn divide(x: &mut Lanes, a: f64) {
    for v in x {
        *v /= a;
    }
}

impl Supernode<'_> {
    fn rows(&self) -> usize {
        self.columns + self.below.len()
    }

    fn column(&self, j: usize) -> &[f64] {
        &self.values[j * self.rows()..(j + 1) * self.rows()]
    }

    /// x ← L⁻¹ x for the part of this supernode. `place` says where an unknown below stands in `x`.
    #[inline(always)]
    pub(super) fn forward(&self, x: &mut [Lanes], work: &mut Vec<Lanes>, place: impl Fn(u32) -> usize) {
        work.clear();
        work.extend_from_slice(&x[self.first..self.first + self.columns]);
        work.resize(self.rows(), [0.0; 4]);
        let mut from = 0;
        while from < self.columns {
            let end = (from + GROUP).min(self.columns);
            for j in from..end {
                let column = self.column(j);
                if !self.unit {
                    divide(&mut work[j], column[j]);
                }
                let solved = work[j];
                for i in j + 1..end {
                    minus(&mut work[i], column[i], &solved);
                }
            }
            let (done, rest) = work.split_at_mut(end);
            if end - from == GROUP {
                let [x0, x1, x2, x3] = [done[from], done[from + 1], done[from + 2], done[from + 3]];
                let [a, b, c, d] = [0, 1, 2, 3].map(|g| &self.column(from + g)[end..]);
                for ((((w, a), b), c), d) in rest.iter_mut().zip(a).zip(b).zip(c).zip(d) {
                    for l in 0..4 {
                        w[l] -= a.mul_add(x0[l], b * x1[l]) + c.mul_add(x2[l], d * x3[l]);
                    }
                }
            } else {
                for (j, solved) in done.iter().enumerate().skip(from) {
                    for (w, &a) in rest.iter_mut().zip(&self.column(j)[end..]) {
                        minus(w, a, solved);
                    }
                }
            }
            from = end;
        }
        x[self.first..self.first + self.columns].copy_from_slice(&work[..self.columns]);
        for (&i, w) in self.below.iter().zip(&work[self.columns..]) {
            let target = &mut x[place(i)];
            for c in 0..4 {
                target[c] += w[c];
            }
        }
    }

    /// x ← L⁻ᵀ x for the part of this supernode.
    #[inline(always)]
    pub(super) fn backward(&self, x: &mut [Lanes], work: &mut Vec<Lanes>, place: impl Fn(u32) -> usize) {
        work.clear();
        work.extend_from_slice(&x[self.first..self.first + self.columns]);
        work.extend(self.below.iter().map(|&i| x[place(i)]));
        // The incomplete group is the last one, as in the forward sweep.
        let mut end = self.columns;
        while end > 0 {
            let from = (end - 1) / GROUP * GROUP;
            let (head, rest) = work.split_at_mut(end);
            if end - from == GROUP {
                let [a, b, c, d] = [0, 1, 2, 3].map(|g| &self.column(from + g)[end..]);
                let mut sums = [[0.0; 4]; 4];
                for ((((w, a), b), c), d) in rest.iter().zip(a).zip(b).zip(c).zip(d) {
                    for (sum, a) in sums.iter_mut().zip([a, b, c, d]) {
                        minus(sum, *a, w);
                    }
                }
                for (target, sum) in head[from..].iter_mut().zip(&sums) {
                    for l in 0..4 {
                        target[l] += sum[l];
                    }
                }
            } else {
                for (j, target) in head.iter_mut().enumerate().skip(from) {
                    for (w, &a) in rest.iter().zip(&self.column(j)[end..]) {
                        minus(target, a, w);
                    }
                }
            }
            for j in (from..end).rev() {
                let column = self.column(j);
                for i in j + 1..end {
                    let known = head[i];
                    minus(&mut head[j], column[i], &known);
                }
                if !self.unit {
                    divide(&mut head[j], column[j]);
                }
            }
            end = from;
        }
        x[self.first..self.first + self.columns].copy_from_slice(&work[..self.columns]);
    }
}
