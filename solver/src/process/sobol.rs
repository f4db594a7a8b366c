//! Sobol points with the direction numbers of Joe and Kuo, *SIAM J. Sci. Comput.* 30 (2008) 2635, table new-joe-kuo-6, as the crate
//! `sobol` keeps them. It walks through points one after the other; here each follows from its index alone, so that parts of a batch
//! take theirs. In: an index. Out: 32 bits for each dimension.

use sobol::Sobol;
use sobol::params::JoeKuoD6;

/// Most dimensions.
pub const MOST: usize = 1000;

/// The 32 direction numbers of every dimension.
pub fn directions(dimensions: usize) -> Vec<Vec<u32>> {
    Sobol::<u32>::init_direction_vals(dimensions, 32, &JoeKuoD6::standard())
}

/// The coordinate of the point with this index, as a fraction of 2³².
pub fn coordinate(directions: &[u32], index: u32) -> u32 {
    (0..32).filter(|bit| (index >> bit) & 1 == 1).fold(0, |x, bit| x ^ directions[bit])
}

#[cfg(test)]
mod tests {
    use super::*;

    const DIMENSIONS: usize = 21;

    /// Every one-dimensional projection of the first 2^k points has one point in each of 2^k equal intervals, and every
    /// two-dimensional projection of these primitive polynomials fills its elementary intervals up to its quality t.
    #[test]
    fn every_interval_has_its_point() {
        for (d, v) in directions(MOST).iter().enumerate() {
            let mut seen: Vec<u32> = (0..1024).map(|i| coordinate(v, i) >> 22).collect();
            seen.sort_unstable();
            assert!(seen.iter().enumerate().all(|(i, &s)| i as u32 == s), "dimension {d}");
        }
    }

    /// Rows of the published table: dimension, degree s, inner coefficients a, first numbers m. The recurrence is written out here once more.
    #[test]
    fn rows_of_the_published_table() {
        let rows: [(usize, usize, u32, &[u32]); 4] = [
            (2, 1, 0, &[1]),
            (5, 3, 2, &[1, 1, 1]),
            (14, 6, 1, &[1, 3, 3, 9, 7, 49]),
            (21, 7, 4, &[1, 3, 7, 13, 13, 15, 69]),
        ];
        let all = directions(DIMENSIONS);
        for (dimension, s, a, m) in rows {
            let mut v: Vec<u32> = m.iter().enumerate().map(|(i, m)| m << (31 - i)).collect();
            for i in s..32 {
                let taken = (1..s).filter(|k| (a >> (s - 1 - k)) & 1 == 1).map(|k| v[i - k]);
                let next = taken.fold(v[i - s] ^ (v[i - s] >> s), |x, y| x ^ y);
                v.push(next);
            }
            assert_eq!(all[dimension - 1], v, "dimension {dimension}");
        }
    }

    /// The integral of Π (1 + (x − ½)/(j + 1)) over the unit cube is 1: 4096 points come within 1e-4, where as many random
    /// ones stay about 2e-3 off (standard error √(Σ 1/(12 (j+1)²)/4096)). Unshifted points lie at the lower ends of their 4096
    /// intervals, so they are moved to the middles.
    #[test]
    fn integrals_converge_faster_than_at_random() {
        let all = directions(DIMENSIONS);
        let n = 4096;
        let sum: f64 = (0..n)
            .map(|i| {
                let x = |d: usize| f64::from(coordinate(&all[d], i)) / 4_294_967_296.0 + 0.5 / f64::from(n);
                (0..DIMENSIONS).map(|d| 1.0 + (x(d) - 0.5) / (d + 1) as f64).product::<f64>()
            })
            .sum();
        assert!((sum / f64::from(n) - 1.0).abs() < 1e-4, "{}", sum / f64::from(n));
    }
}
