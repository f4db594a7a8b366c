//! What limits the travel: gaps and stops, by place and direction.

use super::keys;
use super::node::{Node, Read};
use super::operation::place;
use modalith_solver::sensor::{Intent, Operation, Stopper};

/// Directions of travel, as written.
const DIRECTIONS: [&str; 6] = ["+x", "-x", "+y", "-y", "+z", "-z"];

/// Reads `stoppers`.
///
/// # Errors
/// For malformed stoppers, masses not in `masses` when those are known, and a gap no larger than the drive amplitude along
/// the mass's own drive motion.
pub fn stoppers(node: &Node, masses: Option<&[&str]>, intent: &Intent, operation: &Operation) -> Read<Vec<Stopper>> {
    let mut stoppers = Vec::new();
    for n in node.array("stoppers")? {
        let o = n.object(&keys::STOPPER)?;
        let at = place(&o.need("at", "write \"at\": a mass, or a point [x, y] in µm")?, masses)?;
        let word = o.need("direction", "write \"direction\": \"+z\", the way to the stopper")?.word(&DIRECTIONS)?;
        let direction = DIRECTIONS.iter().position(|d| *d == word).unwrap_or(0);
        let gap = o.need("gap_um", "write \"gap_um\": 2.0, the travel to first contact")?;
        let stopper =
            Stopper { at, axis: direction / 2, forwards: direction % 2 == 0, gap_um: gap.positive("a gap in µm")? };
        if let Some(amplitude) = operation.drive_reaches_um(&stopper, intent) {
            let what = format!(
                "a gap of {} µm is no larger than the drive amplitude of {amplitude} µm: the drive would touch",
                stopper.gap_um
            );
            return Err(gap.error(what, "enlarge the gap or lower \"drive_amplitude_um\" in \"operation\""));
        }
        stoppers.push(stopper);
    }
    Ok(stoppers)
}
