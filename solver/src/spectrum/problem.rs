//! The eigenproblem K φ = λ M φ, checked and scaled.
//!
//! In: K and M (any consistent units), full symmetric storage. Out: the same pencil on unknowns scaled to a diagonal of
//! order one. A thin plate's bending and stretching stiffness differ by t²/12, its rotations and translations by a
//! length: without scaling, pivots say nothing. The scale factors are powers of two, so scaling adds no rounding at all.

use super::error::SpectrumError;
use super::order::EntityOrder;
use super::pencil::{Lower, Pencil};
use nalgebra_sparse::CscMatrix;
use std::sync::Arc;

/// K φ = λ M φ with K symmetric positive semidefinite and M symmetric positive definite.
///
/// Limits: fewer than 2³² entries in each triangle.
#[derive(Clone, Debug)]
pub struct Problem {
    pub(super) pencil: Pencil,
    /// φ = scale · (scaled unknown).
    pub(super) scale: Vec<f64>,
    pub(super) groups: Option<Vec<u32>>,
    pub(super) entities: Option<Arc<EntityOrder>>,
    pub(super) k_norm: f64,
    pub(super) m_norm: f64,
}

/// Mirror entries may differ by this share of √(a_ii a_jj): assembly adds in different orders.
const SYMMETRY: f64 = 1e-9;

impl Problem {
    /// Checks the pencil and scales it. K and M: n × n, any units that agree, both triangles stored.
    ///
    /// `groups` gives for every unknown the number of the mesh entity it belongs to (any numbers); unknowns of one group
    /// stay together in the fill-reducing order, which is then found on the much smaller graph of the groups.
    ///
    /// # Errors
    /// Sizes that differ, entries that are not finite or not symmetric, an unknown without mass, too many entries.
    pub fn new(k: &CscMatrix<f64>, m: &CscMatrix<f64>, groups: Option<&[u32]>) -> Result<Self, SpectrumError> {
        let problem = Self::symmetric(k, m, groups)?;
        check_symmetry(k, &diagonal(k), "K")?;
        check_symmetry(m, &diagonal(m), "M")?;
        Ok(problem)
    }

    /// The same for matrices that are symmetric by the way they were assembled: their lower triangles are taken.
    ///
    /// # Errors
    /// As [`Self::new`], but for symmetry.
    pub fn symmetric(k: &CscMatrix<f64>, m: &CscMatrix<f64>, groups: Option<&[u32]>) -> Result<Self, SpectrumError> {
        let n = k.ncols();
        let group_count = groups.map_or(n, <[u32]>::len);
        if n == 0 || k.nrows() != n || m.nrows() != n || m.ncols() != n || group_count != n {
            return Err(SpectrumError::Shape {
                k_rows: k.nrows(),
                k_columns: n,
                m_rows: m.nrows(),
                m_columns: m.ncols(),
                groups: group_count,
            });
        }
        check_finite(k, "K")?;
        check_finite(m, "M")?;
        let (k_diagonal, m_diagonal) = (diagonal(k), diagonal(m));
        for (unknown, &value) in m_diagonal.iter().enumerate() {
            if value <= 0.0 {
                return Err(SpectrumError::NoMass { unknown, value });
            }
        }
        let scale = scale_factors(&k_diagonal, &m_diagonal);
        Ok(Self {
            pencil: lower_union(k, m, &scale)?,
            scale,
            groups: groups.map(<[u32]>::to_vec),
            entities: None,
            k_norm: norm_one(k),
            m_norm: norm_one(m),
        })
    }

    /// What is left of it where all unknowns but these, given in rising order, are held. Norms stay those of the whole.
    #[must_use]
    pub fn restricted(&self, unknowns: &[u32]) -> Self {
        let picked = |all: &[f64]| unknowns.iter().map(|&u| all[u as usize]).collect();
        Self {
            pencil: self.pencil.restricted(unknowns),
            scale: picked(&self.scale),
            groups: self.groups.as_ref().map(|all| unknowns.iter().map(|&u| all[u as usize]).collect()),
            entities: self.entities.clone(),
            ..*self
        }
    }

    /// The order of its groups: for this problem, for parts of it, and for others on the same mesh.
    ///
    /// # Errors
    /// A pattern that is too large.
    pub fn entity_order(&self) -> Result<EntityOrder, SpectrumError> {
        EntityOrder::of(&self.pencil.k, self.groups.as_deref())
    }

    /// The same with the order of its groups given, that of the whole which it is a part of.
    #[must_use]
    pub fn ordered_as(self, entities: &Arc<EntityOrder>) -> Self {
        Self { entities: Some(Arc::clone(entities)), ..self }
    }

    /// Number of unknowns.
    pub fn unknowns(&self) -> usize {
        self.scale.len()
    }

    /// Entries in one triangle of the union of both patterns, entries that are zero in both left out.
    pub fn entries(&self) -> usize {
        self.pencil.k.row_idx.len()
    }

    /// ‖K‖₁ and ‖M‖₁, the largest column sums of absolute values, in the caller's units.
    pub fn norms(&self) -> (f64, f64) {
        (self.k_norm, self.m_norm)
    }
}

fn norm_one(a: &CscMatrix<f64>) -> f64 {
    a.col_iter().map(|column| column.values().iter().map(|v| v.abs()).sum()).fold(0.0, f64::max)
}

fn check_finite(a: &CscMatrix<f64>, matrix: &'static str) -> Result<(), SpectrumError> {
    let found = a.values().iter().position(|v| !v.is_finite());
    found.map_or(Ok(()), |place| {
        let column = a.col_offsets().partition_point(|&start| start <= place) - 1;
        Err(SpectrumError::NotFinite { matrix, row: a.row_indices()[place], column })
    })
}

fn diagonal(a: &CscMatrix<f64>) -> Vec<f64> {
    let column_of = |(column, entries): (usize, nalgebra_sparse::csc::CscCol<f64>)| {
        entries.row_indices().binary_search(&column).map_or(0.0, |place| entries.values()[place])
    };
    a.col_iter().enumerate().map(column_of).collect()
}

/// Compares every entry with its mirror image. Columns are walked in ascending order, so the mirror images of one column
/// come up in order too and one cursor per column finds them.
fn check_symmetry(a: &CscMatrix<f64>, diagonal: &[f64], matrix: &'static str) -> Result<(), SpectrumError> {
    let (start, rows, values) = a.csc_data();
    let largest = diagonal.iter().fold(0.0_f64, |x, y| x.max(y.abs()));
    let allowed = |i: usize, j: usize| SYMMETRY * (diagonal[i] * diagonal[j]).abs().sqrt().max(1e-16 * largest);
    let mut cursor = start[..a.ncols()].to_vec();
    let fault = |row: usize, column: usize, value: f64, mirror: f64| {
        Err(SpectrumError::NotSymmetric { matrix, row, column, value, mirror })
    };
    for j in 0..a.ncols() {
        for p in start[j]..start[j + 1] {
            let i = rows[p];
            if i <= j {
                continue;
            }
            // Upper entries of column i before row j have no lower counterpart: they must be negligible.
            while cursor[i] < start[i + 1] && rows[cursor[i]] < j {
                let q = cursor[i];
                if values[q].abs() > allowed(rows[q], i) {
                    return fault(rows[q], i, values[q], 0.0);
                }
                cursor[i] += 1;
            }
            let mirror = if cursor[i] < start[i + 1] && rows[cursor[i]] == j {
                cursor[i] += 1;
                values[cursor[i] - 1]
            } else {
                0.0
            };
            // Assembled entries are equal to the last bit: the bound's root is seldom needed.
            let off = (values[p] - mirror).abs();
            if off > 0.0 && off > allowed(i, j) {
                return fault(i, j, values[p], mirror);
            }
        }
    }
    for (i, &from) in cursor.iter().enumerate() {
        for q in from..start[i + 1] {
            if rows[q] < i && values[q].abs() > allowed(rows[q], i) {
                return fault(rows[q], i, values[q], 0.0);
            }
        }
    }
    Ok(())
}

/// Powers of two nearest to 1/√(K_ii + s M_ii). s is zero when every unknown has stiffness of its own; otherwise it is
/// the smallest positive K_ii/M_ii, or one for a pencil without any stiffness.
fn scale_factors(k: &[f64], m: &[f64]) -> Vec<f64> {
    let shift = if k.iter().all(|&v| v > 0.0) {
        0.0
    } else {
        let smallest = k.iter().zip(m).filter(|(k, _)| **k > 0.0).map(|(k, m)| k / m).fold(f64::INFINITY, f64::min);
        if smallest.is_finite() { smallest } else { 1.0 }
    };
    k.iter().zip(m).map(|(k, m)| (-0.5 * (k.abs() + shift * m).log2()).round().exp2()).collect()
}

/// Lower triangles on the union of both patterns, scaled; entries zero in both matrices are dropped (in-plane and
/// out-of-plane motion then fall apart by themselves where nothing couples them).
fn lower_union(k: &CscMatrix<f64>, m: &CscMatrix<f64>, scale: &[f64]) -> Result<Pencil, SpectrumError> {
    let n = scale.len();
    let empty = |entries: usize| Lower {
        col_ptr: vec![0],
        row_idx: Vec::with_capacity(entries / 2 + n),
        values: Vec::with_capacity(entries / 2 + n),
    };
    let mut pencil = Pencil { k: empty(k.nnz()), m: empty(m.nnz() / 2) };
    let (k_start, k_rows, k_values) = k.csc_data();
    let (m_start, m_rows, m_values) = m.csc_data();
    for j in 0..n {
        let k_from = k_start[j] + k_rows[k_start[j]..k_start[j + 1]].partition_point(|&r| r < j);
        let m_from = m_start[j] + m_rows[m_start[j]..m_start[j + 1]].partition_point(|&r| r < j);
        let (mut p, mut q) = (k_from, m_from);
        loop {
            let k_row = if p < k_start[j + 1] { k_rows[p] } else { usize::MAX };
            let m_row = if q < m_start[j + 1] { m_rows[q] } else { usize::MAX };
            let row = k_row.min(m_row);
            if row == usize::MAX {
                break;
            }
            let (mut a, mut b) = (0.0, 0.0);
            if k_row == row {
                a = k_values[p];
                p += 1;
            }
            if m_row == row {
                b = m_values[q];
                q += 1;
            }
            // M has a positive diagonal, so the diagonal is never dropped and comes first.
            if a != 0.0 || b != 0.0 {
                let factor = scale[row] * scale[j];
                pencil.k.row_idx.push(row as u32);
                pencil.k.values.push(a * factor);
                if b != 0.0 {
                    pencil.m.row_idx.push(row as u32);
                    pencil.m.values.push(b * factor);
                }
            }
        }
        let entries = pencil.k.row_idx.len();
        if entries > u32::MAX as usize {
            return Err(SpectrumError::TooLarge { entries });
        }
        pencil.k.col_ptr.push(entries as u32);
        pencil.m.col_ptr.push(pencil.m.row_idx.len() as u32);
    }
    Ok(pencil)
}
