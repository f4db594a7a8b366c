//! Frequencies the designer keeps clear of, beside those of the device itself.

use super::keys;
use super::node::{Node, Read};
use modalith_solver::sensor::OwnGuard;

/// Reads `guards`.
///
/// # Errors
/// For malformed guards and a name used twice.
pub fn guards(node: &Node) -> Read<Vec<OwnGuard>> {
    let mut guards: Vec<OwnGuard> = Vec::new();
    for n in node.array("guards")? {
        let o = n.object(&keys::GUARD)?;
        let named = o.need("name", "write \"name\": \"power converter\"")?;
        let name = named.text("a name")?;
        if name.is_empty() || guards.iter().any(|g| g.name == name) {
            return Err(named.error(format!("\"{name}\" cannot name this guard"), "give every guard a name of its own"));
        }
        guards.push(OwnGuard {
            name: name.to_owned(),
            frequency_hz: o.need("frequency_hz", "write \"frequency_hz\": 40000")?.positive("a frequency in Hz")?,
            half_width_hz: o.get("half_width_hz").map(|n| n.positive("a width in Hz")).transpose()?,
        });
    }
    Ok(guards)
}
