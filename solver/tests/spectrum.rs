//! The sparse eigensolver against closed forms and dense calculations.

use modalith_solver::spectrum::{Options, Problem, Spectrum, SpectrumError, Wanted, solve};
use nalgebra::{DMatrix, SymmetricEigen};
use nalgebra_sparse::{CooMatrix, CscMatrix};

/// Stiffness of a chain of unit springs and masses between two walls: λ = 2 − 2 cos(iπ/(n+1)).
fn chain(n: usize, left_wall: bool, right_wall: bool) -> DMatrix<f64> {
    DMatrix::from_fn(n, n, |i, j| match i.abs_diff(j) {
        0 => 2.0 - f64::from(u8::from(i == 0 && !left_wall)) - f64::from(u8::from(i + 1 == n && !right_wall)),
        1 => -1.0,
        _ => 0.0,
    })
}

fn chain_lambda(n: usize) -> Vec<f64> {
    (1..=n).map(|i| 4.0 * (0.5 * i as f64 * std::f64::consts::PI / (n as f64 + 1.0)).sin().powi(2)).collect()
}

fn sparse(a: &DMatrix<f64>) -> CscMatrix<f64> {
    let mut coo = CooMatrix::new(a.nrows(), a.ncols());
    for j in 0..a.ncols() {
        for i in 0..a.nrows() {
            if a[(i, j)] != 0.0 {
                coo.push(i, j, a[(i, j)]);
            }
        }
    }
    CscMatrix::from(&coo)
}

/// Grid Laplacian with fixed borders and its spectrum, ascending.
fn grid(sides: &[usize]) -> (CscMatrix<f64>, Vec<f64>) {
    let n: usize = sides.iter().product();
    let mut coo = CooMatrix::new(n, n);
    for at in 0..n {
        coo.push(at, at, 2.0 * sides.len() as f64);
        let mut step = 1;
        for &side in sides {
            if (at / step) % side + 1 < side {
                coo.push(at, at + step, -1.0);
                coo.push(at + step, at, -1.0);
            }
            step *= side;
        }
    }
    let mut lambda = vec![0.0];
    for &side in sides {
        let one = chain_lambda(side);
        lambda = lambda.iter().flat_map(|a| one.iter().map(move |b| a + b)).collect();
    }
    lambda.sort_by(f64::total_cmp);
    (CscMatrix::from(&coo), lambda)
}

fn diagonal(values: &[f64]) -> CscMatrix<f64> {
    let mut coo = CooMatrix::new(values.len(), values.len());
    for (i, &v) in values.iter().enumerate() {
        coo.push(i, i, v);
    }
    CscMatrix::from(&coo)
}

fn run(k: &CscMatrix<f64>, m: &CscMatrix<f64>, wanted: Wanted) -> Result<Spectrum, SpectrumError> {
    solve(&Problem::new(k, m, None)?, wanted, &Options::default(), &mut |_| {})
}

fn dot(a: &CscMatrix<f64>, x: &[f64], y: &[f64]) -> f64 {
    a.triplet_iter().map(|(i, j, v)| x[i] * v * y[j]).sum()
}

/// λ ascending, M-orthonormal to 1e-12, backward error below 1e-14.
fn check_form(m: &CscMatrix<f64>, s: &Spectrum) {
    assert!(s.count_verified);
    assert!(s.lambda.windows(2).all(|w| w[0] <= w[1]), "{:?}", s.lambda);
    for (i, x) in s.vectors.iter().enumerate() {
        assert!(s.backward_error[i] < 1e-14, "mode {i}: {}", s.backward_error[i]);
        for (j, y) in s.vectors.iter().enumerate() {
            let expected = f64::from(u8::from(i == j));
            assert!((dot(m, x, y) - expected).abs() < 1e-12, "({i}, {j}): {}", dot(m, x, y));
        }
    }
}

fn check_lambda(found: &[f64], expected: &[f64], tolerance: f64) {
    assert_eq!(found.len(), expected.len(), "{found:?} {expected:?}");
    for (f, e) in found.iter().zip(expected) {
        assert!((f - e).abs() <= tolerance * e.abs(), "{f} against {e}");
    }
}

#[test]
fn chain_between_walls() {
    let k = sparse(&chain(500, true, true));
    let m = CscMatrix::identity(500);
    let s = run(&k, &m, Wanted::Lowest { count: 12 }).unwrap();
    check_form(&m, &s);
    check_lambda(&s.lambda, &chain_lambda(500)[..12], 1e-11);
}

#[test]
fn square_grid_has_pairs_and_never_cuts_one() {
    let (k, lambda) = grid(&[60, 60]);
    let m = CscMatrix::identity(3600);
    // Modes 2 and 3 are a pair: asked for two, three come.
    let s = run(&k, &m, Wanted::Lowest { count: 2 }).unwrap();
    check_form(&m, &s);
    check_lambda(&s.lambda, &lambda[..3], 1e-11);
    let s = run(&k, &m, Wanted::Lowest { count: 20 }).unwrap();
    check_form(&m, &s);
    check_lambda(&s.lambda, &lambda[..s.lambda.len()], 1e-11);
}

#[test]
fn cube_grid_near_and_in_a_band() {
    let (k, lambda) = grid(&[12, 12, 12]);
    let m = CscMatrix::identity(1728);
    let s = run(&k, &m, Wanted::Band { low: 1.0, high: 1.7 }).unwrap();
    check_form(&m, &s);
    let inside: Vec<f64> = lambda.iter().copied().filter(|l| (1.0..=1.7).contains(l)).collect();
    check_lambda(&s.lambda, &inside, 1e-11);
    let s = run(&k, &m, Wanted::Near { lambda: 2.0, count: 9 }).unwrap();
    check_form(&m, &s);
    let mut nearest = lambda.clone();
    nearest.sort_by(|a, b| (a - 2.0).abs().total_cmp(&(b - 2.0).abs()));
    let mut nearest = nearest[..s.lambda.len()].to_vec();
    nearest.sort_by(f64::total_cmp);
    assert!(s.lambda.len() >= 9);
    check_lambda(&s.lambda, &nearest, 1e-11);
}
