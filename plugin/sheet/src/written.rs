//! What is written, before any of it has a place on paper: bars of two voices,
//! each a row of notes and rests whose values fill the bar exactly.
//!
//! The engraver and the MusicXML writer both read this, so that page and file
//! never disagree.

use super::{Head, StaffStep};
use barform_score::music::{Beats, Letter, Meter, Stroke};

/// A whole sheet's music.
#[derive(Debug, Clone, PartialEq)]
pub struct Written {
    /// Title; may be empty.
    pub title: String,
    /// A line under the title: the form as letters, for a folded sheet.
    pub subtitle: String,
    /// Quarter notes a minute.
    pub tempo: Beats,
    /// Bars in order.
    pub bars: Vec<WrittenBar>,
}

/// One bar.
#[derive(Debug, Clone, PartialEq)]
pub struct WrittenBar {
    /// Its bar line, in quarter-note beats from the start of the form.
    pub start: Beats,
    /// How long it lasts: the meter's bar, or less for a pickup, a last bar cut
    /// short, or a cell that stands alone.
    pub length: Beats,
    /// Number as printed; `None` for a pickup bar or a cell that stands alone.
    pub number: Option<u32>,
    /// Its meter.
    pub meter: Meter,
    /// Whether the meter is printed here: first bar, or where it changes.
    pub show_meter: bool,
    /// Whether a repeat sign opens the bar.
    pub repeat_from: bool,
    /// The repeat sign that closes the bar, if one does.
    pub repeat_to: Option<Repeat>,
    /// Whether a double bar line closes the bar: a section or a letter ends.
    pub double_after: bool,
    /// Letters and section names above the staff, in order of time.
    pub marks: Vec<Mark>,
    /// Hands, stems up.
    pub hands: VoiceLine,
    /// Feet, stems down.
    pub feet: VoiceLine,
    /// Count and sticking beneath, in order of time.
    pub under: Vec<Under>,
}

/// The end of repeated bars.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Repeat {
    /// How often they are played in all, at least 2.
    pub times: u32,
}

/// A letter or a section's name above the staff.
#[derive(Debug, Clone, PartialEq)]
pub struct Mark {
    /// Beats from the start of the bar.
    pub at: Beats,
    /// The section that starts here; `None` where none does, or it has no name.
    pub section: Option<String>,
    /// The cell that starts here.
    pub letter: Option<Letter>,
    /// Index of the letter in [`Timeline::letters`](barform_score::timeline::Timeline::letters):
    /// picks its colour in the editor.
    pub letter_index: u32,
    /// What is special about the place, such as `×1/2`; empty if nothing.
    pub note: String,
}

/// What stands beneath the staff at one moment.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Under {
    /// Beats from the start of the bar.
    pub at: Beats,
    /// Count syllable; empty for none.
    pub count: String,
    /// The count belongs to a slot where nothing of the cell is struck: printed
    /// lighter.
    pub light: bool,
    /// Sticking letters of the strokes here, one per limb, hands first, grace
    /// hands as small letters ahead (`lR`); empty for none.
    pub sticking: String,
}

/// One voice in one bar. The true lengths of its elements add up to the bar.
#[derive(Debug, Clone, PartialEq, Eq, Default)]
pub struct VoiceLine {
    /// Notes and rests in order of time, without gaps.
    pub elements: Vec<Element>,
    /// Tuplets; an outer one stands before those inside it.
    pub tuplets: Vec<Tuplet>,
    /// Beams, level 1 first.
    pub beams: Vec<Beam>,
}

/// A note or a rest.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Element {
    /// Beats from the start of the bar.
    pub at: Beats,
    /// True length in beats: value, dots and all tuplets around it.
    pub length: Beats,
    /// Printed note value.
    pub value: Value,
    /// Augmentation dots, `0 ..= 3`.
    pub dots: u8,
    /// All tuplets around it multiplied out; 1:1 outside of tuplets.
    pub ratio: Ratio,
    /// What it is.
    pub kind: Kind,
}

/// What an element is.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum Kind {
    /// Silence. A hidden rest only keeps the place: in a voice that has nothing
    /// to say in this bar, or where custom leaves it out.
    Rest {
        /// Not printed.
        hidden: bool,
        /// Rests for the whole bar, printed as a whole-bar rest in the middle.
        /// Its value is then a whole note, however long the bar lasts.
        whole_bar: bool,
    },
    /// One or more strokes at once, lowest on the staff first.
    Notes(Vec<WrittenStroke>),
}

/// A stroke on the staff.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct WrittenStroke {
    /// The stroke: level, grace notes and buzz are read from it.
    pub stroke: Stroke,
    /// Where it stands.
    pub step: StaffStep,
    /// Its note head. Ghosts are put in parentheses by their level.
    pub head: Head,
    /// Where it came from; `None` for an ostinato.
    pub source: Option<Source>,
}

/// The slot of the form that a stroke was written for.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
pub struct Source {
    /// Index into [`Timeline::places`](barform_score::timeline::Timeline::places).
    pub place: u32,
    /// Slot of the cell that the place plays.
    pub slot: u16,
}

/// A printed note value: 0 is a whole note, 1 a half, 2 a quarter … 10 a
/// 1024th, the shortest MusicXML 4.0 knows (`note-type-value`).
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub struct Value(u8);

impl Value {
    /// A whole note.
    pub const WHOLE: Value = Value(0);
    /// A quarter note.
    pub const QUARTER: Value = Value(2);
    /// An eighth note: the longest with a flag.
    pub const EIGHTH: Value = Value(3);
    /// A 1024th note.
    pub const SHORTEST: Value = Value(10);

    /// The value of `halvings` halvings of a whole note, `0 ..= 10`.
    pub fn new(halvings: u8) -> Option<Value> {
        (halvings <= Self::SHORTEST.0).then_some(Value(halvings))
    }

    /// How often a whole note was halved.
    pub fn halvings(self) -> u8 {
        self.0
    }

    /// Length without dots, in quarter-note beats.
    pub fn beats(self) -> Beats {
        Beats::new(4, 1 << self.0)
    }

    /// Number of flags or beams: 1 for an eighth, 0 for a quarter and longer.
    pub fn flags(self) -> u8 {
        self.0.saturating_sub(2)
    }
}

/// So many in the time of so many.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
pub struct Ratio {
    /// Notes played.
    pub actual: u32,
    /// Notes of the same value whose time they take.
    pub normal: u32,
}

impl Ratio {
    /// No tuplet.
    pub const NONE: Ratio = Ratio {
        actual: 1,
        normal: 1,
    };
}

/// A tuplet over a row of elements.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Tuplet {
    /// First element, as an index into [`VoiceLine::elements`].
    pub first: usize,
    /// Last element, included.
    pub last: usize,
    /// Its own ratio, without the tuplets around it.
    pub ratio: Ratio,
    /// The value that the ratio counts: 6 *sixteenths* in the time of 4.
    pub unit: Value,
    /// How many tuplets it stands inside of.
    pub depth: u8,
    /// Printed with a bracket. Without, a beam already shows its extent.
    pub bracket: bool,
}

/// One beam: a line of one level across a row of notes, or a short hook.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Beam {
    /// 1 for the eighths' beam, 2 for the sixteenths', and so on.
    pub level: u8,
    /// First note under it, as an index into [`VoiceLine::elements`].
    pub first: usize,
    /// Last note under it, included; equal to `first` for a hook.
    pub last: usize,
    /// For a hook: it points back, to the left.
    pub backward: bool,
}
