//! Electrodes in words and faults of the input: what a purpose asks of the state under bias, what every electrode sees at rest.

use super::solved::{Purpose, no_modes};
use crate::device::Device;
use crate::device::drawing::escaped;
use crate::exit::CommandError;
use crate::output::findings::ElectrodeFound;
use modalith_mesher::boolean::intersection;
use modalith_mesher::geometry::Polygon;
use modalith_mesher::outline::Outline;
use modalith_solver::electrode::{AtRest, Bias, Electrode, ElectrodeError, Law, Sought, read, softened};
use modalith_solver::modal::ModalError;
use modalith_solver::mode::Sampled;
use modalith_solver::system::Structure;

/// Share of a plate's area over beams from which it is said that their part of the force is left out.
const OVER_BEAMS: f64 = 1e-3;

/// What results for a purpose have of the state under bias: a comparison shows no bias at which the part pulls in.
fn sought(purpose: Purpose) -> Sought {
    if purpose == Purpose::Comparison { Sought::Rest } else { Sought::PullIn }
}

/// A structure with the softening of biased electrodes, and its state at rest; as it was where none has a bias.
///
/// # Errors
/// A part that is pulled in and an electrode over nothing are faults of the input.
pub fn softened_for(
    purpose: Purpose,
    device: &Device,
    structure: &Structure,
    electrodes: &[Electrode],
) -> Result<(Structure, Option<AtRest>), CommandError> {
    softened(structure, electrodes, sought(purpose)).map_err(|e| fault(device, &e))
}

/// A fault of an electrode is one of the input; a static solution that is not found is not.
fn fault(device: &Device, error: &ElectrodeError) -> CommandError {
    match error {
        ElectrodeError::OverNothing { name } | ElectrodeError::Closed { name } => {
            let name = escaped(name);
            let hint = "move it over a part that moves, or take it out";
            device.error(&format!("/electrodes/{name}"), error.to_string(), hint).into()
        }
        ElectrodeError::Touches { name } => {
            let hint = "lower \"bias_v\", leave more room ahead of the fingers (\"tip_gap_um\", or as drawn), or stiffen the flexures";
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
        ElectrodeError::System(e) => no_modes(device, &ModalError::System(e.clone())),
        ElectrodeError::Spectrum(e) => {
            let hint = "nothing was written; a part that is not held has no rest under bias";
            CommandError::Other { what: format!("the state under bias was not found: {e}"), hint: hint.into() }
        }
    }
}

/// Says so where plates cover beams, whose part of the force is left out.
pub fn over_beams(outline: &Outline, electrodes: &[Electrode], is_beam: impl Fn(usize) -> bool) -> Vec<String> {
    let beams: Vec<Polygon> =
        outline.flexures.iter().enumerate().filter(|(i, _)| is_beam(*i)).map(|(_, f)| f.area.clone()).collect();
    let area = |polygons: &[Polygon]| polygons.iter().map(Polygon::area).sum::<f64>();
    let plates = electrodes.iter().filter(|e| matches!(e.law, Law::Plate(_)));
    plates
        .filter_map(|e| {
            let parts: Vec<Polygon> = outline.parts.iter().map(|p| p.polygon.clone()).collect();
            let share = area(&intersection(&e.over, &beams)) / area(&intersection(&e.over, &parts));
            (share > OVER_BEAMS).then(|| {
                let percent = 100.0 * share;
                format!(
                    "plate \"{}\" covers flexures, {percent:.1} % of what it covers: capacitance and gradient have them, but their \
                     part of the static pull and of the softening is left out",
                    e.name
                )
            })
        })
        .collect()
}

/// What every electrode sees of the modes at rest under bias.
///
/// # Errors
/// An electrode over nothing is a fault of the input.
pub fn electrodes_at_rest(
    device: &Device,
    electrodes: &[Electrode],
    sampled: &Sampled,
    bias: Option<&Bias>,
) -> Result<Vec<ElectrodeFound>, CommandError> {
    let rest = bias.map(|b| b.rest_m.as_slice()).filter(|r| r.len() == sampled.points.len());
    let one = |(i, (e, written)): (usize, (&Electrode, &crate::device::electrodes::Electrode))| {
        let reading = read(e, sampled, rest).map_err(|e| fault(device, &e))?;
        Ok(ElectrodeFound {
            name: e.name.clone(),
            kind: written.kind.word(),
            role: written.role.map(|r| r.word()),
            bias_v: e.bias_v,
            capacitance_f: reading.capacitance_f,
            gradient: reading.gradient,
            curvature: reading.curvature,
            covered_um2: reading.covered_um2,
            tip_gap_m: match &e.law {
                Law::Comb(comb) => comb.tip_gap_m,
                _ => None,
            },
            static_motion_m: bias.and_then(|b| b.largest_m.get(i).copied()),
        })
    };
    electrodes.iter().zip(&device.electrodes).enumerate().map(one).collect()
}
