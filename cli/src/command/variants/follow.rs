//! The modes of the device as drawn among those of a point, in a command's JSON result.

use crate::output::variants::track::Track;
use serde_json::{Map, Value};

/// The modes as drawn in a command's JSON result, by number and, where a label is one mode's alone, by label: null for one
/// that was not found again.
pub fn by_name(result: &Value, labels: &[String], tracks: &[Option<Track>]) -> Value {
    let mut named = Map::new();
    for (i, (label, track)) in labels.iter().zip(tracks).enumerate() {
        let mode = track.and_then(|t| {
            let mut mode = result["modes"].get(t.index - 1)?.clone();
            mode["mac"] = t.mac.into();
            Some(mode)
        });
        let mode = mode.unwrap_or(Value::Null);
        if labels.iter().filter(|l| *l == label).count() == 1 {
            named.insert(label.clone(), mode.clone());
        }
        named.insert((i + 1).to_string(), mode);
    }
    Value::Object(named)
}

/// Labels of the modes of a command's JSON result.
pub fn labels(result: &Value) -> Vec<String> {
    let label = |mode: &Value| mode["label"].as_str().unwrap_or_default().to_owned();
    result["modes"].as_array().map_or_else(Vec::new, |modes| modes.iter().map(label).collect())
}
