//! Modes of a lumped model in the words of every other model.

use super::assemble::condensed;
use super::named::NamedPart;
use super::{Body, Lumped, LumpedError};
use crate::completed::CompletedSearch;
use crate::modal::{Wanted, in_lambda, pick};
use crate::mode::Mode;
use crate::rotation::Coriolis;
use crate::spectrum::{Options, Problem, solve};
use nalgebra::{DMatrix, DVector};
use nalgebra_sparse::{CooMatrix, CscMatrix};

/// Why a whole list of modes is whole of this model only.
const EQUATIONS: &str = "rigid bodies on springs: what they leave out has no error bar";

/// Modes of a lumped model, by rising frequency.
#[derive(Clone, Debug)]
pub struct LumpedModes {
    /// Each with its shape over all unknowns of the model, rotations in radians.
    pub modes: Vec<Mode>,
    /// In which band none of the model is missing, and how that was counted.
    pub search: CompletedSearch,
    /// How they couple by rotation.
    pub coriolis: Coriolis,
}

impl Lumped {
    /// The wanted modes; `named` are the masses whose motion is reported (see [`Lumped::named`]).
    ///
    /// Signs and the basis inside a multiple follow the rule of [`solve`]. Joints without mass follow statically.
    ///
    /// # Errors
    /// What the eigensolver finds wrong with the system.
    pub fn modes(&self, named: &[NamedPart], wanted: Wanted) -> Result<LumpedModes, LumpedError> {
        let follow = self.kept().1;
        let (stiffness, mass) = self.system();
        let problem = Problem::new(&stiffness, &mass, None)?;
        let spectrum = solve(problem, in_lambda(wanted), &Options::default(), &|_| ())?;
        let spectra = [spectrum];
        let chosen = pick(&spectra, wanted);
        let search = CompletedSearch::of(&spectra, &chosen, wanted).of_equations(EQUATIONS);
        let [spectrum] = &spectra;
        let mut order: Vec<usize> = chosen.into_iter().map(|(_, i)| i).collect();
        order.sort_unstable();
        let describe = |i: usize| {
            let shape = &follow * DVector::from_column_slice(&spectrum.vectors[i]);
            let lambda = spectrum.lambda[i];
            // Below the round-off floor a frequency means nothing: a rigid motion is zero.
            let lambda = if lambda.abs() <= spectrum.lambda_floor[i] { 0.0 } else { lambda.max(0.0) };
            self.describe(named, lambda.sqrt() / std::f64::consts::TAU, spectrum.backward_error[i], shape)
        };
        let modes: Vec<Mode> = order.into_iter().map(describe).collect();
        Ok(LumpedModes { coriolis: self.coriolis(&modes), modes, search })
    }

    fn coriolis(&self, modes: &[Mode]) -> Coriolis {
        let shapes = DMatrix::from_fn(self.k.nrows(), modes.len(), |i, k| modes[k].shape[i]);
        let reduced = |m: &DMatrix<f64>| shapes.transpose() * m * &shapes;
        Coriolis::from_momenta(
            [0, 1, 2].map(|k| reduced(&self.by_direction[k])),
            [0, 1, 2].map(|k| reduced(&self.crossed[k])),
        )
    }

    /// K (N/m, N, N m) and M (kg, kg m, kg m²) as solved, square over the unknowns that have mass: joints without mass condensed, exactly
    /// (R. J. Guyan, AIAA J. 3 (1965) 380, from memory).
    pub fn system(&self) -> (CscMatrix<f64>, CscMatrix<f64>) {
        let (kept, follow) = self.kept();
        let stiffness = follow.transpose() * &self.k * &follow;
        let mass = DMatrix::from_fn(kept.len(), kept.len(), |i, j| self.m[(kept[i], kept[j])]);
        (sparse(&(0.5 * (&stiffness + stiffness.transpose()))), sparse(&mass))
    }

    /// Unknowns of the system as solved.
    pub fn degrees_of_freedom(&self) -> usize {
        self.kept().0.len()
    }

    /// Unknowns with mass, and all unknowns from them.
    fn kept(&self) -> (Vec<usize>, DMatrix<f64>) {
        let n = self.k.nrows();
        let all: Vec<usize> = (0..n).collect();
        let massless = |body: usize| !self.flexure_mass && matches!(self.pieces.bodies[body], Body::Joint(_));
        let joints: Vec<usize> = (0..self.pieces.bodies.len())
            .filter(|&b| massless(b))
            .filter_map(|b| self.unknowns_of(b))
            .flatten()
            .collect();
        let kept: Vec<usize> = all.iter().copied().filter(|i| !joints.contains(i)).collect();
        let whole = DMatrix::identity(n, n);
        // Flexures that meet in a joint hold it; without them there would be no joint.
        let Some((_, follow)) = condensed(&self.k, &kept, &joints) else { return (all, whole) };
        let mut map = DMatrix::zeros(n, kept.len());
        for (column, &i) in kept.iter().enumerate() {
            map[(i, column)] = 1.0;
            for (row, &j) in joints.iter().enumerate() {
                map[(j, column)] = follow[(row, column)];
            }
        }
        (kept, map)
    }

    fn describe(&self, named: &[NamedPart], frequency_hz: f64, backward_error: f64, shape: DVector<f64>) -> Mode {
        let share = |part: f64, whole: f64| if whole > 0.0 { (part / whole).clamp(0.0, 1.0) } else { 0.0 };
        let quadratic = |m: &DMatrix<f64>| shape.dot(&(m * &shape));
        let kinetic = [0, 1, 2].map(|k| quadratic(&self.by_direction[k]));
        let whole: f64 = kinetic.iter().sum();
        let strain: Vec<[f64; 2]> =
            (0..self.springs.len()).map(|f| self.springs[f].strain(&self.ends(f, shape.as_slice()))).collect();
        let total: f64 = strain.iter().map(|s| s[0]).sum();
        Mode {
            frequency_hz,
            backward_error,
            kinetic_share: kinetic.map(|k| share(k, whole)),
            participation: [0, 1, 2, 3, 4, 5].map(|k| self.momentum[k].dot(&shape)),
            masses: named.iter().map(|part| part.motion(self, shape.as_slice(), whole)).collect(),
            flexure_strain_share: strain.iter().map(|s| share(s[0], total)).collect(),
            // Rigid bodies store nothing.
            mass_strain_share: vec![0.0; named.len()],
            twist_strain_share: share(strain.iter().map(|s| s[1]).sum(), total),
            shell_twist_share: 0.0,
            shape: shape.as_slice().to_vec(),
        }
    }
}

fn sparse(a: &DMatrix<f64>) -> CscMatrix<f64> {
    let mut out = CooMatrix::new(a.nrows(), a.ncols());
    for j in 0..a.ncols() {
        for i in 0..a.nrows() {
            if a[(i, j)] != 0.0 || i == j {
                out.push(i, j, a[(i, j)]);
            }
        }
    }
    CscMatrix::from(&out)
}
