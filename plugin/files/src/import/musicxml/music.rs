//! A percussion part as the file has it: bars of strokes at exact times.

use barform_score::music::{Articulation, Beats, Hand, Key, Level, Limb, Meter, Voice};
use std::fmt::Write as _;

/// What one part says.
#[derive(Debug, Clone, Default)]
pub(super) struct Music {
    /// Title of the work or the movement.
    pub title: String,
    /// Written by our own writer.
    pub ours: bool,
    /// Quarter notes a minute, if the file says so.
    pub tempo: Option<Beats>,
    /// Bars as written.
    pub bars: Vec<Bar>,
    /// Keys and channels of instruments that were known by name or id.
    pub keys: Vec<OwnKey>,
}

/// A voice and how it is struck, its key and its channel (`1 ..= 16`).
pub(super) type OwnKey = (Voice, Articulation, Option<Key>, u8);

/// One measure.
#[derive(Debug, Clone)]
pub(super) struct Bar {
    /// Number for remarks, counted if the file's is none.
    pub number: u32,
    /// Its meter.
    pub meter: Meter,
    /// How long it is as written.
    pub length: Beats,
    /// Not counted: a pickup or part of a bar.
    pub implicit: bool,
    /// Strokes in order of time.
    pub hits: Vec<Hit>,
    /// Marks in order of time.
    pub marks: Vec<MarkAt>,
    /// Outermost tuplets of both voices: start, length, notes.
    pub tuplets: Vec<Tuplet>,
    /// A repeat begins here.
    pub repeat_from: bool,
    /// A repeat ends here: played so often in all.
    pub repeat_to: Option<u32>,
    /// Passes of a repeat that this bar belongs to; empty for all.
    pub passes: Vec<u32>,
}

/// An outermost tuplet as written.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) struct Tuplet {
    /// Start in the bar.
    pub at: Beats,
    /// End in the bar.
    pub end: Beats,
    /// Notes it counts in its own time; 0 if the file does not say.
    pub actual: u32,
}

/// A letter, a name or the like above the staff.
#[derive(Debug, Clone)]
pub(super) struct MarkAt {
    /// Beats from the start of the bar.
    pub at: Beats,
    /// What it is.
    pub kind: MarkKind,
    /// Its text.
    pub text: String,
}

/// What a mark is.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum MarkKind {
    /// A rehearsal mark.
    Rehearsal,
    /// Words in bold: in our own documents a section's name.
    Words,
}

/// One stroke.
#[derive(Debug, Clone, PartialEq, Eq)]
pub(super) struct Hit {
    /// Beats from the start of the bar.
    pub at: Beats,
    /// What is struck.
    pub voice: Voice,
    /// How.
    pub articulation: Articulation,
    /// By which limb, if the file says so.
    pub limb: Option<Limb>,
    /// How loud.
    pub level: Level,
    /// Grace notes, their hands if the file says so.
    pub graces: Vec<Option<Hand>>,
    /// Pressed.
    pub buzz: bool,
}

impl Music {
    /// The same for the same music: FNV-1a, 64 bits, of all that is said here
    /// but for keys and remarks (Fowler, Noll, Vo; from memory).
    pub fn digest(&self) -> String {
        let mut text = format!("{:?}\n{:?}\n", self.title, self.tempo);
        let mut hash = 0xcbf2_9ce4_8422_2325_u64;
        let mut eat = |text: &mut String| {
            for byte in text.bytes() {
                hash = (hash ^ u64::from(byte)).wrapping_mul(0x0100_0000_01b3);
            }
            text.clear();
        };
        eat(&mut text);
        for bar in &self.bars {
            let Bar {
                number: _,
                meter,
                length,
                implicit,
                hits,
                marks,
                tuplets: _,
                repeat_from,
                repeat_to,
                passes,
            } = bar;
            let _ = writeln!(
                text,
                "{meter} {length} {implicit} {repeat_from} {repeat_to:?} {passes:?}"
            );
            for mark in marks {
                let _ = writeln!(text, "{} {:?} {:?}", mark.at, mark.kind, mark.text);
            }
            for hit in hits {
                let _ = writeln!(text, "{hit:?}");
            }
            eat(&mut text);
        }
        format!("{hash:016x}")
    }
}
