//! One JSON file: its text, its hash, its value, and where in the text a JSON Pointer lies.
//!
//! In: a path. Out: the value with keys in the order written. A key written twice in one object is an error, because
//! the standard reader would silently keep the last one.

use super::error::InputError;
use serde::de::{self, Deserialize, Deserializer, MapAccess, SeqAccess, Visitor};
use serde_json::{Map, Value};
use sha2::{Digest, Sha256};
use std::fmt;
use std::fs::File;
use std::io::Read;
use std::path::{Path, PathBuf};

/// Most bytes of a file of text. Its values take up to twenty times as much memory.
pub const LARGEST_TEXT: u64 = 64 << 20;

/// Most bytes of a stream. Its cells take up to five times as much memory.
pub const LARGEST_STREAM: u64 = 256 << 20;

/// A file as read.
#[derive(Clone, Debug)]
pub struct Source {
    /// Where it was read from, as the user or the naming file wrote it.
    pub path: PathBuf,
    /// SHA-256 of its bytes, hexadecimal.
    pub sha256: String,
    /// Its text.
    pub text: String,
}

/// SHA-256 of bytes, hexadecimal.
pub fn sha256(bytes: &[u8]) -> String {
    Sha256::digest(bytes).iter().map(|b| format!("{b:02x}")).collect()
}

/// Opens a regular file. Anything else (a folder, a pipe, a device, a socket) may block or never end, and is an error of
/// kind `InvalidInput`.
///
/// # Errors
/// Of the system, and for what is no regular file.
pub fn open_regular(path: &Path) -> std::io::Result<File> {
    // Asked before it is opened: to open a pipe waits until somebody writes.
    let kind = std::fs::metadata(path)?.file_type();
    if kind.is_file() {
        return File::open(path);
    }
    let what = if kind.is_dir() { "it is a folder" } else { "it is a pipe, a device or a socket" };
    Err(std::io::Error::new(std::io::ErrorKind::InvalidInput, format!("{what}, not a file")))
}

/// Reads a whole input file of at most `largest` bytes.
///
/// # Errors
/// An [`InputError`] naming the file, also for what is no regular file.
pub fn read_bytes(path: &Path, largest: u64) -> Result<Vec<u8>, InputError> {
    let refuse = |e: &std::io::Error| {
        let hint = match e.kind() {
            std::io::ErrorKind::NotFound => "check the path; paths inside a file are relative to that file",
            std::io::ErrorKind::PermissionDenied => "make the file readable",
            std::io::ErrorKind::InvalidInput => "save the input as a file and give its path",
            _ => "give the path of a readable file",
        };
        InputError::of_file(path, format!("cannot be read: {e}"), hint)
    };
    let too_large = || {
        let what = format!("is larger than {} MiB", largest >> 20);
        InputError::of_file(path, what, "give a layout of this size as GDSII with a cell hierarchy")
    };
    let file = open_regular(path).map_err(|e| refuse(&e))?;
    if file.metadata().map_err(|e| refuse(&e))?.len() > largest {
        return Err(too_large());
    }
    let mut bytes = Vec::new();
    // It may grow while it is read, and some files do not tell their size.
    file.take(largest + 1).read_to_end(&mut bytes).map_err(|e| refuse(&e))?;
    if bytes.len() as u64 > largest { Err(too_large()) } else { Ok(bytes) }
}

impl Source {
    /// Takes the bytes of a file; they must be UTF-8.
    ///
    /// # Errors
    /// An [`InputError`] with the line and column of the first byte that is not UTF-8.
    pub fn new(path: &Path, bytes: Vec<u8>) -> Result<Self, InputError> {
        let sha256 = sha256(&bytes);
        let text = String::from_utf8(bytes).map_err(|e| {
            let good = e.utf8_error().valid_up_to();
            let head = String::from_utf8_lossy(e.as_bytes().get(..good).unwrap_or_default()).into_owned();
            let mut error = InputError::of_file(path, "is not UTF-8 text", "save the file as UTF-8");
            error.line_column = Some(line_column(&head, head.len()));
            error
        })?;
        // A byte order mark is legal at the start of UTF-8 text and no part of the JSON.
        let text = text.strip_prefix('\u{feff}').map(str::to_owned).unwrap_or(text);
        Ok(Self { path: path.to_owned(), sha256, text })
    }

    /// The value written in the text.
    ///
    /// # Errors
    /// An [`InputError`] with line and column for text that is not JSON or that repeats a key.
    pub fn value(&self) -> Result<Value, InputError> {
        let Strict(value) = serde_json::from_str(&self.text).map_err(|e| {
            // The parser counts columns in bytes and appends the place to its message; both are undone here.
            let text = e.to_string();
            let what = text.split(" at line ").next().unwrap_or(&text).to_owned();
            let line = e.line().max(1);
            let start: usize = self.text.split_inclusive('\n').take(line - 1).map(str::len).sum();
            let hint = if what.starts_with("the key") {
                "keep one of the two"
            } else if what.starts_with("EOF") {
                "the text ends early: close every bracket and quote"
            } else {
                "mend the JSON here: no comments, no comma after the last element, double quotes around keys"
            };
            let mut error = InputError::of_file(&self.path, what.replacen("EOF", "the file ends", 1), hint);
            error.line_column = Some(line_column(&self.text, start + e.column().saturating_sub(1)));
            error
        })?;
        Ok(value)
    }

    /// Line and column of the value at a pointer's steps, or of the key itself when `key` is set.
    pub fn place(&self, steps: &[String], key: bool) -> Option<[usize; 2]> {
        let mut scan = Scan { bytes: self.text.as_bytes(), at: 0 };
        scan.space();
        let mut place = scan.at;
        for (n, step) in steps.iter().enumerate() {
            let named = scan.enter(step)?;
            place = if key && n + 1 == steps.len() { named } else { scan.at };
        }
        Some(line_column(&self.text, place))
    }
}

/// Line and column (characters), from 1, of a byte offset.
fn line_column(text: &str, offset: usize) -> [usize; 2] {
    let mut end = offset.min(text.len());
    while !text.is_char_boundary(end) {
        end -= 1;
    }
    let head = &text[..end];
    let line_start = head.rfind('\n').map_or(0, |n| n + 1);
    [head.matches('\n').count() + 1, head[line_start..].chars().count() + 1]
}

/// A walk over text that is known to be valid JSON.
struct Scan<'t> {
    bytes: &'t [u8],
    at: usize,
}

impl Scan<'_> {
    fn peek(&self) -> Option<u8> {
        self.bytes.get(self.at).copied()
    }

    fn space(&mut self) {
        while self.peek().is_some_and(|b| b.is_ascii_whitespace()) {
            self.at += 1;
        }
    }

    /// Past the closing quote of the string that starts here.
    fn string(&mut self) {
        self.at += 1;
        while let Some(b) = self.peek() {
            self.at += if b == b'\\' { 2 } else { 1 };
            if b == b'"' {
                return;
            }
        }
    }

    /// Past the value that starts here and the comma behind it.
    fn skip(&mut self) {
        let mut depth = 0_usize;
        while let Some(b) = self.peek() {
            match b {
                b'"' => {
                    self.string();
                    continue;
                }
                b'{' | b'[' => depth += 1,
                b'}' | b']' if depth == 0 => return,
                b'}' | b']' => depth -= 1,
                b',' if depth == 0 => {
                    self.at += 1;
                    return;
                }
                _ => {}
            }
            self.at += 1;
        }
    }

    /// Steps into the member or element `step` of the value that starts here; gives the offset of its key (of the
    /// element itself in an array).
    fn enter(&mut self, step: &str) -> Option<usize> {
        match self.peek()? {
            b'{' => {
                self.at += 1;
                loop {
                    self.space();
                    if self.peek()? != b'"' {
                        return None;
                    }
                    let start = self.at;
                    self.string();
                    let key: String = serde_json::from_slice(self.bytes.get(start..self.at)?).ok()?;
                    self.space();
                    self.at += 1; // the colon
                    self.space();
                    if key == step {
                        return Some(start);
                    }
                    self.skip();
                }
            }
            b'[' => {
                self.at += 1;
                for _ in 0..step.parse::<usize>().ok()? {
                    self.space();
                    self.skip();
                }
                self.space();
                Some(self.at)
            }
            _ => None,
        }
    }
}

/// A JSON value whose objects name every key once.
struct Strict(Value);

impl<'de> Deserialize<'de> for Strict {
    fn deserialize<D: Deserializer<'de>>(deserializer: D) -> Result<Self, D::Error> {
        deserializer.deserialize_any(StrictVisitor).map(Self)
    }
}

struct StrictVisitor;

impl<'de> Visitor<'de> for StrictVisitor {
    type Value = Value;

    fn expecting(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str("a JSON value")
    }

    fn visit_bool<E: de::Error>(self, v: bool) -> Result<Value, E> {
        Ok(v.into())
    }

    fn visit_i64<E: de::Error>(self, v: i64) -> Result<Value, E> {
        Ok(v.into())
    }

    fn visit_u64<E: de::Error>(self, v: u64) -> Result<Value, E> {
        Ok(v.into())
    }

    fn visit_f64<E: de::Error>(self, v: f64) -> Result<Value, E> {
        Ok(v.into())
    }

    fn visit_str<E: de::Error>(self, v: &str) -> Result<Value, E> {
        Ok(v.into())
    }

    fn visit_unit<E: de::Error>(self) -> Result<Value, E> {
        Ok(Value::Null)
    }

    fn visit_seq<A: SeqAccess<'de>>(self, mut seq: A) -> Result<Value, A::Error> {
        let mut elements = Vec::new();
        while let Some(Strict(element)) = seq.next_element()? {
            elements.push(element);
        }
        Ok(Value::Array(elements))
    }

    fn visit_map<A: MapAccess<'de>>(self, mut map: A) -> Result<Value, A::Error> {
        let mut members = Map::new();
        while let Some(key) = map.next_key::<String>()? {
            if members.contains_key(&key) {
                return Err(de::Error::custom(format!("the key \"{key}\" is written twice in one object")));
            }
            let Strict(value) = map.next_value()?;
            members.insert(key, value);
        }
        Ok(Value::Object(members))
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn source(text: &str) -> Source {
        Source::new(Path::new("d.json"), text.as_bytes().to_vec()).unwrap()
    }

    #[test]
    fn a_pointer_is_found_in_the_text() {
        let s = source("{\n  \"a\": {\"x\\\"[\": 1, \"b\": [10, {\"c\": \"],}\"}, [3, 4]]}\n}");
        let steps = |list: &[&str]| list.iter().map(|s| (*s).to_owned()).collect::<Vec<_>>();
        assert_eq!(s.place(&[], false), Some([1, 1]));
        assert_eq!(s.place(&steps(&["a"]), true), Some([2, 3]));
        assert_eq!(s.place(&steps(&["a", "x\"["]), false), Some([2, 17]));
        assert_eq!(s.place(&steps(&["a", "b", "0"]), false), Some([2, 26]));
        assert_eq!(s.place(&steps(&["a", "b", "1", "c"]), false), Some([2, 36]));
        assert_eq!(s.place(&steps(&["a", "b", "2", "1"]), false), Some([2, 48]));
        assert_eq!(s.place(&steps(&["a", "z"]), false), None);
    }

    #[test]
    fn syntax_errors_carry_line_and_column() {
        let e = source("{\n  \"µµ\": 1,,\n}").value().unwrap_err();
        assert_eq!(e.line_column, Some([2, 11]), "{e}");
        let e = source("{\"a\": 1, \"b\": {\"c\": 1,\n \"c\": 2}}").value().unwrap_err();
        assert!(e.what.contains("\"c\" is written twice"), "{e}");
        assert_eq!(e.line_column.unwrap()[0], 2);
        let e = source("{\"a\": [1, 2").value().unwrap_err();
        assert!(e.what.contains("ends"), "{e}");
        let e = Source::new(Path::new("d.json"), b"{\n\"\xff\": 1}".to_vec()).unwrap_err();
        assert_eq!(e.line_column, Some([2, 2]));
    }

    #[test]
    fn deep_nesting_is_an_error() {
        assert!(source(&"[".repeat(100_000)).value().is_err());
    }

    #[test]
    fn the_hash_is_sha256() {
        // FIPS 180-4 example: the hash of "abc".
        assert_eq!(sha256(b"abc"), "ba7816bf8f01cfea414140de5dae2223b00361a396177a9cb410ff61f20015ad");
    }
}
