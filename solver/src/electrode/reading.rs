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
    /// Capacitance, F, without fringing.
    pub capacitance_f: f64,
    /// The same where nothing deflects, F.
    pub undeflected_f: f64,
    /// ∂C/∂q for every mode, F·m⁻¹·kg^-½. The force of a voltage V on mode i is ½ V² times this.
    pub gradient: Vec<f64>,
    /// ∂²C/∂q∂q, F·m⁻²·kg⁻¹. The change of ω² by a bias is −½ V² times this, where it is not yet in the modes.
    pub curvature: DMatrix<f64>,
    /// Area of the moving part under a plate, or of the part that the others pull on, µm²; holes left out.
    pub covered_um2: f64,
    /// Squares of the local gradient, summed over what each triangle of the mesh has of it, F²/m⁴: Σ |∂C/∂u|²/area, with the triangle's
    /// number. Over the mass per area they sum to Σ (∂C/∂q)² over all modes there are.
    pub gradient_squares: Vec<(u32, f64)>,
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
    let flat = vec![[0.0; 3]; spots.len()];
    let weights = electrode.weights(&spots);
    let undeflected_f = electrode.pull(&weights, &flat, &[])?.capacitance_f;
    let rest = rest.map_or(flat, at_spots);
    let pull = electrode.pull(&weights, &rest, &shapes)?;
    let mut gradient_squares: Vec<(u32, f64)> = Vec::new();
    let local = electrode.local_gradients(&weights, &rest)?;
    for (spot, local) in spots.iter().zip(local).filter(|(spot, _)| spot.area_um2 != 0.0) {
        let triangle = sampled.triangle_of[spot.cell];
        let own = local.iter().map(|g| g * g).sum::<f64>() / (spot.area_um2 * 1e-12);
        match gradient_squares.last_mut().filter(|(last, _)| *last == triangle) {
            Some((_, sum)) => *sum += own,
            None => gradient_squares.push((triangle, own)),
        }
    }
    Ok(Reading {
        capacitance_f: pull.capacitance_f,
        undeflected_f,
        gradient: pull.gradient,
        curvature: pull.curvature,
        covered_um2,
        gradient_squares,
    })
}

/// Shape functions of a six-node triangle.
fn quadratic([r, s]: [f64; 2]) -> [f64; 6] {
    let q = 1.0 - r - s;
    let corner = |l: f64| l * (2.0 * l - 1.0);
    [corner(q), corner(r), corner(s), 4.0 * q * r, 4.0 * r * s, 4.0 * s * q]
}
