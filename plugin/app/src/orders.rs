//! What can be made of a score: files, each with a report in words.
//!
//! One file for each kind: its options, and the function that makes it out of a
//! compiled score. Nothing is replaced unasked, and a file is there complete or
//! not at all. Making may take minutes: it can be watched and stopped
//! ([`Watch`]), and is not for a thread that draws.

mod audio;
mod handout;
mod midi;
mod musicxml;
mod practice;
mod report;
mod sheet;
mod show;
mod target;

pub use audio::{AudioOptions, Stems, audio};
pub use handout::{HandoutOptions, handout};
pub use midi::{MidiOptions, midi};
pub use musicxml::{MusicXmlOptions, musicxml};
pub use practice::{PracticeOptions, practice_track};
pub use report::{OrderError, Report};
pub use sheet::{PageFormat, SheetOptions, page_files, sheet};
pub use show::{Paint, ShowOptions, show};
pub use target::{SharedProgress, Target, Watch};

use crate::export::audio::FileKind;
use crate::session::CompiledScore;

/// What a score is exported as.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub enum Kind {
    /// The form on paper.
    #[default]
    Sheet,
    /// The sheet and a page for each letter.
    Handout,
    /// The sheet as pictures.
    Picture,
    /// For notation programs.
    MusicXml,
    /// A Standard MIDI File.
    Midi,
    /// Audio, as it is.
    Wav,
    /// Audio, packed without loss.
    Flac,
}

impl Kind {
    /// All of them: name, usual ending without a dot, and what it is for.
    pub const ALL: [(Kind, &'static str, &'static str, &'static str); 7] = [
        (Kind::Sheet, "Sheet", "pdf", "A drum-set part to print"),
        (
            Kind::Handout,
            "Hand-out",
            "pdf",
            "The sheet, then a page to practise each letter from",
        ),
        (
            Kind::Picture,
            "Picture",
            "png",
            "The sheet as a picture, one file a page",
        ),
        (
            Kind::MusicXml,
            "MusicXML",
            "musicxml",
            "For notation programs; .mxl packs it",
        ),
        (
            Kind::Midi,
            "MIDI file",
            "mid",
            "The form's notes for a track or a drum module",
        ),
        (
            Kind::Wav,
            "WAV",
            "wav",
            "The form, a letter or stems as audio",
        ),
        (
            Kind::Flac,
            "FLAC",
            "flac",
            "The same without loss, about half the size",
        ),
    ];

    /// Usual ending of its files, without a dot.
    pub fn ending(self) -> &'static str {
        let found = Kind::ALL.iter().find(|(kind, ..)| *kind == self);
        found.map_or("", |(_, _, ending, _)| ending)
    }

    /// Whether it is audio.
    pub fn is_audio(self) -> bool {
        matches!(self, Kind::Wav | Kind::Flac)
    }

    /// Whether it is pages: on paper or as pictures.
    pub fn is_pages(self) -> bool {
        matches!(self, Kind::Sheet | Kind::Handout | Kind::Picture)
    }
}

/// How each kind of file is made; each takes what is its own.
#[derive(Debug, Clone, Default)]
pub struct Choices {
    /// Pages on paper and pictures, whatever their format is here; how much of
    /// the form is written out holds for MusicXML too.
    pub pages: SheetOptions,
    /// What is played in MIDI and audio files.
    pub playing: MidiOptions,
    /// What else audio files have, whatever they play and are here.
    pub audio: AudioOptions,
}

/// Makes a file of a kind.
///
/// # Errors
/// See [`OrderError`]; there is then no new file.
pub fn make(
    kind: Kind,
    choices: &Choices,
    score: &CompiledScore,
    target: &mut Target,
    watch: &mut dyn Watch,
) -> Result<Report, OrderError> {
    let pages = |format| SheetOptions {
        format,
        ..choices.pages.clone()
    };
    let sound = |file_kind| {
        let mut options = choices.audio.clone();
        options.playing = choices.playing.clone();
        options.format.kind = file_kind;
        options
    };
    match kind {
        Kind::Sheet => sheet(score, &pages(PageFormat::Pdf), target, watch),
        Kind::Picture => sheet(score, &pages(PageFormat::Png), target, watch),
        Kind::Handout => {
            let options = HandoutOptions {
                style: choices.pages.style,
                fold: choices.pages.fold,
                ..HandoutOptions::default()
            };
            handout(score, &options, target, watch)
        }
        Kind::MusicXml => {
            let options = MusicXmlOptions {
                fold: choices.pages.fold,
                ..MusicXmlOptions::default()
            };
            musicxml(score, &options, target)
        }
        Kind::Midi => midi(score, &choices.playing, target),
        Kind::Wav => audio(score, &sound(FileKind::Wav), target, watch),
        Kind::Flac => audio(score, &sound(FileKind::Flac), target, watch),
    }
}

#[cfg(test)]
mod test;
