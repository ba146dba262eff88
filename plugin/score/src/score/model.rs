//! What a score file says, as values: each statement once, nothing worked out.

use super::form::{FormItem, Overrides};
use super::timing::Timing;
use crate::music::{
    Articulation, Beats, Graces, Grid, Kit, Letter, Level, Limb, Meter, Stroke, Voice,
};

/// A whole score. Equal scores play equally and print equally.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Score {
    /// Title; may be empty.
    pub title: String,
    /// Tempo in quarter-note beats per minute, exact (`92`, `92.5`); a host's
    /// tempo overrides it. `20 ..= 400`.
    pub tempo: Beats,
    /// Meter of every section that states none.
    pub meter: Meter,
    /// Beats before the first bar line, below one bar.
    pub pickup: Beats,
    /// Sections in order, at least one.
    pub sections: Vec<Section>,
    /// Cells in the order written.
    pub cells: Vec<CellDef>,
    /// Ostinatos in the order written.
    pub ostinatos: Vec<Ostinato>,
    /// Named voicings in the order written.
    pub voicings: Vec<Voicing>,
    /// The kit; [`Kit::general_midi`] where the file says nothing.
    pub kit: Kit,
    /// How the take that the score was made of lay against it; nothing plays by
    /// it.
    pub timing: Timing,
}

/// A part of the form with a name and its own overrides.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Section {
    /// Name shown over its first bar; may be empty.
    pub name: String,
    /// Its meter, if not the score's. A change must fall on a bar line.
    pub meter: Option<Meter>,
    /// What it does otherwise.
    pub overrides: Overrides,
    /// Letters, groups and bar-line checks.
    pub items: Vec<FormItem>,
}

/// A cell as written: a variation states only what differs from its parent.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct CellDef {
    /// Its letter, unique in the score.
    pub letter: Letter,
    /// The parent of a variation.
    pub like: Option<Letter>,
    /// Grid; required without a parent.
    pub grid: Option<Grid>,
    /// Sticking, one entry per slot; required without a parent.
    pub sticking: Option<Vec<StickSlot>>,
    /// Voices, one entry per slot; plain ones where neither the cell nor a
    /// parent states any.
    pub voices: Option<Vec<VoiceSlot>>,
}

/// The strokes of one slot as a sticking line writes them; empty for a rest.
pub type StickSlot = Vec<StickToken>;

/// One stroke on a sticking line: limb, level, ornaments.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
pub struct StickToken {
    /// `R L K H`.
    pub limb: Limb,
    /// Plain, `>` or `( )`.
    pub level: Level,
    /// Lower-case hands in front.
    pub graces: Graces,
    /// `z` after.
    pub buzz: bool,
}

impl From<&Stroke> for StickToken {
    fn from(stroke: &Stroke) -> StickToken {
        StickToken {
            limb: stroke.limb,
            level: stroke.level,
            graces: stroke.graces,
            buzz: stroke.buzz,
        }
    }
}

/// The voices of one slot as a voices line writes them.
#[derive(Debug, Clone, PartialEq, Eq, Hash)]
pub enum VoiceSlot {
    /// `.`: as on the slot before.
    Same,
    /// `-`: a rest, as on the sticking line.
    Rest,
    /// One token per stroke of the slot, or one for all of them.
    Voices(Vec<VoiceToken>),
}

/// One voice with its articulation: `hat:open`.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
pub struct VoiceToken {
    /// The instrument.
    pub voice: Voice,
    /// How it is struck.
    pub articulation: Articulation,
}

impl From<&Stroke> for VoiceToken {
    fn from(stroke: &Stroke) -> VoiceToken {
        VoiceToken {
            voice: stroke.voice,
            articulation: stroke.articulation,
        }
    }
}

/// A pattern on its own cycle under the whole form.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Ostinato {
    /// Its name, unique among ostinatos.
    pub name: String,
    /// Its grid; the grid's length is the cycle.
    pub grid: Grid,
    /// One entry per slot.
    pub sticking: Vec<StickSlot>,
    /// One entry per slot; plain voices where nothing is said.
    pub voices: Option<Vec<VoiceSlot>>,
}

/// A named re-voicing: strokes on the left voices are played on the right ones.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Voicing {
    /// Its name, unique among voicings.
    pub name: String,
    /// From voice to voice and articulation; what is not listed stays.
    pub map: Vec<(Voice, VoiceToken)>,
}
