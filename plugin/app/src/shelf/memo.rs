//! A small document that the editor remembers things in: TOML with a version.
//!
//! A file that cannot be read is no reason to lose it: before a new one is
//! written it is set aside under another name. One of a newer version is left
//! alone.

use super::disk::Disk;
use super::error::ShelfError;
use super::folder::{read_text, turn};
use super::names::free_name;
use crate::score::Place;
use serde::de::DeserializeOwned;
use serde::{Deserialize, Serialize};
use std::collections::HashSet;
use std::fs;
use std::path::{Path, PathBuf};
use toml_edit::Document;

/// Version written. Older ones are read for ever.
const VERSION: i64 = 1;

/// Largest document that is read, in bytes: twelve paths of the longest kind
/// fit in an eighth of it.
const MOST_BYTES: u64 = 1 << 19;

/// Where a document lies.
#[derive(Debug, Clone)]
pub(super) struct Memo {
    pub path: PathBuf,
    pub disk: Disk,
}

#[derive(Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
struct File<T> {
    version: i64,
    content: T,
}

impl Memo {
    pub fn at(path: impl Into<PathBuf>) -> Memo {
        Memo {
            path: path.into(),
            disk: Disk::default(),
        }
    }

    /// What it says; the default where there is none.
    pub fn read<T: DeserializeOwned + Default>(&self) -> Result<T, ShelfError> {
        if fs::symlink_metadata(&self.path).is_err_and(|e| e.kind() == std::io::ErrorKind::NotFound)
        {
            return Ok(T::default());
        }
        let text = read_text(&self.path, MOST_BYTES)?;
        let doc =
            Document::parse(text.as_str()).map_err(|e| self.fault(&text, e.span(), e.message()))?;
        let version = doc.get("version").and_then(toml_edit::Item::as_integer);
        if let Some(read) = version.filter(|v| *v > VERSION) {
            return Err(ShelfError::Newer {
                path: self.path.clone(),
                read,
                known: VERSION,
            });
        }
        if version != Some(VERSION) {
            return Err(self.fault(&text, None, "no version; allowed is version = 1"));
        }
        let file: File<T> =
            toml_edit::de::from_str(&text).map_err(|e| self.fault(&text, e.span(), e.message()))?;
        Ok(file.content)
    }

    /// Changes what it says, as it then stands on the disk, so that what another
    /// window has put in stays.
    pub fn update<T: DeserializeOwned + Serialize + Default>(
        &self,
        change: impl FnOnce(&mut T) -> Result<(), ShelfError>,
    ) -> Result<T, ShelfError> {
        let dir = self.path.parent().unwrap_or(Path::new("."));
        let made = self.disk.make_folder(dir);
        made.map_err(ShelfError::io("made", dir))?;
        let _turn = turn(&dir.join(".lock"))?;
        let (mut content, damaged) = match self.read() {
            Ok(content) => (content, false),
            Err(
                ShelfError::Text { .. } | ShelfError::NotText { .. } | ShelfError::TooLarge { .. },
            ) => (T::default(), true),
            Err(other) => return Err(other),
        };
        change(&mut content)?;
        if damaged {
            self.set_aside(dir)?;
        }
        let file = File {
            version: VERSION,
            content,
        };
        let text = toml_edit::ser::to_string_pretty(&file)
            .map_err(|e| self.fault("", None, &e.to_string()))?;
        let written = self.disk.replace(&self.path, &text);
        written.map_err(ShelfError::io("written", &self.path))?;
        Ok(file.content)
    }

    fn set_aside(&self, dir: &Path) -> Result<(), ShelfError> {
        let failed = || ShelfError::io("set aside", &self.path);
        let entries = fs::read_dir(dir).map_err(failed())?;
        let name = |e: fs::DirEntry| e.file_name().to_string_lossy().to_lowercase();
        let taken: HashSet<String> = entries.flatten().map(name).collect();
        let stem = self.path.file_stem().unwrap_or_default().to_string_lossy();
        let aside = dir.join(free_name(&stem, "damaged", &taken));
        self.disk.move_to(&self.path, &aside).map_err(failed())
    }

    fn fault(&self, text: &str, span: Option<std::ops::Range<usize>>, message: &str) -> ShelfError {
        let at = span.map_or(0, |s| s.start).min(text.len());
        let above = text.as_bytes().get(..at).unwrap_or_default();
        let line = above.iter().filter(|b| **b == b'\n').count() + 1;
        let start = above.iter().rposition(|b| *b == b'\n').map_or(0, |i| i + 1);
        let column = String::from_utf8_lossy(&above[start..]).chars().count() + 1;
        let number = |n: usize| u32::try_from(n).unwrap_or(u32::MAX);
        ShelfError::Text {
            place: Place {
                file: self.path.display().to_string(),
                line: number(line),
                column: number(column),
            },
            problem: message.split_whitespace().collect::<Vec<_>>().join(" "),
        }
    }
}
