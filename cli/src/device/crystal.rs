//! Which crystal directions the layout's axes lie along. In: the wafer's normal and the direction of x as a designer
//! writes them, naming a family ("100" wafer, x along "110"). Out: one pair of perpendicular Miller directions.
//!
//! In a cubic crystal the indices of a plane are those of its normal. A written direction that is not perpendicular to
//! the written normal stands for its family (all orders and signs of its indices); the first member that lies in the
//! wafer is taken, provided that all members in the wafer are the same by the crystal's own rotations, up to a half
//! turn about the normal. Where they are not, the choice is the designer's and must be written with signs.

use super::node::{Node, Object, Read};
use modalith_solver::material::Orientation;

/// Reads `wafer`, `x_along` and `x_off_deg`, if any is there.
///
/// # Errors
/// For a lone `wafer` or `x_along`, indices that are none, directions that cannot lie in the wafer or are ambiguous.
pub fn orientation(o: &Object) -> Read<Option<Orientation>> {
    if ["wafer", "x_along", "x_off_deg"].iter().all(|k| o.get(k).is_none()) {
        return Ok(None);
    }
    let wafer_node = o.need("wafer", "write \"wafer\": \"100\", the Miller indices of the wafer's normal")?;
    let x_node = o.need("x_along", "write \"x_along\": \"110\", the crystal direction of the layout's x")?;
    let wafer = indices(&wafer_node)?;
    let written = indices(&x_node)?;
    let x_off_deg = o.get("x_off_deg").map_or(Ok(0.0), |n| {
        let turn = n.number("an angle in degrees")?;
        if turn.abs() <= 360.0 {
            Ok(turn)
        } else {
            Err(n.error(format!("{turn} degrees is over a full turn"), "give it within ±360"))
        }
    })?;
    let name = |d: [i32; 3]| d.map(|i| i.to_string()).join(" ");
    let x_along = match choose(wafer, written) {
        Choice::One(x) => x,
        Choice::None => {
            let what = format!("no direction of the family {} lies in a ({}) wafer", name(written), name(wafer));
            return Err(x_node.error(what, "give a direction perpendicular to the wafer's normal"));
        }
        Choice::Several(a, b) => {
            let what = format!("may mean [{}] or [{}] in a ({}) wafer, which differ", name(a), name(b), name(wafer));
            return Err(
                x_node.error(what, format!("write it with its signs and spaces: \"{}\" or \"{}\"", name(a), name(b)))
            );
        }
    };
    Ok(Some(Orientation { wafer, x_along, x_off_deg }))
}

/// Three Miller indices: `"110"`, `"1-10"`, or with spaces, `"1 -1 0"`.
fn indices(node: &Node) -> Read<[i32; 3]> {
    let text = node.text("Miller indices in quotes, such as \"110\"")?;
    parse(text).ok_or_else(|| {
        node.error(
            format!("\"{text}\" are no Miller indices"),
            "write three whole numbers, \"110\", \"1-10\" or \"1 -1 0\", not all 0",
        )
    })
}

fn parse(text: &str) -> Option<[i32; 3]> {
    let inner = text.trim().trim_matches(|c| "[](){}<>".contains(c)).trim();
    let mut found = Vec::new();
    if inner.contains([' ', ',']) {
        for word in inner.split([' ', ',']).filter(|w| !w.is_empty()) {
            found.push(word.parse::<i32>().ok().filter(|i| i.abs() <= 99)?);
        }
    } else {
        let mut sign = 1;
        let mut pending = false;
        for c in inner.chars() {
            match c {
                '-' if !pending => (sign, pending) = (-1, true),
                _ => {
                    found.push(sign * i32::try_from(c.to_digit(10)?).ok()?);
                    (sign, pending) = (1, false);
                }
            }
        }
        if pending {
            return None;
        }
    }
    <[i32; 3]>::try_from(found).ok().filter(|d| *d != [0; 3])
}

#[derive(Debug, PartialEq)]
enum Choice {
    One([i32; 3]),
    None,
    Several([i32; 3], [i32; 3]),
}

fn dot(a: [i32; 3], b: [i32; 3]) -> i32 {
    (0..3).map(|k| a[k] * b[k]).sum()
}

const ORDERS: [([usize; 3], i32); 6] =
    [([0, 1, 2], 1), ([1, 2, 0], 1), ([2, 0, 1], 1), ([0, 2, 1], -1), ([2, 1, 0], -1), ([1, 0, 2], -1)];
const SIGNS: [[i32; 3]; 8] =
    [[1, 1, 1], [1, 1, -1], [1, -1, 1], [-1, 1, 1], [1, -1, -1], [-1, 1, -1], [-1, -1, 1], [-1, -1, -1]];

fn choose(wafer: [i32; 3], written: [i32; 3]) -> Choice {
    if dot(wafer, written) == 0 {
        return Choice::One(written);
    }
    // Every order and sign of the indices, and the rotation (order and signs of positive determinant) it belongs to.
    let apply = |(order, _): ([usize; 3], i32), sign: [i32; 3], d: [i32; 3]| [0, 1, 2].map(|k| sign[k] * d[order[k]]);
    let all = || ORDERS.iter().flat_map(|o| SIGNS.iter().map(move |s| (*o, *s)));
    let mut members = all().map(|(o, s)| apply(o, s, written)).filter(|d| dot(*d, wafer) == 0);
    let Some(first) = members.next() else { return Choice::None };
    let same = |other: [i32; 3]| {
        all().any(|(o, s)| {
            let rotation = o.1 * s[0] * s[1] * s[2] == 1;
            let image = apply(o, s, first);
            rotation && apply(o, s, wafer) == wafer && (image == other || image == other.map(|i| -i))
        })
    };
    match members.find(|d| !same(*d) && *d != first && *d != first.map(|i| -i)) {
        Some(other) => Choice::Several(first, other),
        None => Choice::One(first),
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn indices_as_written() {
        assert_eq!(parse("110"), Some([1, 1, 0]));
        assert_eq!(parse("1-10"), Some([1, -1, 0]));
        assert_eq!(parse("-1-12"), Some([-1, -1, 2]));
        assert_eq!(parse("<1 -1 0>"), Some([1, -1, 0]));
        assert_eq!(parse("[1, 1, 12]"), Some([1, 1, 12]));
        for wrong in ["", "11", "1100", "000", "abc", "1--10", "11-", "1 1", "1 1 1000", "-", "½½½"] {
            assert_eq!(parse(wrong), None, "{wrong}");
        }
    }

    #[test]
    fn a_family_gives_the_member_in_the_wafer() {
        assert_eq!(choose([1, 0, 0], [1, 1, 0]), Choice::One([0, 1, 1]));
        assert_eq!(choose([0, 0, 1], [1, 1, 0]), Choice::One([1, 1, 0]));
        assert!(matches!(choose([1, 0, 0], [1, 0, 0]), Choice::One(d) if dot(d, [1, 0, 0]) == 0));
        assert!(matches!(choose([1, 1, 0], [1, 1, 0]), Choice::One([a, b, 0]) if a == -b));
        assert!(matches!(choose([1, 1, 0], [1, 0, 0]), Choice::One([0, 0, _])));
        assert!(matches!(choose([1, 1, 1], [1, 1, 0]), Choice::One(d) if dot(d, [1, 1, 1]) == 0));
        assert!(matches!(choose([1, 1, 1], [1, 1, 2]), Choice::One(d) if dot(d, [1, 1, 1]) == 0));
        assert_eq!(choose([1, 0, 0], [1, 1, 1]), Choice::None);
    }

    /// In a (110) wafer two ⟨111⟩ lie mirrored about [001]: the mirror of a layout, which is another device.
    #[test]
    fn an_ambiguous_direction_is_refused() {
        assert!(matches!(choose([1, 1, 0], [1, 1, 1]), Choice::Several(..)));
        assert!(matches!(choose([1, 1, 0], [1, -1, 1]), Choice::One([1, -1, 1])));
    }
}
