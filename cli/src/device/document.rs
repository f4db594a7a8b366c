//! A device file with everything it is based on: `based_on` chains merged by JSON Merge Patch (RFC 7396), remembering
//! which file every value came from.

use super::error::InputError;
use super::source::{LARGEST_TEXT, Source, read_bytes, sha256};
use crate::plan::pointer::index;
use serde_json::{Map, Value};
use std::collections::BTreeMap;
use std::path::{Path, PathBuf};

/// Keys that may stand in any object and mean nothing.
pub const FREE_KEYS: [&str; 2] = ["notes", "$schema"];

/// A merged document.
#[derive(Clone, Debug)]
pub struct Document {
    /// The merged value, without `based_on`.
    pub value: Value,
    /// The files read, the one the user named first.
    pub sources: Vec<Source>,
    origin: Origin,
}

/// Which file a value came from: the deepest member on the way to it says.
#[derive(Clone, Debug)]
struct Origin {
    file: usize,
    members: BTreeMap<String, Origin>,
}

impl Origin {
    fn of(file: usize) -> Self {
        Self { file, members: BTreeMap::new() }
    }
}

impl Document {
    /// Reads a file and the chain it is based on.
    ///
    /// # Errors
    /// An [`InputError`] for a file that cannot be read or is not JSON, and for a chain that comes back to itself.
    pub fn read(path: &Path) -> Result<Self, InputError> {
        let mut sources: Vec<Source> = Vec::new();
        let mut patches: Vec<Map<String, Value>> = Vec::new();
        let mut seen: Vec<PathBuf> = Vec::new();
        let mut next = Some(path.to_owned());
        while let Some(path) = next.take() {
            let named_by = |what: String, hint: &str| match sources.last() {
                None => InputError::of_file(&path, what, hint),
                Some(by) => {
                    let steps = ["based_on".to_owned()];
                    InputError {
                        line_column: by.place(&steps, false),
                        pointer: "/based_on".into(),
                        ..InputError::of_file(&by.path, what, hint)
                    }
                }
            };
            let bytes = read_bytes(&path, LARGEST_TEXT).map_err(|e| match sources.last() {
                None => e,
                Some(_) => named_by(format!("{} {}", path.display(), e.what), &e.hint),
            })?;
            let real = std::fs::canonicalize(&path).unwrap_or_else(|_| path.clone());
            if let Some(start) = seen.iter().position(|s| *s == real) {
                let circle: Vec<String> =
                    sources[start..].iter().map(|s| &s.path).chain([&path]).map(|p| p.display().to_string()).collect();
                let what = format!("\"based_on\" goes in a circle: {}", circle.join(" -> "));
                return Err(named_by(what, "take \"based_on\" out of one of these files"));
            }
            let source = Source::new(&path, bytes)?;
            let Value::Object(mut members) = source.value()? else {
                return Err(InputError::of_file(
                    &path,
                    "is not a JSON object",
                    "a device file is one object, {\"format\": …}",
                ));
            };
            match members.shift_remove("based_on") {
                None => {}
                Some(Value::String(other)) if !other.is_empty() => {
                    next = Some(path.parent().unwrap_or(Path::new("")).join(other));
                }
                Some(_) => {
                    let mut e = InputError::of_file(
                        &path,
                        "must be the path of a device file",
                        "write \"based_on\": \"other.json\"",
                    );
                    e.line_column = source.place(&["based_on".to_owned()], false);
                    e.pointer = "/based_on".into();
                    return Err(e);
                }
            }
            seen.push(real);
            sources.push(source);
            patches.push(members);
        }
        Ok(Self::merge(sources, patches))
    }

    /// A document of one text, for tests and for callers that hold the bytes already; `based_on` is not followed.
    ///
    /// # Errors
    /// An [`InputError`] for text that is not a JSON object.
    pub fn from_bytes(path: &Path, bytes: Vec<u8>) -> Result<Self, InputError> {
        let source = Source::new(path, bytes)?;
        match source.value()? {
            Value::Object(members) => Ok(Self::merge(vec![source], vec![members])),
            _ => Err(InputError::of_file(path, "is not a JSON object", "the file is one object, {\"format\": …}")),
        }
    }

    fn merge(sources: Vec<Source>, patches: Vec<Map<String, Value>>) -> Self {
        let mut value = Value::Object(Map::new());
        let mut origin = Origin::of(0);
        for (file, members) in patches.into_iter().enumerate().rev() {
            if file + 1 == sources.len() {
                // The last of the chain is no patch: it stands as written, nulls included.
                origin.members = members.keys().map(|k| (k.clone(), Origin::of(file))).collect();
                value = Value::Object(members);
            } else {
                patch(&mut value, &mut origin, Value::Object(members), file);
            }
        }
        Self { value, sources, origin }
    }

    /// Puts a value at these steps: in place of one that is there, or as a new member of an object that is there. Says whether
    /// there was such a place.
    pub fn put(&mut self, steps: &[String], value: Value) -> bool {
        let Some((last, parents)) = steps.split_last() else { return false };
        let mut at = &mut self.value;
        for step in parents {
            let inside = match at {
                Value::Object(members) => members.get_mut(step),
                Value::Array(list) => index(step).and_then(|i| list.get_mut(i)),
                _ => None,
            };
            match inside {
                Some(next) => at = next,
                None => return false,
            }
        }
        match at {
            Value::Object(members) => {
                members.insert(last.clone(), value);
                true
            }
            Value::Array(list) => match index(last).and_then(|i| list.get_mut(i)) {
                Some(place) => {
                    *place = value;
                    true
                }
                None => false,
            },
            _ => false,
        }
    }

    /// The file that the value at these steps came from.
    pub fn source_of(&self, steps: &[String]) -> &Source {
        let mut origin = &self.origin;
        for step in steps {
            match origin.members.get(step) {
                Some(member) => origin = member,
                None => break,
            }
        }
        &self.sources[origin.file]
    }

    /// An error about the value at these steps, with its file, line and column; about its key when `key` is set.
    pub fn error(&self, steps: &[String], key: bool, what: impl Into<String>, hint: impl Into<String>) -> InputError {
        let source = self.source_of(steps);
        InputError {
            file: source.path.clone(),
            line_column: source.place(steps, key),
            pointer: pointer(steps),
            what: what.into(),
            hint: hint.into(),
        }
    }

    /// SHA-256 of what the document means: the merged value with sorted keys, numbers as written by one rule, and
    /// without notes, followed by the bytes of other inputs (GDSII streams).
    pub fn meaning_sha256(&self, others: &[&[u8]]) -> String {
        let mut text = String::new();
        canonical(&self.value, &mut text);
        let mut bytes = text.into_bytes();
        for other in others {
            // Hashes are of fixed length, so no two lists of inputs run together to the same bytes.
            bytes.extend_from_slice(sha256(other).as_bytes());
        }
        sha256(&bytes)
    }
}

/// The JSON Pointer (RFC 6901) of these steps.
pub fn pointer(steps: &[String]) -> String {
    steps.iter().map(|s| format!("/{}", s.replace('~', "~0").replace('/', "~1"))).collect()
}

/// RFC 7396, section 2, with the origin of every replaced value noted.
fn patch(target: &mut Value, origin: &mut Origin, change: Value, file: usize) {
    let Value::Object(change) = change else {
        *target = change;
        *origin = Origin::of(file);
        return;
    };
    if !target.is_object() {
        *target = Value::Object(Map::new());
        *origin = Origin::of(file);
    }
    let Value::Object(members) = target else { return };
    for (key, change) in change {
        if change.is_null() {
            members.shift_remove(&key);
            origin.members.remove(&key);
        } else {
            let whose = if members.contains_key(&key) { origin.file } else { file };
            let member_origin = origin.members.entry(key.clone()).or_insert(Origin::of(whose));
            patch(members.entry(key).or_insert(Value::Null), member_origin, change, file);
        }
    }
}

/// A value in one spelling: sorted keys, numbers by one rule, notes left out.
pub fn canonical(value: &Value, out: &mut String) {
    match value {
        Value::Object(members) => {
            let mut keys: Vec<&String> = members.keys().filter(|k| !FREE_KEYS.contains(&k.as_str())).collect();
            keys.sort();
            out.push('{');
            for key in keys {
                out.push_str(&Value::from(key.as_str()).to_string());
                out.push(':');
                canonical(&members[key], out);
                out.push(',');
            }
            out.push('}');
        }
        Value::Array(elements) => {
            out.push('[');
            for element in elements {
                canonical(element, out);
                out.push(',');
            }
            out.push(']');
        }
        Value::Number(n) => match n.as_f64() {
            Some(x) => out.push_str(&format!("{x:e}")),
            None => out.push_str(&n.to_string()),
        },
        other => out.push_str(&other.to_string()),
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use serde_json::json;

    /// The test cases of RFC 7396, appendix A.
    #[test]
    fn merge_patch_as_in_the_rfc() {
        let cases = [
            (json!({"a":"b"}), json!({"a":"c"}), json!({"a":"c"})),
            (json!({"a":"b"}), json!({"b":"c"}), json!({"a":"b","b":"c"})),
            (json!({"a":"b"}), json!({"a":null}), json!({})),
            (json!({"a":"b","b":"c"}), json!({"a":null}), json!({"b":"c"})),
            (json!({"a":["b"]}), json!({"a":"c"}), json!({"a":"c"})),
            (json!({"a":"c"}), json!({"a":["b"]}), json!({"a":["b"]})),
            (json!({"a":{"b":"c"}}), json!({"a":{"b":"d","c":null}}), json!({"a":{"b":"d"}})),
            (json!({"a":[{"b":"c"}]}), json!({"a":[1]}), json!({"a":[1]})),
            (json!(["a", "b"]), json!(["c", "d"]), json!(["c", "d"])),
            (json!({"a":"b"}), json!(["c"]), json!(["c"])),
            (json!({"a":"foo"}), json!(null), json!(null)),
            (json!({"a":"foo"}), json!("bar"), json!("bar")),
            (json!({"e":null}), json!({"a":1}), json!({"e":null,"a":1})),
            (json!([1, 2]), json!({"a":"b","c":null}), json!({"a":"b"})),
            (json!({}), json!({"a":{"bb":{"ccc":null}}}), json!({"a":{"bb":{}}})),
        ];
        for (mut target, change, wanted) in cases {
            patch(&mut target, &mut Origin::of(0), change, 1);
            assert_eq!(target, wanted);
        }
    }

    #[test]
    fn every_value_knows_its_file() {
        let folder = tempfile::tempdir().unwrap();
        let write = |name: &str, text: &str| std::fs::write(folder.path().join(name), text).unwrap();
        std::fs::create_dir(folder.path().join("sub")).unwrap();
        write("sub/base.json", r#"{"layout": {"gds": "fork.gds", "cell": "a"}, "name": "base"}"#);
        write(
            "thin.json",
            "{\"based_on\": \"sub/base.json\",\n \"layout\": {\"cell\": \"b\"}, \"process\": {\"thickness_um\": 2}}",
        );
        let d = Document::read(&folder.path().join("thin.json")).unwrap();
        assert_eq!(
            d.value,
            json!({"layout": {"gds": "fork.gds", "cell": "b"}, "name": "base", "process": {"thickness_um": 2}})
        );
        let steps = |list: &[&str]| list.iter().map(|s| (*s).to_owned()).collect::<Vec<_>>();
        let file = |list: &[&str]| d.source_of(&steps(list)).path.strip_prefix(folder.path()).unwrap().to_owned();
        assert_eq!(file(&["layout", "gds"]), Path::new("sub/base.json"));
        assert_eq!(file(&["layout", "cell"]), Path::new("thin.json"));
        assert_eq!(file(&["process", "thickness_um"]), Path::new("thin.json"));
        assert_eq!(file(&[]), Path::new("thin.json"));
        let e = d.error(&steps(&["layout", "cell"]), false, "no", "");
        assert_eq!(e.line_column, Some([2, 21]));
    }

    #[test]
    fn a_circle_names_the_chain() {
        let folder = tempfile::tempdir().unwrap();
        for (name, base) in [("a.json", "b.json"), ("b.json", "c.json"), ("c.json", "b.json")] {
            std::fs::write(folder.path().join(name), format!("{{\"based_on\": \"{base}\"}}")).unwrap();
        }
        let e = Document::read(&folder.path().join("a.json")).unwrap_err();
        assert!(e.what.contains("circle") && e.what.contains("c.json -> "), "{e}");
        assert!(!e.what.contains("a.json"), "{e}");
        assert!(e.file.ends_with("c.json"));
    }

    #[test]
    fn notes_and_spelling_do_not_change_the_meaning() {
        let read =
            |t: &str| Document::from_bytes(Path::new("d"), t.as_bytes().to_vec()).unwrap().meaning_sha256(&[b"gds"]);
        let hash = read(r#"{"a": {"x": 20.0, "y": "s"}, "notes": "n"}"#);
        assert_eq!(hash, read(r#"{"a": {"notes": 1, "y": "s", "x": 2e1}}"#));
        assert_ne!(hash, read(r#"{"a": {"y": "s", "x": 20.000001}}"#));
    }
}
