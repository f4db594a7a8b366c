//! `modalith schema`: the JSON Schemas, printed as they are stored.

use crate::args::{SchemaArgs, SchemaOf};
use crate::exit::{CommandError, say};

/// JSON Schema of the device file.
pub const DEVICE: &str = include_str!("../../../meshes/device.schema.json");
/// JSON Schema of the plan of variants.
pub const PLAN: &str = include_str!("../schema/plan.json");
/// JSON Schema of modes.json.
pub const RESULTS: &str = include_str!("../schema/results.json");

/// Prints a schema on stdout.
///
/// # Errors
/// When stdout cannot be written.
pub fn run(args: &SchemaArgs) -> Result<(), CommandError> {
    say(match args.of {
        SchemaOf::Device => DEVICE,
        SchemaOf::Plan => PLAN,
        SchemaOf::Results => RESULTS,
    })
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::device::document::FREE_KEYS;
    use crate::device::keys;
    use serde_json::Value;
    use std::collections::BTreeSet;

    /// Objects whose keys are the user's names beside these.
    const NAMED_BY_USER: [&str; 3] = ["pattern", "masses", "sense"];

    #[test]
    fn schema_and_reader_know_the_same_keys() {
        let schema: Value = serde_json::from_str(DEVICE).unwrap();
        let definitions = schema["$defs"].as_object().unwrap();
        for keys in keys::ALL {
            let properties = definitions[keys.object]["properties"].as_object().unwrap();
            let in_schema: BTreeSet<&str> = properties.keys().map(String::as_str).collect();
            let in_reader: BTreeSet<&str> = keys.known.iter().copied().chain(FREE_KEYS).collect();
            assert_eq!(in_schema, in_reader, "{}", keys.object);
            assert_eq!(definitions[keys.object]["additionalProperties"], Value::Bool(false), "{}", keys.object);
        }
        for (name, definition) in definitions {
            let known = keys::ALL.iter().any(|k| k.object == name) || NAMED_BY_USER.contains(&name.as_str());
            assert!(known || definition.get("properties").is_none(), "the reader does not know of {name}");
        }
    }

    #[test]
    fn the_plans_schema_and_its_reader_know_the_same_keys() {
        let schema: Value = serde_json::from_str(PLAN).unwrap();
        let definitions = schema["$defs"].as_object().unwrap();
        assert_eq!(definitions.len(), crate::plan::keys::ALL.len());
        for keys in crate::plan::keys::ALL {
            let properties = definitions[keys.object]["properties"].as_object().unwrap();
            let in_schema: BTreeSet<&str> = properties.keys().map(String::as_str).collect();
            let in_reader: BTreeSet<&str> = keys.known.iter().copied().chain(FREE_KEYS).collect();
            assert_eq!(in_schema, in_reader, "{}", keys.object);
            assert_eq!(definitions[keys.object]["additionalProperties"], Value::Bool(false), "{}", keys.object);
        }
    }

    #[test]
    fn every_key_of_the_schemas_is_described_and_every_reference_leads_somewhere() {
        fn walk(value: &Value, definitions: &Value, place: &str) {
            if let Some(properties) = value.get("properties").and_then(Value::as_object) {
                for (key, property) in properties {
                    let target = property["$ref"].as_str().map(|r| &definitions[r.trim_start_matches("#/$defs/")]);
                    let described =
                        [Some(property), target].into_iter().flatten().any(|p| p.get("description").is_some());
                    let plain = property.is_boolean()
                        || property.get("const").is_some()
                        || ["x", "y", "z", "modes"].contains(&key.as_str());
                    assert!(described || plain, "{place}/{key}");
                }
            }
            match value {
                Value::Object(members) => {
                    if let Some(Value::String(target)) = members.get("$ref") {
                        let name = target.strip_prefix("#/$defs/").unwrap();
                        assert!(definitions.get(name).is_some(), "{place}: {target}");
                    }
                    members.iter().for_each(|(k, v)| walk(v, definitions, &format!("{place}/{k}")));
                }
                Value::Array(list) => list.iter().for_each(|v| walk(v, definitions, place)),
                _ => {}
            }
        }
        for text in [DEVICE, PLAN, RESULTS] {
            let schema: Value = serde_json::from_str(text).unwrap();
            assert_eq!(schema["$schema"], "https://json-schema.org/draft/2020-12/schema");
            walk(&schema, &schema["$defs"], "");
        }
    }
}
