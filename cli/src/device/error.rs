//! What is wrong with an input, where, and what to do: the one error of everything a user wrote.

use std::fmt;
use std::path::PathBuf;

/// A fault in an input file, with its place and the way out. Shown as `file:line:column: /json/pointer: what is wrong`;
/// the hint is kept apart so that the terminal shows it on a line of its own.
#[derive(Clone, Debug, PartialEq, Eq, thiserror::Error)]
pub struct InputError {
    /// The file that holds the fault.
    pub file: PathBuf,
    /// Line and column, both from 1, columns in characters; absent where no single place is at fault.
    pub line_column: Option<[usize; 2]>,
    /// JSON Pointer (RFC 6901) of the value at fault, empty for the whole document.
    pub pointer: String,
    /// What is wrong.
    pub what: String,
    /// What to do.
    pub hint: String,
}

impl InputError {
    /// A fault of a whole file.
    pub fn of_file(file: impl Into<PathBuf>, what: impl Into<String>, hint: impl Into<String>) -> Self {
        Self { file: file.into(), line_column: None, pointer: String::new(), what: what.into(), hint: hint.into() }
    }
}

impl fmt::Display for InputError {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(f, "{}", self.file.display())?;
        if let Some([line, column]) = self.line_column {
            write!(f, ":{line}:{column}")?;
        }
        if !self.pointer.is_empty() {
            write!(f, ": {}", self.pointer)?;
        }
        write!(f, ": {}", self.what)
    }
}
