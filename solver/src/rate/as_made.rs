//! Modes as made: what a change of the structure makes of the modes drawn, as an eigenproblem between them and not as a
//! perturbation of each by itself, which fails where two lie closer than the change moves them.
//!
//! In: modes drawn and how rotation couples them, the change's forms between them. Out: the modes made, as combinations of those
//! drawn: (Λ + VᵀδKV) y = ω² (I + VᵀδMV) y, y of unit modal mass (Rayleigh & Ritz).
//!
//! Motions of masses, participation and coupling follow from the combination; of the energies of flexures and of masses that
//! deform those of the modes drawn are summed, with what two of them hold together left out.

use crate::mode::{MassMotion, Mode};
use crate::process::ModalSensitivity;
use crate::rotation::Coriolis;
use nalgebra::{DMatrix, DVector, Matrix3, Vector3};
use std::f64::consts::TAU;

/// The modes made, by rising frequency.
#[derive(Clone, Debug)]
pub struct Made {
    /// Each made mode as a column of shares in those drawn.
    pub shares: DMatrix<f64>,
    /// The modes, without coefficients.
    pub modes: Vec<Mode>,
    /// How rotation couples them.
    pub coriolis: Option<Coriolis>,
}

/// The modes made by a change whose forms between the modes drawn are `change`, in their order; `None` where the change takes
/// more mass than there is.
pub fn made(drawn: &[Mode], coriolis: Option<&Coriolis>, change: &ModalSensitivity) -> Option<Made> {
    let n = drawn.len();
    let square = |i: usize| drawn[i].omega().powi(2);
    let stiffness = DMatrix::from_fn(n, n, |i, j| change.stiffness[(i, j)] + if i == j { square(i) } else { 0.0 });
    let mass = DMatrix::from_fn(n, n, |i, j| change.mass[(i, j)] + if i == j { 1.0 } else { 0.0 });
    let lower = mass.cholesky()?.l();
    // L⁻¹ K L⁻ᵀ, symmetric.
    let half = lower.solve_lower_triangular(&stiffness)?;
    let standard = lower.solve_lower_triangular(&half.transpose())?;
    let standard = (&standard + standard.transpose()) * 0.5;
    let found = standard.symmetric_eigen();
    let mut order: Vec<usize> = (0..n).collect();
    order.sort_by(|&a, &b| found.eigenvalues[a].total_cmp(&found.eigenvalues[b]));
    let vectors = DMatrix::from_fn(n, n, |i, k| found.eigenvectors[(i, order[k])]);
    let mut shares = lower.tr_solve_lower_triangular(&vectors)?;
    // The sign of the mode drawn that it holds most of.
    for mut y in shares.column_iter_mut() {
        let largest = y.iter().copied().fold(0.0, |a: f64, x| if x.abs() > a.abs() { x } else { a });
        if largest < 0.0 {
            y.neg_mut();
        }
    }
    let modes = (0..n)
        .map(|k| {
            let hz = found.eigenvalues[order[k]].max(0.0).sqrt() / TAU;
            combined(drawn, &shares.column(k).into_owned(), &change.mass, hz)
        })
        .collect();
    Some(Made { modes, coriolis: coriolis.map(|c| c.between(&shares)), shares })
}

/// A combination of modes drawn, of unit modal mass.
fn combined(drawn: &[Mode], y: &DVector<f64>, added: &DMatrix<f64>, frequency_hz: f64) -> Mode {
    let sum = |of: &dyn Fn(&Mode) -> f64| drawn.iter().zip(y).map(|(m, y)| y * of(m)).sum::<f64>();
    let energy = |of: &dyn Fn(&Mode) -> f64| drawn.iter().zip(y).map(|(m, y)| y * y * of(m)).sum::<f64>();
    // Strain of a mode goes with ω² beside its share.
    let squares: f64 = energy(&|m| m.omega().powi(2));
    let strain = |of: &dyn Fn(&Mode) -> f64| {
        if squares > 0.0 { energy(&|m| m.omega().powi(2) * of(m)) / squares } else { 0.0 }
    };
    // A rigid motion of the frame is the sum of all modes by their participation, so added mass takes part by them.
    let taken = y + added * y;
    let participation = [0, 1, 2, 3, 4, 5].map(|k| drawn.iter().zip(&taken).map(|(m, y)| y * m.participation[k]).sum());
    let first = drawn.first();
    let masses = first.map_or(0, |m| m.masses.len());
    let mass = |k: usize| -> Option<MassMotion> {
        let like = &first?.masses[k];
        let translation = [0, 1, 2].map(|a| sum(&|m| m.masses[k].translation[a]));
        let turn = [0, 1, 2].map(|a| sum(&|m| m.masses[k].turn[a]));
        let turned = Matrix3::from_fn(|i, j| like.inertia_kg_m2[i][j]) * Vector3::from(turn);
        let rigid = like.mass_kg * Vector3::from(translation).norm_squared() + Vector3::from(turn).dot(&turned);
        let rest = energy(&|m| m.masses[k].kinetic_share * (1.0 - m.masses[k].rigid_share));
        let own = rigid + rest;
        let share = |x: f64| if own > 0.0 { x / own } else { 0.0 };
        let alone = |a: usize| match a {
            0..3 => like.mass_kg * translation[a].powi(2),
            _ => like.inertia_kg_m2[a - 3][a - 3] * turn[a - 3].powi(2),
        };
        Some(MassMotion {
            motion_share: [0, 1, 2, 3, 4, 5].map(|a| share(alone(a))),
            kinetic_share: own,
            rigid_share: share(rigid),
            translation,
            turn,
            ..like.clone()
        })
    };
    let count = |of: &dyn Fn(&Mode) -> usize| first.map_or(0, of);
    Mode {
        frequency_hz,
        backward_error: 0.0,
        kinetic_share: [0, 1, 2].map(|k| energy(&|m| m.kinetic_share[k])),
        participation,
        masses: (0..masses).filter_map(mass).collect(),
        flexure_strain_share: (0..count(&|m| m.flexure_strain_share.len()))
            .map(|f| strain(&|m| m.flexure_strain_share[f]))
            .collect(),
        mass_strain_share: (0..count(&|m| m.mass_strain_share.len()))
            .map(|k| strain(&|m| m.mass_strain_share[k]))
            .collect(),
        twist_strain_share: strain(&|m| m.twist_strain_share),
        shell_twist_share: strain(&|m| m.shell_twist_share),
        shape: Vec::new(),
    }
}
