//! Files of other programs, opened in the window.
//!
//! In: a MIDI or MusicXML file. Out: the text of a score, and what could not be
//! kept, in words. Never here: a guess in silence.

use std::fs::File;
use std::io::Read;
use std::path::Path;

use barform_app::import::{self, Imported, RemarkKind};

/// Most remarks that are told one by one.
const MOST_TOLD: usize = 8;

/// Reads a file into the text of a score; told is what was not understood or
/// not kept.
///
/// # Errors
/// What is wrong with the file, in words.
pub fn read(path: &Path) -> Result<(String, String), String> {
    let failed = |error: std::io::Error| format!("{}: {error}.", path.display());
    // A byte more than the readers take, so that they can say so.
    let most = import::MAX_BYTES + 1;
    let mut bytes = Vec::new();
    let file = File::open(path).map_err(failed)?;
    file.take(most).read_to_end(&mut bytes).map_err(failed)?;
    let imported = import::read(&bytes);
    let imported = imported.map_err(|error| format!("{}: {error}.", path.display()))?;
    Ok((imported.score.to_toml(), told(path, &imported)))
}

fn told(path: &Path, imported: &Imported) -> String {
    let name = path.file_name().unwrap_or_default().to_string_lossy();
    let cells = imported.score.cells.len();
    let mut told = format!("{name} was read into {cells} cells.");
    for note in imported.notes.iter().take(MOST_TOLD) {
        let head = match note.kind {
            RemarkKind::NotUnderstood => "Not understood",
            RemarkKind::NotKept => "Not kept",
            RemarkKind::Assumed => "Assumed",
        };
        told += &format!("\n{head}: {note}.");
    }
    if let Some(more) = imported
        .notes
        .len()
        .checked_sub(MOST_TOLD)
        .filter(|n| *n > 0)
    {
        told += &format!("\nAnd {more} more; barform import lists all.");
    }
    told
}

#[cfg(test)]
mod tests {
    use super::*;
    use barform_app::export::{self, Options};
    use barform_app::score::Score;
    use barform_app::timeline::Timeline;

    #[test]
    fn a_midi_file_becomes_a_score_and_what_is_not_kept_is_told() {
        let folder = tempfile::tempdir().unwrap();
        let path = folder.path().join("a.mid");
        let score = Score::parse(barform_app::DEMO_SCORE, "demo").unwrap();
        let timeline = Timeline::compile(&score).unwrap();
        let file = export::midi::write(&score, &timeline, &Options::default()).unwrap();
        std::fs::write(&path, &file.bytes).unwrap();
        let (text, told) = read(&path).unwrap();
        let back = Score::parse(&text, "a").unwrap();
        assert_eq!(Timeline::compile(&back).unwrap().length, timeline.length);
        assert!(told.contains("which hand"), "{told}");
    }

    #[test]
    fn a_file_that_is_neither_is_refused_in_words() {
        let folder = tempfile::tempdir().unwrap();
        let path = folder.path().join("a.xml");
        std::fs::write(&path, "no music").unwrap();
        assert!(read(&path).unwrap_err().contains("MusicXML"));
    }
}
