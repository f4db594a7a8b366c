//! Electrodes: capacitance, its gradient in a mode, and what bias does for a design; what it does to the structure is a state
//! ([`crate::state`]). In: electrodes with their gaps (SI) and areas (µm in the layout frame), shapes of the moving part. Out: plain
//! numbers in SI units.
//!
//! Every electrode is a law of local capacitance and a set of weighted spots on the moving part: C = Σ w c(u), with u the
//! displacement of the spot at mid-layer. Co-energy ½ C V² gives the force ½ V² ∂C/∂q and the stiffness −½ V² ∂²C/∂q∂q
//! (S. D. Senturia, *Microsystem Design*, 2001, ch. 6). Kept: the local gap at the deflected state, area lost to holes,
//! the change of gap and of overlap with motion. Left out: fringing fields, unless a gradient is typed in; change of covered
//! area by in-plane motion of a plate; the layer's own change of thickness; stiffening of the structure as it deflects.

mod comb;
mod cover;
mod overlap;
mod plate;
mod reading;
mod side;
mod tuning;

pub use comb::{Comb, FingerGap};
pub use cover::{Spot, cover};
pub use overlap::{overlap_change, shared_um2};
pub use plate::{Face, Plate};
pub use reading::{Reading, read};
pub use side::Side;
pub use tuning::{
    SMALL_DEFLECTION, bias_for_split, bias_to_cancel, change_by_deflection, drive_volts, softened_frequencies_hz,
};

use crate::spectrum::SpectrumError;
use crate::system::SystemError;
use modalith_mesher::geometry::Polygon;
use nalgebra::DMatrix;
use rayon::prelude::*;

/// Spots whose pull is summed at once: few enough for their shapes to stay in cache.
const CHUNK: usize = 1024;

/// Permittivity of vacuum, F/m (CODATA 2018; air is 0.06 % higher).
pub const VACUUM_PERMITTIVITY: f64 = 8.854_187_812_8e-12;

/// Why there is no answer about an electrode.
#[derive(Debug, thiserror::Error)]
pub enum ElectrodeError {
    /// It faces nothing that moves.
    #[error("electrode \"{name}\" is over nothing: no part of the structure that moves lies within its shapes")]
    OverNothing {
        /// Name of the electrode.
        name: String,
    },
    /// A gap closes at the state asked about.
    #[error("the gap of electrode \"{name}\" is closed")]
    Closed {
        /// Name of the electrode.
        name: String,
    },
    /// The part meets an electrode, or fingertips of a comb what lies ahead of them, at the stated biases.
    #[error("the part meets electrode \"{name}\", or its fingertips what lies ahead of them, at the stated biases")]
    Touches {
        /// Name of the electrode.
        name: String,
    },
    /// There is no stable state at the stated biases.
    #[error("the part is pulled in at the stated biases: no stable deflection below the gap exists{}", .ratio.map(|r| format!("; it pulls in at {r:.4} times the biases")).unwrap_or_default())]
    PulledIn {
        /// Common factor on all biases at which it pulls in, where it was found.
        ratio: Option<f64>,
    },
    /// The search for a state ended before it settled; it is no state.
    #[error(
        "{what} of electrode \"{name}\" did not settle in {rounds} rounds: the last changed it by {change:.1e} of itself"
    )]
    NotSettled {
        /// What was sought.
        what: &'static str,
        /// The electrode whose spots move most there.
        name: String,
        /// Rounds taken.
        rounds: usize,
        /// Change in the last of them, relative.
        change: f64,
    },
    /// No system.
    #[error(transparent)]
    System(#[from] SystemError),
    /// No static solution.
    #[error(transparent)]
    Spectrum(#[from] SpectrumError),
}

/// How the capacitance of one spot follows from its displacement.
#[derive(Clone, Debug, PartialEq)]
pub enum Law {
    /// A plate under or over the part; weights of spots are areas, m².
    Plate(Plate),
    /// A comb; weights of spots add up to 1.
    Comb(Comb),
    /// A wall that faces a wall of the part in the plane; weights of spots add up to 1.
    Side(Side),
}

/// Capacitance of a spot and its derivatives by displacement along x, y, z, for a weight of one.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub struct Local {
    /// Capacitance, F.
    pub capacitance: f64,
    /// First derivatives, F/m.
    pub gradient: [f64; 3],
    /// Second derivatives, F/m².
    pub curvature: [[f64; 3]; 3],
}

impl Local {
    /// Adds capacitance that depends on one coordinate along a unit vector.
    fn add_along(&mut self, [value, slope, bend]: [f64; 3], d: [f64; 3]) {
        self.capacitance += value;
        for i in 0..3 {
            self.gradient[i] += slope * d[i];
            for j in 0..3 {
                self.curvature[i][j] += bend * d[i] * d[j];
            }
        }
    }
}

impl Law {
    /// Capacitance at a displacement, m; `None` where the gap is closed.
    pub fn at(&self, u: [f64; 3]) -> Option<Local> {
        match self {
            Self::Plate(plate) => plate.at(u),
            Self::Comb(comb) => comb.at(u),
            Self::Side(side) => side.at(u),
        }
    }

    /// Narrowest gap to walls of the part as tall as its layer, m; none of a plate.
    pub fn side_gap_m(&self) -> Option<f64> {
        match self {
            Self::Plate(_) => None,
            Self::Comb(comb) => comb.gaps.iter().map(|g| g.gap_m).reduce(f64::min),
            Self::Side(side) => Some(side.gap_m),
        }
    }

    /// Share of what is free before something is met that a displacement (m) takes: a gap, or what lies ahead of fingertips.
    pub(crate) fn reach(&self, u: [f64; 3]) -> f64 {
        match self {
            Self::Plate(plate) => plate.reach(u),
            Self::Comb(comb) => comb.reach(u).max(comb.reach_across(u)),
            Self::Side(side) => side.reach(u),
        }
    }

    /// ∂C/∂u along the way that raises the capacitance, F/m, at rest, for a motion of one shared by all spots, whose weights add up to `sum` (m² of a
    /// plate, 1 of the others);
    /// `None` where the gap is closed at rest.
    pub fn rigid_gradient(&self, sum: f64) -> Option<f64> {
        Some(sum * self.at([0.0; 3])?.gradient.iter().map(|x| x * x).sum::<f64>().sqrt())
    }
}

/// An electrode.
#[derive(Clone, Debug, PartialEq)]
pub struct Electrode {
    /// The user's name.
    pub name: String,
    /// Its gap and kind.
    pub law: Law,
    /// Of a plate its own shapes, of the others the part of the structure they pull on, evenly; µm.
    pub over: Vec<Polygon>,
    /// Bias against the part, V.
    pub bias_v: f64,
    /// A gradient from a field solution, F/m for a motion of one shared by all that it covers, towards higher capacitance. It
    /// scales force and softening; capacitance stays that of the gap alone.
    pub stated_gradient_f_per_m: Option<f64>,
}

/// An electrode's capacitance as a function of some shapes' amplitudes.
#[derive(Clone, Debug, PartialEq)]
pub struct Pull {
    /// Capacitance, F.
    pub capacitance_f: f64,
    /// ∂C/∂q, F over the shape's unit.
    pub gradient: Vec<f64>,
    /// ∂²C/∂q∂q, F per square of the coordinates' unit.
    pub curvature: DMatrix<f64>,
}

impl Electrode {
    /// Whether it pulls.
    pub fn is_biased(&self) -> bool {
        self.bias_v != 0.0
    }

    /// Weights of spots: areas in m² for a plate, shares of one for the others.
    pub(crate) fn weights(&self, spots: &[Spot]) -> Vec<f64> {
        let sum: f64 = spots.iter().map(|s| s.area_um2).sum();
        let unit = if matches!(self.law, Law::Plate(_)) { 1e-12 } else { 1.0 / sum };
        spots.iter().map(|s| unit * s.area_um2).collect()
    }

    /// Factor on force and softening by a gradient that was typed in.
    pub(crate) fn force_factor(&self, weights: &[f64]) -> Result<f64, ElectrodeError> {
        let computed = self.law.rigid_gradient(weights.iter().sum()).ok_or_else(|| self.closed())?;
        Ok(self.stated_gradient_f_per_m.map_or(1.0, |stated| if computed > 0.0 { stated / computed } else { 1.0 }))
    }

    /// The error that its gap is closed.
    pub(crate) fn closed(&self) -> ElectrodeError {
        ElectrodeError::Closed { name: self.name.clone() }
    }

    /// The capacitance at displacements `rest` (m) of spots with these weights, as a function of amplitudes of `shapes`
    /// (displacements of every spot).
    ///
    /// # Errors
    /// [`ElectrodeError::Closed`].
    pub fn pull(&self, weights: &[f64], rest: &[[f64; 3]], shapes: &[Vec<[f64; 3]>]) -> Result<Pull, ElectrodeError> {
        let n = shapes.len();
        let factor = self.force_factor(weights)?;
        let chunks = weights.par_chunks(CHUNK).zip(rest.par_chunks(CHUNK)).enumerate();
        let sums = chunks.map(|(c, (weights, rest))| {
            let shapes: Vec<&[[f64; 3]]> = shapes.iter().map(|s| &s[c * CHUNK..c * CHUNK + rest.len()]).collect();
            self.pull_of(factor, weights, rest, &shapes)
        });
        let sums: Vec<Pull> = sums.collect::<Result<_, _>>()?;
        let mut pull = Pull { capacitance_f: 0.0, gradient: vec![0.0; n], curvature: DMatrix::zeros(n, n) };
        // In their order, so that a sum does not depend on threads.
        for sum in sums {
            pull.capacitance_f += sum.capacitance_f;
            pull.gradient.iter_mut().zip(&sum.gradient).for_each(|(g, s)| *g += s);
            pull.curvature += sum.curvature;
        }
        pull.curvature.fill_upper_triangle_with_lower_triangle();
        Ok(pull)
    }

    /// ∂C/∂u of every spot at displacements `rest`, F/m.
    ///
    /// # Errors
    /// [`ElectrodeError::Closed`].
    fn local_gradients(&self, weights: &[f64], rest: &[[f64; 3]]) -> Result<Vec<[f64; 3]>, ElectrodeError> {
        let factor = self.force_factor(weights)?;
        let at = |(weight, u): (&f64, &[f64; 3])| {
            let local = self.law.at(*u).ok_or_else(|| self.closed())?;
            Ok(local.gradient.map(|g| factor * weight * g))
        };
        weights.iter().zip(rest).map(at).collect()
    }

    /// [`Self::pull`] of a few spots, the curvature's lower triangle only.
    fn pull_of(
        &self,
        factor: f64,
        weights: &[f64],
        rest: &[[f64; 3]],
        shapes: &[&[[f64; 3]]],
    ) -> Result<Pull, ElectrodeError> {
        let n = shapes.len();
        let mut pull = Pull { capacitance_f: 0.0, gradient: vec![0.0; n], curvature: DMatrix::zeros(n, n) };
        let mut local: Vec<Local> =
            rest.iter().map(|u| self.law.at(*u).ok_or_else(|| self.closed())).collect::<Result<_, _>>()?;
        for (local, weight) in local.iter_mut().zip(weights) {
            pull.capacitance_f += weight * local.capacitance;
            local.gradient = local.gradient.map(|g| factor * weight * g);
            local.curvature = local.curvature.map(|row| row.map(|x| factor * weight * x));
        }
        let dot = |a: &[f64; 3], b: &[f64; 3]| a[0] * b[0] + a[1] * b[1] + a[2] * b[2];
        for (i, shape) in shapes.iter().enumerate() {
            pull.gradient[i] = local.iter().zip(*shape).map(|(l, s)| dot(&l.gradient, s)).sum();
            let bent: Vec<[f64; 3]> =
                local.iter().zip(*shape).map(|(l, s)| [0, 1, 2].map(|k| dot(&l.curvature[k], s))).collect();
            // A shape that moves along none of the law's gaps.
            if bent.iter().flatten().all(|x| *x == 0.0) {
                continue;
            }
            for (j, other) in shapes.iter().enumerate().take(i + 1) {
                pull.curvature[(i, j)] = bent.iter().zip(*other).map(|(b, s)| dot(b, s)).sum();
            }
        }
        Ok(pull)
    }
}

#[cfg(test)]
mod tests;
