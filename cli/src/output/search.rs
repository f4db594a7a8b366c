//! How whole a list of modes is, in words and in JSON. In: the completed search, which alone knows. Out: a heading, a sentence, an object.

use super::units::{grouped, short_frequency};
use modalith_solver::completed::{Claim, CompletedSearch};
use modalith_solver::mode::Mode;
use serde_json::{Value, json};

/// The word before the sentence: "Complete" only where nothing speaks against it.
pub fn heading(search: &CompletedSearch) -> &'static str {
    if search.is_complete() { "Complete" } else { "Counted" }
}

/// How many modes lie in which band, how many were counted there, and of what that may be said.
pub fn sentence(search: &CompletedSearch, modes: &[Mode]) -> String {
    let found = search.found();
    let plural = if found == 1 { "mode" } else { "modes" };
    let first = modes.first().map_or(f64::INFINITY, |m| m.frequency_hz);
    let last = modes.last().map_or(0.0, |m| m.frequency_hz);
    // Between the last mode listed and the end, so that rounding takes none in or out.
    let ends_on_last = last >= search.to_hz();
    let to = if ends_on_last { short_frequency(search.to_hz()) } else { between(last, search.to_hz(), true) };
    let place = if search.from_hz() > 0.0 {
        let from = between(search.from_hz(), first.max(search.from_hz()), false);
        format!("from {from} to {to}")
    } else if ends_on_last {
        format!("up to {to}")
    } else {
        format!("below {to}")
    };
    let counted = search.counted();
    let mut said = match search.claim() {
        _ if !search.is_counted() && found == counted => {
            format!(
                "{counted} {plural} counted {place}, {} more listed beyond: the list is NOT whole",
                search.listed() - found
            )
        }
        _ if !search.is_counted() => {
            format!("{found} {plural} found {place}, but {counted} counted: the list is NOT whole")
        }
        Claim::WithinBars => format!("{found} {plural} found {place}, {counted} counted independently"),
        Claim::Equations { .. } => {
            format!("{found} {plural} found {place}, {counted} counted in this model's equations")
        }
        Claim::Mesh { because, up_to } => {
            let sure = match up_to {
                Some((hz, n)) => format!(
                    "whole without it below {}, {n} of them",
                    between(modes.get(n - 1).map_or(0.0, |m| m.frequency_hz), *hz, true)
                ),
                None => "whether one is missing without it is unknown".to_owned(),
            };
            format!(
                "{found} {plural} found {place}, {counted} counted in this mesh's equations; {sure}, because {because}"
            )
        }
    };
    if search.is_all() {
        said.push_str(", all that they have");
    }
    if let Some(hz) = search.short_of_hz() {
        said.push_str(&format!("; no more were asked for, so nothing is said up to {}", short_frequency(hz)));
    }
    said
}

/// The object `search` of the results.
pub fn document(search: &CompletedSearch) -> Value {
    let counts: Vec<Value> = search
        .counts()
        .iter()
        .map(|c| json!({"part": c.part + 1, "asked_hz": c.asked_hz, "taken_hz": c.taken_hz, "below": c.below}))
        .collect();
    let mut said = json!({
        "from_hz": search.from_hz(),
        "to_hz": search.to_hz(),
        "found": search.found(),
        "counted": search.counted(),
        "complete": search.is_complete(),
        "of": match search.claim() {
            Claim::WithinBars => "the model, within its error bars",
            Claim::Equations { .. } => "the model's equations",
            Claim::Mesh { .. } => "the equations on this mesh",
        },
        "counts": counts,
    });
    let because = match search.claim() {
        Claim::WithinBars => None,
        Claim::Equations { because } | Claim::Mesh { because, .. } => Some(because),
    };
    if let Some(because) = because {
        said["because"] = json!(because);
    }
    if let Claim::Mesh { up_to: Some((hz, modes)), .. } = search.claim() {
        said["whole_without_mesh"] = json!({"to_hz": hz, "modes": modes});
    }
    if let Some(hz) = search.short_of_hz() {
        said["asked_to_hz"] = json!(hz);
    }
    said
}

/// A place between two frequencies, both still in it, near the upper or the lower, in as few digits as there is room for.
fn between(low_hz: f64, high_hz: f64, upper: bool) -> String {
    let end = if upper { high_hz } else { low_hz };
    for digits in [4, 5, 6, 7, 8, 9, 10, 12, 14] {
        let unit = 10.0_f64.powi(end.max(1e-9).log10().floor() as i32 + 1 - digits);
        let rounded = [(end / unit).round(), (end / unit).floor(), (end / unit).ceil()].map(|n| n * unit);
        if let Some(hz) = rounded.into_iter().find(|hz| (low_hz..=high_hz).contains(hz)) {
            let decimals = -(unit.log10().round() as i32);
            return if digits == 4 {
                short_frequency(hz)
            } else {
                format!("{} Hz", grouped(hz, decimals.max(0) as usize, ' '))
            };
        }
    }
    format!("{end} Hz")
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn rounding_never_moves_an_end_past_a_mode() {
        assert_eq!(between(94_507.5, 96_000.0, true), "96 kHz");
        assert_eq!(between(94_507.5, 94_508.9, true), "94 508 Hz");
        assert_eq!(between(94_507.5, 94_508.9, false), "94 508 Hz");
        assert_eq!(between(94_507.51, 94_507.53, true), "94 507.53 Hz");
        assert_eq!(between(0.0, 96_123.4, true), "96.12 kHz");
    }
}
