//! Files of other programs: a MIDI file or a MusicXML part becomes a score.

use std::fs::File;
use std::io::Read;
use std::path::Path;

use crate::import::midi::{self, Channels, NamedKit};
use crate::import::musicxml::{self, Cut};
use crate::import::{self, ImportError, Imported, RemarkKind};
use crate::music::Beats;
use crate::words::count;

/// Most remarks that are told of a file opened in a window.
const MOST_TOLD: usize = 8;

/// Length of the cells that are made.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum CellLength {
    /// So many beats.
    Beats(Beats),
    /// A bar.
    Bar,
}

/// How a file is read.
#[derive(Debug, Clone, Default)]
pub struct ImportOptions {
    /// Length of a cell; as the reader finds best if none.
    pub cell: Option<CellLength>,
    /// Kits to try besides General MIDI; of MusicXML, which names its
    /// instruments, the first counts.
    pub kits: Vec<NamedKit>,
    /// Channels of a MIDI file; the kit's if none.
    pub channels: Option<Channels>,
    /// Part of a MusicXML file, from 0; the first for percussion if none.
    pub part: Option<usize>,
    /// Whether letters are found anew in a file of our own.
    pub anew: bool,
}

/// Reads a file's bytes; MIDI and MusicXML are told apart by what is in them. Of
/// MIDI there is a line about its strokes besides.
///
/// # Errors
/// See [`ImportError`].
pub fn import(
    bytes: &[u8],
    options: &ImportOptions,
) -> Result<(Imported, Option<String>), ImportError> {
    if import::is_midi(bytes) {
        let (imported, strokes) = from_midi(bytes, options)?;
        Ok((imported, Some(strokes)))
    } else {
        Ok((from_musicxml(bytes, options)?, None))
    }
}

fn from_midi(bytes: &[u8], with: &ImportOptions) -> Result<(Imported, String), ImportError> {
    let mut options = midi::Options {
        channels: with.channels.unwrap_or_default(),
        own_letters: !with.anew,
        ..midi::Options::default()
    };
    options.kits.extend(with.kits.iter().cloned());
    options.cell = with.cell.map(|cell| match cell {
        CellLength::Beats(beats) => beats,
        // Cells begin anew at every bar line.
        CellLength::Bar => Beats::whole(midi::LONGEST_CELL),
    });
    let (imported, report) = midi::read_with_report(bytes, &options)?;
    let strokes = format!(
        "{} read with the key map of {}; the largest distance from a slot is {:.2} ms",
        count(report.strokes, "stroke"),
        options.kits[report.kit].name,
        report.largest_error_us as f64 / 1000.0,
    );
    Ok((imported, strokes))
}

fn from_musicxml(bytes: &[u8], with: &ImportOptions) -> Result<Imported, ImportError> {
    let mut options = musicxml::Options {
        part: with.part,
        take_carried: !with.anew,
        ..musicxml::Options::default()
    };
    if let Some(named) = with.kits.first() {
        options.kit.clone_from(&named.kit);
    }
    options.cut = match with.cell {
        None => Cut::Auto,
        Some(CellLength::Bar) => Cut::Bars,
        Some(CellLength::Beats(beats)) => Cut::Beats(beats),
    };
    musicxml::read(bytes, &options)
}

/// What a remark is about, at the head of it.
pub fn remark_head(kind: RemarkKind) -> &'static str {
    match kind {
        RemarkKind::NotUnderstood => "Not understood",
        RemarkKind::NotKept => "Not kept",
        RemarkKind::Assumed => "Assumed",
    }
}

/// Bytes of a file of either kind: one more than the readers take, so that they can
/// say so.
///
/// # Errors
/// What the system says.
pub fn import_bytes(from: impl Read) -> std::io::Result<Vec<u8>> {
    let mut bytes = Vec::new();
    from.take(import::MAX_BYTES + 1).read_to_end(&mut bytes)?;
    Ok(bytes)
}

/// Reads a file into the text of a score; and what was not understood or not kept,
/// in words.
///
/// # Errors
/// What is wrong with the file, in words.
pub fn import_file(path: &Path) -> Result<(String, String), String> {
    let failed = |error: &dyn std::fmt::Display| format!("{}: {error}.", path.display());
    let bytes = File::open(path).and_then(import_bytes);
    let bytes = bytes.map_err(|error| failed(&error))?;
    let read = import(&bytes, &ImportOptions::default());
    let (imported, _) = read.map_err(|error| failed(&error))?;
    Ok((imported.score.to_toml(), remarks(path, &imported)))
}

fn remarks(path: &Path, imported: &Imported) -> String {
    let name = path.file_name().unwrap_or_default().to_string_lossy();
    let cells = imported.score.cells.len();
    let mut text = format!("{name} was read into {cells} cells.");
    for note in imported.notes.iter().take(MOST_TOLD) {
        text += &format!("\n{}: {note}.", remark_head(note.kind));
    }
    match imported.notes.len().saturating_sub(MOST_TOLD) {
        0 => {}
        more => text += &format!("\nAnd {more} more; barform import lists all."),
    }
    text
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::export::{self, Options};
    use crate::score::Score;
    use crate::timeline::Timeline;

    #[test]
    fn a_midi_file_becomes_a_score_and_what_is_not_kept_is_told() {
        let folder = tempfile::tempdir().unwrap();
        let path = folder.path().join("a.mid");
        let score = Score::parse(crate::DEMO_SCORE, "demo").unwrap();
        let timeline = Timeline::compile(&score).unwrap();
        let file = export::midi::write(&score, &timeline, &Options::default()).unwrap();
        std::fs::write(&path, &file.bytes).unwrap();
        let (text, told) = import_file(&path).unwrap();
        let back = Score::parse(&text, "a").unwrap();
        assert_eq!(Timeline::compile(&back).unwrap().length, timeline.length);
        assert!(told.contains("which hand"), "{told}");
    }

    #[test]
    fn a_file_that_is_neither_is_refused_in_words() {
        let folder = tempfile::tempdir().unwrap();
        let path = folder.path().join("a.xml");
        std::fs::write(&path, "no music").unwrap();
        assert!(import_file(&path).unwrap_err().contains("MusicXML"));
    }
}
