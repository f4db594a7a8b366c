//! What the designer asks of the device.

use super::keys;
use super::node::{Node, Read};
use super::operation::two;
use modalith_solver::rate::requirements::{Figure, Limits, Sense};

/// Reads `requirements`: the limits of every figure asked for, in the order of a report.
///
/// # Errors
/// For malformed limits, a single number where only a range makes sense, and a range with its ends swapped.
pub fn requirements(node: &Node) -> Read<Vec<(Figure, Limits)>> {
    let o = node.object(&keys::REQUIREMENTS)?;
    let mut asked = Vec::new();
    for figure in Figure::ALL {
        let Some(n) = o.get(figure.key()) else { continue };
        asked.push((figure, limits(&n, figure)?));
    }
    Ok(asked)
}

fn limits(node: &Node, figure: Figure) -> Read<Limits> {
    if node.value().is_array() {
        let [low, high] = two(node, "a range [low, high]")?;
        if low > high {
            return Err(node.error(format!("[{low}, {high}] holds nothing"), "write [low, high], the lower end first"));
        }
        return Ok(Limits { low, high });
    }
    let what = match figure.sense() {
        Sense::Range => "a range [low, high]",
        Sense::AtLeast => "a number, the least allowed, or a range [low, high]",
        Sense::AtMost => "a number, the most allowed, or a range [low, high]",
    };
    Limits::one(figure, node.number(what)?)
        .ok_or_else(|| node.error("must be a range, not a number", format!("write \"{}\": [low, high]", figure.key())))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn keys_are_those_of_the_figures() {
        let mut known = keys::REQUIREMENTS.known.to_vec();
        let mut figures: Vec<&str> = Figure::ALL.iter().map(|f| f.key()).collect();
        known.sort_unstable();
        figures.sort_unstable();
        assert_eq!(known, figures);
    }
}
