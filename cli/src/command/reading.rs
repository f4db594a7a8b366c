//! What every electrode sees of the modes at rest under bias and film stress, with its words from the device file.

use super::fault;
use crate::device::Device;
use crate::exit::CommandError;
use modalith_mesher::outline::Outline;
use modalith_solver::electrode::{Electrode, Law, overlap_change, read};
use modalith_solver::mode::Sampled;
use modalith_solver::model::Bias;
use modalith_solver::sensor::ElectrodeFound;

/// What every electrode sees of the modes at rest under bias.
///
/// # Errors
/// An electrode over nothing is a fault of the input.
pub fn electrodes_at_rest(
    device: &Device,
    (electrodes, outline): (&[Electrode], &Outline),
    sampled: &Sampled,
    (rest_m, bias): (Option<&[[f64; 3]]>, Option<&Bias>),
) -> Result<Vec<ElectrodeFound>, CommandError> {
    let rest = rest_m.filter(|r| r.len() == sampled.points.len());
    let one = |(i, (e, written)): (usize, (&Electrode, &crate::device::electrodes::Electrode))| {
        let reading = read(e, sampled, rest).map_err(|e| fault::of_electrode(device, &e))?;
        Ok(ElectrodeFound {
            name: e.name.clone(),
            kind: written.kind.word(),
            role: written.role.map(|r| r.word()),
            bias_v: e.bias_v,
            reading,
            tip_gap_m: match &e.law {
                Law::Comb(comb) => comb.tip_gap_m,
                _ => None,
            },
            side_gap_um: e.law.side_gap_m().map(|m| m * 1e6),
            overlap_change: overlap_change(e, outline),
            static_motion_m: bias.and_then(|b| b.largest_m.get(i).copied()),
        })
    };
    electrodes.iter().zip(&device.electrodes).enumerate().map(one).collect()
}
