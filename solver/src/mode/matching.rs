//! Which mode of one model is which of another: one to one, by the modal assurance criterion.
//!
//! In: frequencies and shapes of both at common points. Out: pairs. Within a cluster of nearly equal frequencies the basis is
//! a matter of choice, so a mode counts as matched by what the other model's whole cluster explains of it (the sum of its
//! squared projections); which partner it gets there is settled by the plain criterion. The assignment is the best in sum
//! (H. W. Kuhn, Naval Research Logistics Quarterly 2 (1955) 83; the crate `pathfinding`).

use super::mac::{ModeShape, PointWeights};
use nalgebra::DMatrix;
use pathfinding::kuhn_munkres::kuhn_munkres;
use pathfinding::matrix::Matrix;
use std::ops::Range;

/// The modes of one model.
#[derive(Clone, Copy, Debug)]
pub struct ModelModes<'a> {
    /// Frequencies, Hz, ascending.
    pub frequency_hz: &'a [f64],
    /// Shapes at the common points, in the same order.
    pub shapes: &'a [ModeShape<'a>],
}

/// Two modes that are the same motion.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Pair {
    /// Number of the mode in the first model, from 0.
    pub first: usize,
    /// Number of the mode in the second model, from 0.
    pub second: usize,
    /// Share of the one explained by the other, or by the other's cluster, 0 to 1. Low: no real partner.
    pub mac: f64,
}

/// Pairs off the modes of two models, as many as the smaller one has, by number in the first. Frequencies within a share
/// `near` of their lower neighbour's (0.01: one per cent) are one cluster.
pub fn matching(first: &ModelModes, second: &ModelModes, weights: &PointWeights, near: f64) -> Vec<Pair> {
    let (a, b) = (Basis::new(first, weights, near), Basis::new(second, weights, near));
    let (rows, columns) = (a.vectors.ncols(), b.vectors.ncols());
    let cosines = a.vectors.tr_mul(&b.vectors);
    // Plain criteria: the clusters' bases are kept as near to the modes as orthogonality allows.
    let plain = (a.modes.tr_mul(&cosines) * &b.modes).map(|x| (x * x).min(1.0));
    let squares = cosines.map(|x| x * x);
    let explained = |i: usize, j: usize| {
        let by_second: f64 = b.cluster[j].clone().map(|k| squares[(i, k)]).sum();
        let by_first: f64 = a.cluster[i].clone().map(|k| squares[(k, j)]).sum();
        // The larger cluster explains the smaller one.
        by_second.max(by_first).min(1.0)
    };
    let score: Vec<Vec<f64>> = (0..rows).map(|i| (0..columns).map(|j| explained(i, j)).collect()).collect();
    let value = |i: usize, j: usize| score[i][j] + plain[(i, j)];
    let pairs: Vec<(usize, usize)> = if rows <= columns {
        assign(rows, columns, &value).into_iter().enumerate().collect()
    } else {
        assign(columns, rows, &|j, i| value(i, j)).into_iter().enumerate().map(|(j, i)| (i, j)).collect()
    };
    let mut pairs: Vec<Pair> =
        pairs.into_iter().map(|(first, second)| Pair { first, second, mac: score[first][second] }).collect();
    pairs.sort_by_key(|p| p.first);
    pairs
}

/// Runs of ascending frequencies (Hz) that each lie within a share `near` of their lower neighbour.
pub fn clusters(frequency_hz: &[f64], near: f64) -> Vec<Range<usize>> {
    let f = frequency_hz;
    let last_of_cluster = |&end: &usize| end == f.len() || f[end] - f[end - 1] > near * f[end - 1].abs();
    let mut start = 0;
    (1..=f.len()).filter(last_of_cluster).map(|end| std::mem::replace(&mut start, end)..end).collect()
}

/// The modes as orthonormal vectors, cluster by cluster: times the roots of the weights, so that products are plain.
struct Basis {
    /// A point's displacement and tilt in the rows, one vector a column; zero where a mode adds nothing to those before it.
    vectors: DMatrix<f64>,
    /// The modes themselves, of length one or zero, in these vectors.
    modes: DMatrix<f64>,
    /// For each mode the modes of its cluster.
    cluster: Vec<Range<usize>>,
}

impl Basis {
    fn new(model: &ModelModes, weights: &PointWeights, near: f64) -> Self {
        let f = model.frequency_hz;
        let cluster: Vec<Range<usize>> =
            clusters(f, near).into_iter().flat_map(|c| std::iter::repeat_n(c.clone(), c.len())).collect();
        let mut vectors = weighted(model.shapes, weights);
        let mut modes = DMatrix::zeros(f.len(), f.len());
        for i in 0..f.len() {
            let (done, mut rest) = vectors.columns_range_pair_mut(cluster[i].start..i, i..f.len());
            let mut vector = rest.column_mut(0);
            let size = vector.norm();
            // Twice is enough for orthogonality to rounding (Parlett, The Symmetric Eigenvalue Problem, 1980, §6-9).
            for _ in 0..2 {
                for (k, other) in done.column_iter().enumerate() {
                    let along = vector.dot(&other);
                    vector.axpy(-along, &other, 1.0);
                    modes[(cluster[i].start + k, i)] += along;
                }
            }
            let left = vector.norm();
            modes[(i, i)] = left;
            // What depends on its neighbours adds nothing to their space.
            vector *= if left > 1e-9 * size { 1.0 / left } else { 0.0 };
            if size > 0.0 {
                modes.column_mut(i).unscale_mut(size);
            }
        }
        Self { vectors, modes, cluster }
    }
}

/// The shapes at the points, a column each, times the roots of the weights.
fn weighted(shapes: &[ModeShape], weights: &PointWeights) -> DMatrix<f64> {
    let rotary = weights.rotary_m2.sqrt();
    let roots: Vec<f64> = weights.mass_kg.iter().map(|m| m.sqrt()).collect();
    let mut all = DMatrix::zeros(5 * roots.len(), shapes.len());
    for (shape, mut column) in shapes.iter().zip(all.column_iter_mut()) {
        let points = column.as_mut_slice().chunks_exact_mut(5).zip(&roots);
        for (((at, root), u), tilt) in points.zip(shape.displacement).zip(shape.tilt) {
            (0..3).for_each(|k| at[k] = root * u[k]);
            (0..2).for_each(|k| at[3 + k] = root * rotary * tilt[k]);
        }
    }
    all
}

/// Steps to a value of one in the assignment's whole numbers: 10 000 values of two do not overflow.
const STEPS: f64 = (1_u64 << 48) as f64;

/// The column of every row in the assignment of the largest total value; no more rows than columns, values up to two.
fn assign(rows: usize, columns: usize, value: &dyn Fn(usize, usize) -> f64) -> Vec<usize> {
    if rows == 0 {
        return Vec::new();
    }
    let whole = |(i, j): (usize, usize)| (value(i, j) * STEPS) as i64;
    kuhn_munkres(&Matrix::from_fn(rows, columns, whole)).1
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    /// Shapes over four points along x, unit weights.
    fn shapes(rows: &[[f64; 4]]) -> Vec<Vec<[f64; 3]>> {
        rows.iter().map(|r| r.map(|x| [x, 0.0, 0.0]).to_vec()).collect()
    }

    fn borrowed(owned: &[Vec<[f64; 3]>]) -> Vec<ModeShape<'_>> {
        owned.iter().map(|u| ModeShape { displacement: u, tilt: &[[0.0; 2]; 4] }).collect()
    }

    fn pairs(f: [&[f64]; 2], a: &[[f64; 4]], b: &[[f64; 4]], near: f64) -> Vec<(usize, usize, f64)> {
        let weights = PointWeights { mass_kg: vec![1.0; 4], rotary_m2: 0.0 };
        let (a, b) = (shapes(a), shapes(b));
        let (a, b) = (borrowed(&a), borrowed(&b));
        let models = (ModelModes { frequency_hz: f[0], shapes: &a }, ModelModes { frequency_hz: f[1], shapes: &b });
        matching(&models.0, &models.1, &weights, near).into_iter().map(|p| (p.first, p.second, p.mac)).collect()
    }

    const X: [f64; 4] = [1.0, 0.0, 0.0, 0.0];
    const Y: [f64; 4] = [0.0, 1.0, 0.0, 0.0];
    const Z: [f64; 4] = [0.0, 0.0, 1.0, 0.0];

    #[test]
    fn swapped_order_and_a_mode_too_many() {
        let found = pairs([&[1.0, 2.0], &[0.5, 1.0, 2.0]], &[X, Y], &[Z, Y, X], 0.01);
        assert_eq!(found, [(0, 2, 1.0), (1, 1, 1.0)]);
        let found = pairs([&[0.5, 1.0, 2.0], &[1.0, 2.0]], &[Z, Y, X], &[X, Y], 0.01);
        assert_eq!(found, [(1, 1, 1.0), (2, 0, 1.0)]);
        assert!(pairs([&[], &[1.0]], &[], &[X], 0.01).is_empty());
    }

    /// A pair whose basis is turned by 45° is the same pair; a third mode far off keeps its partner.
    #[test]
    fn an_exact_pair_matches_whatever_its_basis() {
        let h = std::f64::consts::FRAC_1_SQRT_2;
        let turned = [[h, h, 0.0, 0.0], [h, -h, 0.0, 0.0], Z];
        for other in [[1.0, 1.0 + 1e-9, 3.0], [1.0, 1.2, 3.0]] {
            let found = pairs([&[1.0, 1.0, 3.0], &other], &[X, Y, Z], &turned, 0.01);
            assert!(found.iter().all(|p| (p.2 - 1.0).abs() < 1e-12), "{found:?}");
            assert_eq!((found.len(), found[2].1), (3, 2));
        }
        // Where neither is a cluster, half is all there is.
        let found = pairs([&[1.0, 1.3, 3.0], &[1.0, 1.2, 3.0]], &[X, Y, Z], &turned, 0.01);
        assert!((found[0].2 - 0.5).abs() < 1e-12 && (found[1].2 - 0.5).abs() < 1e-12, "{found:?}");
    }

    /// Near neighbours that are different motions in both models are told apart although either cluster explains both.
    #[test]
    fn near_neighbours_keep_their_own_partner() {
        let found =
            pairs([&[1.0, 1.001], &[1.0, 1.001]], &[X, Y], &[[0.1, 0.99, 0.0, 0.0], [0.99, -0.1, 0.0, 0.0]], 0.01);
        assert_eq!(found.iter().map(|p| (p.0, p.1)).collect::<Vec<_>>(), [(0, 1), (1, 0)]);
        assert!(found.iter().all(|p| (p.2 - 1.0).abs() < 1e-12));
    }

    proptest! {
        /// No permutation of up to five rows beats the assignment.
        #[test]
        fn no_better_assignment(values in prop::collection::vec(0.0..1.0f64, 25), rows in 1usize..=5) {
            let value = |i: usize, j: usize| values[5 * i + j];
            let found = assign(rows, 5, &value);
            let total: f64 = found.iter().enumerate().map(|(i, &j)| value(i, j)).sum();
            let mut seen = found.clone();
            seen.sort_unstable();
            seen.dedup();
            prop_assert_eq!(seen.len(), rows);
            fn best(i: usize, rows: usize, used: u8, value: &dyn Fn(usize, usize) -> f64) -> f64 {
                if i == rows {
                    return 0.0;
                }
                (0..5).filter(|j| used & (1 << j) == 0).map(|j| value(i, j) + best(i + 1, rows, used | (1 << j), value)).fold(0.0, f64::max)
            }
            prop_assert!((total - best(0, rows, 0, &value)).abs() < 1e-12);
        }
    }
}
