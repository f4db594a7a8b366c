use super::*;

#[test]
fn one_number_limits_as_its_figure_does() {
    let at_most = Limits::one(Figure::Quadrature, 100.0).unwrap();
    assert_eq!(at_most.margin([41.0, 41.0]), 59.0);
    let at_least = Limits::one(Figure::Guard, 200.0).unwrap();
    assert_eq!(at_least.margin([0.0, 300.0]), -200.0);
    assert_eq!(Limits::one(Figure::ModeSplit, 1.0), None);
}

/// Seen: "114 223 FAILS" of a split asked below 113 000, from first-order terms that the next sentence disowned; redrawn 111 986.
#[test]
fn a_range_that_is_disowned_fails_nothing() {
    let asked = Limits { low: -100_000.0, high: 113_000.0 };
    let found = |drawn| {
        let missing = vec![Because::Beyond("15 % of what it changes".into())];
        Found { drawn: Some(drawn), as_made: Some([109_000.0, 114_223.0]), missing, error: Ok(30.0) }
    };
    let open = weigh(Figure::ModeSplit, asked, found(111_678.0));
    assert_eq!((open.met(), open.known_terms()), (None, None));
    let fails = weigh(Figure::ModeSplit, asked, found(115_000.0));
    assert_eq!((fails.met(), fails.known_terms().unwrap().at_least), (Some(false), [115_000.0; 2]));
}

fn travel(drawn: Option<f64>, error: Result<f64, Because>, missing: &[Because]) -> Verdict {
    let asked = Limits::one(Figure::ShockTravel, 2.0).unwrap();
    weigh(Figure::ShockTravel, asked, Found { drawn, as_made: None, missing: missing.to_vec(), error })
}

#[test]
fn no_verdict_within_the_error_or_without_a_figure() {
    assert_eq!(travel(Some(5.1), Ok(0.1), &[]).met(), Some(false));
    assert_eq!(travel(Some(2.05), Ok(0.1), &[]).met(), None);
    assert!(matches!(travel(Some(1.95), Ok(0.1), &[]).because(), [Because::WithinError { .. }]));
    assert_eq!(travel(None, Ok(0.1), &[]).met(), None);
    assert_eq!(travel(None, Ok(0.1), &[]).because().len(), 1);
    assert_eq!(travel(Some(2.0), Ok(0.0), &[]).met(), Some(true));
    assert_eq!(travel(Some(1.0), Ok(f64::NAN), &[]).met(), None);
}

/// A term that is missing can spoil a verdict, never make one; an error that nobody measured neither.
#[test]
fn a_missing_term_never_looks_better() {
    let shock = Because::NotStated("operation/shock");
    let unknown = || Err(Because::ErrorUnknown("one model only".into()));
    assert_eq!(travel(Some(1.0), Ok(0.1), std::slice::from_ref(&shock)).because(), std::slice::from_ref(&shock));
    assert_eq!(travel(Some(5.0), Ok(0.1), std::slice::from_ref(&shock)).met(), Some(false));
    // A sum with a term less is no range and has no margin; what it fails by all the same is told as what it is.
    let made = |high: f64, error: f64, missing: &[Because]| {
        let asked = Limits::one(Figure::ShockTravel, 2.0).unwrap();
        let found = Found { drawn: Some(1.0), as_made: Some([0.5, high]), missing: missing.to_vec(), error: Ok(error) };
        weigh(Figure::ShockTravel, asked, found)
    };
    let one = std::slice::from_ref(&shock);
    let known = KnownTerms { at_least: [0.5, 5.0], margin_at_most: -3.0 };
    let fails = made(5.0, 0.1, one);
    assert_eq!((fails.met(), fails.as_made(), fails.margin()), (Some(false), None, None));
    assert_eq!((fails.known_terms(), made(1.0, 0.1, one).known_terms()), (Some(known), None));
    assert_eq!(made(5.0, 0.1, &[]).known_terms(), None);
    assert_eq!((made(1.0, 0.1, one).as_made(), made(1.0, 0.1, one).margin()), (None, None));
    // Nor can a margin that nobody knows lie within an error.
    assert_eq!(made(1.9, 0.5, one).because(), one);
    assert!(matches!(made(1.9, 0.5, &[]).because(), [Because::WithinError { .. }]));
    assert_eq!(travel(Some(1.0), unknown(), &[]).met(), None);
    assert_eq!(travel(Some(5.0), unknown(), &[]).met(), None);
    // For every state of knowledge: with a term less the outcome is never better.
    let rank = |v: &Verdict| match v.outcome() {
        Outcome::NotMet => 0,
        Outcome::Unknown(_) => 1,
        Outcome::Met => 2,
    };
    for drawn in [0.5, 1.95, 2.0, 2.05, 3.0] {
        for error in [0.0, 0.1, 1.0] {
            let (all, less) =
                (travel(Some(drawn), Ok(error), &[]), travel(Some(drawn), Ok(error), std::slice::from_ref(&shock)));
            assert!(rank(&less) <= rank(&all), "{drawn} {error}");
            assert_ne!(less.met(), Some(true));
        }
    }
}

#[test]
fn every_figure_is_listed_once() {
    let mut keys: Vec<_> = Figure::ALL.iter().map(|f| f.key()).collect();
    keys.sort_unstable();
    keys.dedup();
    assert_eq!(keys.len(), 13);
}
