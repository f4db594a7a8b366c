//! Electrostatic softening as springs at places of the mesh: −½ V² ∂²c/∂u∂u of every spot at its deflected gap, to be hung on the
//! system before modes are taken.

use crate::electrode::{Electrode, ElectrodeError, Spot};
use crate::system::PointSpring;

/// Springs of an electrode at spots of these weights, displaced by `rest` (m).
///
/// # Errors
/// [`ElectrodeError::Closed`].
pub fn springs(
    electrode: &Electrode,
    spots: &[Spot],
    weights: &[f64],
    rest: &[[f64; 3]],
) -> Result<Vec<PointSpring>, ElectrodeError> {
    let square = 0.5 * electrode.bias_v * electrode.bias_v * electrode.force_factor(weights)?;
    let spring = |((spot, weight), u): ((&Spot, &f64), &[f64; 3])| {
        let local = electrode.law.at(*u).ok_or_else(|| electrode.closed())?;
        let stiffness = local.curvature.map(|row| row.map(|c| -square * weight * c));
        Ok(PointSpring { triangle: spot.cell, at: spot.at, stiffness })
    };
    spots.iter().zip(weights).zip(rest).map(spring).collect()
}
