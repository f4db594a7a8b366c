//! Claims against random pencils whose eigenvalues are known.

use super::*;
use crate::modal::{in_lambda, pick, spectra};
use crate::spectrum::{Analysed, Options, Problem};
use nalgebra_sparse::{CooMatrix, CscMatrix};
use proptest::prelude::*;

/// K = L D Lᵀ and M = L Lᵀ with a fixed lower band L: the eigenvalues are those of D.
fn pencil(lambda: &[f64]) -> Problem {
    let n = lambda.len();
    let entry = |i: usize, j: usize| match i.checked_sub(j) {
        Some(0) => 1.0 + 0.25 * ((i * 7) % 5) as f64,
        Some(1) => 0.5 - 0.125 * ((i * 3) % 4) as f64,
        Some(3) => 0.25,
        _ => 0.0,
    };
    let product = |d: &dyn Fn(usize) -> f64| {
        let mut coo = CooMatrix::new(n, n);
        for i in 0..n {
            for j in i.saturating_sub(3)..n.min(i + 4) {
                coo.push(i, j, (0..=i.min(j)).map(|k| entry(i, k) * d(k) * entry(j, k)).sum());
            }
        }
        CscMatrix::from(&coo)
    };
    Problem::new(&product(&|k| lambda[k]), &product(&|_| 1.0), None).unwrap()
}

fn searched(parts: &[Vec<f64>], wanted: Wanted) -> (CompletedSearch, Vec<f64>) {
    let analysed: Vec<Analysed> = parts.iter().map(|p| Analysed::new(pencil(p)).unwrap()).collect();
    let options = vec![Options::default(); parts.len()];
    let spectra = spectra(&analysed, in_lambda(wanted), &options, &|_| ()).unwrap();
    let picked = pick(&spectra, wanted);
    let mut listed: Vec<f64> = picked.iter().map(|&(s, i)| hertz(spectra[s].lambda[i])).collect();
    listed.sort_by(f64::total_cmp);
    (CompletedSearch::of(&spectra, &picked, wanted), listed)
}

/// Frequencies of parts: few values, so that many are shared by parts or multiple, some far apart and some close.
fn part() -> impl Strategy<Value = Vec<f64>> {
    prop::collection::vec((1..60u32, 0..4u32), 1..40)
        .prop_map(|values| values.iter().map(|&(a, b)| f64::from(a) + 1e-3 * f64::from(b)).collect())
}

fn squares(parts: &[Vec<f64>]) -> Vec<Vec<f64>> {
    parts.iter().map(|p| p.iter().map(|hz| (TAU * hz).powi(2)).collect()).collect()
}

/// What is claimed of the band holds.
fn honest(search: &CompletedSearch, listed: &[f64], truth: &[f64]) -> Result<(), TestCaseError> {
    let (from, to) = (search.from_hz() * (1.0 - 1e-9), search.to_hz() * (1.0 + 1e-9));
    let inside = truth.iter().filter(|hz| (from..=to).contains(*hz)).count();
    prop_assert_eq!(search.counted(), inside, "{:?} {:?} {:?}", search, listed, truth);
    prop_assert!(search.is_counted(), "{:?} {:?}", search, listed);
    let same = truth.iter().filter(|hz| (from..=to).contains(*hz)).zip(listed);
    for (t, l) in same {
        prop_assert!((t - l).abs() <= 1e-8 * t, "{:?} {:?} {:?}", search, listed, truth);
    }
    Ok(())
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(2000))]

    #[test]
    fn no_claim_about_a_band_is_false(
        parts in prop::collection::vec(part(), 1..5),
        count in 1..20usize,
        place in 0.0..70.0,
        on_a_mode in any::<bool>(),
        kind in 0..4,
    ) {
        let mut truth: Vec<f64> = parts.concat();
        truth.sort_by(f64::total_cmp);
        let place = if on_a_mode { truth[(place * 1e3) as usize % truth.len()] } else { place };
        let wanted = match kind {
            0 => Wanted::Lowest(count),
            1 => Wanted::Near { hz: place, count },
            2 => Wanted::UpTo { hz: place + 0.1, most: None },
            _ => Wanted::UpTo { hz: place + 0.1, most: Some(count) },
        };
        let (search, listed) = searched(&squares(&parts), wanted);
        honest(&search, &listed, &truth)?;
        match wanted {
            Wanted::Near { hz, .. } => {
                let mut nearest: Vec<f64> = truth.iter().map(|t| (t - hz).abs()).collect();
                nearest.sort_by(f64::total_cmp);
                prop_assert!(listed.len() >= count.min(truth.len()));
                let farthest = nearest[count.min(truth.len()) - 1] + 1e-6;
                prop_assert!(listed.iter().all(|l| (l - hz).abs() <= farthest), "{:?} {:?}", listed, truth);
            }
            Wanted::Lowest(_) => prop_assert!(search.from_hz() == 0.0 && listed.len() >= count.min(truth.len())),
            Wanted::UpTo { hz, most } => {
                prop_assert!(search.from_hz() == 0.0 && search.to_hz() <= hz * (1.0 + 1e-9));
                let whole = (search.to_hz() - hz).abs() <= 1e-9 * hz;
                prop_assert!(whole || search.short_of_hz().is_some() || search.is_all());
                prop_assert!(whole || most.is_some());
            }
        }
    }
}

#[test]
fn of_a_band_no_more_is_said_than_was_counted() {
    // Six lie below 1.7; two were asked for, of a pair, so three come: nothing is said beyond them.
    let parts = [vec![0.36, 0.75, 1.2, 1.3, 2.0, 2.5], vec![0.75, 1.5, 3.0]];
    let (search, listed) = searched(&squares(&parts), Wanted::UpTo { hz: 1.7, most: Some(2) });
    assert_eq!((listed.len(), search.found(), search.counted()), (3, 3, 3));
    assert!(search.to_hz() > 0.75 && search.to_hz() < 1.2, "{search:?}");
    assert_eq!(search.short_of_hz(), Some(1.7));
}

#[test]
fn nearest_is_nearest_in_hertz() {
    // In λ, 22.7 is nearer to 94.5 than 150.8 is.
    let parts = [vec![18.7, 22.7, 65.7, 94.5, 300.0], vec![150.8, 192.0, 366.0, 400.0]];
    let (search, listed) = searched(&squares(&parts), Wanted::Near { hz: 94.535, count: 3 });
    assert!(listed.iter().zip([65.7, 94.5, 150.8]).all(|(l, t)| (l - t).abs() < 1e-9), "{listed:?}");
    assert!(search.from_hz() > 22.7 && search.from_hz() < 65.7 && search.to_hz() > 150.8 && search.to_hz() < 192.0);
}

#[test]
fn a_bar_across_the_end_of_the_band_is_told() {
    let parts = [vec![1.0, 2.0, 2.001, 3.0, 4.0]];
    let (search, listed) = searched(&squares(&parts), Wanted::Lowest(2));
    assert!(search.clone().with_error_bars(&listed, &[1e-5, 1e-5]).is_complete());
    let coarse = search.with_error_bars(&listed, &[0.01, 0.01]);
    assert!(coarse.is_counted() && !coarse.is_complete());
    let Claim::Mesh { up_to: Some((hz, modes)), .. } = coarse.claim() else { panic!("{coarse:?}") };
    assert!(*modes == 1 && *hz > 1.0 && *hz < 2.0);
}

#[test]
fn a_mesh_that_does_not_carry_its_modes_is_not_called_complete() {
    let parts = [vec![1.0, 2.0, 3.0]];
    let (search, listed) = searched(&squares(&parts), Wanted::Near { hz: 2.9, count: 1 });
    let coarse = search.with_error_bars(&listed, &[2.9]);
    assert!(!coarse.is_complete() && matches!(coarse.claim(), Claim::Mesh { up_to: None, .. }), "{coarse:?}");
}

#[test]
fn what_lies_equally_far_to_either_side_is_listed_whole() {
    // A multiple with a mode as far on the other side, which rounding sorts between its members.
    let parts = [vec![30.002, 37.001, 44.001, 60.0], vec![20.0, 51.001, 51.001, 51.001, 55.0]];
    for count in 2..6 {
        let (search, listed) = searched(&squares(&parts), Wanted::Near { hz: 44.001, count });
        assert!(listed.len() == 5 && search.is_counted(), "{count}: {search:?} {listed:?}");
    }
}
