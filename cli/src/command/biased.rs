//! A model under the bias of electrodes: state at rest, softening to hang on it, the bias at which it pulls in.

use super::solved::{Purpose, no_modes};
use crate::device::Device;
use crate::device::drawing::escaped;
use crate::exit::CommandError;
use crate::output::findings::ElectrodeFound;
use modalith_mesher::boolean::intersection;
use modalith_mesher::geometry::Polygon;
use modalith_mesher::outline::Outline;
use modalith_solver::electrode::{
    Electrode, ElectrodeError, Equilibrium, Instability, Law, StaticSystems, equilibrium, equilibrium_and_pull_in, read,
};
use modalith_solver::modal::{Modal, ModalError};
use modalith_solver::mode::Sampled;
use modalith_solver::system::Structure;

/// Share of a plate's area over beams from which it is said that their part of the force is left out.
const OVER_BEAMS: f64 = 1e-3;

/// The state under bias, on the model's own unknowns.
pub struct AtRest {
    equilibrium: Equilibrium,
    pull_in: Option<Option<Instability>>,
}

/// The state under bias at the sampled points.
#[derive(Clone, Debug, PartialEq)]
pub struct Bias {
    /// Displacement at every sampled point, m.
    pub rest_m: Vec<[f64; 3]>,
    /// For every electrode the largest static motion of what it covers, m.
    pub largest_m: Vec<f64>,
    /// Where on rising biases the part pulls in, `None` where it does not; nothing where that was not sought.
    pub pull_in: Option<Option<Instability>>,
}

impl Sought {
    /// What results for a purpose have: a comparison shows no bias at which the part pulls in.
    pub fn by(purpose: Purpose) -> Self {
        if purpose == Purpose::Comparison { Self::Rest } else { Self::PullIn }
    }
}

impl AtRest {
    /// At the points at which `sample` samples modes.
    pub fn sampled(self, modal: &Modal, sample: impl Fn(&Modal) -> Sampled) -> Bias {
        let sampled = modal.with_shapes(self.equilibrium.displacement.clone()).map(|m| sample(&m));
        self.with(sampled)
    }

    /// As [`Self::sampled`], where sampling may fail.
    ///
    /// # Errors
    /// Those of `sample`.
    pub fn try_sampled<E>(self, modal: &Modal, sample: impl Fn(&Modal) -> Result<Sampled, E>) -> Result<Bias, E> {
        let sampled = modal.with_shapes(self.equilibrium.displacement.clone()).map(|m| sample(&m)).transpose()?;
        Ok(self.with(sampled))
    }

    fn with(self, sampled: Option<Sampled>) -> Bias {
        let shapes = sampled.map(|s| s.modes).unwrap_or_default();
        let points = shapes.first().map_or(0, Vec::len);
        let sum = |p: usize| shapes.iter().fold([0.0; 3], |sum: [f64; 3], s| [0, 1, 2].map(|k| sum[k] + s[p][k]));
        Bias { rest_m: (0..points).map(sum).collect(), largest_m: self.equilibrium.largest_m, pull_in: self.pull_in }
    }
}

/// Whether any electrode has a bias.
pub fn any(electrodes: &[Electrode]) -> bool {
    electrodes.iter().any(|e| e.bias_v != 0.0)
}

/// What of the state under bias is asked for.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Sought {
    /// The deflection and the bias at which the part pulls in.
    PullIn,
    /// The deflection alone.
    Rest,
}

/// A structure with the softening of biased electrodes, and its state at rest; as it was where none has a bias.
///
/// # Errors
/// A part that is pulled in and an electrode over nothing are faults of the input.
pub fn bias_softening(
    device: &Device,
    structure: &Structure,
    electrodes: &[Electrode],
    sought: Sought,
) -> Result<(Structure, Option<AtRest>), CommandError> {
    if !any(electrodes) {
        return Ok((structure.clone(), None));
    }
    // Fingertips of a comb without a bias meet what lies ahead of them all the same.
    let has_tips = |e: &Electrode| matches!(&e.law, Law::Comb(comb) if comb.tip_gap_m.is_some());
    let taken = |e: &&Electrode| e.bias_v != 0.0 || has_tips(e);
    let biased: Vec<Electrode> = electrodes.iter().filter(taken).cloned().collect();
    let systems = StaticSystems::new(structure).map_err(|e| no_modes(device, &ModalError::System(e)))?;
    let found = match sought {
        Sought::PullIn => equilibrium_and_pull_in(&systems, &biased).map(|(rest, limit)| (rest, Some(limit))),
        Sought::Rest => equilibrium(&systems, &biased).map(|rest| (rest, None)),
    };
    let (found, pull_in) = found.map_err(|e| fault(device, &e))?;
    let softened = structure.with_springs(found.springs.clone());
    let mut own = found.largest_m.iter();
    let largest_m =
        electrodes.iter().map(|e| if taken(&e) { own.next().copied().unwrap_or(0.0) } else { 0.0 }).collect();
    let equilibrium = Equilibrium { largest_m, springs: Vec::new(), ..found };
    Ok((softened, Some(AtRest { equilibrium, pull_in })))
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
