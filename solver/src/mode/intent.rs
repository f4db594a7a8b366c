//! How close a mode comes to the motion that the designer intends: a modal assurance criterion on the rigid motions of the
//! named masses, weighted by their masses and inertias.

use super::{MassMotion, Mode};
use nalgebra::{Matrix3, Vector3, Vector6};

/// What one named mass is meant to do.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum Target {
    /// Anything: the mass is not counted.
    Free,
    /// Nothing: whatever it moves counts against the mode.
    Still,
    /// Motion along x, y, z and about x, y, z, up to a factor common to all masses. A turn is given by the size of the
    /// translation that has the same kinetic energy, so that 1 means the same in all six.
    Moves([f64; 6]),
}

/// What all named masses are meant to do, in the order of the mesh's names.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Pattern {
    /// One for each mass; masses beyond the end are free.
    pub targets: Vec<Target>,
}

/// Product of two rigid motions of a mass, translation before turn, in the metric of its kinetic energy.
fn product(mass: &MassMotion, a: &Vector6<f64>, b: &Vector6<f64>) -> f64 {
    let inertia = Matrix3::from_fn(|i, j| mass.inertia_kg_m2[i][j]);
    let part = |v: &Vector6<f64>, from: usize| Vector3::new(v[from], v[from + 1], v[from + 2]);
    mass.mass_kg * part(a, 0).dot(&part(b, 0)) + part(a, 3).dot(&(inertia * part(b, 3)))
}

/// A target as a rigid motion: turns in radians for translations in metres.
fn rigid(mass: &MassMotion, target: &[f64; 6]) -> Vector6<f64> {
    Vector6::from_fn(|i, _| {
        let radius = if i < 3 { 1.0 } else { (mass.inertia_kg_m2[i - 3][i - 3] / mass.mass_kg).sqrt() };
        if radius > 0.0 { target[i] / radius } else { 0.0 }
    })
}

/// The criterion, 0 to 1: 1 where the counted masses move as intended, up to sign and size, and do nothing else: what energy they hold
/// beyond that of rigid bodies counts against it. 0 where they do not move, or nothing is meant to.
///
/// ```
/// use modalith_solver::mode::{MassMotion, Pattern, Target, mac_to_pattern};
/// let mass = |x: f64| MassMotion {
///     name: String::new(), mass_kg: 1e-9, centre_um: [0.0; 2], inertia_kg_m2: [[0.0; 3]; 3],
///     translation: [x, 0.0, 0.0], turn: [0.0; 3], motion_share: [0.0; 6], kinetic_share: 0.5, rigid_share: 1.0,
/// };
/// let along = |x: f64| Target::Moves([x, 0.0, 0.0, 0.0, 0.0, 0.0]);
/// let antiphase = Pattern { targets: vec![along(1.0), along(-1.0)] };
/// assert_eq!(mac_to_pattern(&[mass(-3.0), mass(3.0)], &antiphase), 1.0);
/// assert_eq!(mac_to_pattern(&[mass(3.0), mass(3.0)], &antiphase), 0.0);
/// // One at rest: (1 · 1)² / (1 · 2).
/// assert!((mac_to_pattern(&[mass(3.0), mass(0.0)], &antiphase) - 0.5).abs() < 1e-15);
/// ```
pub fn mac_to_pattern(masses: &[MassMotion], pattern: &Pattern) -> f64 {
    let (mut own, mut meant, mut both) = (0.0, 0.0, 0.0);
    for (mass, target) in masses.iter().zip(&pattern.targets) {
        let target = match target {
            Target::Free => continue,
            Target::Still => Vector6::zeros(),
            Target::Moves(motion) => rigid(mass, motion),
        };
        let [t, r] = [mass.translation, mass.turn];
        let moves = Vector6::new(t[0], t[1], t[2], r[0], r[1], r[2]);
        // A mass that bends holds more than its rigid motion does.
        own += product(mass, &moves, &moves) / mass.rigid_share.clamp(f64::MIN_POSITIVE, 1.0);
        meant += product(mass, &target, &target);
        both += product(mass, &moves, &target);
    }
    if own > 0.0 && meant > 0.0 { ((both / own) * (both / meant)).min(1.0) } else { 0.0 }
}

/// How a mode stands as a candidate for an intended motion.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Candidate {
    /// Number of the mode, from 0.
    pub mode: usize,
    /// Its criterion, MAC, 0 to 1.
    pub mac: f64,
    /// Share of its kinetic energy in the masses meant to move.
    pub held: f64,
    /// The criterion times that share, since a mode of other parts may carry the masses along just as intended.
    pub rank: f64,
}

/// A mode of which the masses meant to move hold less than this share of the kinetic energy is one of other parts that carry them along,
/// and no candidate, however like the pattern they move.
const NO_PART: f64 = 0.02;

/// All modes in which the masses meant to move hold some of the energy as candidates, by falling rank, of equals the lowest first.
pub fn candidates(modes: &[Mode], pattern: &Pattern) -> Vec<Candidate> {
    let of_mode = |(mode, of): (usize, &Mode)| {
        let mac = mac_to_pattern(&of.masses, pattern);
        let moving = of.masses.iter().zip(&pattern.targets).filter(|(_, t)| matches!(t, Target::Moves(_)));
        let held = moving.map(|(mass, _)| mass.kinetic_share).sum::<f64>();
        Candidate { mode, mac, held, rank: mac * held }
    };
    let mut all: Vec<Candidate> = modes.iter().enumerate().map(of_mode).filter(|c| c.held >= NO_PART).collect();
    all.sort_by(|a, b| b.rank.total_cmp(&a.rank));
    all
}

/// The mode that is the intended motion, from 0, with its criterion: the highest ranked of the [`candidates`] that are more
/// like the pattern than unlike it. `None` where there is none, and where modes that rank higher share the motion between them, so that
/// each is no more like it than unlike it: one of other parts that carries the masses along is not the intended one then.
pub fn best(modes: &[Mode], pattern: &Pattern) -> Option<(usize, f64)> {
    let all = candidates(modes, pattern);
    let chosen = all.iter().find(|c| c.mac > 0.5)?;
    let shared: f64 = all.iter().take_while(|c| c.mode != chosen.mode).map(|c| c.mac).sum();
    (shared <= 0.5).then_some((chosen.mode, chosen.mac))
}

#[cfg(test)]
mod tests {
    use super::*;

    /// A body of 4e-9 kg whose radii of gyration are 10, 20 and 25 µm.
    fn body(translation: [f64; 3], turn: [f64; 3], kinetic_share: f64) -> MassMotion {
        let inertia = [10e-6_f64, 20e-6, 25e-6].map(|r| 4e-9 * r * r);
        MassMotion {
            name: String::new(),
            mass_kg: 4e-9,
            centre_um: [0.0; 2],
            inertia_kg_m2: [0, 1, 2].map(|i| [0, 1, 2].map(|j| if i == j { inertia[i] } else { 0.0 })),
            translation,
            turn,
            motion_share: [0.0; 6],
            kinetic_share,
            rigid_share: 1.0,
        }
    }

    fn moves(i: usize, size: f64) -> Target {
        Target::Moves(std::array::from_fn(|k| if k == i { size } else { 0.0 }))
    }

    #[test]
    fn turns_weigh_by_their_inertia() {
        // Along z at 1 and about y at 1/20 µm⁻¹ hold the same energy.
        let masses = [body([0.0, 0.0, 1.0], [0.0, 1.0 / 20e-6, 0.0], 1.0)];
        for pattern in [moves(2, 1.0), moves(4, 1.0)] {
            assert!((mac_to_pattern(&masses, &Pattern { targets: vec![pattern] }) - 0.5).abs() < 1e-12);
        }
        let both = Target::Moves([0.0, 0.0, -3.0, 0.0, -3.0, 0.0]);
        assert!((mac_to_pattern(&masses, &Pattern { targets: vec![both] }) - 1.0).abs() < 1e-12);
    }

    #[test]
    fn free_masses_do_not_count_and_still_ones_do() {
        let masses = [body([1.0, 0.0, 0.0], [0.0; 3], 0.5), body([0.0, 2.0, 0.0], [0.0; 3], 0.5)];
        let with = |second| Pattern { targets: vec![moves(0, 1.0), second] };
        assert_eq!(mac_to_pattern(&masses, &with(Target::Free)), 1.0);
        assert_eq!(mac_to_pattern(&masses, &Pattern { targets: vec![moves(0, -1.0)] }), 1.0);
        // 1 / (1 + 2²).
        assert!((mac_to_pattern(&masses, &with(Target::Still)) - 0.2).abs() < 1e-15);
        let nothing = Pattern { targets: vec![Target::Still, Target::Still] };
        assert_eq!(mac_to_pattern(&masses, &nothing), 0.0);
        assert_eq!(mac_to_pattern(&masses, &Pattern::default()), 0.0);
    }

    /// A mass that mostly bends is turned along with it by next to nothing: no turn, however clean that turn is.
    #[test]
    fn a_mass_that_bends_does_not_move_as_intended() {
        let tilted = body([0.0; 3], [1e-3, 0.0, 0.0], 0.9);
        let bent = MassMotion { rigid_share: 1e-9, ..tilted.clone() };
        let half = MassMotion { rigid_share: 0.5, ..tilted.clone() };
        let about_x = Pattern { targets: vec![moves(3, 1.0)] };
        let found = [tilted, half, bent].map(|mass| mac_to_pattern(&[mass], &about_x));
        assert!((found[0] - 1.0).abs() < 1e-12 && (found[1] - 0.5).abs() < 1e-12 && found[2] < 1e-8, "{found:?}");
    }

    #[test]
    fn the_best_mode_carries_the_energy() {
        let mode = |x: f64, y: f64, share: f64| Mode {
            frequency_hz: 1.0,
            kinetic_share: [1.0, 0.0, 0.0],
            masses: vec![body([x, y, 0.0], [0.0; 3], share)],
            ..Mode::default()
        };
        let pattern = Pattern { targets: vec![moves(0, 1.0)] };
        // A beam's own mode that carries the mass along exactly, the motion itself a little askew, and another direction.
        let modes = [mode(1e-3, 0.0, 0.01), mode(1.0, 0.1, 0.9), mode(0.1, -1.0, 0.9)];
        let (found, mac) = best(&modes, &pattern).unwrap();
        assert_eq!(found, 1);
        assert!((mac - 1.0 / 1.01).abs() < 1e-12);
        assert_eq!(best(&modes[2..], &pattern), None);
        // Two that mix it with another direction share it: the beam's own is not taken in their place.
        assert_eq!(best(&[modes[0].clone(), mode(1.0, 1.0, 0.9), mode(1.0, -1.0, 0.9)], &pattern), None);
    }
}
