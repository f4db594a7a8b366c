//! Result folders: every file is written whole or not at all, beside its place first and then moved there.

use crate::exit::CommandError;
use crate::output::printable::printable;
use modalith_mesher::gdsii::overlay;
use modalith_mesher::outline::Outline;
use std::path::{Path, PathBuf};
use std::sync::Mutex;
use tempfile::TempDir;

/// Staged files of the sets under way, each with its folder where that was made for it.
static UNDER_WAY: Mutex<Vec<(PathBuf, Option<PathBuf>)>> = Mutex::new(Vec::new());

/// Takes away what is staged of the sets under way, and the folders that were made for them: for an end at which nothing is dropped.
pub fn abandon() {
    // Held by a thread that will not go on: then what is staged stays behind, under a name that says so.
    let Ok(mut under_way) = UNDER_WAY.try_lock() else { return };
    for (staged, made) in under_way.drain(..) {
        clear(&staged, made.as_deref());
    }
}

/// Takes staged files away and, if it is empty then, the folder that was made for them. Nobody can be told of a failure any more,
/// and it leaves an empty folder at worst.
fn clear(staged: &Path, made: Option<&Path>) {
    let _ = std::fs::remove_dir_all(staged);
    if let Some(target) = made {
        let _ = std::fs::remove_dir(target);
    }
}

/// Refuses a result folder that cannot be one, before any work is done; writes nothing.
///
/// # Errors
/// When the path is a file, or lies below one.
pub fn check(folder: &Path) -> Result<(), CommandError> {
    let refuse = |what: String| CommandError::Usage {
        what,
        hint: "give the path of a folder; it is made if it is not there".into(),
    };
    if folder.as_os_str().is_empty() {
        return Err(refuse("the result folder has no name".into()));
    }
    match folder.ancestors().find(|p| !p.as_os_str().is_empty() && std::fs::symlink_metadata(p).is_ok()) {
        Some(there) if !there.is_dir() => {
            Err(refuse(format!("{}: is not a folder, so no results can be written there", there.display())))
        }
        _ => Ok(()),
    }
}

/// Writes `flexures.gds`, to be laid over the mask, where the outline has flexures or fingers.
///
/// # Errors
/// When it cannot be written.
pub fn write_flexures(folder: &mut Folder, outline: &Outline) -> Result<(), CommandError> {
    if outline.flexures.is_empty() && outline.fingers.is_empty() {
        return Ok(());
    }
    folder.write("flexures.gds", &overlay(outline))
}

/// A set of files on their way into a folder.
#[derive(Debug)]
pub struct Folder {
    target: PathBuf,
    staged: TempDir,
    files: Vec<String>,
    made: bool,
}

impl Folder {
    /// Opens a folder for writing, making it if it is not there.
    ///
    /// # Errors
    /// When it cannot be made or written to.
    pub fn open(target: &Path) -> Result<Self, CommandError> {
        check(target)?;
        let made = !target.exists();
        std::fs::create_dir_all(target).map_err(|e| CommandError::writing(target, &e))?;
        // Inside the target, so that moving a file is a rename on one file system.
        let staged = tempfile::Builder::new()
            .prefix(".unfinished-")
            .tempdir_in(target)
            .map_err(|e| CommandError::writing(target, &e))?;
        if let Ok(mut under_way) = UNDER_WAY.lock() {
            under_way.push((staged.path().to_owned(), made.then(|| target.to_owned())));
        }
        Ok(Self { target: target.to_owned(), staged, files: Vec::new(), made })
    }

    /// Writes one file of the set.
    ///
    /// # Errors
    /// When it cannot be written; nothing of the set is in the folder then.
    pub fn write(&mut self, name: &str, bytes: &[u8]) -> Result<(), CommandError> {
        if name.ends_with(".txt")
            && let Ok(text) = std::str::from_utf8(bytes)
        {
            // Made to be shown by a terminal.
            let text = printable(text);
            return std::fs::write(self.path(name), text.as_bytes())
                .map_err(|e| CommandError::writing(&self.target.join(name), &e));
        }
        std::fs::write(self.path(name), bytes).map_err(|e| CommandError::writing(&self.target.join(name), &e))
    }

    /// Where to write one file of the set until [`Self::finish`] moves it.
    pub fn path(&mut self, name: &str) -> PathBuf {
        self.files.push(name.to_owned());
        self.staged.path().join(name)
    }

    /// Moves all files to their place; gives their names.
    ///
    /// # Errors
    /// When one cannot be moved.
    pub fn finish(mut self) -> Result<Vec<String>, CommandError> {
        for name in &self.files {
            let place = self.target.join(name);
            std::fs::rename(self.staged.path().join(name), &place).map_err(|e| CommandError::writing(&place, &e))?;
            self.made = false;
        }
        Ok(std::mem::take(&mut self.files))
    }
}

impl Drop for Folder {
    fn drop(&mut self) {
        if let Ok(mut under_way) = UNDER_WAY.lock() {
            under_way.retain(|(staged, _)| staged != self.staged.path());
        }
        if self.made {
            clear(self.staged.path(), Some(&self.target));
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn files_appear_together_or_not_at_all() {
        let home = tempfile::tempdir().unwrap();
        let target = home.path().join("a/b");
        let mut folder = Folder::open(&target).unwrap();
        folder.write("x.txt", b"1").unwrap();
        assert!(!target.join("x.txt").exists());
        drop(folder);
        assert!(!target.exists());
        let mut folder = Folder::open(&target).unwrap();
        folder.write("x.txt", b"1").unwrap();
        folder.write("y.txt", b"2").unwrap();
        assert_eq!(folder.finish().unwrap(), ["x.txt", "y.txt"]);
        let mut names: Vec<_> = std::fs::read_dir(&target).unwrap().map(|e| e.unwrap().file_name()).collect();
        names.sort();
        assert_eq!(names, ["x.txt", "y.txt"]);
    }

    #[test]
    fn a_file_is_no_folder() {
        let home = tempfile::tempdir().unwrap();
        let file = home.path().join("f");
        std::fs::write(&file, b"").unwrap();
        assert!(matches!(check(&file), Err(CommandError::Usage { .. })));
        assert!(matches!(check(&file.join("deeper")), Err(CommandError::Usage { .. })));
        assert!(check(&home.path().join("new/deeper")).is_ok());
    }
}
