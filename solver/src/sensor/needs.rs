//! What a figure of the rate report needs: inputs of the device file and terms of the model. In: what is stated, what was solved. Out: what
//! is missing in a figure, and what is not given altogether.

use super::electrode::ElectrodeFound;
use super::flaws::half;
use super::stated::{ReadoutNoise, StatedSensor};
use crate::electrode::SMALL_DEFLECTION;
use crate::model::{AnchorsHeld, ModalSolution, Model};
use crate::rate::requirements::{Because, Figure};
use modalith_mesher::outline::{Flexure, Outline};

/// Inputs by their keys, and whether each is stated.
type Inputs = Vec<(&'static str, bool)>;

/// Three sigma of the process: what every frequency and every shape as made rests on.
fn spread(stated: &StatedSensor) -> Inputs {
    let s = stated.spread_3sigma;
    vec![
        ("spread_3sigma/edge_bias_um", s.edge_bias_um.is_some()),
        ("spread_3sigma/thickness_um", s.thickness_um.is_some()),
        ("spread_3sigma/youngs_modulus_percent", s.youngs_modulus_percent.is_some()),
        ("spread_3sigma/density_percent", s.density_percent.is_some()),
    ]
}

/// What unbalances the drawing: what frequencies, couplings and readings as made rest on.
fn shape(stated: &StatedSensor) -> Inputs {
    let i = stated.imperfections;
    vec![
        ("imperfections/left_right_width_um", i.left_right_width_um.is_some()),
        ("imperfections/sidewall_tilt_deg", i.sidewall_tilt_deg.is_some()),
    ]
}

fn inputs(figure: Figure, stated: &StatedSensor) -> Inputs {
    let (operation, imperfections) = (stated.operation, stated.imperfections);
    let amplitude = ("operation/drive_amplitude_um", operation.drive_amplitude_um.is_some());
    let sense = ("operation/quality_sense", operation.quality_sense.is_some());
    // An imbalance moves every frequency, and the spread every shape: what is left out would be taken for zero.
    let frequencies = [spread(stated), shape(stated)].concat();
    let shock = [vec![("operation/shock", operation.shock.is_some())], frequencies.clone()].concat();
    match figure {
        Figure::ModeSplit
        | Figure::DriveFrequency
        | Figure::SenseFrequency
        | Figure::Guard
        | Figure::Coupling
        | Figure::CrossAxis
        | Figure::Quadrature => frequencies,
        Figure::ZeroRate => {
            let own = [
                ("imperfections/drive_force_leak", imperfections.drive_force_leak.is_some()),
                ("operation/quality_drive", operation.quality_drive.is_some()),
                ("imperfections/phase_error_deg", imperfections.phase_error_deg.is_some()),
            ];
            [own.to_vec(), frequencies].concat()
        }
        Figure::Vibration => {
            let mismatch = ("imperfections/electrode_mismatch", imperfections.electrode_mismatch.is_some());
            let band = ("operation/vibration_band_hz", operation.vibration_band_hz.is_some());
            [vec![amplitude, sense, mismatch, band], frequencies].concat()
        }
        Figure::AngleRandomWalk => {
            let readout = ("operation/readout_noise_m_per_rthz", operation.readout_noise.is_some());
            let temperature = ("operation/temperature_k", operation.temperature_k.is_some());
            [vec![amplitude, sense, readout, temperature], frequencies].concat()
        }
        Figure::ShockTravel | Figure::ShockStress => shock,
        // What the drive takes of a gap is not there for the shock.
        Figure::ShockFirstTouch => [vec![("stoppers", !stated.stoppers.is_empty()), amplitude], shock].concat(),
    }
}

/// What is missing in a figure: inputs that are not stated, and terms that the model does not have.
pub(super) fn missing(
    figure: Figure,
    (stated, outline): (&StatedSensor, &Outline),
    solved: &ModalSolution,
    electrodes: &[ElectrodeFound],
) -> Vec<Because> {
    let all = inputs(figure, stated);
    let mut missing: Vec<Because> =
        all.iter().filter(|(_, stated)| !stated).map(|(key, _)| Because::NotStated(key)).collect();
    let s = stated.spread_3sigma;
    let spreads = [s.edge_bias_um, s.thickness_um, s.youngs_modulus_percent, s.density_percent];
    let spreads = spreads.iter().flatten().any(|x| *x != 0.0);
    if all.iter().any(|(key, _)| key.starts_with("spread_3sigma")) && spreads && solved.terms.is_none() {
        missing.push(Because::NotFound(format!(
            "the {} model gives no first-order terms here, so what the spread makes is not known",
            solved.model
        )));
    }
    if all.iter().any(|(key, _)| key.starts_with("spread_3sigma"))
        && (spreads || stated.imperfections.left_right_width_um.is_some_and(|um| um != 0.0))
        && let Some(moves) = rest_moves(solved, electrodes)
    {
        missing.push(Because::Beyond(format!(
            "{moves}: how the rest moves as the process changes the part is not in the first-order terms of the {} model",
            solved.model
        )));
    }
    if all.iter().any(|(key, _)| key.starts_with("spread_3sigma")) {
        for (what, share) in too_wide(stated, outline) {
            let said = format!(
                "{what} as stated is {:.1} % of what it changes: first-order terms are taken for what is made up to {:.0} %",
                100.0 * share,
                100.0 * FIRST_ORDER
            );
            // A spread is left out of what is made and only widens it; a difference of widths is in everything, and what might come near
            // a guard is looked for with all of it.
            missing.push(match what {
                _ if what == LEFT_RIGHT || figure == Figure::Guard => Because::Beyond(said),
                _ => Because::NotFound(format!("{said}, so that it is left out")),
            });
        }
    }
    missing.extend(held_from_below(stated, outline, solved.model).map(Because::NotFound));
    if solved.film.is_some() && figure == Figure::ShockStress {
        missing.push(Because::NotFound("what film stress leaves in flexures is not added".into()));
    }
    missing
}

/// Anchors held from below, which the model leaves out and only solids have, a sentence.
fn held_from_below(stated: &StatedSensor, outline: &Outline, model: Model) -> Option<String> {
    let left_out = stated.anchors_held == AnchorsHeld::Below && !outline.anchors.is_empty() && model != Model::Solid;
    left_out.then(|| format!("anchors are held from below, which the {model} model leaves out; the solid model has it"))
}

/// Whether the biases deflect the part so far that first-order terms about the rest are not those of a rest that follows the process, a
/// sentence. The softer they leave a mode, the more a rest follows. The terms of beams on shells follow it.
fn rest_moves(solved: &ModalSolution, electrodes: &[ElectrodeFound]) -> Option<String> {
    if solved.model == Model::BeamShell || electrodes.iter().all(|e| e.bias_v == 0.0) {
        return None;
    }
    let left = |i: usize| {
        let own = solved.modes[i].omega().powi(2);
        let taken: f64 = electrodes.iter().map(|e| e.softening(i)).sum();
        if own > 0.0 && taken > 0.0 { own / (own + taken) } else { 1.0 }
    };
    let softest = (0..solved.modes.len()).map(left).fold(1.0, f64::min);
    let most = electrodes.iter().max_by(|a, b| a.change_at_rest().total_cmp(&b.change_at_rest()))?;
    let share = most.change_at_rest();
    let leaves = match softest {
        left if left < 0.9 => format!(" and leave {:.0} % of the stiffness of a mode", 100.0 * left),
        _ => String::new(),
    };
    (share > SMALL_DEFLECTION * softest).then(|| {
        format!(
            "the biases deflect the part so far that the capacitance of \"{}\" changes by {:.2} %{leaves}",
            most.name,
            100.0 * share
        )
    })
}

/// A stated change of width or thickness up to which first-order terms stand for what is made: squares of it, times a few, are left.
const FIRST_ORDER: f64 = 0.05;

const EDGE_BIAS: &str = "spread_3sigma/edge_bias_um";
const THICKNESS: &str = "spread_3sigma/thickness_um";
const LEFT_RIGHT: &str = "imperfections/left_right_width_um";

/// The spread of edges and of thickness as far as first order reaches, µm: 0 where it does not.
pub(super) fn within_first_order(stated: &StatedSensor, outline: &Outline) -> [f64; 2] {
    let beyond = too_wide(stated, outline);
    let s = stated.spread_3sigma;
    [(EDGE_BIAS, s.edge_bias_um), (THICKNESS, s.thickness_um)]
        .map(|(what, um)| um.filter(|_| beyond.iter().all(|(beyond, _)| *beyond != what)).unwrap_or(0.0))
}

/// Stated changes that first order does not reach, and how large each is.
fn too_wide(stated: &StatedSensor, outline: &Outline) -> Vec<(&'static str, f64)> {
    let s = stated.spread_3sigma;
    let least = |of: &mut dyn Iterator<Item = &Flexure>| of.map(Flexure::narrowest_um).fold(f64::INFINITY, f64::min);
    let narrowest = least(&mut outline.flexures.iter());
    let middle_um = outline.middle_um()[0];
    let narrowest_of_a_half = least(&mut outline.flexures.iter().filter(|f| half(f, middle_um) != 0.0));
    let shares = [
        (EDGE_BIAS, s.edge_bias_um.unwrap_or(0.0).abs() * 2.0 / narrowest),
        (THICKNESS, s.thickness_um.unwrap_or(0.0).abs() / stated.thickness_um),
        (LEFT_RIGHT, stated.imperfections.left_right_width_um.unwrap_or(0.0).abs() / narrowest_of_a_half),
    ];
    shares.into_iter().filter(|(_, share)| *share > FIRST_ORDER).collect()
}

/// What is not stated, and what it would bring.
pub(super) fn not_given(
    stated: &StatedSensor,
    outline: &Outline,
    solved: &ModalSolution,
    electrodes: &[ElectrodeFound],
) -> Vec<String> {
    let operation = stated.operation;
    let spread = stated.spread_3sigma;
    let imperfections = stated.imperfections;
    let left_out = too_wide(stated, outline).into_iter().filter(|(what, _)| *what != LEFT_RIGHT).map(|(what, share)| {
        format!(
            "terms beyond first order for {what}, {:.1} % of what it changes: what is made leaves it out; `modalith variants` solves its values",
            100.0 * share
        )
    });
    let stated = [spread.edge_bias_um, spread.thickness_um, spread.youngs_modulus_percent, spread.density_percent];
    let as_made = [imperfections.left_right_width_um, imperfections.sidewall_tilt_deg];
    [
        (operation.drive_amplitude_um.is_none(), "operation/drive_amplitude_um: scale factor, noise, vibration"),
        (operation.quality_drive.is_none(), "operation/quality_drive: zero rate through the drive's leak"),
        (operation.quality_sense.is_none(), "operation/quality_sense: Brownian noise"),
        (operation.readout_noise.is_none(), "operation/readout_noise_m_per_rthz: noise of the readout"),
        (operation.shock.is_none(), "operation/shock: travel under a shock"),
        (operation.full_scale_deg_per_s.is_none(), "operation/full_scale_deg_per_s: linearity"),
        (stated.iter().all(Option::is_none), "spread_3sigma: frequencies and split as made"),
        (as_made.iter().all(Option::is_none), "imperfections: frequencies, couplings and quadrature as made"),
        (imperfections.electrode_mismatch.is_none(), "imperfections/electrode_mismatch: vibration as made"),
        (
            solved.terms.is_none() && solved.model == Model::Solid && solved.film.is_none(),
            "anchors held at their side faces: first-order terms of the process",
        ),
        (
            solved.terms.is_none() && solved.model != Model::Solid && solved.film.is_none(),
            "a solid model, or nothing filled in: first-order terms of the process",
        ),
        (
            matches!(operation.readout_noise, Some(ReadoutNoise::Capacitance(_)))
                && !electrodes.iter().any(|e| e.role == Some("sense")),
            "electrodes with \"role\": \"sense\": noise of the readout, whose density is stated in aF",
        ),
    ]
    .into_iter()
    .filter(|(there, _)| *there)
    .map(|(_, what)| what.to_owned())
    .chain(left_out)
    .collect()
}

/// Why a figure is not that of the part where it rests: curl couples motion in the plane to motion out of it by its slope, and modes are of
/// the flat part.
pub(super) fn of_flat_part(figure: Figure, solved: &ModalSolution) -> Option<Because> {
    let couples = matches!(
        figure,
        Figure::Coupling
            | Figure::CrossAxis
            | Figure::Quadrature
            | Figure::ZeroRate
            | Figure::Vibration
            | Figure::AngleRandomWalk
    );
    let curled = solved.film.is_some_and(|film| !film.film.is_even());
    let why = "under the film's gradient the part is curved, and what that couples is not in modes of the flat part";
    (couples && curled).then(|| Because::NotFound(why.into()))
}
