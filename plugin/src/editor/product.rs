//! The kinds of file that a score is handed on as: what they are called, how
//! their names end, what they are for. Never here: how they are made.

/// What a score is handed on as.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub enum Product {
    /// The form on paper.
    #[default]
    Sheet,
    /// The sheet and a page for each letter.
    HandOut,
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

impl Product {
    /// All of them: name, ending, and what it is for.
    pub const ALL: [(Product, &'static str, &'static str, &'static str); 7] = [
        (Product::Sheet, "Sheet", "pdf", "A drum-set part to print"),
        (
            Product::HandOut,
            "Hand-out",
            "pdf",
            "The sheet, then a page to practise each letter from",
        ),
        (
            Product::Picture,
            "Picture",
            "png",
            "The sheet as a picture, one file a page",
        ),
        (
            Product::MusicXml,
            "MusicXML",
            "musicxml",
            "For notation programs; .mxl packs it",
        ),
        (
            Product::Midi,
            "MIDI file",
            "mid",
            "The form's notes for a track or a drum module",
        ),
        (
            Product::Wav,
            "WAV",
            "wav",
            "The form, a letter or stems as audio",
        ),
        (
            Product::Flac,
            "FLAC",
            "flac",
            "The same without loss, about half the size",
        ),
    ];

    /// Usual ending of its files, without a dot.
    pub fn ending(self) -> &'static str {
        let found = Product::ALL.iter().find(|(product, ..)| *product == self);
        found.map_or("", |(_, _, ending, _)| ending)
    }

    /// Whether it is audio.
    pub fn is_audio(self) -> bool {
        matches!(self, Product::Wav | Product::Flac)
    }

    /// Whether it is printed on paper.
    pub fn is_printed(self) -> bool {
        matches!(self, Product::Sheet | Product::HandOut | Product::Picture)
    }
}
