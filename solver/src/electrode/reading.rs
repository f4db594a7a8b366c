//! What an electrode sees of sampled mode shapes: capacitance, its gradient by modal amplitude, its second derivatives.

use super::{Electrode, ElectrodeError, cover};
use crate::mode::Sampled;
use modalith_mesher::geometry::Point;
use nalgebra::DMatrix;

/// Degree to which products of the sampled shapes' quadratics are exact.
const DEGREE: usize = 4;

/// An electrode's view of some modes. Amplitudes q are those of mode shapes of unit modal mass, m·kg^½.
#[derive(Clone, Debug, PartialEq)]
pub struct Reading {
    /// Name of the electrode.
    pub name: String,
    /// Capacitance, F, without fringing.
    pub capacitance_f: f64,
    /// ∂C/∂q for every mode, F·m⁻¹·kg^-½. The force of a voltage V on mode i is ½ V² times this.
    pub gradient: Vec<f64>,
    /// ∂²C/∂q∂q, F·m⁻²·kg⁻¹. The change of ω² by a bias is −½ V² times this, where it is not yet in the modes.
    pub curvature: DMatrix<f64>,
    /// Area of the moving part under a plate, or of the part that the others pull on, µm²; holes left out.
    pub covered_um2: f64,
}

/// Reads sampled modes with an electrode, at rest or deflected by `rest` (m, at every sampled point).
///
/// # Errors
/// [`ElectrodeError::OverNothing`], [`ElectrodeError::Closed`].
pub fn read(electrode: &Electrode, sampled: &Sampled, rest: Option<&[[f64; 3]]>) -> Result<Reading, ElectrodeError> {
    let cells: Vec<[Point; 6]> = sampled.cells.iter().map(|cell| cell.map(|p| sampled.points[p as usize])).collect();
    let spots = cover(&cells, &electrode.over, DEGREE);
    let covered_um2: f64 = spots.iter().map(|s| s.area_um2).sum();
    if spots.is_empty() || covered_um2 <= 0.0 {
        return Err(ElectrodeError::OverNothing { name: electrode.name.clone() });
    }
    let at_spots = |values: &[[f64; 3]]| -> Vec<[f64; 3]> {
        let at = |s: &super::Spot| {
            let nodes = sampled.cells[s.cell].iter().zip(quadratic(s.at));
            nodes.fold([0.0; 3], |sum, (p, n)| [0, 1, 2].map(|k| sum[k] + n * values[*p as usize][k]))
        };
        spots.iter().map(at).collect()
    };
    let shapes: Vec<Vec<[f64; 3]>> = sampled.modes.iter().map(|m| at_spots(m)).collect();
    let rest = rest.map_or_else(|| vec![[0.0; 3]; spots.len()], at_spots);
    let pull = electrode.pull(&electrode.weights(&spots), &rest, &shapes)?;
    Ok(Reading {
        name: electrode.name.clone(),
        capacitance_f: pull.capacitance_f,
        gradient: pull.gradient,
        curvature: pull.curvature,
        covered_um2,
    })
}

/// Shape functions of a six-node triangle.
fn quadratic([r, s]: [f64; 2]) -> [f64; 6] {
    let q = 1.0 - r - s;
    let corner = |l: f64| l * (2.0 * l - 1.0);
    [corner(q), corner(r), corner(s), 4.0 * q * r, 4.0 * r * s, 4.0 * s * q]
}
