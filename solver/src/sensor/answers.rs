//! From modes to a rate report: for every intended axis the pair of modes, and what it does. In: what is stated, outline, mesh, what was
//! solved. Out: a [`RateReport`].

use super::electrode::ElectrodeFound;
use super::flaws::Flaws;
use super::needs::not_given;
use super::report::{AxisAnswer, ModelDifference, RateReport};
use super::shaken;
use super::stated::{Sense, StatedSensor};
use super::weighing::Weighing;
use crate::model::{ModalSolution, Model};
use crate::rate::comparison::Comparison;
use crate::rate::pairing::pair;
use crate::rate::requirements::Because;
use modalith_mesher::mesh::Mesh;
use modalith_mesher::outline::Outline;

/// What the modes of a layout say of it as a rate sensor. `compared` is what a second model makes of it, or why there is none: no
/// requirement has a verdict then.
pub fn rate_report(
    stated: &StatedSensor,
    (outline, mesh): (&Outline, &Mesh),
    solved: &ModalSolution,
    electrodes: &[ElectrodeFound],
    compared: Result<Comparison, Because>,
) -> RateReport {
    let (axes, missing) = answers(stated, outline, mesh, solved, electrodes, &compared);
    let difference = |found: Comparison| ModelDifference {
        against: found.against.map(Model::name),
        others_hz: found.others_hz.iter().copied().filter(|hz| *hz < solved.search.to_hz()).collect(),
        hz: found.frequency_hz.iter().zip(&solved.modes).map(|(hz, m)| hz.map(|hz| hz - m.frequency_hz)).collect(),
    };
    RateReport { axes, compared: compared.map(difference), missing }
}

/// The answers by intended axis, and what is missing.
fn answers(
    stated: &StatedSensor,
    outline: &Outline,
    mesh: &Mesh,
    solved: &ModalSolution,
    electrodes: &[ElectrodeFound],
    compared: &Result<Comparison, Because>,
) -> (Vec<AxisAnswer>, Vec<String>) {
    let names: Vec<&str> = solved.modes.first().iter().flat_map(|m| &m.masses).map(|m| m.name.as_str()).collect();
    let Some(drive) = &stated.intent.drive else { return (Vec::new(), Vec::new()) };
    let drive = drive.of_masses(names.iter().copied());
    let flaws = Flaws::of(stated, outline, mesh, solved, outline.middle_um()[0]);
    let fibres = shaken::fibres(stated, outline, solved);
    let middle = solved.sampled.largest_motions();
    let answer = |sense: &Sense| {
        let pattern = sense.pattern.of_masses(names.iter().copied());
        let found = pair(&solved.modes, &drive, &pattern);
        let numbers = found.drive.as_ref().zip(found.sense.as_ref()).map(|(d, s)| (d.mode, s.mode));
        let work = numbers.filter(|(d, s)| d != s).map(|modes| {
            let (drive, sense, axis) = (&drive, &pattern, sense.rate_axis);
            let (list, coriolis) = (&solved.modes[..], solved.coriolis.as_ref());
            let (flaws, terms, shares) = (&flaws, solved.terms.as_ref(), None);
            let own = Weighing {
                stated,
                outline,
                mesh,
                solved,
                electrodes,
                drive,
                sense,
                axis,
                modes,
                list,
                coriolis,
                flaws,
                terms,
                shares,
                fibres: fibres.as_ref(),
                middle: &middle,
            };
            let mut work = own.whole();
            work.verdicts = own.verdicts(&work, &own.errors(&work, compared));
            work
        });
        AxisAnswer { axis: sense.rate_axis, drive: found.drive, sense: found.sense, work }
    };
    (stated.intent.sense.iter().map(answer).collect(), not_given(stated, outline, solved, electrodes))
}
