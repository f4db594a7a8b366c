//! The journal of a batch: every finished point is one line of JSON with a checksum, on disk before the next is counted. Killed at any instant,
//! the file holds whole lines and at most one torn one at its end, which is dropped when it is opened again. One process at a
//! time holds the lock of a journal; each part of a batch has its own.

use super::sealed::{seal, unseal};
use super::shard::Shard;
use crate::device::source::open_regular;
use crate::exit::CommandError;
use crate::output::variants::track::Track;
use fs4::{FileExt, TryLockError};
use serde::{Deserialize, Serialize};
use std::collections::BTreeMap;
use std::fs::{File, OpenOptions};
use std::io::{Read as _, Seek as _, SeekFrom, Write as _};
use std::path::{Path, PathBuf};

/// What came of one point.
#[derive(Clone, Debug, Deserialize, PartialEq, Serialize)]
pub struct Line {
    /// Its number, from 1.
    pub point: usize,
    /// The kept results in the order of the plan; `None` where there is none.
    pub kept: Vec<Option<f64>>,
    /// The modes of the device as drawn, found again; empty where modes were not compared.
    pub modes: Vec<Option<Track>>,
    /// Whether its outline had to be meshed anew.
    pub meshed_anew: bool,
    /// Why something is missing; empty where nothing is.
    pub error: String,
    /// Seconds it took.
    pub seconds: f64,
}

impl Line {
    /// Whether two lines say the same but for the time it took.
    fn says_the_same(&self, other: &Self) -> bool {
        Self { seconds: 0.0, ..self.clone() } == Self { seconds: 0.0, ..other.clone() }
    }
}

/// A journal open for appending, and locked.
#[derive(Debug)]
pub struct Journal {
    path: PathBuf,
    file: File,
}

/// Lines of all journals by point, from 1.
pub type Lines = BTreeMap<usize, Line>;

fn name(shard: Shard) -> String {
    format!("journal-{}-of-{}.jsonl", shard.part, shard.of)
}

impl Journal {
    /// Opens the journal of a part, takes its lock, and drops a torn last line.
    ///
    /// # Errors
    /// When another process holds the lock, or the file cannot be written.
    pub fn open(folder: &Path, shard: Shard) -> Result<Self, CommandError> {
        let path = folder.join(name(shard));
        let wrong = |e: &std::io::Error| CommandError::writing(&path, e);
        let mut file = OpenOptions::new()
            .read(true)
            .write(true)
            .create(true)
            .truncate(false)
            .open(&path)
            .map_err(|e| wrong(&e))?;
        match FileExt::try_lock(&file) {
            Ok(()) => {}
            Err(TryLockError::WouldBlock) => {
                let what = format!("{}: another process is at work on it", path.display());
                let hint = "wait until it ends, or give another folder or another part with --shard".into();
                return Err(CommandError::Other { what, hint });
            }
            Err(TryLockError::Error(e)) => return Err(wrong(&e)),
        }
        let mut bytes = Vec::new();
        file.read_to_end(&mut bytes).map_err(|e| wrong(&e))?;
        let whole = bytes.iter().rposition(|&b| b == b'\n').map_or(0, |n| n + 1) as u64;
        if whole < bytes.len() as u64 {
            file.set_len(whole).and_then(|()| file.sync_data()).map_err(|e| wrong(&e))?;
        }
        file.seek(SeekFrom::Start(whole)).map_err(|e| wrong(&e))?;
        // The file's name must last as its lines do.
        sync_folder(folder)?;
        Ok(Self { path, file })
    }

    /// Appends a line; it is on disk when this returns.
    ///
    /// # Errors
    /// When it cannot be written.
    pub fn append(&mut self, line: &Line) -> Result<(), CommandError> {
        let wrong = |e: std::io::Error| CommandError::writing(&self.path, &e);
        let text = seal(&serde_json::to_string(line).map_err(|e| wrong(e.into()))?) + "\n";
        self.file.write_all(text.as_bytes()).map_err(wrong)?;
        self.file.sync_data().map_err(wrong)
    }
}

/// Makes the names in a folder last, where the system has that.
///
/// # Errors
/// When the folder cannot be opened.
pub fn sync_folder(folder: &Path) -> Result<(), CommandError> {
    if cfg!(unix) {
        File::open(folder).and_then(|f| f.sync_all()).map_err(|e| CommandError::writing(folder, &e))?;
    }
    Ok(())
}

/// Reads all journals of a folder. A torn last line, or one that another process is writing, is not seen; points that two parts
/// have both done are the same in both.
///
/// # Errors
/// When a file cannot be read, a whole line is not what was written, or two lines of one point differ.
pub fn read_all(folder: &Path, columns: usize, points: usize) -> Result<Lines, CommandError> {
    let mut lines = Lines::new();
    for path in journals(folder)? {
        let mut bytes = Vec::new();
        let read = open_regular(&path).and_then(|mut file| file.read_to_end(&mut bytes));
        read.map_err(|e| unreadable(&path, &e))?;
        let whole = bytes.iter().rposition(|&b| b == b'\n').map_or(0, |n| n + 1);
        for (n, text) in bytes[..whole].split(|&b| b == b'\n').enumerate().filter(|(_, t)| !t.is_empty()) {
            let damaged = |what: &str| CommandError::Other {
                what: format!("{}:{}: the line {what}", path.display(), n + 1),
                hint: "take this line out, and its point is done again; or start in another folder".into(),
            };
            let line = parse(text).map_err(damaged)?;
            if !(1..=points).contains(&line.point) || line.kept.len() != columns {
                return Err(damaged("is of another plan"));
            }
            let first = lines.entry(line.point).or_insert_with(|| line.clone());
            if !first.says_the_same(&line) {
                return Err(damaged(&format!("says something else of point {} than a line before it", line.point)));
            }
        }
    }
    Ok(lines)
}

fn parse(text: &[u8]) -> Result<Line, &'static str> {
    let text = std::str::from_utf8(text).map_err(|_| "is no text")?;
    serde_json::from_str(&unseal(text)?).map_err(|_| "is not one of this version")
}

fn unreadable(path: &Path, e: &std::io::Error) -> CommandError {
    let what = format!("{}: cannot be read: {e}", path.display());
    CommandError::Other { what, hint: "make it readable, or start in another folder".into() }
}

/// Paths of all journals of a folder, sorted.
fn journals(folder: &Path) -> Result<Vec<PathBuf>, CommandError> {
    let mut paths = Vec::new();
    for entry in std::fs::read_dir(folder).map_err(|e| unreadable(folder, &e))? {
        let path = entry.map_err(|e| unreadable(folder, &e))?.path();
        let named = path.file_name().is_some_and(|n| n.to_string_lossy().starts_with("journal-"));
        if named && path.extension().is_some_and(|e| e == "jsonl") {
            paths.push(path);
        }
    }
    paths.sort();
    Ok(paths)
}

#[cfg(test)]
mod tests {
    use super::*;

    fn line(point: usize) -> Line {
        let modes = vec![Some(Track { index: 2, frequency_hz: 0.1 + point as f64, mac: 0.9 }), None];
        Line {
            point,
            kept: vec![Some(0.1 + point as f64), None],
            modes,
            meshed_anew: false,
            error: String::new(),
            seconds: 0.5,
        }
    }

    #[test]
    fn torn_lines_are_dropped_and_whole_ones_stay() {
        let home = tempfile::tempdir().unwrap();
        let path = home.path().join("journal-1-of-1.jsonl");
        let mut journal = Journal::open(home.path(), Shard::WHOLE).unwrap();
        journal.append(&line(1)).unwrap();
        journal.append(&line(2)).unwrap();
        drop(journal);
        let whole = std::fs::read(&path).unwrap();
        for cut in 0..whole.len() {
            std::fs::write(&path, &whole[..cut]).unwrap();
            let lines = read_all(home.path(), 2, 2).unwrap();
            let done = lines.len();
            assert_eq!(done, whole[..cut].iter().filter(|&&b| b == b'\n').count());
            let mut journal = Journal::open(home.path(), Shard::WHOLE).unwrap();
            (1..=2).filter(|p| !lines.contains_key(p)).for_each(|p| journal.append(&line(p)).unwrap());
            assert_eq!(std::fs::read(&path).unwrap(), whole);
        }
    }

    #[test]
    fn one_process_at_a_time() {
        let home = tempfile::tempdir().unwrap();
        let held = Journal::open(home.path(), Shard::WHOLE).unwrap();
        assert!(Journal::open(home.path(), Shard::WHOLE).unwrap_err().to_string().contains("another process"));
        assert!(Journal::open(home.path(), Shard { part: 1, of: 2 }).is_ok());
        drop(held);
        assert!(Journal::open(home.path(), Shard::WHOLE).is_ok());
    }

    /// An altered figure used to go into the results.
    #[test]
    fn an_altered_digit_is_told_with_file_and_line() {
        let home = tempfile::tempdir().unwrap();
        let mut journal = Journal::open(home.path(), Shard::WHOLE).unwrap();
        journal.append(&line(1)).unwrap();
        journal.append(&line(2)).unwrap();
        drop(journal);
        let path = home.path().join("journal-1-of-1.jsonl");
        let text = std::fs::read_to_string(&path).unwrap();
        let second = text.find('\n').unwrap() + 1;
        for (n, digit) in text.bytes().enumerate().filter(|(_, b)| b.is_ascii_digit()) {
            let mut altered = text.clone().into_bytes();
            altered[n] = if digit == b'9' { b'8' } else { digit + 1 };
            std::fs::write(&path, altered).unwrap();
            let error = read_all(home.path(), 2, 2).unwrap_err().to_string();
            let place = if n < second { "journal-1-of-1.jsonl:1: " } else { "journal-1-of-1.jsonl:2: " };
            assert!(error.contains(place), "byte {n}: {error}");
        }
        std::fs::write(&path, "{\"point\": 1\n{}\n").unwrap();
        assert!(read_all(home.path(), 2, 2).unwrap_err().to_string().contains(".jsonl:1: "));
    }

    #[test]
    fn two_parts_that_differ_about_a_point_are_told() {
        let home = tempfile::tempdir().unwrap();
        for (part, seconds, first) in [(1, 0.5, 1.0), (2, 0.7, 1.0), (3, 0.7, 1.5)] {
            let line = Line { seconds, kept: vec![Some(first), None], ..line(1) };
            Journal::open(home.path(), Shard { part, of: 3 }).unwrap().append(&line).unwrap();
            assert_eq!(read_all(home.path(), 2, 2).is_ok(), part < 3);
        }
    }
}
