//! How the program ends: the one place where faults become text, hint and exit code.

use crate::device::InputError;
use crate::output::printable::{printable, printable_json};
use std::io::{IsTerminal, Write};
use std::process::ExitCode;

/// Why a command stopped.
#[derive(Debug, thiserror::Error)]
pub enum CommandError {
    /// The input is wrong; nothing was written.
    #[error("{0}")]
    Input(#[from] Box<InputError>),
    /// The command line is wrong in a way that only the command itself can see; nothing was written.
    #[error("{what}")]
    Usage {
        /// What is wrong.
        what: String,
        /// What to do.
        hint: String,
    },
    /// A stated requirement is not met, and the user wanted to be stopped by that; everything was written.
    #[error("{what}")]
    Requirement {
        /// Which.
        what: String,
        /// What to do.
        hint: String,
    },
    /// The reader of stdout went away (a closed pipe); no fault of anyone.
    #[error("stdout was closed")]
    Closed,
    /// Anything else.
    #[error("{what}")]
    Other {
        /// What is wrong.
        what: String,
        /// What to do.
        hint: String,
    },
}

impl From<InputError> for CommandError {
    fn from(error: InputError) -> Self {
        Self::Input(Box::new(error))
    }
}

impl From<crate::output::OutputError> for CommandError {
    fn from(error: crate::output::OutputError) -> Self {
        Self::Other {
            what: error.to_string(),
            hint: "this is a fault of the program: please report the device file".into(),
        }
    }
}

impl CommandError {
    /// A file that could not be written.
    pub fn writing(path: &std::path::Path, error: &std::io::Error) -> Self {
        let what = format!("{}: cannot be written: {error}", path.display());
        Self::Other { what, hint: "check that the folder exists, has room and may be written to".into() }
    }

    /// Exit code: 0 done, 2 input or command line wrong, 3 a requirement is not met, 1 anything else.
    pub fn code(&self) -> u8 {
        match self {
            Self::Input(_) | Self::Usage { .. } => 2,
            Self::Requirement { .. } => 3,
            Self::Closed => 0,
            Self::Other { .. } => 1,
        }
    }

    fn hint(&self) -> &str {
        match self {
            Self::Input(e) => &e.hint,
            Self::Usage { hint, .. } | Self::Requirement { hint, .. } | Self::Other { hint, .. } => hint,
            Self::Closed => "",
        }
    }
}

/// Writes text to stdout, what would command a terminal written out; a closed pipe stops the command quietly.
///
/// # Errors
/// [`CommandError::Closed`] when nobody reads any more, [`CommandError::Other`] for a full disk and the like.
pub fn say(text: &str) -> Result<(), CommandError> {
    put(&printable(text))
}

/// Writes JSON to stdout as [`say`] does; what would command a terminal is written in JSON's own way.
///
/// # Errors
/// As of [`say`].
pub fn say_json(json: &str) -> Result<(), CommandError> {
    put(&printable_json(json))
}

fn put(text: &str) -> Result<(), CommandError> {
    let mut out = std::io::stdout().lock();
    out.write_all(text.as_bytes()).and_then(|()| out.flush()).map_err(|e| match e.kind() {
        std::io::ErrorKind::BrokenPipe => CommandError::Closed,
        _ => CommandError::writing(std::path::Path::new("stdout"), &e),
    })
}

/// A warning on stderr; one that cannot be written is dropped.
pub fn warn(text: &str) {
    tell_in("\x1b[33m", "warning", text);
}

/// Something worth knowing on stderr; what cannot be written is dropped.
pub fn tell(word: &str, text: &str) {
    tell_in("\x1b[36m", word, text);
}

fn tell_in(colour: &str, word: &str, text: &str) {
    let mut err = std::io::stderr().lock();
    let colours = err.is_terminal() && std::env::var_os("NO_COLOR").is_none_or(|v| v.is_empty());
    let (on, off) = if colours { (colour, "\x1b[0m") } else { ("", "") };
    // Nothing can be reported once stderr itself is gone.
    let _ = writeln!(err, "{on}{word}:{off} {}", printable(text));
}

/// Tells how a command ended and gives the exit code.
pub fn end(result: Result<(), CommandError>) -> ExitCode {
    let Err(error) = result else { return ExitCode::SUCCESS };
    if !matches!(error, CommandError::Closed) {
        tell_in("\x1b[31m", "error", &error.to_string());
        if !error.hint().is_empty() {
            tell("hint", error.hint());
        }
    }
    ExitCode::from(error.code())
}
