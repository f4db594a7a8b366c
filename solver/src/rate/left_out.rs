//! What modes beyond the list may add to what is read of a mode: an imperfection couples it to all modes, a list ends somewhere.
//!
//! In: the listed modes, what a change of stiffness does between them, by how much of its own stiffness every flexure changes, what is
//! read of them and of all modes together. Out: a bound, in the unit of the readings.
//!
//! To first order a mode d holds −c_i/(λ_i − λ_d) of every other one, c_i = φ_iᵀ δK φ_d, and r_i is read of each. By Cauchy's inequality
//! over the modes that are not listed,
//! |Σ c_i r_i/(λ_i − λ_d)| ≤ (Σ c_i²/λ_i)^½ (Σ r_i²/λ_i)^½ / (1 − λ_d/λ_next), no λ_i being below λ_next. Over all modes Σ r_i² = RᵀM⁻¹R
//! is known from the masses alone, and Σ c_i²/λ_i = (δK φ_d)ᵀ K⁻¹ (δK φ_d) ≤ λ_d Σ_f a_f² e_f: e_f is the share of the mode's
//! strain energy in flexure f, and a_f bounds its change against its own stiffness, (uᵀδK_f v)² ≤ a_f² (uᵀK_f u)(vᵀK_f v). What the listed modes have of
//! either sum is taken off.

use crate::mode::{MassMotion, Pattern, Target};
use nalgebra::Matrix3;

/// A change of stiffness seen from one mode.
#[derive(Clone, Debug, PartialEq)]
pub struct Changed {
    /// Square of its angular frequency, rad²/s².
    pub eigenvalue: f64,
    /// Its coupling with every listed mode, rad²/s² at unit modal mass.
    pub coupling: Vec<f64>,
    /// a_f² e_f summed over the flexures: the squares of their relative changes, weighed by their shares of the mode's strain energy.
    pub relative: f64,
}

/// The most that modes beyond the list add to what is read of a changed mode, in the unit of the readings; eigenvalues in rad²/s². `readings` are of the listed modes, `of_all` is Σ r_i² over
/// all modes, `next` the square of the angular frequency below which none is missing. `None` where the mode itself lies above that.
///
/// ```
/// use modalith_solver::rate::left_out::{Changed, bound};
/// // Two modes are all there are: nothing is left out once both are listed.
/// let changed = |coupling: Vec<f64>| Changed { eigenvalue: 1.0, coupling, relative: 0.01 };
/// let both = bound(&[1.0, 100.0], &changed(vec![0.0, 1.0]), &[0.0, 2.0], 4.0, 100.0).unwrap();
/// assert_eq!(both, 0.0);
/// // With the second left out: what it adds is 1.0 · 2.0/(100 − 1), and no more than the bound.
/// let one = bound(&[1.0], &changed(vec![0.0]), &[0.0], 4.0, 100.0).unwrap();
/// assert!(one >= 2.0 / 99.0 && one < 1.05 * 2.0 / 99.0);
/// ```
pub fn bound(eigenvalues: &[f64], changed: &Changed, readings: &[f64], of_all: f64, next: f64) -> Option<f64> {
    if next <= changed.eigenvalue {
        return None;
    }
    let pulled: f64 = changed.coupling.iter().zip(eigenvalues).map(|(c, l)| c * c / l).sum();
    let read: f64 = readings.iter().map(|r| r * r).sum();
    let left = (changed.eigenvalue * changed.relative - pulled).max(0.0);
    let unread = (of_all - read).max(0.0) / next;
    Some((left * unread).sqrt() / (1.0 - changed.eigenvalue / next))
}

/// Σ r_i² over all modes of the reading of a pattern ([`super::reading::reading`] without a mismatch), kg⁻¹: RᵀM⁻¹R of means over masses.
pub fn of_all_modes(masses: &[MassMotion], pattern: &Pattern) -> f64 {
    let one = |mass: &MassMotion, target: &Target| -> Option<f64> {
        let Target::Moves(motion) = target else { return None };
        let size: f64 = motion.iter().map(|x| x * x).sum();
        let inertia = Matrix3::from_fn(|i, j| mass.inertia_kg_m2[i][j]);
        // A mean translation is read with 1/m, a mean turn with I⁻¹; a turn counts by its radius of gyration.
        let turned = |k: usize| motion[3 + k] * (mass.inertia_kg_m2[k][k] / mass.mass_kg).sqrt();
        let turn = nalgebra::Vector3::new(turned(0), turned(1), turned(2));
        let turning = if turn.norm() > 0.0 { turn.dot(&(inertia.try_inverse()? * turn)) } else { 0.0 };
        let moving = motion[..3].iter().map(|x| x * x).sum::<f64>() / mass.mass_kg;
        Some(if size > 0.0 { (moving + turning) / size } else { 0.0 })
    };
    let all: Vec<f64> = masses.iter().zip(&pattern.targets).filter_map(|(m, t)| one(m, t)).collect();
    let moving = pattern.targets.iter().filter(|t| matches!(t, Target::Moves(_))).count().max(1);
    all.iter().sum::<f64>() / (moving * moving) as f64
}

#[cfg(test)]
mod tests {
    use super::super::reading::tests::{antiphase, mass};
    use super::*;

    /// Two masses of 4e-9 kg that move one way only: their two modes have 1/√(2m) each, and the reading of the antiphase one is
    /// all there is.
    #[test]
    fn means_over_masses() {
        let masses = [mass("a", [0.0; 3]), mass("b", [0.0; 3])];
        let own = (2.0 * 4e-9_f64).sqrt().recip();
        assert!((of_all_modes(&masses, &antiphase(2)) / own.powi(2) - 1.0).abs() < 1e-12);
        // A turn about z by its radius of gyration weighs as a translation does.
        assert!((of_all_modes(&masses, &antiphase(5)) / own.powi(2) - 1.0).abs() < 1e-12);
    }

    /// Four springs in a row, the second one softer than drawn: whatever is listed, the bound holds what is left out.
    #[test]
    fn a_chain_of_springs() {
        let n = 4;
        let springs: [f64; 4] = [1.0, 3.0, 2.0, 5.0];
        let k = nalgebra::DMatrix::from_fn(n, n, |i, j| {
            let own = springs[i] + springs.get(i + 1).copied().unwrap_or(0.0);
            if i == j {
                own
            } else if i.abs_diff(j) == 1 {
                -springs[i.max(j)]
            } else {
                0.0
            }
        });
        let eigen = k.symmetric_eigen();
        let mut order: Vec<usize> = (0..n).collect();
        order.sort_by(|a, b| eigen.eigenvalues[*a].total_cmp(&eigen.eigenvalues[*b]));
        let shape = |i: usize, at: usize| eigen.eigenvectors[(at, order[i])];
        let value = |i: usize| eigen.eigenvalues[order[i]];
        // The change is `share` of the second spring; what is read is the last mass.
        let (share, spring) = (0.1, 1);
        let stretch = |i: usize| shape(i, spring) - shape(i, spring - 1);
        let coupling = |i: usize| share * springs[spring] * stretch(0) * stretch(i);
        let energy = springs[spring] * stretch(0).powi(2) / value(0);
        for listed in 1..n {
            let eigenvalues: Vec<f64> = (0..listed).map(value).collect();
            let changed = Changed {
                eigenvalue: value(0),
                coupling: (0..listed).map(coupling).collect(),
                relative: share * share * energy,
            };
            let readings: Vec<f64> = (0..listed).map(|i| shape(i, n - 1)).collect();
            let bound = bound(&eigenvalues, &changed, &readings, 1.0, value(listed)).unwrap();
            let exact: f64 = (listed..n).map(|i| coupling(i) * shape(i, n - 1) / (value(i) - value(0))).sum();
            assert!(bound >= exact.abs() && exact != 0.0, "{listed}: {bound:e} {exact:e}");
            assert!(listed < n - 1 || bound < 10.0 * exact.abs(), "{bound:e} {exact:e}");
        }
    }
}
