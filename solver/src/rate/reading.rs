//! What a readout sees of a mode where it is given as motions of named masses: the mean, over the masses meant to move, of
//! each one's motion along what is meant. Electrodes give the same numbers from their gradients.
//!
//! In: rigid motions of the masses (kg^-½), a pattern. Out: a reading of a mode, kg^-½; times a modal coordinate it is metres.

use crate::mode::{MassMotion, Pattern, Target};

/// Motion of one mass along its target, kg^-½, signed: for a translation the component of the centre's motion along it, for a
/// turn the angle times the radius of gyration about that axis (the root-mean-square distance from it). 0 where nothing is
/// meant to move.
///
/// ```
/// use modalith_solver::mode::{MassMotion, Target};
/// use modalith_solver::rate::reading::motion_along;
/// let mass = MassMotion {
///     name: String::new(), mass_kg: 4e-9, centre_um: [0.0; 2],
///     inertia_kg_m2: [[0.0; 3], [0.0; 3], [0.0, 0.0, 4e-9 * 9e-8]],
///     translation: [3e4, 0.0, 0.0], turn: [0.0, 0.0, 1e8], motion_share: [0.0; 6], kinetic_share: 1.0, rigid_share: 1.0,
/// };
/// assert_eq!(motion_along(&mass, &Target::Moves([-1.0, 0.0, 0.0, 0.0, 0.0, 0.0])), -3e4);
/// // Radius of gyration 0.3 mm.
/// assert!((motion_along(&mass, &Target::Moves([0.0, 0.0, 0.0, 0.0, 0.0, 1.0])) / 3e4 - 1.0).abs() < 1e-12);
/// ```
pub fn motion_along(mass: &MassMotion, target: &Target) -> f64 {
    let Target::Moves(motion) = target else { return 0.0 };
    let size = motion.iter().map(|x| x * x).sum::<f64>().sqrt();
    let radius = |k: usize| if mass.mass_kg > 0.0 { (mass.inertia_kg_m2[k][k] / mass.mass_kg).sqrt() } else { 0.0 };
    let along: f64 = (0..3).map(|k| motion[k] * mass.translation[k] + motion[3 + k] * mass.turn[k] * radius(k)).sum();
    if size > 0.0 { along / size } else { 0.0 }
}

/// Reading of a mode through a pattern, kg^-½: the mean over the masses meant to move. `mismatch` is by how much of itself the
/// first such mass is read more strongly than the others: gains 1 + m/2 and 1 − m/2, so that what is common to both is seen
/// with m/2.
pub fn reading(masses: &[MassMotion], pattern: &Pattern, mismatch: f64) -> f64 {
    let moving: Vec<f64> = masses
        .iter()
        .zip(&pattern.targets)
        .filter(|(_, target)| matches!(target, Target::Moves(_)))
        .map(|(mass, target)| motion_along(mass, target))
        .collect();
    let gain = |k: usize| 1.0 + 0.5 * if k == 0 { mismatch } else { -mismatch };
    if moving.is_empty() {
        return 0.0;
    }
    moving.iter().enumerate().map(|(k, motion)| gain(k) * motion).sum::<f64>() / moving.len() as f64
}

/// Root-mean-square motion of a mass over its material, kg^-½: what its inertial force and its rms_motion are measured by.
pub fn rms_motion(mass: &MassMotion) -> f64 {
    let squares: f64 = mass.translation.iter().map(|x| x * x).sum();
    let turning: f64 = (0..3)
        .flat_map(|i| (0..3).map(move |j| (i, j)))
        .map(|(i, j)| mass.turn[i] * mass.inertia_kg_m2[i][j] * mass.turn[j])
        .sum();
    if mass.mass_kg > 0.0 { (squares + turning / mass.mass_kg).max(0.0).sqrt() } else { 0.0 }
}

#[cfg(test)]
pub(super) mod tests {
    use super::*;
    use crate::mode::Mode;

    /// A mass of 4e-9 kg with radii of gyration of 100 µm.
    pub(in crate::rate) fn mass(name: &str, translation: [f64; 3]) -> MassMotion {
        MassMotion {
            name: name.into(),
            mass_kg: 4e-9,
            centre_um: [0.0; 2],
            inertia_kg_m2: [0, 1, 2].map(|i| [0, 1, 2].map(|j| if i == j { 4e-17 } else { 0.0 })),
            translation,
            turn: [0.0; 3],
            motion_share: [0.0; 6],
            kinetic_share: 0.5,
            rigid_share: 1.0,
        }
    }

    pub(in crate::rate) fn mode(frequency_hz: f64, masses: Vec<MassMotion>) -> Mode {
        Mode { frequency_hz, kinetic_share: [1.0, 0.0, 0.0], masses, ..Mode::default() }
    }

    pub(in crate::rate) fn antiphase(axis: usize) -> Pattern {
        let along = |size: f64| Target::Moves(std::array::from_fn(|k| if k == axis { size } else { 0.0 }));
        Pattern { targets: vec![along(1.0), along(-1.0)] }
    }

    #[test]
    fn mismatch_lets_half_of_the_common_motion_in() {
        let apart = [mass("a", [0.0, 0.0, 2.0]), mass("b", [0.0, 0.0, -2.0])];
        let together = [mass("a", [0.0, 0.0, 2.0]), mass("b", [0.0, 0.0, 2.0])];
        assert_eq!(reading(&apart, &antiphase(2), 0.0), 2.0);
        assert_eq!(reading(&together, &antiphase(2), 0.0), 0.0);
        assert!((reading(&apart, &antiphase(2), 0.01) - 2.0).abs() < 1e-15);
        assert!((reading(&together, &antiphase(2), 0.01) - 2.0 * 0.005).abs() < 1e-15);
        assert_eq!(reading(&apart, &Pattern::default(), 0.0), 0.0);
    }

    #[test]
    fn a_turning_mass_is_lively_too() {
        let mut body = mass("a", [3.0, 0.0, 0.0]);
        body.turn = [0.0, 0.0, 4.0 / 1e-4];
        assert!((rms_motion(&body) - 5.0).abs() < 1e-12);
    }
}
