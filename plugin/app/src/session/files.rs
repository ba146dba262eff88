//! Reading and writing score files on disk.
//!
//! A file that someone else wrote is never overwritten unasked.

use std::fs;
use std::io::{self, Read};
use std::path::{Path, PathBuf};

use crate::save::{self, Overwrite};
use crate::score::MAX_FILE_BYTES;

/// Ending of score files.
pub const ENDING: &str = "barform";

/// Endings of files that can be opened: scores, and what is read into one.
pub const OPENS: [&str; 6] = [ENDING, "mid", "midi", "musicxml", "mxl", "xml"];

/// Why a file was not written.
#[derive(Debug)]
pub enum SaveError {
    /// There is a file of that name that was not opened or saved here, or it
    /// has changed since.
    Occupied,
    /// The system refused.
    Io(io::Error),
}

/// The score file as it was last seen on disk.
#[derive(Debug, Clone, Default)]
pub struct SavedFile(Option<(PathBuf, String)>);

impl SavedFile {
    /// Reads a score.
    ///
    /// # Errors
    /// A message for the user.
    pub fn open(&mut self, path: &Path) -> Result<String, String> {
        let text =
            read(path).map_err(|error| format!("{} was not read: {error}.", path.display()))?;
        self.0 = Some((path.to_owned(), text.clone()));
        Ok(text)
    }

    /// Writes a score. With `overwrite` whatever is there gives way.
    ///
    /// # Errors
    /// See [`SaveError`].
    pub fn save(&mut self, path: &Path, text: &str, overwrite: bool) -> Result<(), SaveError> {
        let there = path.try_exists().map_err(SaveError::Io)?;
        if there && !overwrite {
            let ours = self.0.as_ref().filter(|(known, _)| known == path);
            let on_disk = read(path).ok();
            let same = |other: &str| on_disk.as_deref() == Some(other);
            if !ours.is_some_and(|(_, seen)| same(seen)) && !same(text) {
                return Err(SaveError::Occupied);
            }
        }
        let overwrite = Overwrite::if_asked(overwrite || there);
        save::write(path, text.as_bytes(), overwrite).map_err(|error| match error.kind() {
            io::ErrorKind::AlreadyExists => SaveError::Occupied,
            _ => SaveError::Io(error),
        })?;
        self.0 = Some((path.to_owned(), text.to_owned()));
        Ok(())
    }

    /// Whether `text` is what was last read from or written to `path`.
    pub fn is_saved(&self, path: &str, text: &str) -> bool {
        self.0
            .as_ref()
            .is_some_and(|(known, seen)| known == Path::new(path) && seen == text)
    }
}

/// Why something cannot be read as the text of a score.
#[derive(Debug, thiserror::Error)]
pub enum TextError {
    /// The system refused.
    #[error(transparent)]
    Io(#[from] io::Error),
    /// It is too large.
    #[error("it is larger than the {MAX_FILE_BYTES} bytes a score may have")]
    TooLarge,
    /// It is not UTF-8.
    #[error("it is not a text file: line {line} is not UTF-8")]
    NotText {
        /// The first line that is not, from 1.
        line: usize,
    },
}

/// Reads the text of a score, no further than a score may be long.
///
/// # Errors
/// See [`TextError`].
pub fn read_text(from: impl Read) -> Result<String, TextError> {
    // One byte more than allowed is enough to see that there is too much.
    let mut bytes = Vec::new();
    from.take(MAX_FILE_BYTES as u64 + 1)
        .read_to_end(&mut bytes)?;
    if bytes.len() > MAX_FILE_BYTES {
        return Err(TextError::TooLarge);
    }
    String::from_utf8(bytes).map_err(|error| {
        let valid = &error.as_bytes()[..error.utf8_error().valid_up_to()];
        let line = 1 + valid.iter().filter(|byte| **byte == b'\n').count();
        TextError::NotText { line }
    })
}

fn read(path: &Path) -> Result<String, TextError> {
    read_text(fs::File::open(path)?)
}

/// Whether a score's text has comments, which a score written anew has not.
pub fn has_comments(text: &str) -> bool {
    let signs = |text: &str| text.matches('#').count();
    // What the file says, without its comments.
    let said = toml_edit::de::from_str::<serde_json::Value>(text);
    said.is_ok_and(|said| signs(text) > signs(&said.to_string()))
}

/// A folder's folders and the files with one of `endings`, each in order of name.
pub fn list(folder: &Path, endings: &[&str]) -> io::Result<(Vec<String>, Vec<String>)> {
    let (mut folders, mut scores) = (Vec::new(), Vec::new());
    for entry in fs::read_dir(folder)? {
        let Ok(entry) = entry else { continue };
        let Ok(name) = entry.file_name().into_string() else {
            continue;
        };
        if name.starts_with('.') {
            continue;
        }
        if entry.path().is_dir() {
            folders.push(name);
        } else if has_ending(Path::new(&name), endings) {
            scores.push(name);
        }
    }
    folders.sort_by_key(|name| name.to_lowercase());
    scores.sort_by_key(|name| name.to_lowercase());
    Ok((folders, scores))
}

/// Whether a file's name ends in one of `endings`.
pub fn has_ending(path: &Path, endings: &[&str]) -> bool {
    let ending = path.extension();
    ending.is_some_and(|ending| endings.iter().any(|e| ending.eq_ignore_ascii_case(e)))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn what_is_saved_is_read_back_and_nothing_else_is_left_in_the_folder() {
        let folder = tempfile::tempdir().unwrap();
        let path = folder.path().join("a.barform");
        let mut saved = SavedFile::default();
        saved.save(&path, "one", false).unwrap();
        saved.save(&path, "two", false).unwrap();
        assert_eq!(SavedFile::default().open(&path).unwrap(), "two");
        assert_eq!(fs::read_dir(folder.path()).unwrap().count(), 1);
    }

    #[test]
    fn a_file_written_by_someone_else_is_not_overwritten_unasked() {
        let folder = tempfile::tempdir().unwrap();
        let path = folder.path().join("a.barform");
        let mut saved = SavedFile::default();
        fs::write(&path, "theirs").unwrap();
        assert!(matches!(
            saved.save(&path, "ours", false),
            Err(SaveError::Occupied)
        ));
        assert_eq!(fs::read_to_string(&path).unwrap(), "theirs");
        saved.save(&path, "ours", true).unwrap();

        fs::write(&path, "theirs again").unwrap();
        assert!(matches!(
            saved.save(&path, "ours, later", false),
            Err(SaveError::Occupied)
        ));
        assert_eq!(fs::read_to_string(&path).unwrap(), "theirs again");
    }

    #[cfg(unix)]
    #[test]
    fn a_link_stays_a_link_when_its_file_is_saved() {
        let folder = tempfile::tempdir().unwrap();
        let (file, link) = (folder.path().join("a"), folder.path().join("a.barform"));
        fs::write(&file, "one").unwrap();
        std::os::unix::fs::symlink("a", &link).unwrap();
        let mut saved = SavedFile::default();
        saved.open(&link).unwrap();
        saved.save(&link, "two", false).unwrap();
        assert!(fs::symlink_metadata(&link).unwrap().is_symlink());
        assert_eq!(fs::read_to_string(&file).unwrap(), "two");
    }

    #[test]
    fn a_sign_in_a_string_or_a_name_is_no_comment() {
        for (text, has) in [
            ("title = \"No. #1\"\n[voicing.\"a#b\"]\n", false),
            ("title = \'#\' # slow\n", true),
            ("# at the head\n", true),
            ("title = [\n  \"#\", # inside\n]\n", true),
            ("", false),
        ] {
            assert_eq!(has_comments(text), has, "{text}");
        }
    }

    #[test]
    fn a_file_that_is_too_large_is_refused() {
        let folder = tempfile::tempdir().unwrap();
        let path = folder.path().join("a.barform");
        fs::write(&path, vec![b'#'; MAX_FILE_BYTES + 1]).unwrap();
        assert!(
            SavedFile::default()
                .open(&path)
                .unwrap_err()
                .contains("larger")
        );
    }

    #[test]
    fn only_folders_and_scores_are_listed() {
        let folder = tempfile::tempdir().unwrap();
        for name in ["b.barform", "A.barform", "notes.txt", ".hidden.barform"] {
            fs::write(folder.path().join(name), "").unwrap();
        }
        fs::create_dir(folder.path().join("more")).unwrap();
        let (folders, scores) = list(folder.path(), &[ENDING]).unwrap();
        assert_eq!(folders, ["more"]);
        assert_eq!(scores, ["A.barform", "b.barform"]);
    }
}
