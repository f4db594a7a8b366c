//! A layout under several models, compared: which mode of each is which of the fullest, what each assumption of the simple model costs on the
//! modes that matter, and the cheapest model that is good enough. In: solutions, cheapest model first, the reference last. Out: [`Audit`].

use super::intended::Intended;
use super::stated::Intent;
use crate::audit::{Assumption, Candidate, MASSES_BEND, MASSLESS, ModelComparison, ROOTS, assumptions, cheapest};
use crate::lumped::{Lumped, LumpedError, Pieces};
use crate::modal::Wanted;
use crate::mode::{Mode, ModeShape, ModelModes, PointWeights, label::Words, matching};
use crate::model::{ModalSolution, Model, ModelInput};
use crate::rate::comparison::{ALIKE, CLUSTER};

/// Modes that cheaper models are asked for beyond those compared, so that one which they place higher is still found.
pub const MODES_MORE: usize = 4;

/// One mode of the reference under all models.
pub struct AuditRow {
    /// What moves.
    pub label: String,
    /// Whether it is one of the modes that the verdicts are about.
    pub matters: bool,
    /// Its frequency, Hz.
    pub reference_hz: f64,
    /// By model: frequency, Hz, and MAC; `None` where the model has no such mode.
    pub models: Vec<Option<(f64, f64)>>,
}

impl AuditRow {
    /// For a model by its place: by what share its frequency is above the reference's, and MAC; `None` where it has no such mode.
    pub fn difference(&self, model: usize) -> Option<(f64, f64)> {
        self.models[model].map(|(hz, mac)| (hz / self.reference_hz - 1.0, mac))
    }
}

/// All that the audit found.
pub struct Audit {
    /// The assumptions.
    pub assumptions: Vec<Assumption>,
    /// For each why it is not measured, where it is not.
    pub because: Vec<Option<String>>,
    /// The models, cheapest first, the reference last.
    pub models: Vec<ModalSolution>,
    /// How far each is off.
    pub candidates: Vec<Candidate>,
    /// Coupling of the working pair, |G|/2, 0 to 1, by model.
    pub coupling: Vec<Option<f64>>,
    /// The modes.
    pub rows: Vec<AuditRow>,
    /// The cheapest model that is good enough.
    pub best: Option<&'static str>,
    /// Models that the layout does not have, and why.
    pub missing: Vec<(&'static str, String)>,
    /// Whether modes that the device file intends are those that matter.
    pub pair_intended: bool,
    /// Whether the device file states an intent.
    pub intent_stated: bool,
}

impl Audit {
    /// Compares solutions of one layout, the cheapest model first and the reference last; `missing` are the models that it does not have,
    /// and why, `accuracy` the error of a frequency that is allowed, a share. Settles the signs of the reference's modes.
    pub fn of(
        input: &ModelInput,
        intent: &Intent,
        mut models: Vec<ModalSolution>,
        missing: Vec<(&'static str, String)>,
        accuracy: f64,
    ) -> Self {
        let words = models.last_mut().map_or_else(Vec::new, ModalSolution::orient);
        let matched = Matched::new(&models, input);
        let reference = models.len().saturating_sub(1);
        let pair = models.last().and_then(|own| Intended::pair(&Intended::of(intent, &own.modes)));
        let matter: Vec<usize> = match pair {
            Some((drive, sense, _)) => vec![drive, sense],
            None => (0..words.len().min(2)).collect(),
        };
        let massless = massless(input, words.len());
        let seen: Vec<ModelComparison> =
            matter.iter().map(|&i| matched.seen(&models, i, massless.as_deref().ok())).collect();
        let of_model = |m: usize| {
            let (drive, sense, axis) = pair?;
            let (d, s) = (matched.which[m][drive]?.0, matched.which[m][sense]?.0);
            coupling(&models[m], axis, (d, s))
        };
        let coupling: Vec<Option<f64>> = (0..models.len()).map(of_model).collect();
        let apart = |a: Option<f64>, b: Option<f64>| Some((a? / b? - 1.0).abs());
        let frequency = |m: usize| {
            let mut all = matter.iter().map(|&i| apart(matched.hz(m, i), matched.hz(reference, i)));
            all.try_fold(0.0_f64, |worst, d| d.map(|d| worst.max(d)))
        };
        let bars =
            |m: usize, i: usize| [m, reference].map(|m| matched.bar(&models, models[m].model, i)).iter().sum::<f64>();
        let candidates: Vec<Candidate> = (0..models.len())
            .map(|m| Candidate {
                model: models[m].model.name(),
                frequency: frequency(m),
                doubt: if m == reference { 0.0 } else { matter.iter().map(|&i| bars(m, i)).fold(0.0, f64::max) },
                coupling: apart(coupling[m], coupling[reference]),
            })
            .collect();
        // Without the full law nothing is known to be good enough.
        let held = models.iter().any(|m| m.model == Model::Solid);
        let assumptions = assumptions(&seen, accuracy);
        let bend = seen.iter().any(|m| m.body_strain > MASSES_BEND);
        let why = |a: &Assumption| not_measured(a, (&missing, bend), &models, massless.as_ref().err());
        let because = assumptions.iter().map(|a| a.measure.is_none().then(|| why(a)));
        Self {
            because: because.collect(),
            assumptions,
            coupling,
            best: cheapest(&candidates, accuracy).filter(|_| held).map(|c| c.model),
            candidates,
            rows: matched.rows(&words, &matter),
            missing,
            pair_intended: pair.is_some(),
            intent_stated: intent.drive.is_some() && !intent.sense.is_empty(),
            models,
        }
    }

    /// The model that the others are compared with: the last.
    pub fn reference(&self) -> &'static str {
        self.models.last().map_or("", |m| m.model.name())
    }

    /// Whether the others are compared with solids: nothing less is the full law.
    pub fn is_against_solid(&self) -> bool {
        self.models.last().is_some_and(|m| m.model == Model::Solid)
    }
}

/// Which modes of several models are which of the last one's.
struct Matched {
    /// Frequencies by model, Hz.
    frequencies: Vec<Vec<f64>>,
    /// For every model and mode of the reference the mode that it is, and the MAC.
    which: Vec<Vec<Option<(usize, f64)>>>,
    /// Where a model stands in the list.
    places: Vec<Model>,
}

impl Matched {
    fn new(models: &[ModalSolution], input: &ModelInput) -> Self {
        let frequencies: Vec<Vec<f64>> = models.iter().map(ModalSolution::frequencies_hz).collect();
        let places = models.iter().map(|m| m.model).collect();
        let Some(last) = models.last() else { return Self { frequencies, which: Vec::new(), places } };
        let thickness_m = input.thickness_um * 1e-6;
        let weights = PointWeights::of_cells(&last.sampled, input.law.density_kg_m3 * thickness_m, thickness_m);
        let shapes: Vec<Vec<ModeShape>> = models.iter().map(ModalSolution::shapes).collect();
        let modes_of = |m: usize| ModelModes { frequency_hz: &frequencies[m], shapes: &shapes[m] };
        let which = (0..models.len()).map(|m| {
            let mut own = vec![None; last.modes.len()];
            let pairs = matching(&modes_of(models.len() - 1), &modes_of(m), &weights, CLUSTER);
            pairs.into_iter().filter(|p| p.mac >= ALIKE).for_each(|p| own[p.first] = Some((p.second, p.mac)));
            own
        });
        Self { which: which.collect(), frequencies, places }
    }

    /// Frequency of a mode of the reference under a model, Hz.
    fn hz(&self, model: usize, mode: usize) -> Option<f64> {
        self.which[model][mode].map(|(k, _)| self.frequencies[model][k])
    }

    fn place(&self, model: Model) -> Option<usize> {
        self.places.iter().position(|m| *m == model)
    }

    /// A mode of the reference under all models, and under the lumped one without flexure mass (`massless`, Hz).
    fn seen(&self, models: &[ModalSolution], i: usize, massless: Option<&[f64]>) -> ModelComparison {
        let (last, under) = (models.len() - 1, |model: Model| self.hz(self.place(model)?, i));
        let mode = &models[last].modes[i];
        let lumped = self.place(Model::Lumped).and_then(|m| Some((m, self.which[m][i]?.0)));
        let model = lumped.and_then(|(m, k)| Some((models[m].lumped()?, &models[m].modes[k].shape)));
        ModelComparison {
            body_strain: (1.0 - mode.flexure_strain_share.iter().sum::<f64>()).max(0.0),
            off_axis: 1.0 - of_main_motion(mode),
            lumped_hz: under(Model::Lumped),
            massless_hz: lumped.and_then(|(_, k)| massless?.get(k).copied()),
            guided_hz: model.and_then(|(l, shape)| l.hz_with_turns_held(shape)),
            straight_hz: model.and_then(|(l, shape)| l.hz_without_cross_terms(shape)),
            beam_shell_hz: under(Model::BeamShell),
            shell_hz: under(Model::Shell),
            solid_hz: under(Model::Solid),
            mesh: [Model::Shell, Model::Solid].map(|model| self.bar(models, model, i)),
            springs_unbiased: models.iter().any(|m| m.bias.is_some()),
        }
    }

    /// The error bar of a mode of the reference under a model, a share of its frequency; 0 where it has none.
    fn bar(&self, models: &[ModalSolution], model: Model, i: usize) -> f64 {
        let found = self.place(model).and_then(|m| Some((m, self.which[m][i]?.0)));
        let share = found.and_then(|(m, k)| {
            Some(
                models[m].mesh_errors.get(k)?.hz
                    / models[m].modes.get(k).map(|m| m.frequency_hz).filter(|f| *f > 0.0)?,
            )
        });
        share.unwrap_or(0.0)
    }

    fn rows(&self, words: &[Words], matter: &[usize]) -> Vec<AuditRow> {
        let Some(reference) = self.frequencies.last() else { return Vec::new() };
        let by_model = |i: usize, m: usize| self.which[m][i].map(|(k, mac)| (self.frequencies[m][k], mac));
        words
            .iter()
            .enumerate()
            .map(|(i, words)| AuditRow {
                label: words.label.clone(),
                matters: matter.contains(&i),
                reference_hz: reference[i],
                models: (0..self.which.len()).map(|m| by_model(i, m)).collect(),
            })
            .collect()
    }
}

/// Share of a mode's kinetic energy along its main direction, or where masses hold most of it, of their rigid motions' energy in the main
/// one: a turn about z moves along x and y alike, and couples neither.
fn of_main_motion(mode: &Mode) -> f64 {
    let along = mode.kinetic_share.into_iter().fold(0.0, f64::max);
    let alike: Vec<f64> =
        (0..6).map(|k| mode.masses.iter().map(|m| m.kinetic_share * m.motion_share[k]).sum::<f64>()).collect();
    let (all, most) = (alike.iter().sum::<f64>(), alike.iter().copied().fold(0.0, f64::max));
    if all > 0.5 { along.max(most / all) } else { along }
}

/// Frequencies that are one as far as meshes without a common mirror tell, relative.
const EQUAL: f64 = 1e-5;

/// Coupling of two modes by rotation about an axis, |G|/2. Where others lie as good as on one of them, which mix is the mode means
/// nothing: then it is the root of the sum of squares over all of them.
fn coupling(model: &ModalSolution, axis: usize, (drive, sense): (usize, usize)) -> Option<f64> {
    let coriolis = model.coriolis.as_ref()?;
    let hz = model.frequencies_hz();
    let beside = |i: usize| (0..hz.len()).filter(|&k| (hz[k] - hz[i]).abs() <= EQUAL * hz[i]).collect::<Vec<_>>();
    let (of_drive, of_sense) = (beside(drive), beside(sense));
    if of_drive.contains(&sense) {
        return Some(coriolis.coupling(axis, drive, sense));
    }
    let all = of_drive.iter().flat_map(|&d| of_sense.iter().map(move |&s| coriolis.coupling(axis, d, s).powi(2)));
    Some(all.sum::<f64>().sqrt())
}

/// Frequencies of the lumped model whose flexures have no mass, Hz: as many as are compared, and some for modes that it places higher.
fn massless(input: &ModelInput, count: usize) -> Result<Vec<f64>, LumpedError> {
    let (outline, law) = (input.outline, &input.law);
    let lumped = Lumped::new(Pieces::of(outline)?, law, input.thickness_um, false)?;
    let wanted = Wanted::Lowest(count + MODES_MORE);
    let found = lumped.modes(&lumped.named(&outline.masses, law.density_kg_m3), wanted)?;
    Ok(found.modes.iter().map(|m| m.frequency_hz).collect())
}

/// Why an assumption is not measured.
fn not_measured(
    assumption: &Assumption,
    (missing, bend): (&[(&'static str, String)], bool),
    models: &[ModalSolution],
    massive: Option<&LumpedError>,
) -> String {
    let lumped = models.iter().any(|m| m.model == Model::Lumped);
    let biased = models.iter().any(|m| m.bias.is_some());
    match massive {
        Some(e) if assumption.name == MASSLESS && lumped => {
            return format!("the flexures' mass cannot be left out: {e}");
        }
        _ if assumption.name == ROOTS && biased => return "springs lack the softening of biased electrodes".into(),
        _ if assumption.name == ROOTS && bend => {
            return "more than a tenth of the strain energy is outside the flexures: what masses give is not told from what roots give".into();
        }
        _ => {}
    }
    match missing.iter().find(|(model, _)| assumption.needs.contains(model)) {
        Some((model, why)) => format!("{model} is left out: {why}"),
        None => format!("not every mode that matters is found under {}", assumption.needs.join(" and ")),
    }
}
