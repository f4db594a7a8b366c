//! The motions a designer intends, by named mass: what `drive` and `sense` mean in a device file.

use super::error::InputError;
use super::keys;
use super::node::{Node, Object, Read};
use modalith_solver::sensor::{Intent, Motion, MotionByMass, Sense};

/// Reads `+x` … `-z`, `about +x` … `about -z`, `still`; the error is a hint.
fn motion(text: &str) -> Result<Motion, String> {
    if text == "still" {
        return Ok(Motion::Still);
    }
    let (turn, rest) = text.strip_prefix("about ").map_or((false, text), |rest| (true, rest));
    let forwards = rest.starts_with('+');
    let axis = rest.strip_prefix(['+', '-']).and_then(axis_number);
    match axis {
        Some(axis) if turn => Ok(Motion::About(axis, forwards)),
        Some(axis) => Ok(Motion::Along(axis, forwards)),
        None if axis_number(rest).is_some() => {
            Err(format!("give it a sign: \"{}+{rest}\"", if turn { "about " } else { "" }))
        }
        None => Err("write \"+x\" to \"-z\", \"about +x\" to \"about -z\", or \"still\"".into()),
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

fn pattern(o: &Object, masses: Option<&[&str]>, has_axis: bool) -> Read<MotionByMass> {
    let mut motions = Vec::new();
    for (name, n) in o.members().filter(|(name, _)| !(has_axis && *name == "rate_axis")) {
        if let Some(masses) = masses
            && !masses.contains(&name)
        {
            return Err(unknown_mass(&n, name, masses));
        }
        let text = n.text("a motion such as \"+x\"")?;
        let motion = motion(text).map_err(|hint| n.error(format!("\"{text}\" is no motion"), hint))?;
        motions.push((name.to_owned(), motion));
    }
    if motions.is_empty() {
        return Err(o
            .node()
            .error("names no mass", "write the motion of a mass, e.g. {\"left\": \"+x\"}, or leave this out"));
    }
    Ok(MotionByMass { motions })
}

/// The error of a mass that is not there.
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
        assert_eq!(motion("+x"), Ok(Motion::Along(0, true)));
        assert_eq!(motion("-z"), Ok(Motion::Along(2, false)));
        assert_eq!(motion("about +y"), Ok(Motion::About(1, true)));
        assert_eq!(motion("about -z"), Ok(Motion::About(2, false)));
        assert_eq!(motion("still"), Ok(Motion::Still));
        for wrong in ["x", "", "+", "+w", "++x", "about", "about x", "about  +x", " +x", "Still"] {
            assert!(motion(wrong).is_err(), "{wrong}");
        }
        assert_eq!(motion("about y"), Err("give it a sign: \"about +y\"".into()));
    }
}
