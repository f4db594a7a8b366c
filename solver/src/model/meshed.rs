//! Shells and solids: the models that mesh everything.

use super::bias::Bias;
use super::caution::{curled, shell_cautions, without_mirror};
use super::context::{SolveContext, reach_um};
use super::error::ModelError;
use super::input::{Model, ModelInput};
use super::solution::{ModalSolution, Purpose};
use crate::modal::{Modal, ModalError, Wanted, base_acceleration, modes};
use crate::mode::{MeshError, mesh_errors, sample_shapes};
use crate::process::{flexure_terms, process_terms, shifts_by_motion};
use crate::state::{Displaced, FilmError, FilmRest, State};
use crate::system::Motion;
use modalith_mesher::motion::MeshMotion;
use std::time::Instant;

/// What the motion in the plane under film stress may do to a frequency, a share; less of it counts as error.
const RESHAPED: f64 = 5e-3;

/// Modes of a layer on the mesh of the whole layout, and what the purpose asks for beside them.
///
/// # Errors
/// As [`super::solve()`].
pub(super) fn meshed(
    model: Model,
    input: &ModelInput,
    context: &SolveContext,
    wanted: Wanted,
    purpose: Purpose,
) -> Result<ModalSolution, ModelError> {
    let (outline, solid) = (input.outline, model == Model::Solid);
    let unloaded = context.structure(solid, input);
    let State { structure, film, bias: at_rest } = input.loads.state(&unloaded, purpose.sought())?;
    let modal = modes(&structure, context.asked(wanted), &|p| context.hear(p))?;
    let (mut mesh_errors, bars_s) = bars(&modal, purpose)?;
    let sample = |modal: &Modal| if purpose == Purpose::Modes { modal.sample() } else { modal.sample_coarse() };
    let sampled = sample(&modal);
    let bias = at_rest.map(|rest| Bias::sampled(rest, &modal, |m| Ok::<_, ModelError>(sample(m)))).transpose()?;
    let (film_rest_m, mut cautions) = match &film {
        Some(found) => at_film_rest(&modal, found, purpose, &mut mesh_errors)?,
        None => Default::default(),
    };
    if !solid {
        cautions.extend(shell_cautions(outline, input.thickness_um, &modal.modes));
        cautions.extend(without_mirror(&input.law));
    }
    let clock = Instant::now();
    let all: Vec<usize> = (0..modal.modes.len()).collect();
    let reach = reach_um(outline, input.thickness_um);
    // First-order terms do not know how the stress that is left follows edges, layer and material.
    let terms = if purpose.compares() || !context.held_below.is_empty() || film.is_some() {
        None
    } else {
        let motion = MeshMotion::edges(&context.mesh, reach);
        Some(process_terms(&modal, &input.constants, &motion, &all)?)
    };
    let (mut of_flexures, mut statics) = (Vec::new(), None);
    if purpose == Purpose::Rate {
        if terms.is_some() {
            of_flexures = flexure_terms(&modal, &outline.flexures, reach, &all)?;
        }
        if !outline.anchors.is_empty() {
            statics = Some(base_acceleration(&structure)?);
        }
    }
    let terms_s = clock.elapsed().as_secs_f64();
    let solved = ModalSolution::of_structure(model, modal, sampled).map_err(ModalError::from)?;
    Ok(ModalSolution {
        bias,
        film: film.map(|(rest, _)| rest),
        film_rest_m,
        cautions,
        terms,
        terms_s,
        flexure_terms: of_flexures,
        statics,
        mesh_errors,
        bars_s,
        ..solved
    })
}

/// Where film stress leaves the part, m, at the points where modes are sampled, and what is not in the modes for it; what it does to the
/// shape joins the error bars.
///
/// # Errors
/// As [`reshaped_hz`].
fn at_film_rest(
    modal: &Modal,
    (rest, moved): &(FilmRest, Displaced),
    purpose: Purpose,
    bars: &mut [MeshError],
) -> Result<(Vec<[f64; 3]>, Vec<String>), ModelError> {
    let shifts = reshaped_hz(modal, moved)?;
    bars.iter_mut().zip(&shifts).for_each(|(bar, hz)| bar.hz += hz.abs());
    Ok((sampled_rest(modal, moved, purpose != Purpose::Modes), curled(rest).into_iter().collect()))
}

/// What has moved under film stress, m, at the points where modes are sampled.
fn sampled_rest(modal: &Modal, moved: &Displaced, coarse: bool) -> Vec<[f64; 3]> {
    let (motions, values): (Vec<Motion>, Vec<&[f64]>) =
        moved.iter().map(|(m, values)| (m.clone(), values.as_slice())).unzip();
    let shapes: Vec<(usize, &[f64])> = values.into_iter().enumerate().collect();
    let sampled = sample_shapes(modal.structure.mesh(), &motions, &shapes, coarse);
    let sum = |p: usize| sampled.modes.iter().fold([0.0; 3], |sum: [f64; 3], s| [0, 1, 2].map(|k| sum[k] + s[p][k]));
    (0..sampled.points.len()).map(sum).collect()
}

/// By how much frequencies would change, Hz, if modes were those of the part where it has moved to in its plane, to first order: an arch
/// that is pulled flat is another spring.
///
/// # Errors
/// Where that is more than is left of a frequency otherwise.
fn reshaped_hz(modal: &Modal, moved: &Displaced) -> Result<Vec<f64>, ModelError> {
    let rest = sampled_rest(modal, moved, true);
    let um = |u: &[f64; 3]| [u[0] * 1e6, u[1] * 1e6];
    // Sampled coarsely a mesh's points are its corners, then the middles of its edges.
    let (corners, middles) = rest.split_at(modal.structure.mesh().points.len());
    let motion = MeshMotion { points: corners.iter().map(um).collect(), middles: middles.iter().map(um).collect() };
    let shifts = shifts_by_motion(modal, &motion).map_err(ModalError::from)?;
    let share = |i: usize| shifts[i].abs() / modal.modes[i].frequency_hz;
    let moving = (0..shifts.len()).filter(|&i| modal.modes[i].frequency_hz > 0.0);
    match moving.max_by(|&a, &b| share(a).total_cmp(&share(b))).filter(|&i| share(i) > RESHAPED) {
        Some(mode) => Err(FilmError::Reshaped { mode, share: share(mode) }.into()),
        None => Ok(shifts),
    }
}

/// Error bars of all modes and the seconds they took; none in a comparison.
fn bars(modal: &Modal, purpose: Purpose) -> Result<(Vec<MeshError>, f64), ModalError> {
    if purpose == Purpose::Comparison {
        return Ok((Vec::new(), 0.0));
    }
    let clock = Instant::now();
    let errors = mesh_errors(modal)?;
    Ok((errors, clock.elapsed().as_secs_f64()))
}
