//! Words of the rate report: figures with their units, guards, excitations, doubts. In: findings. Out: short texts in English.

use crate::output::findings::Findings;
use crate::output::units::{frequency, grouped, percent, to_its_bar};
use modalith_solver::rate::errors::Cause;
use modalith_solver::rate::forbidden::Forbidden;
use modalith_solver::rate::guards::{Excitation, Guard, GuardKind};
use modalith_solver::rate::pairing::{Doubt, Match};
use modalith_solver::rate::requirements::{Because, Figure, KnownTerms, Limits, Outcome, Verdict};
use modalith_solver::rate::stress::Stressed;
use modalith_solver::sensor::{BiasOffer, Made, ModelDifference, Offered, RateReport, Touch, Work};

/// Names of the axes.
pub const AXES: [&str; 3] = ["x", "y", "z"];

/// How a figure is written.
pub type Digits<'a> = &'a dyn Fn(f64) -> String;

/// A figure with three significant digits: no exponent between a thousandth and ten million.
pub fn figure(value: f64) -> String {
    figure_within(value, 0.0)
}

/// A figure as [`figure`], without the digits that an error does not support, but never as nothing: no bar stands beside it that would tell
/// what 0 means; 0 is no error.
pub fn figure_within(value: f64, error: f64) -> String {
    if value.is_nan() {
        return "no value".into();
    }
    if value.is_infinite() {
        return if value > 0.0 { "∞" } else { "-∞" }.into();
    }
    if value == 0.0 {
        return "0".into();
    }
    let size = value.abs();
    if !(1e-3..1e7).contains(&size) {
        return format!("{value:.1e}");
    }
    // Rounded first: 0.09999 has the digits of 0.100.
    let power = 10f64.powf(size.log10().floor() - 2.0);
    let rounded = (size / power).round() * power;
    let decimals = (2.0 - (rounded * (1.0 + 1e-12)).log10().floor()).clamp(0.0, 5.0) as usize;
    let [figure, _] = to_its_bar(value, error.min(size), decimals);
    figure
}

/// What a requirement is about.
pub fn name(figure: Figure) -> &'static str {
    match figure {
        Figure::ModeSplit => "mode split",
        Figure::Guard => "nearest mode to a guard",
        Figure::DriveFrequency => "drive frequency",
        Figure::SenseFrequency => "sense frequency",
        Figure::Coupling => "Coriolis coupling",
        Figure::CrossAxis => "cross axis",
        Figure::Quadrature => "quadrature",
        Figure::ZeroRate => "zero rate, in phase",
        Figure::Vibration => "vibration",
        Figure::AngleRandomWalk => "angle random walk",
        Figure::ShockTravel => "shock travel",
        Figure::ShockFirstTouch => "shock at first touch",
        Figure::ShockStress => "stress under shock",
    }
}

/// What is asked, with its unit.
pub fn asked(verdict: &Verdict) -> String {
    let Limits { low, high } = verdict.asked();
    let unit = verdict.figure().unit();
    let text = match (low.is_finite(), high.is_finite()) {
        (true, true) => format!("{} to {}", figure(low), figure(high)),
        (true, false) => format!("over {}", figure(low)),
        _ => format!("under {}", figure(high)),
    };
    if unit.is_empty() { text } else { format!("{text} {unit}") }
}

/// The drawn figure in the digits of `figure`; what a mirror of the drawing forbids is named a floor of the numbers.
pub fn drawn(verdict: &Verdict, forbidden: Forbidden, figure: Digits) -> String {
    let floor = match verdict.figure() {
        Figure::Quadrature => forbidden.quadrature,
        Figure::Vibration => forbidden.vibration,
        _ => false,
    };
    match verdict.found().drawn {
        None if verdict.figure() == Figure::ZeroRate => "no meaning".into(),
        None => "unknown".into(),
        Some(value) if floor => format!("{} floor", figure(value)),
        Some(value) => figure(value),
    }
}

/// The range as made, in the digits of `figure`; with terms missing the end that fails, as the bound it is.
pub fn as_made(verdict: &Verdict, figure: Digits) -> String {
    if let Some(KnownTerms { at_least: [low, high], .. }) = verdict.known_terms() {
        let Limits { low: least, high: most } = verdict.asked();
        return if least - low > high - most {
            format!("≤ {}", figure(low))
        } else {
            format!("≥ {}", figure(high))
        };
    }
    match verdict.as_made() {
        None => "-".into(),
        Some([low, high]) if low == high => figure(low),
        Some([low, high]) => format!("{} to {}", figure(low), figure(high)),
    }
}

/// Margin, in the digits of `figure`, or verdict.
pub fn margin(verdict: &Verdict, figure: Digits) -> String {
    match (verdict.outcome(), verdict.margin()) {
        (Outcome::Met, Some(margin)) => format!("{} {}", figure(margin), verdict.figure().unit()).trim_end().to_owned(),
        (Outcome::NotMet, _) => "FAILS".into(),
        _ => "no verdict".into(),
    }
}

/// Why there is no verdict, in one line; empty where there is one.
pub fn because(verdict: &Verdict) -> String {
    let unit = verdict.figure().unit();
    let one = |because: &Because| {
        match because {
        Because::WithinError { margin, error } => format!(
            "the margin of {} {unit} lies within {} {unit} of estimated error: a finer mesh, a fuller model, more modes or a measurement may tell",
            figure(*margin),
            figure(*error)
        )
        .replace("  ", " "),
        other => other.to_string(),
    }
    };
    verdict.because().iter().map(one).collect::<Vec<_>>().join("; ")
}

/// What a figure that fails all the same lacks, in one line.
pub fn missing(verdict: &Verdict) -> String {
    verdict.found().missing.iter().map(ToString::to_string).collect::<Vec<_>>().join("; ")
}

/// What a reader must know beside a verdict or for want of one; empty where there is nothing.
pub fn remark(verdict: &Verdict) -> String {
    match verdict.known_terms() {
        Some(_) => format!("{}; what is known of it fails by itself", missing(verdict)),
        None => because(verdict),
    }
}

/// What is known of the model's error.
pub fn compared(report: &RateReport) -> String {
    match &report.compared {
        Err(because) => format!("{because}; no requirement has a verdict"),
        Ok(ModelDifference { against: None, .. }) => {
            "solids of the full law: what their mesh leaves is the error".into()
        }
        Ok(difference @ ModelDifference { against: Some(against), hz, others_hz }) => {
            let pairs = report.axes.iter().filter_map(|a| a.work.as_ref()).map(|w| w.modes);
            let said = |pair: (usize, usize)| match difference.of_pair(pair).map(|of| of.map(signed)) {
                Some([drive, sense, split]) => format!("drive {drive} Hz, sense {sense} Hz, split {split} Hz"),
                None => "a mode of the pair has no counterpart there".into(),
            };
            let all: Vec<String> = pairs.map(said).collect();
            if all.is_empty() {
                return format!("{against} was solved beside it; without a pair there is nothing to hold against it");
            }
            let lost = hz.iter().filter(|h| h.is_none()).count();
            let lost = match lost {
                0 => String::new(),
                1 => "; one mode has no counterpart there".to_owned(),
                n => format!("; {n} modes have no counterpart there"),
            };
            let others = match difference.lowest_other_hz() {
                None => String::new(),
                Some(hz) => {
                    let some = if others_hz.len() == 1 { "mode matches" } else { "modes match" };
                    let hz = frequency(hz, ' ');
                    format!("; {} {some} none of these, the lowest at {hz} Hz", others_hz.len())
                }
            };
            format!(
                "as {against} the same layout differs by {}{lost}{others}; no verdict stands within twice what this makes of its figure",
                all.join("; ")
            )
        }
    }
}

/// A number of Hz with its sign.
pub fn signed(value: f64) -> String {
    let text = grouped(value, 0, ' ');
    if text.starts_with('-') { text } else { format!("+{text}") }
}

/// The most stressed flexure: "nominal 310 MPa in flexure 9 near (1, 2) µm", and how much of the mass the modes looked at shake.
pub fn stress(found: &Stressed, shaken_mass: Option<f64>) -> String {
    let [x, y] = found.at_um;
    let mpa = figure(found.peak_pa * 1e-6);
    let held = shaken_mass.map_or_else(String::new, |share| {
        format!("; of modes that hold {} of the mass along the shock", percent(share))
    });
    format!(
        "nominal {mpa} MPa in flexure {} near ({x:.0}, {y:.0}) µm; roots and corners concentrate more, and the drive's own comes on top{held}",
        found.flexure + 1
    )
}

/// What of a gap drive motion and static deflection take, each where it is more than a thousandth.
pub fn taken(touch: &Touch) -> String {
    let taken = ["the drive", "the bias"].into_iter().zip(touch.taken_m());
    let parts: Vec<String> = taken.filter_map(|(by, m)| Some(format!("{by} takes {} µm", figure(m? * 1e6)))).collect();
    if parts.is_empty() { String::new() } else { format!(", of which {}", parts.join(" and ")) }
}

/// What the bias of an electrode could do.
pub fn bias(offer: &BiasOffer) -> String {
    let mut parts = Vec::new();
    let named = |offered: &Offered, does: &str| match (offered.holds(), offered.deflection) {
        (Some(volts), _) => format!("{} V {does}", figure(volts)),
        (None, Some(share)) => format!(
            "none is named {does}: {} V would do it with the gap as it is now, but taken on from there the gap would not stay: the capacitance \
             would change by {:.0} %, if the part did not pull in before",
            figure(offered.volts),
            100.0 * share
        ),
        (None, None) => format!("none is named {does}: how far the part deflects under it is not known"),
    };
    if let Some((split, offered)) = &offer.for_split {
        parts.push(named(offered, &format!("for a split of {} Hz", figure(*split))));
    }
    if let Some(offered) = &offer.cancels_quadrature {
        parts.push(named(offered, "to cancel the quadrature as made, here or on its mirror image"));
    }
    format!("{} (now {} V): {}", offer.name, figure(offer.present_v), parts.join("; "))
}

/// A guard in words.
pub fn guard(guard: &Guard) -> String {
    match &guard.kind {
        GuardKind::Drive => "the drive frequency".into(),
        GuardKind::Sense => "the sense frequency".into(),
        GuardKind::Split => "the mode split".into(),
        GuardKind::TwiceDrive => "2 x drive".into(),
        GuardKind::ThriceDrive => "3 x drive".into(),
        GuardKind::DriveAndSense => "drive + sense".into(),
        GuardKind::Own(name) => name.clone(),
    }
}

/// What can excite a mode, the strongest first; three at most.
pub fn excitations(all: &[Excitation]) -> String {
    let said: Vec<String> = all
        .iter()
        .take(3)
        .map(|e| match e {
            Excitation::Base(axis, share) => format!("base along {} ({:.1} % of the mass)", AXES[*axis], 100.0 * share),
            Excitation::DriveForce(share) => format!("drive force ({:.1} %)", 100.0 * share),
            Excitation::Coriolis(axis, kappa) => format!("Coriolis from the drive about {} ({kappa:.3})", AXES[*axis]),
            Excitation::Internal(order) => format!("{order}:1 internal resonance with the drive"),
        })
        .collect();
    if said.is_empty() { "nothing that is modelled".into() } else { said.join(", ") }
}

/// Doubts about a match, sentences.
pub fn doubts(role: &str, found: Option<&Match>, findings: &Findings) -> Vec<String> {
    let Some(found) = found else {
        return vec![format!("no mode is like the intended {role} motion: ask for more modes, or look at the intent")];
    };
    doubted(role, found, Some(findings))
}

/// Doubts about a mode, drawn where it has labels among `drawn`, else made.
fn doubted(role: &str, found: &Match, drawn: Option<&Findings>) -> Vec<String> {
    let (as_made, number) = (if drawn.is_some() { "" } else { "as made " }, found.mode + 1);
    let one = |doubt: &Doubt| match doubt {
        Doubt::Poor(mac) => format!("{as_made}{role} mode {number} is only partly the intended motion: MAC {mac:.3}"),
        Doubt::Shared(other) => {
            let which = match drawn {
                Some(findings) => format!("{} ({}, MAC", other.mode + 1, findings.label(other.mode)),
                None => format!("{} as made (MAC", other.mode + 1),
            };
            format!("{as_made}{role} mode {number} shares the intended motion with mode {which} {:.3})", other.mac)
        }
        Doubt::Carried(share) => format!(
            "{as_made}{role} mode {number} is one of other parts: the masses meant to move hold {:.1} % of its energy; more modes may hold a better one",
            100.0 * share
        ),
        Doubt::SameMode => {
            format!("{as_made}drive and sense are one mode, {number}: the intent does not tell them apart")
        }
    };
    found.doubts.iter().map(one).collect()
}

/// The pair as made, in one line: modes, criteria, split, coupling; or why it is not known. Nothing where no imperfection is
/// stated.
pub fn as_made_pair(work: &Work) -> Option<String> {
    let why: Vec<String> = work.made_missing.iter().map(Because::to_string).collect();
    let Some(made) = work.worst_made() else { return (!why.is_empty()).then(|| why.join("; ")) };
    let one = |role: &str, m: &Match| {
        let hz = frequency(made.frequency_hz[m.mode], ' ');
        format!("{role} mode {}, {hz} Hz (MAC {:.3})", m.mode + 1, m.mac)
    };
    let [drive, sense] = &made.matches;
    let mut said = format!(
        "{}; {}; split {} Hz; coupling {:.3}.",
        one("drive", drive),
        one("sense", sense),
        signed(made.work.pair.mode_split_hz()),
        made.work.pair.coupling()
    );
    let mixed = |role: &str, m: &Match| {
        let combination = &made.of_drawn[m.mode];
        (combination.len() > 1).then(|| format!(" The {role} mode is {}.", shares(combination)))
    };
    said.extend([mixed("drive", drive), mixed("sense", sense)].into_iter().flatten());
    if !why.is_empty() {
        said.push_str(&format!(" Without: {}.", why.join("; ")));
    }
    Some(said)
}

/// What a mode made is of the modes drawn: its label where it is one of them, else their shares.
pub fn of_drawn(made: &Made, i: usize, findings: &Findings) -> String {
    match made.of_drawn[i].as_slice() {
        [(one, _)] => findings.label(*one).to_owned(),
        several => shares(several),
    }
}

/// "50 % of drawn mode 2 and 50 % of 3".
fn shares(of: &[(usize, f64)]) -> String {
    let all: Vec<String> = of
        .iter()
        .enumerate()
        .map(|(k, (mode, share))| {
            format!("{:.0} % of {}{}", 100.0 * share, if k == 0 { "drawn mode " } else { "" }, mode + 1)
        })
        .collect();
    all.join(" and ")
}

/// Doubts about the pair as made, sentences.
pub fn doubts_as_made(work: &Work) -> Vec<String> {
    work.worst_made().map_or_else(Vec::new, doubts_of_made)
}

/// The same of one device made.
pub fn doubts_of_made(made: &Made) -> Vec<String> {
    let [drive, sense] = &made.matches;
    [doubted("drive", drive, None), doubted("sense", sense, None)].concat()
}

/// Where an in-phase term comes from.
pub fn cause(cause: Cause) -> &'static str {
    match cause {
        Cause::DriveLeak => "drive leak",
        Cause::PhaseError => "phase error",
    }
}

#[cfg(test)]
mod tests {
    use super::figure_within;

    /// Seen: a quadrature of 4 753 °/s beside an error of 2 000 000 was printed as 0.
    #[test]
    fn no_figure_is_rounded_to_nothing() {
        let shown = [(4753.0, 2e6), (-12.3, 40.0), (4753.0, 60.0), (0.0, 5.0)].map(|(x, e)| figure_within(x, e));
        assert_eq!(shown, ["4 800", "-12", "4 753", "0"]);
    }
}
