//! A walk over a merged document in which every value knows its JSON Pointer, so that every error can say where.

use super::document::{Document, FREE_KEYS, pointer};
use super::error::InputError;
use super::keys::{self, Keys};
use serde_json::{Map, Value};

/// What reading gives.
pub type Read<T> = Result<T, InputError>;

/// A value and the way to it.
#[derive(Clone, Debug)]
pub struct Node<'d> {
    document: &'d Document,
    value: &'d Value,
    steps: Vec<String>,
}

/// An object whose keys have been checked.
#[derive(Clone, Debug)]
pub struct Object<'d> {
    node: Node<'d>,
    members: &'d Map<String, Value>,
}

impl<'d> Node<'d> {
    /// The whole document.
    pub fn root(document: &'d Document) -> Self {
        Self { document, value: &document.value, steps: Vec::new() }
    }

    /// An error about this value.
    pub fn error(&self, what: impl Into<String>, hint: impl Into<String>) -> InputError {
        self.document.error(&self.steps, false, what, hint)
    }

    /// An error about a value inside this one, at these further steps.
    pub fn error_at(&self, inside: &[usize], what: impl Into<String>, hint: impl Into<String>) -> InputError {
        let mut steps = self.steps.clone();
        steps.extend(inside.iter().map(usize::to_string));
        self.document.error(&steps, false, what, hint)
    }

    /// The raw value.
    pub fn value(&self) -> &'d Value {
        self.value
    }

    /// The file that the value came from.
    pub fn file(&self) -> &'d std::path::Path {
        &self.document.source_of(&self.steps).path
    }

    /// The JSON Pointer of the value.
    pub fn pointer(&self) -> String {
        pointer(&self.steps)
    }

    fn step(&self, key: impl Into<String>, value: &'d Value) -> Self {
        let mut steps = self.steps.clone();
        steps.push(key.into());
        Self { document: self.document, value, steps }
    }

    fn wrong_kind(&self, wanted: &str, hint: impl Into<String>) -> InputError {
        let found = match self.value {
            Value::Null => "null".to_owned(),
            Value::Bool(b) => b.to_string(),
            Value::Number(n) => n.to_string(),
            Value::String(s) if s.chars().count() <= 40 => format!("\"{s}\""),
            Value::String(_) => "a long text".to_owned(),
            Value::Array(_) => "an array".to_owned(),
            Value::Object(_) => "an object".to_owned(),
        };
        self.error(format!("must be {wanted}, not {found}"), hint)
    }

    /// An object that holds known keys only.
    ///
    /// # Errors
    /// For another kind of value, or the first unknown key, with the nearest known one.
    pub fn object(&self, keys: &Keys) -> Read<Object<'d>> {
        let object = self.any_object(&format!("an object with the keys {}", keys.known.join(", ")))?;
        for key in object.members.keys() {
            if !keys.known.contains(&key.as_str()) && !FREE_KEYS.contains(&key.as_str()) {
                let mut steps = self.steps.clone();
                steps.push(key.clone());
                let elsewhere = || keys::ALL.iter().find(|k| k.known.contains(&key.as_str()));
                let hint = match (keys::nearest(key, keys.known.iter().copied()), elsewhere()) {
                    (Some(near), _) => format!("did you mean \"{near}\"?"),
                    (None, Some(other)) => format!("\"{key}\" is a key of \"{}\", not of this object", other.object),
                    (None, None) => {
                        format!("known keys here: {}; \"notes\" holds what you like", keys.known.join(", "))
                    }
                };
                return Err(self.document.error(&steps, true, format!("unknown key \"{key}\""), hint));
            }
        }
        Ok(object)
    }

    /// An object whose keys are the user's names.
    ///
    /// # Errors
    /// For another kind of value.
    pub fn any_object(&self, wanted: &str) -> Read<Object<'d>> {
        match self.value {
            Value::Object(members) => Ok(Object { node: self.clone(), members }),
            _ => Err(self.wrong_kind(wanted, "write { … } here")),
        }
    }

    /// The elements of an array.
    ///
    /// # Errors
    /// For another kind of value.
    pub fn array(&self, of: &str) -> Read<Vec<Node<'d>>> {
        match self.value {
            Value::Array(list) => Ok(list.iter().enumerate().map(|(n, v)| self.step(n.to_string(), v)).collect()),
            _ => Err(self.wrong_kind(&format!("an array of {of}"), "write [ … ] here")),
        }
    }

    /// A number; `what` says which, with its unit, for the error.
    ///
    /// # Errors
    /// For another kind of value.
    pub fn number(&self, what: &str) -> Read<f64> {
        self.value.as_f64().filter(|x| x.is_finite()).ok_or_else(|| {
            let hint = if self.value.is_string() { "leave out the quotation marks" } else { "write a number here" };
            self.wrong_kind(what, hint)
        })
    }

    /// A number over zero.
    ///
    /// # Errors
    /// For another kind of value, zero and less.
    pub fn positive(&self, what: &str) -> Read<f64> {
        let x = self.number(what)?;
        if x > 0.0 {
            Ok(x)
        } else {
            Err(self.error(format!("must be {what} over zero, not {x}"), "give a size over zero"))
        }
    }

    /// A whole number in a range.
    ///
    /// # Errors
    /// For another kind of value and outside the range.
    pub fn whole(&self, low: u64, high: u64) -> Read<u64> {
        // 12.0 is as whole as 12.
        let x = self.value.as_f64().filter(|x| x.fract() == 0.0 && *x >= low as f64 && *x <= high as f64);
        x.map(|x| x as u64).ok_or_else(|| {
            self.wrong_kind(&format!("a whole number from {low} to {high}"), "write a whole number in this range")
        })
    }

    /// A text.
    ///
    /// # Errors
    /// For another kind of value.
    pub fn text(&self, what: &str) -> Read<&'d str> {
        self.value.as_str().ok_or_else(|| self.wrong_kind(what, "write a text in double quotes"))
    }

    /// One of several words.
    ///
    /// # Errors
    /// For anything else, with the nearest of the words.
    pub fn word(&self, words: &[&str]) -> Read<&'d str> {
        let list = words.iter().map(|w| format!("\"{w}\"")).collect::<Vec<_>>().join(", ");
        match self.value.as_str() {
            Some(word) if words.contains(&word) => Ok(word),
            Some(word) => {
                let hint = match keys::nearest(word, words.iter().copied()) {
                    Some(near) => format!("did you mean \"{near}\"?"),
                    None => format!("write one of {list}"),
                };
                Err(self.error(format!("\"{word}\" is not known here; must be one of {list}"), hint))
            }
            None => Err(self.wrong_kind(&format!("one of {list}"), format!("write one of {list}"))),
        }
    }
}

impl<'d> Object<'d> {
    /// The object as a value.
    pub fn node(&self) -> &Node<'d> {
        &self.node
    }

    /// A member, if it is there.
    pub fn get(&self, key: &str) -> Option<Node<'d>> {
        self.members.get(key).map(|value| self.node.step(key, value))
    }

    /// A member that must be there.
    ///
    /// # Errors
    /// When it is missing; the hint shows how to write it.
    pub fn need(&self, key: &str, hint: &str) -> Read<Node<'d>> {
        self.get(key).ok_or_else(|| self.node.error(format!("\"{key}\" is missing"), hint))
    }

    /// All members but those that mean nothing.
    pub fn members(&self) -> impl Iterator<Item = (&'d str, Node<'d>)> + '_ {
        self.members
            .iter()
            .filter(|(key, _)| !FREE_KEYS.contains(&key.as_str()))
            .map(|(key, value)| (key.as_str(), self.node.step(key.as_str(), value)))
    }
}
