//! Beams on shells: the model of a device, its modes, and what a purpose asks for beside them. In: device, outline, ground. Out: as
//! [`super::solved`] has it for all models.

use super::modes::mesh_size;
use super::solved::{Ground, LONG, Purpose, Solved, finish, no_modes, reach_um};
use super::{biased, differences};
use crate::device::Device;
use crate::exit::Stop;
use modalith_mesher::geometry::bounds;
use modalith_mesher::mesh::Mesh;
use modalith_mesher::outline::Outline;
use modalith_solver::beam_shell::{BeamShell, BeamShellError, Cells};
use modalith_solver::electrode::Electrode;
use modalith_solver::modal::{Modal, Wanted, base_acceleration, modes_with};
use modalith_solver::system::Supports;
use std::time::Instant;

/// Openings smaller than this share of the layout's diagonal are release holes to the beam-shell model, unless the device
/// file says `holes_below_um`.
const RELEASE_HOLE: f64 = 0.04;

/// The beam-shell model of a device.
///
/// # Errors
/// A layout without slender parts, or one that the model cannot be made of.
pub fn beam_shell_model(device: &Device, outline: &Outline, ground: &Ground) -> Result<BeamShell, Stop> {
    let holes = release_holes_um(device, outline);
    let constants = device.material.constants().map_err(|e| device.fault("/material", &e.to_string()))?;
    let cells = ground.cells.as_deref().map_or(Cells::Own, |table| Cells::Table(table, &constants));
    let made = BeamShell::new(
        outline,
        &device.law,
        device.thickness_um,
        &mesh_size(device),
        Some(holes),
        cells,
        ground.wide.clone(),
    );
    made.map_err(|e| match e {
        BeamShellError::NoBeams => {
            device.fault("/layout", &format!("{e}; --model shell or solid serves such a layout")).into()
        }
        e => Stop::Other { what: e.to_string(), hint: "nothing was written; --model shell or solid may serve".into() },
    })
}

/// Openings below this extent, µm, are release holes.
fn release_holes_um(device: &Device, outline: &Outline) -> f64 {
    let corners = outline.parts.iter().flat_map(|p| &p.polygon.outer);
    let diagonal = bounds(corners).map_or(0.0, |[a, b]| (b[0] - a[0]).hypot(b[1] - a[1]));
    device.holes_below_um.unwrap_or(RELEASE_HOLE * diagonal)
}

/// The mesh of a model's wide parts moved to the outline of a device whose edges lie `step_um` farther out; `None` where it needs
/// one of its own.
pub fn wide_moved_to(model: &BeamShell, device: &Device, outline: &Outline, step_um: f64) -> Option<Mesh> {
    let (thickness_um, holes) = (device.thickness_um, release_holes_um(device, outline));
    model.mesh_moved_to(outline, thickness_um, Some(holes), step_um, reach_um(outline, thickness_um))
}

/// Modes of beams on shells and what the purpose asks for beside them; no error bars, which nobody has judged on them.
///
/// # Errors
/// As [`super::solved::solve`].
pub fn beam_shell(
    purpose: Purpose,
    device: &Device,
    outline: &Outline,
    ground: &Ground,
    wanted: Wanted,
    electrodes: &[Electrode],
) -> Result<Solved, Stop> {
    let model = beam_shell_model(device, outline, ground)?;
    let supports = Supports::anchors(&model.mesh);
    let (hangers, at_rest) =
        biased::hung(device, &model.mesh, &model.layer, &supports, &model.added, &model.hangers, electrodes)?;
    let (asked, hear) = (ground.asked(wanted), |p| ground.hear(p));
    let modal = modes_with(&model.mesh, &model.layer, &supports, &model.added, &hangers, asked, &hear)
        .map_err(|e| no_modes(device, &e))?;
    let sample = |modal: &Modal| {
        model.sample(outline, &ground.mesh, modal).map_err(|e| {
            let hint = "nothing was written; --model shell or solid may serve".into();
            Stop::Other { what: format!("the beam-shell model does not cover the layout: {e}"), hint }
        })
    };
    let sampled = sample(&modal)?;
    let bias = at_rest.map(|rest| rest.try_sampled(&modal, sample)).transpose()?;
    let size = |i: usize| outline.flexures[i].width_um.max(device.thickness_um);
    let numbers = |wanted: &dyn Fn(usize) -> bool| -> Vec<String> {
        (0..outline.flexures.len()).filter(|&i| wanted(i)).map(|i| (i + 1).to_string()).collect()
    };
    let is_beam = |i: usize| model.chain_of[i].is_some();
    let mut cautions = Vec::new();
    let shells = numbers(&|i| !is_beam(i));
    if !shells.is_empty() {
        cautions.push(format!("too short for a beam, left to the shells: flexure {}", shells.join(", ")));
    }
    let short = numbers(&|i| is_beam(i) && outline.flexures[i].length_um < LONG * size(i));
    if !short.is_empty() {
        cautions.push(format!(
            "shorter than ten times the larger of width and thickness, where beams are good to about 1 %: flexure {}",
            short.join(", ")
        ));
    }
    if bias.is_some() {
        cautions.extend(biased::over_beams(outline, electrodes, is_beam));
    }
    let statics = if purpose == Purpose::Rate && !outline.anchors.is_empty() {
        let found = base_acceleration(&model.mesh, &model.layer, &supports, &model.added, &hangers);
        Some(found.map_err(|e| no_modes(device, &e))?)
    } else {
        None
    };
    let solved = finish("beam-shell", device, &model.mesh, &model.added, modal, sampled, cautions)?;
    let mut solved = Solved { hangers, bias, statics, ..solved };
    if purpose != Purpose::Comparison {
        let clock = Instant::now();
        solved.terms = differences::terms(device, outline, ground, electrodes, &solved, &model)?;
        solved.terms_s = clock.elapsed().as_secs_f64();
    }
    Ok(solved)
}
