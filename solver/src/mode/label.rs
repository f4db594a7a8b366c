//! Words for a mode: what moves, which way, and whether masses move together.
//!
//! In: a [`Mode`] with the motions of its named masses, and its sampled shape where no mass is named. Out: a label such
//! as "antiphase x" and one motion a mass, "left +x". The sign of a mode is free: here the first named mass that moves
//! (without names, the whole) starts in the positive direction; [`orient`] turns a mode and its shape to match, once,
//! so that table, files and pictures agree.
//!
//! Rules. A mass is still when its mean-square motion is below a hundredth of the liveliest mass's (a tenth in
//! amplitude). Where translation and turning mix, the larger kinetic energy names the motion, and the other is added
//! when it holds a fifth or more. Masses that together hold less than a tenth of the kinetic energy are still; with less
//! than a third they only follow what else moves.

use super::{MassMotion, Mode, Sampled, rigid_fit};

/// Mean-square motion of a mass, relative to the liveliest one, below which it is called still.
const STILL: f64 = 0.01;
/// Share of the kinetic energy below which all masses together are called still.
const MASSES_STILL: f64 = 0.1;
/// Share of the kinetic energy below which the masses only follow what else moves.
const MASSES_FOLLOW: f64 = 1.0 / 3.0;
/// Share of the in-plane kinetic energy along one axis that makes it a motion along that axis.
const ONE_WAY: f64 = 0.8;
/// Share of a mass's rigid energy from which a second motion is worth a word.
const SECOND: f64 = 0.2;
/// Share of a mass's kinetic energy that rigid motion must explain for it to be called rigid.
const RIGID: f64 = 0.5;
const AXES: [char; 3] = ['x', 'y', 'z'];

/// A rigid motion along or about an axis (0, 1, 2 for x, y, z).
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Motion {
    /// Translation.
    Along(usize),
    /// Turn: about x or y a tilt, about z within the plane.
    About(usize),
}

/// How one named mass moves, in words.
#[derive(Clone, Debug, PartialEq)]
pub struct MassWords {
    /// The user's name.
    pub name: String,
    /// "+x", "about -y", "+x and about +z", "bends in z", "still".
    pub motion: String,
    /// The main motion and its sign after orientation; `None` when still or bending.
    pub main: Option<(Motion, f64)>,
}

/// A mode in words.
#[derive(Clone, Debug, PartialEq)]
pub struct Words {
    /// The label, such as "tilt about y".
    pub label: String,
    /// One entry a named mass, in their order.
    pub masses: Vec<MassWords>,
    /// Factor, 1 or -1, that turns the mode as given into the one described.
    pub sign: f64,
    /// Whether [`orient`] turned the mode: what is known between it and others changes its sign with it.
    pub turned: bool,
}

impl Words {
    /// The motions in one line, "left +x, right -x" with ", " between them; empty where the label says it all.
    pub fn motions(&self, between: &str) -> String {
        let moving = self.masses.iter().filter(|m| m.motion != "still").count();
        if self.masses.len() < 2 || moving == 0 {
            return String::new();
        }
        self.masses.iter().map(|m| format!("{} {}", m.name, m.motion)).collect::<Vec<_>>().join(between)
    }
}

/// Energies (in one unit) of the rigid motions of a body, largest first, with the sign of each.
struct Rigid {
    parts: Vec<(Motion, f64, f64)>,
    total: f64,
}

impl Rigid {
    fn of(mass: &MassMotion) -> Self {
        let energy = mass.motion_share.map(|s| s * mass.kinetic_share);
        let [x, y, z, about_x, about_y, about_z] = energy;
        Self::sorted(&[x, y, z], &[about_x, about_y, about_z], mass.translation, mass.turn)
    }

    fn sorted(along: &[f64; 3], about: &[f64; 3], translation: [f64; 3], turn: [f64; 3]) -> Self {
        let mut parts = Vec::with_capacity(6);
        for k in 0..3 {
            parts.push((Motion::Along(k), along[k], translation[k].signum()));
            parts.push((Motion::About(k), about[k], turn[k].signum()));
        }
        let total = parts.iter().map(|p| p.1).sum();
        // A stable sort: equal energies keep the order x, y, z.
        parts.sort_by(|a, b| b.1.total_cmp(&a.1));
        Self { parts, total }
    }

    fn main(&self) -> (Motion, f64) {
        (self.parts[0].0, self.parts[0].2)
    }

    fn words(&self, sign: f64) -> String {
        let mut text = motion_words(self.parts[0].0, self.parts[0].2 * sign);
        if self.parts[1].1 >= SECOND * self.total {
            text.push_str(" and ");
            text.push_str(&motion_words(self.parts[1].0, self.parts[1].2 * sign));
        }
        text
    }
}

fn motion_words(motion: Motion, sign: f64) -> String {
    let s = if sign < 0.0 { '-' } else { '+' };
    match motion {
        Motion::Along(k) => format!("{s}{}", AXES[k]),
        Motion::About(k) => format!("about {s}{}", AXES[k]),
    }
}

/// What a body does, without a sign: "moves in z", "tilt about y", "turns about z".
fn deed(motion: Motion) -> String {
    match motion {
        Motion::Along(k) => format!("moves in {}", AXES[k]),
        Motion::About(2) => "turns about z".to_owned(),
        Motion::About(k) => format!("tilt about {}", AXES[k]),
    }
}

/// The motion shared by several bodies: "x", "tilt about y", "turn about z".
fn shared(motion: Motion) -> String {
    match motion {
        Motion::Along(k) => AXES[k].to_string(),
        Motion::About(2) => "turn about z".to_owned(),
        Motion::About(k) => format!("tilt about {}", AXES[k]),
    }
}

/// Where most of the kinetic energy goes: "z", "x", "y", or "the plane" where x and y share it.
fn direction(mode: &Mode) -> &'static str {
    let [x, y, z] = mode.kinetic_share;
    match (z >= 0.5, x >= ONE_WAY * (x + y), y >= ONE_WAY * (x + y)) {
        (true, ..) => "z",
        (_, true, _) => "x",
        (.., true) => "y",
        _ => "the plane",
    }
}

/// Describes a mode. `shape` is the sampled shapes and the number of the mode in them; it serves devices without named
/// masses, and without it those are told by kinetic energy alone.
pub fn describe(mode: &Mode, shape: Option<(&Sampled, usize)>) -> Words {
    if mode.masses.is_empty() {
        return describe_whole(mode, shape);
    }
    let rigid: Vec<Rigid> = mode.masses.iter().map(Rigid::of).collect();
    let lively = |m: &MassMotion| if m.mass_kg > 0.0 { m.kinetic_share / m.mass_kg } else { 0.0 };
    let most = mode.masses.iter().map(lively).fold(0.0, f64::max);
    let together: f64 = mode.masses.iter().map(|m| m.kinetic_share).sum();
    let all_still = together < MASSES_STILL;
    let moves: Vec<bool> = mode.masses.iter().map(|m| !all_still && lively(m) >= STILL * most).collect();
    let stiff: Vec<bool> = mode.masses.iter().map(|m| m.rigid_share >= RIGID).collect();

    let lead = (0..mode.masses.len()).find(|&i| moves[i] && stiff[i]);
    let sign = lead.map_or(1.0, |i| rigid[i].main().1);
    let masses: Vec<MassWords> = (0..mode.masses.len())
        .map(|i| {
            let (motion, main) = match (moves[i], stiff[i]) {
                (false, _) => ("still".to_owned(), None),
                (true, false) => (format!("bends in {}", direction(mode)), None),
                (true, true) => {
                    let (motion, s) = rigid[i].main();
                    (rigid[i].words(sign), Some((motion, s * sign)))
                }
            };
            MassWords { name: mode.masses[i].name.clone(), motion, main }
        })
        .collect();
    let label = if all_still {
        format!("other parts move in {}, masses still", direction(mode))
    } else if together < MASSES_FOLLOW {
        format!("other parts move in {}, masses follow", direction(mode))
    } else {
        label_of(&masses)
    };
    Words { label, masses, sign, turned: false }
}

/// The label from the motions of named masses, at least one of which moves.
fn label_of(masses: &[MassWords]) -> String {
    let still: Vec<&str> = masses.iter().filter(|m| m.motion == "still").map(|m| m.name.as_str()).collect();
    let moving: Vec<&MassWords> = masses.iter().filter(|m| m.motion != "still").collect();
    let mut label = match moving.as_slice() {
        [] => return "masses still".to_owned(),
        [one] => {
            let what = one.main.map_or(one.motion.clone(), |(motion, _)| deed(motion));
            if masses.len() == 1 { what } else { format!("{} {what}", one.name) }
        }
        several => match several.iter().map(|m| m.main).collect::<Option<Vec<_>>>() {
            Some(mains) if mains.iter().all(|m| m.0 == mains[0].0) => {
                let phase = if mains.iter().all(|m| m.1 == mains[0].1) { "in phase" } else { "antiphase" };
                format!("{phase} {}", shared(mains[0].0))
            }
            Some(_) => "mixed".to_owned(),
            None if several.iter().all(|m| m.main.is_none()) => "masses bend".to_owned(),
            None => "mixed, masses bend".to_owned(),
        },
    };
    if !still.is_empty() {
        label.push_str(&format!(", {} still", still.join(" and ")));
    }
    label
}

/// A device without named masses: the rigid motion nearest to the whole, or bending where that explains too little.
fn describe_whole(mode: &Mode, shape: Option<(&Sampled, usize)>) -> Words {
    let axis = direction(mode);
    let fitted = shape.and_then(|(sampled, i)| rigid_fit::fit(sampled, sampled.modes.get(i)?));
    let fitted = fitted.map(|w| (Rigid::sorted(&w.along, &w.about, w.translation, w.turn), w.explained));
    let (label, sign) = match fitted {
        Some((rigid, explained)) if explained >= RIGID => {
            let (motion, sign) = rigid.main();
            let second = rigid.parts[1];
            let more = if second.1 >= SECOND * rigid.total { format!(", {}", deed(second.0)) } else { String::new() };
            (format!("{}{more}", deed(motion)), sign)
        }
        Some((rigid, _)) => (format!("bends in {axis}"), rigid.main().1),
        None => (format!("moves in {axis}"), 1.0),
    };
    Words { label, masses: Vec::new(), sign, turned: false }
}

/// Turns every mode, with its masses and its sampled shape, so that it starts as [`describe`] says, and returns the
/// words. Call it once, before anything is written; what is known between modes is turned by the caller.
pub fn orient(modes: &mut [Mode], sampled: &mut Sampled) -> Vec<Words> {
    let mut all = Vec::with_capacity(modes.len());
    for (i, mode) in modes.iter_mut().enumerate() {
        let mut words = describe(mode, Some((sampled, i)));
        if words.sign < 0.0 {
            let flip = |v: &mut f64| *v = 0.0 - *v;
            mode.shape.iter_mut().chain(&mut mode.participation).for_each(flip);
            for mass in &mut mode.masses {
                mass.translation.iter_mut().chain(&mut mass.turn).for_each(flip);
            }
            sampled.modes.get_mut(i).into_iter().flatten().flatten().for_each(flip);
            sampled.tilts.get_mut(i).into_iter().flatten().flatten().for_each(flip);
            (words.sign, words.turned) = (1.0, true);
        }
        all.push(words);
    }
    all
}

#[cfg(test)]
mod tests {
    use super::super::specimen::{sampled_by, shares};
    use super::*;
    use modalith_mesher::mesh::Mesh;

    fn mass(name: &str, translation: [f64; 3], turn: [f64; 3], inertia: f64) -> MassMotion {
        let m = 2e-9;
        let along: f64 = translation.iter().map(|t| m * t * t).sum();
        let about: f64 = turn.iter().map(|w| inertia * w * w).sum();
        MassMotion {
            name: name.into(),
            mass_kg: m,
            centre_um: [0.0, 0.0],
            inertia_kg_m2: [0, 1, 2].map(|i| [0, 1, 2].map(|j| if i == j { inertia } else { 0.0 })),
            translation,
            turn,
            motion_share: std::array::from_fn(|i| {
                let e = if i < 3 { m * translation[i] * translation[i] } else { inertia * turn[i - 3] * turn[i - 3] };
                e / (along + about)
            }),
            kinetic_share: along + about,
            rigid_share: 1.0,
        }
    }

    fn with(masses: Vec<MassMotion>) -> Mode {
        Mode { masses, kinetic_share: [0.0, 0.0, 1.0], ..Mode::default() }
    }

    const A: f64 = 16_000.0;

    #[test]
    fn pairs_are_in_phase_or_antiphase_and_the_first_starts_positive() {
        let pair = |a: f64, b: f64, k: usize| {
            let t = |v: f64| std::array::from_fn(|j| if j == k { v } else { 0.0 });
            describe(&with(vec![mass("left", t(a), [0.0; 3], 1e-17), mass("right", t(b), [0.0; 3], 1e-17)]), None)
        };
        let w = pair(-A, -A, 2);
        assert_eq!((w.label.as_str(), w.motions("  ").as_str(), w.sign), ("in phase z", "left +z  right +z", -1.0));
        let w = pair(-A, A, 0);
        assert_eq!((w.label.as_str(), w.motions("  ").as_str()), ("antiphase x", "left +x  right -x"));
        // A twentieth of the amplitude is still, a fifth is not.
        assert_eq!(pair(A, 0.05 * A, 1).label, "left moves in y, right still");
        assert_eq!(pair(A, 0.2 * A, 1).label, "in phase y");
        // The sign comes from the first mass that moves.
        let w = pair(0.05 * A, -A, 1);
        assert_eq!(
            (w.label.as_str(), w.motions("  ").as_str()),
            ("right moves in y, left still", "left still  right +y")
        );
    }

    #[test]
    fn the_larger_energy_names_a_mixed_motion() {
        let one = |turn: f64| describe(&with(vec![mass("plate", [0.0, 0.0, A], [0.0, -turn, 0.0], 2e-9)]), None).label;
        // Equal inertia and mass: energies go as the squares.
        assert_eq!(one(0.9 * A), "moves in z");
        assert_eq!(one(1.1 * A), "tilt about y");
        let two = vec![mass("a", [0.0; 3], [0.0, 0.0, -A], 2e-9), mass("b", [0.0; 3], [0.0, 0.0, A], 2e-9)];
        let w = describe(&with(two), None);
        assert_eq!((w.label.as_str(), w.motions("  ").as_str()), ("antiphase turn about z", "a about +z  b about -z"));
        let mixed =
            vec![mass("a", [A, 0.0, 0.0], [0.0, 0.0, 0.7 * A], 2e-9), mass("b", [0.0, -A, 0.0], [0.0; 3], 2e-9)];
        let w = describe(&with(mixed), None);
        assert_eq!((w.label.as_str(), w.motions("  ").as_str()), ("mixed", "a +x and about +z  b -y"));
    }

    #[test]
    fn still_masses_and_bending_masses_are_said_so() {
        let mut m = with(vec![mass("left", [1000.0, 0.0, 0.0], [0.0; 3], 1e-17)]);
        m.kinetic_share = [0.1, 0.0, 0.9];
        assert_eq!(describe(&m, None).label, "other parts move in z, masses still");
        assert_eq!(describe(&m, None).motions("  "), "");
        m.kinetic_share = [0.5, 0.4, 0.1];
        m.masses[0].kinetic_share = 0.2;
        assert_eq!(describe(&m, None).label, "other parts move in the plane, masses follow");
        let mut m = with(vec![mass("left", [0.0, 0.0, A], [0.0; 3], 1e-17)]);
        m.masses[0].rigid_share = 0.3;
        assert_eq!(describe(&m, None).label, "bends in z");
    }

    #[test]
    fn the_whole_speaks_where_no_mass_is_named() {
        let mesh = Mesh::rectangle(300.0, 160.0, 24, 12).unwrap();
        type Field = fn(f64, f64) -> [f64; 3];
        let shapes: [(&str, Field); 5] = [
            ("moves in x", |_, _| [-2.0, 0.0, 0.0]),
            ("tilt about y", |x, _| [0.0, 0.0, x - 0.5]),
            ("tilt about x", |_, y| [0.0, 0.0, 0.5 - y]),
            ("turns about z", |x, y| [-(y - 0.5) * 160.0, (x - 0.5) * 300.0, 0.0]),
            ("bends in z", |x, _| [0.0, 0.0, (4.0 * std::f64::consts::PI * x).cos()]),
        ];
        for (label, f) in shapes {
            let mut sampled = sampled_by(&mesh, &|p: [f64; 2]| f(p[0] / 300.0, p[1] / 160.0));
            let mut modes = vec![Mode { kinetic_share: shares(&sampled), ..Mode::default() }];
            let words = orient(&mut modes, &mut sampled);
            assert_eq!(words[0].label, label);
            // Turned once, it stays: a second turn changes nothing.
            let before = sampled.clone();
            assert_eq!(orient(&mut modes, &mut sampled)[0].label, label);
            assert_eq!(before, sampled);
        }
    }
}
