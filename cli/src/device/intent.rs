//! The motions a designer intends, by named mass: what `drive` and `sense` mean in a device file.

use super::error::InputError;
use super::keys;
use super::node::{Node, Object, Read};
use modalith_solver::mode::{self, Target};

/// How one mass is meant to move.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Motion {
    /// Along an axis (0 to 2 for x to z), forwards or not.
    Along(usize, bool),
    /// About an axis by the right-hand rule, forwards or not.
    About(usize, bool),
    /// Not at all.
    Still,
}

/// One pattern of motion; masses left out are free to do as they like.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct Pattern {
    /// The motion of each mass.
    pub motions: Vec<(String, Motion)>,
}

/// An intended answer to rotation.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Sense {
    /// The axis of rotation, 0 to 2 for x to z.
    pub rate_axis: usize,
    /// The motion it causes.
    pub pattern: Pattern,
}

/// All intended motions.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct Intent {
    /// The motion kept up.
    pub drive: Option<Pattern>,
    /// The answers to rotation.
    pub sense: Vec<Sense>,
}

impl Motion {
    /// What the solver compares with.
    fn target(self) -> Target {
        let (at, forwards) = match self {
            Self::Still => return Target::Still,
            Self::Along(axis, forwards) => (axis, forwards),
            Self::About(axis, forwards) => (3 + axis, forwards),
        };
        let size = if forwards { 1.0 } else { -1.0 };
        Target::Moves(std::array::from_fn(|i| if i == at { size } else { 0.0 }))
    }
}

impl Pattern {
    /// The pattern for masses of these names, in their order; masses left out are free.
    pub fn of_masses<'a>(&self, names: impl IntoIterator<Item = &'a str>) -> mode::Pattern {
        let target = |name: &str| {
            self.motions.iter().find(|(own, _)| own == name).map_or(Target::Free, |(_, motion)| motion.target())
        };
        mode::Pattern { targets: names.into_iter().map(target).collect() }
    }
}

impl std::str::FromStr for Motion {
    type Err = String;

    /// Reads `+x` … `-z`, `about +x` … `about -z`, `still`; the error is a hint.
    fn from_str(text: &str) -> Result<Self, String> {
        if text == "still" {
            return Ok(Self::Still);
        }
        let (turn, rest) = text.strip_prefix("about ").map_or((false, text), |rest| (true, rest));
        let forwards = rest.starts_with('+');
        let axis = rest.strip_prefix(['+', '-']).and_then(axis_number);
        match axis {
            Some(axis) if turn => Ok(Self::About(axis, forwards)),
            Some(axis) => Ok(Self::Along(axis, forwards)),
            None if axis_number(rest).is_some() => {
                Err(format!("give it a sign: \"{}+{rest}\"", if turn { "about " } else { "" }))
            }
            None => Err("write \"+x\" to \"-z\", \"about +x\" to \"about -z\", or \"still\"".into()),
        }
    }
}

fn axis_number(text: &str) -> Option<usize> {
    ["x", "y", "z"].iter().position(|a| *a == text)
}

/// Reads `intent`.
///
/// # Errors
/// For malformed motions, and for masses not in `masses` when those are known (`None` when a GDSII stream names them).
pub fn intent(node: &Node, masses: Option<&[&str]>) -> Read<Intent> {
    let o = node.object(&keys::INTENT)?;
    let drive =
        o.get("drive").map(|n| pattern(&n.any_object("an object of motions by mass")?, masses, false)).transpose()?;
    let mut sense = Vec::new();
    for n in o.get("sense").map_or(Ok(Vec::new()), |n| n.array("intended answers"))? {
        let o = n.any_object("an object with rate_axis and motions by mass")?;
        let axis = o.need("rate_axis", "write \"rate_axis\": \"y\", the axis of the rotation to be sensed")?;
        let rate_axis = axis_number(axis.word(&["x", "y", "z"])?).unwrap_or(0);
        sense.push(Sense { rate_axis, pattern: pattern(&o, masses, true)? });
    }
    Ok(Intent { drive, sense })
}

fn pattern(o: &Object, masses: Option<&[&str]>, has_axis: bool) -> Read<Pattern> {
    let mut motions = Vec::new();
    for (name, n) in o.members().filter(|(name, _)| !(has_axis && *name == "rate_axis")) {
        if let Some(masses) = masses
            && !masses.contains(&name)
        {
            return Err(unknown_mass(&n, name, masses));
        }
        let text = n.text("a motion such as \"+x\"")?;
        let motion = text.parse().map_err(|hint: String| n.error(format!("\"{text}\" is no motion"), hint))?;
        motions.push((name.to_owned(), motion));
    }
    if motions.is_empty() {
        return Err(o
            .node()
            .error("names no mass", "write the motion of a mass, e.g. {\"left\": \"+x\"}, or leave this out"));
    }
    Ok(Pattern { motions })
}

pub(super) fn unknown_mass(at: &Node, name: &str, masses: &[&str]) -> InputError {
    let hint = match (super::keys::nearest(name, masses.iter().copied()), masses) {
        (Some(near), _) => format!("did you mean \"{near}\"?"),
        (None, []) => "the device names no masses: add \"masses\": {\"left\": [SHAPE, …]}".to_owned(),
        (None, _) => format!("masses of this device: {}", masses.join(", ")),
    };
    at.error(format!("there is no mass \"{name}\""), hint)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn motions_as_in_the_device_file() {
        assert_eq!("+x".parse(), Ok(Motion::Along(0, true)));
        assert_eq!("-z".parse(), Ok(Motion::Along(2, false)));
        assert_eq!("about +y".parse(), Ok(Motion::About(1, true)));
        assert_eq!("about -z".parse(), Ok(Motion::About(2, false)));
        assert_eq!("still".parse(), Ok(Motion::Still));
        for wrong in ["x", "", "+", "+w", "++x", "about", "about x", "about  +x", " +x", "Still"] {
            assert!(wrong.parse::<Motion>().is_err(), "{wrong}");
        }
        assert_eq!("about y".parse::<Motion>(), Err("give it a sign: \"about +y\"".into()));
    }

    #[test]
    fn patterns_go_by_name() {
        let pattern = Pattern {
            motions: vec![("right".into(), Motion::About(2, false)), ("left".into(), Motion::Along(0, true))],
        };
        let targets = pattern.of_masses(["left", "middle", "right"]).targets;
        let moves = |i: usize, size: f64| Target::Moves(std::array::from_fn(|k| if k == i { size } else { 0.0 }));
        assert_eq!(targets, [moves(0, 1.0), Target::Free, moves(5, -1.0)]);
    }
}
