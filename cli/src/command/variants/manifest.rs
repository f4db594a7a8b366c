//! What a folder of variants was begun with: plan, device, version, and the device as drawn. A folder begun with anything else is
//! refused, and the refusal says what differs.

use super::journal::sync_folder;
use super::sealed::{seal, unseal};
use crate::device::document::canonical;
use crate::device::source::open_regular;
use crate::exit::CommandError;
use crate::plan::pointer::pointer;
use serde::{Deserialize, Serialize};
use serde_json::Value;
use std::io::Read as _;
use std::path::Path;

const NAME: &str = "batch.json";
const FORMAT: &str = "modalith.batch/1";

/// What a folder was begun with.
#[derive(Clone, Debug, Deserialize, PartialEq, Serialize)]
pub struct Manifest {
    /// Format of this file.
    pub format: String,
    /// Version of the program.
    pub version: String,
    /// Hash of what the device file means, with all that it names.
    pub device_sha256: String,
    /// Name of the device.
    pub device: String,
    /// The model that every point is solved with.
    pub model: String,
    /// The plan as written.
    pub plan: Value,
    /// Number of points.
    pub points: usize,
    /// The kept results of the device as drawn.
    pub as_drawn: Vec<Option<f64>>,
    /// Labels of the modes of the device as drawn.
    pub labels: Vec<String>,
    /// What first-order terms say of each kept result: mean and standard deviation, where they say anything.
    pub first_order: Vec<Option<[f64; 2]>>,
}

impl Manifest {
    /// A manifest of this version.
    pub fn new(plan: &Value, points: usize, device: (&str, &str), model: &str) -> Self {
        Self {
            format: FORMAT.into(),
            version: env!("CARGO_PKG_VERSION").into(),
            device_sha256: device.1.into(),
            device: device.0.into(),
            model: model.into(),
            plan: plan.clone(),
            points,
            as_drawn: Vec::new(),
            labels: Vec::new(),
            first_order: Vec::new(),
        }
    }

    /// The manifest of a folder; `None` where the folder was not begun.
    ///
    /// # Errors
    /// When it cannot be read.
    pub fn read(folder: &Path) -> Result<Option<Self>, CommandError> {
        let path = folder.join(NAME);
        let strange = |what: String| CommandError::Other {
            what: format!("{}: {what}", path.display()),
            hint: "give another folder, or take this one away".into(),
        };
        let mut text = String::new();
        match open_regular(&path).and_then(|mut file| file.read_to_string(&mut text)) {
            Err(e) if e.kind() == std::io::ErrorKind::NotFound => return Ok(None),
            read => read.map_err(|e| strange(format!("cannot be read: {e}")))?,
        };
        // Its figures go into the results as those of a journal do.
        let text = unseal(text.trim_end()).map_err(|what| strange(what.to_owned()))?;
        serde_json::from_str(&text).map(Some).map_err(|e| strange(format!("was not written by this version: {e}")))
    }

    /// Writes it, unless another process was faster; then that one holds.
    ///
    /// # Errors
    /// When it cannot be written.
    pub fn write(&self, folder: &Path) -> Result<(), CommandError> {
        let path = folder.join(NAME);
        let wrong = |e: &std::io::Error| CommandError::writing(&path, e);
        std::fs::create_dir_all(folder).map_err(|e| wrong(&e))?;
        let mut file = tempfile::Builder::new().prefix(".unfinished-").tempfile_in(folder).map_err(|e| wrong(&e))?;
        let text = seal(&serde_json::to_string(self).map_err(|e| wrong(&e.into()))?) + "\n";
        std::io::Write::write_all(&mut file, text.as_bytes()).map_err(|e| wrong(&e))?;
        file.as_file().sync_all().map_err(|e| wrong(&e))?;
        match file.persist_noclobber(&path) {
            Ok(_) => sync_folder(folder),
            Err(e) if e.error.kind() == std::io::ErrorKind::AlreadyExists => Ok(()),
            Err(e) => Err(wrong(&e.error)),
        }
    }

    /// What differs between this run and the one that began the folder, in words; empty where nothing does.
    pub fn differences(&self, begun: &Self) -> Vec<String> {
        let mut places = vec![
            ("program version".to_owned(), begun.version.clone(), self.version.clone()),
            ("device file (hash of its meaning)".to_owned(), begun.device_sha256.clone(), self.device_sha256.clone()),
        ];
        apart(&begun.plan, &self.plan, &mut Vec::new(), &mut places);
        places.push(("model".to_owned(), begun.model.clone(), self.model.clone()));
        places.retain(|(_, old, new)| old != new);
        places.into_iter().map(|(place, old, new)| format!("{place}: {old} then, {new} now")).collect()
    }
}

/// Places where two values mean different things, with both.
fn apart(old: &Value, new: &Value, steps: &mut Vec<String>, places: &mut Vec<(String, String, String)>) {
    if let (Value::Object(a), Value::Object(b)) = (old, new) {
        let added = b.keys().filter(|k| !a.contains_key(*k));
        for key in a.keys().chain(added) {
            steps.push(key.clone());
            apart(a.get(key).unwrap_or(&Value::Null), b.get(key).unwrap_or(&Value::Null), steps, places);
            steps.pop();
        }
        return;
    }
    let meaning = |v: &Value| {
        let mut text = String::new();
        canonical(v, &mut text);
        text
    };
    let free = steps.last().is_some_and(|s| crate::device::document::FREE_KEYS.contains(&s.as_str()));
    if !free && meaning(old) != meaning(new) {
        let word = |v: &Value| if v.is_null() { "nothing".to_owned() } else { v.to_string() };
        places.push((format!("plan {}", pointer(steps)), word(old), word(new)));
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use serde_json::json;

    #[test]
    fn what_differs_is_named() {
        let old = Manifest::new(&json!({"sampling": {"points": 10, "seed": 7}, "notes": 1}), 10, ("d", "a"), "shell");
        let same =
            Manifest::new(&json!({"sampling": {"points": 10.0, "seed": 7}, "notes": 2}), 10, ("d", "a"), "shell");
        assert!(same.differences(&old).is_empty());
        let new = Manifest::new(&json!({"sampling": {"points": 12, "seed": 7}}), 12, ("d", "b"), "shell");
        let said = new.differences(&old);
        assert!(said[0].contains("device file") && said[1] == "plan /sampling/points: 10 then, 12 now", "{said:?}");
        let home = tempfile::tempdir().unwrap();
        old.write(home.path()).unwrap();
        new.write(home.path()).unwrap();
        assert_eq!(Manifest::read(home.path()).unwrap().unwrap(), old);
    }
}
