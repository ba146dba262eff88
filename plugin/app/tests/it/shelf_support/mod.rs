//! A shelf in a folder of its own, and things to put on it.

// Every test binary uses its own part of this.
#![allow(dead_code)]

use barform_app::score::Score;
use barform_app::shelf::{ItemId, Label, Query, Shelf};
use std::ffi::OsStr;
use std::fs;
use tempfile::TempDir;

pub const SIX: &str = "barform = 1\nform = \"A\"\n\n[cell.A]\ngrid = \"6 6\"\n\
                   sticking = \"R L R L R L R L R L K K\"\n\
                   voices = \"tom1 . . . . . tom2 . . . kick .\"\n";
pub const FORM: &str = "barform = 1\nform = \"A B | A B |\"\n\n[cell.A]\ngrid = \"4\"\n\
                    sticking = \"R L R L\"\n\n[cell.B]\ngrid = \"3@3\"\nsticking = \"R K H\"\n\
                    voices = \"crash kick hatfoot\"\n";

pub fn shelf() -> (TempDir, Shelf) {
    let folder = tempfile::tempdir().unwrap();
    let shelf = Shelf::open(folder.path().join("shelf")).unwrap();
    (folder, shelf)
}

pub fn score(text: &str) -> Score {
    Score::parse(text, "test").unwrap()
}

pub fn label(name: &str, tags: &[&str], note: &str) -> Label {
    Label::named(name).tagged(tags.iter().copied()).noted(note)
}

pub fn names(shelf: &Shelf, query: &Query) -> Vec<String> {
    let listing = shelf.list(query).unwrap();
    listing.items.into_iter().map(|i| i.name).collect()
}

pub fn words(words: &str) -> Query {
    Query {
        words: words.to_owned(),
        ..Query::default()
    }
}

pub fn put(shelf: &Shelf, file: &str, bytes: impl AsRef<[u8]>) -> ItemId {
    fs::create_dir_all(shelf.dir()).unwrap();
    fs::write(shelf.dir().join(file), bytes).unwrap();
    ItemId::new(OsStr::new(file), "barform").unwrap()
}
