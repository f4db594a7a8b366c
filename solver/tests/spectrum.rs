//! The sparse eigensolver against closed forms and dense calculations.

use modalith_solver::spectrum::{Options, Problem, Spectrum, SpectrumError, Wanted, solve};
use nalgebra::{Cholesky, DMatrix, SymmetricEigen};
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
    solve(Problem::new(k, m, None)?, wanted, &Options::default(), &|_| {})
}

fn dot(a: &CscMatrix<f64>, x: &[f64], y: &[f64]) -> f64 {
    a.triplet_iter().map(|(i, j, v)| x[i] * v * y[j]).sum()
}

/// λ ascending, M-orthonormal to 1e-12, backward error below 1e-14.
fn check_form(m: &CscMatrix<f64>, s: &Spectrum) {
    assert!(s.lambda.iter().all(|l| (s.covered.low()..=s.covered.high()).contains(l)), "{:?}", s.covered);
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
    println!("{:?}\n{:?}", s.backward_error, s.timings);
    println!("{:?}\n{:?}", s.backward_error, s.timings);
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
    let distance = |l: f64| (l.sqrt() - 2.0_f64.sqrt()).abs();
    nearest.sort_by(|a, b| distance(*a).total_cmp(&distance(*b)));
    let mut nearest = nearest[..s.lambda.len()].to_vec();
    nearest.sort_by(f64::total_cmp);
    assert!(s.lambda.len() >= 9);
    check_lambda(&s.lambda, &nearest, 1e-11);
}

/// L D Lᵀ and L Lᵀ with a fixed lower band L: a pencil with exactly the eigenvalues D.
fn banded(values: &[f64]) -> (CscMatrix<f64>, CscMatrix<f64>) {
    let n = values.len();
    let entry = |i: usize, j: usize| match i - j {
        0 => 1.0 + 0.25 * ((i * 7) % 5) as f64,
        1 => 0.5 - 0.125 * ((i * 3) % 4) as f64,
        5 => 0.25,
        _ => 0.0,
    };
    let mut l = CooMatrix::new(n, n);
    for i in 0..n {
        for j in [i, i.wrapping_sub(1), i.wrapping_sub(5)] {
            if j <= i {
                l.push(i, j, entry(i, j));
            }
        }
    }
    let l = CscMatrix::from(&l);
    (&(&l * &diagonal(values)) * &l.transpose(), &l * &l.transpose())
}

#[test]
fn free_chain_has_one_zero_mode() {
    let n = 400;
    let k = sparse(&chain(n, false, false));
    let m = CscMatrix::identity(n);
    for scale_hint in [None, Some(6e-5), Some(6e-7), Some(1e-2)] {
        let options = Options { scale_hint, ..Options::default() };
        let problem = Problem::new(&k, &m, None).unwrap();
        let s = solve(problem.clone(), Wanted::Lowest { count: 8 }, &options, &|_| {}).unwrap();
        check_form(&m, &s);
        assert!(s.lambda[0].abs() <= s.lambda_floor[0], "{} {}", s.lambda[0], s.lambda_floor[0]);
        for (i, l) in s.lambda.iter().enumerate().skip(1) {
            let exact = 4.0 * (0.5 * i as f64 * std::f64::consts::PI / n as f64).sin().powi(2);
            assert!((l - exact).abs() <= 1e-10 * exact, "{scale_hint:?}: {l} {exact}");
        }
        assert!(s.shifts[0].used < 0.0);
        let s = solve(problem.clone(), Wanted::Band { low: 0.0, high: 0.01 }, &options, &|_| {}).unwrap();
        assert_eq!(s.lambda.len(), 13);
    }
}

#[test]
fn a_hundred_equal_oscillators() {
    let m = diagonal(&[0.5; 100]);
    let s = run(&diagonal(&[2.0; 100]), &m, Wanted::Lowest { count: 5 }).unwrap();
    check_form(&m, &s);
    check_lambda(&s.lambda, &[4.0; 100], 1e-13);
    // Among others, and coupled.
    let values: Vec<f64> = (0..700).map(|i| if i % 7 == 3 { 1.0 } else { 2.0 + i as f64 }).collect();
    let (k, m) = banded(&values);
    let s = run(&k, &m, Wanted::Lowest { count: 3 }).unwrap();
    check_form(&m, &s);
    check_lambda(&s.lambda, &[1.0; 100], 1e-12);
}

#[test]
fn clusters_are_told_apart() {
    let mut values: Vec<f64> = (0..500).map(|i| 10.0 + i as f64).collect();
    values[17] = 1.0;
    values[400] = 1.0 + 1e-9;
    values[250] = 1.0 + 2e-9;
    values[33] = 1.5;
    values[34] = 1.5;
    let (k, m) = banded(&values);
    let s = run(&k, &m, Wanted::Lowest { count: 4 }).unwrap();
    check_form(&m, &s);
    // The pair at 1.5 is never cut.
    check_lambda(&s.lambda, &[1.0, 1.0 + 1e-9, 1.0 + 2e-9, 1.5, 1.5], 1e-12);
}

#[test]
fn a_shift_on_an_eigenvalue_is_moved() {
    let values: Vec<f64> = (1..=600).map(f64::from).collect();
    let k = diagonal(&values);
    let m = CscMatrix::identity(600);
    let s = run(&k, &m, Wanted::Near { lambda: 300.0, count: 3 }).unwrap();
    check_form(&m, &s);
    check_lambda(&s.lambda, &[299.0, 300.0, 301.0], 1e-13);
    assert!(s.shifts[0].requested == 300.0 && s.shifts[0].used != 300.0, "{:?}", s.shifts);
    // An end of a band on an eigenvalue belongs to the band.
    let s = run(&k, &m, Wanted::Band { low: 10.0, high: 20.0 }).unwrap();
    check_lambda(&s.lambda, &values[9..20], 1e-13);
    assert!(run(&k, &m, Wanted::Band { low: 10.25, high: 10.75 }).unwrap().lambda.is_empty());
}

#[test]
fn random_mass_against_dense() {
    let n = 150;
    let mut seed = 1u64;
    let mut next = || {
        seed = seed.wrapping_mul(6_364_136_223_846_793_005).wrapping_add(1_442_695_040_888_963_407);
        (seed >> 11) as f64 / (1u64 << 53) as f64 - 0.5
    };
    let a = DMatrix::from_fn(n, n, |_, _| next());
    let b = DMatrix::from_fn(n, n, |_, _| next());
    let k = &a * a.transpose() + DMatrix::identity(n, n) * 0.5;
    let m = &b * b.transpose() + DMatrix::identity(n, n) * 2.0;
    let l = Cholesky::new(m.clone()).unwrap().l();
    let half = l.solve_lower_triangular(&k).unwrap();
    let reduced = l.solve_lower_triangular(&half.transpose()).unwrap();
    let mut expected: Vec<f64> = SymmetricEigen::new(reduced).eigenvalues.iter().copied().collect();
    expected.sort_by(f64::total_cmp);
    let (ks, ms) = (sparse(&k), sparse(&m));
    for count in [1, 10, 149, 150, 400] {
        let s = run(&ks, &ms, Wanted::Lowest { count }).unwrap();
        check_form(&ms, &s);
        check_lambda(&s.lambda, &expected[..count.min(n)], 1e-11);
    }
    let s = run(&ks, &ms, Wanted::Near { lambda: expected[70] + 1e-5, count: 5 }).unwrap();
    assert!(s.lambda.iter().any(|l| (l - expected[70]).abs() < 1e-11 * l));
}

#[test]
fn bad_scaling_changes_nothing() {
    let (k, lambda) = grid(&[30, 31]);
    let scale: Vec<f64> = (0..930).map(|i| 10f64.powi(i * 7 % 13 - 6)).collect();
    let d = diagonal(&scale);
    let (k, m) = (&(&d * &k) * &d, &d * &d);
    let s = run(&k, &m, Wanted::Lowest { count: 10 }).unwrap();
    assert!((lambda[9]..lambda[10]).contains(&s.covered.high()));
    check_lambda(&s.lambda, &lambda[..10], 1e-11);
    for x in &s.vectors {
        assert!((dot(&m, x, x) - 1.0).abs() < 1e-12);
    }
}

#[test]
fn tiny_problems() {
    let m = CscMatrix::identity(1);
    check_lambda(&run(&diagonal(&[9.0]), &m, Wanted::Lowest { count: 3 }).unwrap().lambda, &[9.0], 1e-15);
    for n in 2..=7 {
        let (k, m) = (sparse(&chain(n, true, true)), CscMatrix::identity(n));
        for count in 1..=n + 1 {
            let s = run(&k, &m, Wanted::Lowest { count }).unwrap();
            check_form(&m, &s);
            check_lambda(&s.lambda, &chain_lambda(n)[..count.min(n)], 1e-13);
        }
    }
    // No stiffness at all.
    let s = run(&CscMatrix::zeros(2, 2), &CscMatrix::identity(2), Wanted::Lowest { count: 2 }).unwrap();
    assert!(s.lambda.iter().all(|l| l.abs() < 1e-14), "{:?}", s.lambda);
}

#[test]
fn equal_parts_that_do_not_touch() {
    let n = 200;
    let one = chain(n, true, true);
    let all = DMatrix::from_fn(3 * n, 3 * n, |i, j| if i / n == j / n { one[(i % n, j % n)] } else { 0.0 });
    let (k, m) = (sparse(&all), CscMatrix::identity(3 * n));
    let s = run(&k, &m, Wanted::Lowest { count: 7 }).unwrap();
    check_form(&m, &s);
    let expected: Vec<f64> = chain_lambda(n)[..3].iter().flat_map(|&l| [l; 3]).collect();
    check_lambda(&s.lambda, &expected, 1e-11);
}

#[test]
fn mass_outside_the_pattern_of_stiffness() {
    let values: Vec<f64> = (1..=300).map(|i| f64::from(i * i)).collect();
    let (_, m) = banded(&values);
    let k = diagonal(&values);
    let s = run(&k, &m, Wanted::Lowest { count: 4 }).unwrap();
    check_form(&m, &s);
}

#[test]
fn one_answer_for_all_threads_and_blocks() {
    let (k, _) = grid(&[40, 40]);
    let m = CscMatrix::identity(1600);
    let groups: Vec<u32> = (0..1600).map(|i| 900 - i / 3).collect();
    let problem = Problem::new(&k, &m, Some(&groups)).unwrap();
    let with = |block: usize| {
        let options = Options { block, ..Options::default() };
        solve(problem.clone(), Wanted::Lowest { count: 12 }, &options, &|_| {}).unwrap()
    };
    let first = with(4);
    let same: Vec<Spectrum> =
        std::thread::scope(|s| [0; 4].map(|_| s.spawn(|| with(4))).map(|h| h.join().unwrap()).into_iter().collect());
    for other in &same {
        assert_eq!(first.vectors, other.vectors);
        assert_eq!(first.lambda, other.lambda);
    }
    // Signs, and the basis inside the pairs, do not depend on the path.
    for other in [with(3), with(7), run(&k, &m, Wanted::Lowest { count: 12 }).unwrap()] {
        for (x, y) in first.vectors.iter().zip(&other.vectors) {
            let difference: f64 = x.iter().zip(y).map(|(a, b)| (a - b).powi(2)).sum();
            assert!(difference.sqrt() < 1e-8, "{difference}");
        }
    }
}

#[test]
fn nested_dissection_keeps_the_factor_small() {
    // 2D nested dissection needs about (31/4) N log2 √N entries for N unknowns (George 1973); a wrong permutation,
    // or the natural order (100 N), many times as much.
    let (k, _) = grid(&[100, 100]);
    let s = run(&k, &CscMatrix::identity(10_000), Wanted::Lowest { count: 1 }).unwrap();
    assert!(s.factor_entries < 550_000, "{}", s.factor_entries);
}

#[test]
fn faults_are_named() {
    let good = sparse(&chain(5, true, true));
    let mass = CscMatrix::identity(5);
    let fault = |k: &CscMatrix<f64>, m: &CscMatrix<f64>| run(k, m, Wanted::Lowest { count: 1 }).unwrap_err();
    let mut bad = chain(5, true, true);
    bad[(3, 2)] = -1.5;
    let found = fault(&sparse(&bad), &mass);
    assert_eq!(found, SpectrumError::NotSymmetric { matrix: "K", row: 3, column: 2, value: -1.5, mirror: -1.0 });
    bad[(3, 2)] = 0.0;
    assert!(matches!(fault(&sparse(&bad), &mass), SpectrumError::NotSymmetric { row: 2, column: 3, .. }));
    bad[(3, 2)] = -1.0;
    bad[(2, 3)] = 0.0;
    assert!(matches!(fault(&sparse(&bad), &mass), SpectrumError::NotSymmetric { row: 3, column: 2, .. }));
    bad[(1, 2)] = f64::NAN;
    assert_eq!(fault(&sparse(&bad), &mass), SpectrumError::NotFinite { matrix: "K", row: 1, column: 2 });
    assert_eq!(fault(&good, &diagonal(&[1.0, 1.0, 0.0, 1.0, 1.0])), SpectrumError::NoMass { unknown: 2, value: 0.0 });
    assert!(matches!(fault(&good, &CscMatrix::identity(4)), SpectrumError::Shape { .. }));
    assert!(matches!(fault(&CscMatrix::zeros(0, 0), &CscMatrix::zeros(0, 0)), SpectrumError::Shape { .. }));
    let wanted = run(&good, &mass, Wanted::Band { low: 2.0, high: 1.0 }).unwrap_err();
    assert!(matches!(wanted, SpectrumError::Wanted { .. }));
    assert!(matches!(run(&good, &mass, Wanted::Lowest { count: 0 }), Err(SpectrumError::Wanted { .. })));
    // Buckled: the lowest eigenvalue of the chain, 0.268, is pushed below zero; two of them.
    let less = |by: f64| &good - &(&CscMatrix::identity(5) * by);
    assert_eq!(fault(&less(0.3), &mass), SpectrumError::Indefinite { negatives: 1 });
    assert_eq!(fault(&less(1.5), &mass), SpectrumError::Indefinite { negatives: 2 });
    // M with a positive diagonal, but indefinite.
    let m =
        sparse(&DMatrix::from_fn(5, 5, |i, j| if i == j { 1.0 } else { 0.9 * f64::from(u8::from(i + j == 1)) * 2.0 }));
    assert_eq!(fault(&good, &m), SpectrumError::MassNotPositive);
}
