//! Words for a mode, from the motions of its named masses, or from the whole where none are named.

use modalith_solver::mode::{MassMotion, Mode};

const AXES: [&str; 3] = ["x", "y", "z"];
/// Below this share of the kinetic energy in all named masses together the mode belongs to something else.
const MASSES_STILL: f64 = 0.2;
/// A mass with less than this share of the busiest mass's kinetic energy is not worth a word.
const QUIET: f64 = 0.05;
/// Below this rigid share a mass bends rather than moves.
const BENDS: f64 = 0.5;
/// An effective mass below this share of the moving mass is no net motion.
const NO_NET: f64 = 0.01;

/// A motion of one mass: one of six, with its sign, or bending.
#[derive(Clone, Copy, Debug, PartialEq)]
enum Motion {
    Rigid(usize, bool),
    Bends { in_plane: bool },
}

impl Motion {
    fn of(mass: &MassMotion, in_plane: bool) -> Self {
        if mass.rigid_share < BENDS {
            return Self::Bends { in_plane };
        }
        let largest = (0..6).fold(0, |best, i| if mass.motion_share[i] > mass.motion_share[best] { i } else { best });
        let value = if largest < 3 { mass.translation[largest] } else { mass.turn[largest - 3] };
        Self::Rigid(largest, value > 0.0)
    }

    fn words(self, flip: bool) -> String {
        match self {
            Self::Rigid(i, positive) => {
                let sign = if positive == flip { '-' } else { '+' };
                if i < 3 { format!("{sign}{}", AXES[i]) } else { format!("about {sign}{}", AXES[i - 3]) }
            }
            Self::Bends { in_plane } => if in_plane { "bends in plane" } else { "bends in z" }.to_owned(),
        }
    }
}

/// What moves, in words, such as `antiphase x   left +x  right -x`. The overall sign of a mode is free: the first mass
/// listed moves in the positive sense. `moving_mass_kg` is the mass of all free material.
pub fn label(mode: &Mode, moving_mass_kg: f64) -> String {
    let in_plane = mode.kinetic_share[2] < 0.5;
    let direction = if in_plane { "in plane" } else { "in z" };
    if mode.masses.is_empty() {
        return whole(mode, direction, moving_mass_kg);
    }
    let all: f64 = mode.masses.iter().map(|m| m.kinetic_share).sum();
    if all < MASSES_STILL {
        return format!("masses still, {} {direction}", if in_plane { "other parts move" } else { "other parts bend" });
    }
    let busiest = mode.masses.iter().map(|m| m.kinetic_share).fold(0.0, f64::max);
    let moving: Vec<(&MassMotion, Motion)> = mode
        .masses
        .iter()
        .filter(|m| m.kinetic_share >= QUIET * busiest)
        .map(|m| (m, Motion::of(m, in_plane)))
        .collect();
    let flip = moving.iter().find_map(|(_, motion)| match motion {
        Motion::Rigid(_, positive) => Some(!positive),
        Motion::Bends { .. } => None,
    });
    let flip = flip.unwrap_or(false);
    let each: Vec<String> = moving.iter().map(|(m, motion)| format!("{} {}", m.name, motion.words(flip))).collect();
    let heading = heading(&moving);
    if heading.is_empty() { each.join("  ") } else { format!("{heading}   {}", each.join("  ")) }
}

/// The common motion of several masses: `in phase z`, `antiphase about y`.
fn heading(moving: &[(&MassMotion, Motion)]) -> String {
    let [(_, Motion::Rigid(first, sign)), others @ ..] = moving else { return String::new() };
    let signs: Option<Vec<bool>> = others
        .iter()
        .map(|(_, m)| match m {
            Motion::Rigid(i, positive) if i == first => Some(positive == sign),
            _ => None,
        })
        .collect();
    let what = if *first < 3 { AXES[*first].to_owned() } else { format!("about {}", AXES[*first - 3]) };
    match signs.as_deref() {
        None | Some([]) => String::new(),
        Some(list) if list.iter().all(|&same| same) => format!("in phase {what}"),
        Some(list) if list.len() == 1 => format!("antiphase {what}"),
        Some(_) => String::new(),
    }
}

/// A mode of a device without named masses: its direction, and along which axis base acceleration sees it.
fn whole(mode: &Mode, direction: &str, moving_mass_kg: f64) -> String {
    let axis = (0..3).fold(0, |b, i| if mode.effective_mass_kg[i] > mode.effective_mass_kg[b] { i } else { b });
    if mode.effective_mass_kg[axis] > NO_NET * moving_mass_kg {
        format!("moves {direction}, net along {}", AXES[axis])
    } else {
        format!("moves {direction}, no net motion")
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn mass(name: &str, motion: usize, value: f64, share: f64) -> MassMotion {
        let mut m = MassMotion {
            name: name.into(),
            mass_kg: 1e-9,
            centre_um: [0.0; 2],
            translation: [0.0; 3],
            turn: [0.0; 3],
            motion_share: [0.0; 6],
            kinetic_share: share,
            rigid_share: 0.99,
        };
        m.motion_share[motion] = 0.98;
        if motion < 3 {
            m.translation[motion] = value;
        } else {
            m.turn[motion - 3] = value;
        }
        m
    }

    fn mode(masses: Vec<MassMotion>, kinetic_share: [f64; 3]) -> Mode {
        Mode {
            frequency_hz: 1.0,
            backward_error: 0.0,
            kinetic_share,
            effective_mass_kg: [0.0; 3],
            masses,
            flexure_strain_share: vec![],
            mass_strain_share: vec![],
            twist_strain_share: 0.0,
            shape: vec![],
        }
    }

    #[test]
    fn pairs_of_masses() {
        let m = mode(vec![mass("left", 0, -2.0, 0.5), mass("right", 0, 2.0, 0.5)], [1.0, 0.0, 0.0]);
        assert_eq!(label(&m, 2e-9), "antiphase x   left +x  right -x");
        let m = mode(vec![mass("left", 2, -2.0, 0.5), mass("right", 2, -2.0, 0.5)], [0.0, 0.0, 1.0]);
        assert_eq!(label(&m, 2e-9), "in phase z   left +z  right +z");
        let m = mode(vec![mass("left", 4, -2.0, 0.5), mass("right", 4, 2.0, 0.5)], [0.0, 0.0, 1.0]);
        assert_eq!(label(&m, 2e-9), "antiphase about y   left about +y  right about -y");
        let m = mode(vec![mass("left", 4, 2.0, 0.6), mass("right", 0, -2.0, 0.4)], [0.3, 0.0, 0.7]);
        assert_eq!(label(&m, 2e-9), "left about +y  right -x");
    }

    #[test]
    fn still_masses_and_bending_ones() {
        let m = mode(vec![mass("left", 0, 1.0, 0.02), mass("right", 0, 1.0, 0.02)], [0.0, 0.0, 1.0]);
        assert_eq!(label(&m, 2e-9), "masses still, other parts bend in z");
        let mut bent = mass("plate", 2, 1.0, 0.9);
        bent.rigid_share = 0.1;
        assert_eq!(label(&mode(vec![bent], [0.0, 0.0, 1.0]), 2e-9), "plate bends in z");
    }
}
