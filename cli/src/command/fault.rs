//! Where in the device file the fault of a model lies, and what to do about it. In: the solver's errors. Out: the command's.

use crate::device::Device;
use crate::device::drawing::escaped;
use crate::exit::CommandError;
use crate::output::units::bytes;
use modalith_mesher::triangulate::TriangulateError;
use modalith_solver::electrode::ElectrodeError;
use modalith_solver::lumped::LumpedError;
use modalith_solver::modal::ModalError;
use modalith_solver::model::{Model, ModelError};
use modalith_solver::process::ProcessError;
use modalith_solver::spectrum::SpectrumError;
use modalith_solver::state::FilmError;

/// A model that gives no answer.
pub fn of_model(device: &Device, error: &ModelError) -> CommandError {
    let of = |pointer: &str| CommandError::from(device.fault(pointer, &error.to_string()));
    match error {
        ModelError::Triangulate(TriangulateError::TooFine { .. }) if device.mesh.largest_um.is_some() => {
            of("/mesh/largest_um")
        }
        ModelError::Triangulate(_) | ModelError::Mesh(_) | ModelError::Process(ProcessError::System(_)) => {
            of("/layout")
        }
        ModelError::Material(_) | ModelError::Process(ProcessError::Material(_)) => of("/material"),
        ModelError::Beams(what) => {
            device.error("/layout", what, "the shell or the solid model serves such a layout").into()
        }
        ModelError::NoMirror(what) => device.error("/material", what, "take the solid model").into(),
        ModelError::Lumped(LumpedError::Spectrum(e)) => {
            CommandError::Other { what: e.to_string(), hint: "nothing was written".into() }
        }
        ModelError::Lumped(_) => of("/layout"),
        ModelError::Film(e) => of_film(device, e),
        ModelError::Load { .. } => device
            .error("/process", error.to_string(), "take the shell or the solid model, or leave the load out")
            .into(),
        ModelError::Electrode(e) => of_electrode(device, e),
        ModelError::Modal(e) => of_modes(device, e),
        ModelError::TooLarge { model, needed, limit, fitting } => {
            CommandError::Other { what: too_large(*model, *needed, *limit), hint: would_fit(*needed, fitting) }
        }
        ModelError::NoneFits(each) => none_fits(each),
        ModelError::NotFree { model, needed, free } => CommandError::Other {
            what: format!(
                "the {model} model needs {} of memory, {} are free on this machine",
                bytes(*needed),
                bytes(*free)
            ),
            hint: "nothing was written; end other programs, or lower --memory-limit".into(),
        },
    }
}

/// A model that needs more memory than is allowed, a sentence.
pub fn too_large(model: Model, needed: u64, limit: u64) -> String {
    format!("the {model} model needs {} of memory, {} are allowed", bytes(needed), bytes(limit))
}

/// A search that needs more memory than is allowed, a sentence.
pub fn search_too_large(needed: u64, limit: u64) -> String {
    format!("the modes need {} of memory, {} are allowed", bytes(needed), bytes(limit))
}

/// What would fit, a sentence.
fn would_fit(needed: u64, fitting: &[Model]) -> String {
    let raised = format!("raise --memory-limit to {}", bytes(needed + needed / 20));
    let names: Vec<&str> = fitting.iter().map(|m| m.name()).collect();
    match names.as_slice() {
        [] => format!("nothing was written; {raised}, or take larger triangles (mesh/largest_um)"),
        names => format!("nothing was written; the {} model would fit; or {raised}", names.join(" or the ")),
    }
}

/// What each model needs, and which needs least.
fn none_fits(each: &[(Model, u64)]) -> CommandError {
    let all: Vec<String> = each.iter().map(|(model, needed)| format!("{model} needs {}", bytes(*needed))).collect();
    let least = each.iter().min_by_key(|(_, needed)| *needed);
    let raised = least.map_or_else(String::new, |(model, needed)| {
        format!("raise --memory-limit to {} for {model}, or ", bytes(needed + needed / 20))
    });
    CommandError::Other {
        what: format!("no model fits into the memory that is allowed: {}", all.join(", ")),
        hint: format!("nothing was written; {raised}take larger triangles (mesh/largest_um)"),
    }
}

/// Film stress beyond what a flat part bears is a fault of the input.
fn of_film(device: &Device, error: &FilmError) -> CommandError {
    let (key, hint) = match error {
        FilmError::Buckled { .. } => {
            ("film_stress_mpa", "less compression, stiffer or shorter parts, or flexures that let it relax")
        }
        FilmError::Curled { .. } => {
            ("stress_gradient_mpa_per_um", "a smaller gradient, a thicker layer or shorter free parts")
        }
        FilmError::Reshaped { .. } => {
            ("film_stress_mpa", "less stress, or flexures that are straight between what they tie")
        }
        FilmError::NotSettled { .. } => ("film_stress_mpa", "stress farther from buckling"),
        FilmError::System(_) => return device.fault("/layout", &error.to_string()).into(),
        FilmError::Spectrum(e) => {
            let hint = "nothing was written; parts that float beside held ones have no rest under film stress";
            return CommandError::Other {
                what: format!("the state under film stress was not found: {e}"),
                hint: hint.into(),
            };
        }
    };
    device.error(&format!("/process/{key}"), error.to_string(), hint).into()
}

/// A fault of an electrode is one of the input; a static solution that is not found is not.
pub fn of_electrode(device: &Device, error: &ElectrodeError) -> CommandError {
    match error {
        ElectrodeError::OverNothing { name } => {
            let hint = "move it over a part that moves, or take it out";
            device.error(&format!("/electrodes/{}", escaped(name)), error.to_string(), hint).into()
        }
        ElectrodeError::Closed { name } => {
            let hint = "widen its gap, lower the biases, or stiffen the flexures";
            device.error(&format!("/electrodes/{}", escaped(name)), error.to_string(), hint).into()
        }
        ElectrodeError::Touches { name } => {
            let hint =
                "lower \"bias_v\", leave more room (\"gap_um\", \"tip_gap_um\", or as drawn), or stiffen the flexures";
            device.error(&format!("/electrodes/{}", escaped(name)), error.to_string(), hint).into()
        }
        ElectrodeError::PulledIn { .. } => {
            let hint = "lower \"bias_v\", widen \"gap_um\", or stiffen the flexures";
            device.error("/electrodes", error.to_string(), hint).into()
        }
        ElectrodeError::NotSettled { .. } => {
            let hint = "nothing was written; a bias farther from pull-in, or a finer mesh (mesh/largest_um) under the electrode, may help";
            CommandError::Other { what: error.to_string(), hint: hint.into() }
        }
        ElectrodeError::System(e) => device.fault("/layout", &e.to_string()).into(),
        ElectrodeError::Spectrum(e) => {
            let hint = "nothing was written; a part that is not held has no rest under bias";
            CommandError::Other { what: format!("the state under bias was not found: {e}"), hint: hint.into() }
        }
    }
}

/// A layout without a system is a fault of the input; a spectrum that is not found is not.
pub fn of_modes(device: &Device, error: &ModalError) -> CommandError {
    match error {
        ModalError::System(e) => device.fault("/layout", &e.to_string()).into(),
        ModalError::Spectrum(e @ SpectrumError::TooMany { most, .. }) => {
            let hint = format!(
                "nothing was written; ask for no more than {most} modes or for a narrower band; smaller triangles \
                 (mesh/largest_um) carry more"
            );
            CommandError::Usage { what: e.to_string(), hint }
        }
        ModalError::Spectrum(e) => {
            let hint = "nothing was written; a coarser or finer mesh (mesh/largest_um) may help".into();
            CommandError::Other { what: e.to_string(), hint }
        }
        ModalError::Memory { needed, room } => {
            let what = search_too_large(*needed as u64, *room as u64);
            let coarser = error.coarser().unwrap_or(1.0);
            let hint = format!(
                "nothing was written; raise --memory-limit, ask for fewer modes, take the beam-shell model, or make the \
                 triangles {coarser:.1} times as large (mesh/largest_um)"
            );
            CommandError::Other { what, hint }
        }
    }
}
