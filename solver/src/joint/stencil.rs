//! Interpolation of second degree on a lattice of any dimension: all squares and products, (d + 1)(d + 2)/2 nodes for d
//! coordinates that are off their node (Abramowitz & Stegun, *Handbook of Mathematical Functions*, 25.2.67 for two). In:
//! coordinates from the nearest node, in steps. Out: nodes and their shares.

use std::collections::BTreeMap;

/// A coordinate this near to a node, in steps, is on it.
const ON_NODE: f64 = 1e-9;

/// Nodes around the nearest one and their shares, for coordinates off it in steps, each at most ½: second degree in all.
pub(super) fn stencil(off: &[f64]) -> Vec<(Vec<i64>, f64)> {
    let mut shares: BTreeMap<Vec<i64>, f64> = BTreeMap::new();
    let at = |steps: &[(usize, i64)]| {
        let mut place = vec![0; off.len()];
        steps.iter().for_each(|&(k, s)| place[k] = s);
        place
    };
    let mut add = |steps: &[(usize, i64)], share: f64| *shares.entry(at(steps)).or_default() += share;
    add(&[], 1.0);
    let moved: Vec<usize> = (0..off.len()).filter(|&k| off[k].abs() > ON_NODE).collect();
    for (n, &k) in moved.iter().enumerate() {
        let x = off[k];
        add(&[(k, 1)], 0.5 * x * (x + 1.0));
        add(&[(k, -1)], 0.5 * x * (x - 1.0));
        add(&[], -x * x);
        for &l in &moved[..n] {
            let (own, other) = (x.signum() as i64, off[l].signum() as i64);
            let product = (x * off[l]).abs();
            add(&[(k, own), (l, other)], product);
            add(&[(k, own)], -product);
            add(&[(l, other)], -product);
            add(&[], product);
        }
    }
    shares.into_iter().collect()
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Any polynomial of second degree comes back, whatever the signs.
    #[test]
    fn second_degree_is_exact() {
        let f = |x: &[f64]| {
            1.0 + 0.3 * x[0] - 0.7 * x[1] + 0.2 * x[2] + x[0] * x[1] - 0.4 * x[1] * x[2]
                + 2.0 * x[0] * x[0]
                + x[2] * x[2]
        };
        for off in [[0.3, -0.2, 0.5], [-0.45, -0.1, 0.2], [0.0, 0.4, -0.4], [0.0, 0.0, 0.0]] {
            let nodes = stencil(&off);
            let sum: f64 = nodes.iter().map(|(n, s)| s * f(&n.iter().map(|x| *x as f64).collect::<Vec<_>>())).sum();
            assert!((sum - f(&off)).abs() < 1e-14, "{off:?} {sum}");
            let moved = off.iter().filter(|x| **x != 0.0).count();
            assert!(nodes.len() <= (moved + 1) * (moved + 2) / 2);
        }
    }
}
