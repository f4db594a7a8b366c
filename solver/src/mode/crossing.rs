//! Which modes change places from point to point of a batch, and where along a variable. In: for every point the frequencies of the modes as
//! drawn, found again, Hz. Out: pairs of modes, and the value of a variable at which two meet.

use super::MULTIPLE;

/// Two modes that change places.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Crossing {
    /// Numbers as drawn, from 0, the lower one first.
    pub modes: [usize; 2],
    /// Points in which the lower one as drawn is the upper one.
    pub points: usize,
}

/// Pairs of `modes` modes that change places in some point, those of most points first; `hz` tells the frequency of a mode in a
/// point, where it was found again. Members of a multiple have no order.
pub fn crossings(points: usize, modes: usize, hz: impl Fn(usize, usize) -> Option<f64>) -> Vec<Crossing> {
    let mut all = Vec::new();
    for b in 0..modes {
        for a in 0..b {
            let crossed = |p: &usize| hz(*p, a).zip(hz(*p, b)).is_some_and(|(a, b)| a > b * (1.0 + MULTIPLE));
            let points = (0..points).filter(crossed).count();
            if points > 0 {
                all.push(Crossing { modes: [a, b], points });
            }
        }
    }
    all.sort_by_key(|c| (std::cmp::Reverse(c.points), c.modes));
    all
}

/// The line of least squares of a difference of two modes, Hz, along a variable.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Approach {
    /// Difference at zero of the variable, Hz.
    at_zero_hz: f64,
    /// Hz per unit of the variable.
    slope: f64,
    /// Correlation of both, −1 to 1.
    pub correlation: f64,
}

impl Approach {
    /// Of the variable's values and the two modes' frequencies there, Hz; `None` where one or the other does not vary.
    pub fn fit(along: &[(f64, [f64; 2])]) -> Option<Self> {
        let n = along.len() as f64;
        let apart = |f: &[f64; 2]| f[1] - f[0];
        let mx = along.iter().map(|(x, _)| x).sum::<f64>() / n;
        let my = along.iter().map(|(_, f)| apart(f)).sum::<f64>() / n;
        let sum = |f: &dyn Fn(f64, f64) -> f64| along.iter().map(|(x, y)| f(x - mx, apart(y) - my)).sum::<f64>();
        let (xx, xy, yy) = (sum(&|x, _| x * x), sum(&|x, y| x * y), sum(&|_, y| y * y));
        let line = Self { at_zero_hz: my - xy / xx * mx, slope: xy / xx, correlation: xy / (xx * yy).sqrt() };
        (xx > 0.0 && yy > 0.0).then_some(line)
    }

    /// The value at which the two meet, if it lies between the lowest and the highest of these.
    pub fn meets_at(&self, along: &[(f64, [f64; 2])]) -> Option<f64> {
        let ends = |(l, h): (f64, f64), (x, _): &(f64, [f64; 2])| (l.min(*x), h.max(*x));
        let (low, high) = along.iter().fold((f64::INFINITY, f64::NEG_INFINITY), ends);
        Some(-self.at_zero_hz / self.slope).filter(|x| (low..=high).contains(x))
    }
}

/// Which of so many variables moves a difference of two modes most: the one of the largest correlation with it, the first of equals;
/// `along` tells a variable's values and the two frequencies there, Hz.
pub fn mover(variables: usize, along: impl Fn(usize) -> Vec<(f64, [f64; 2])>) -> Option<usize> {
    let strength = |v: usize| Some((v, Approach::fit(&along(v))?.correlation.abs()));
    let all = (0..variables).filter_map(strength);
    all.max_by(|a, b| a.1.total_cmp(&b.1).then(b.0.cmp(&a.0))).map(|(v, _)| v)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn two_modes_meet_where_their_lines_do() {
        let along = [(0.0, [10.0, 9.0]), (1.0, [10.0, 11.0]), (2.0, [10.0, 13.0])];
        let line = Approach::fit(&along).unwrap();
        assert!((line.correlation - 1.0).abs() < 1e-12, "{line:?}");
        assert!((line.meets_at(&along).unwrap() - 0.5).abs() < 1e-12, "{line:?}");
        assert!(line.meets_at(&along[1..]).is_none());
        assert!(Approach::fit(&[(1.0, [10.0, 9.0]), (1.0, [10.0, 11.0])]).is_none());
    }

    #[test]
    fn members_of_a_multiple_do_not_change_places() {
        let hz = [[100.0, 200.0], [200.5, 200.0], [200.001, 200.0]];
        let found = crossings(3, 2, |p, m| Some(hz[p][m]));
        assert_eq!(found, [Crossing { modes: [0, 1], points: 1 }]);
        assert!(crossings(3, 2, |_, _| None).is_empty());
    }
}
