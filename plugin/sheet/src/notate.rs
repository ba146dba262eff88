//! Spelling: exact times become notes, rests, tuplets and beams.
//!
//! In: a [`Score`] and its [`Timeline`], or one cell. Out: [`Written`]. How it
//! goes: `gather` finds what each voice plays in a bar, `pieces` and `plan` cut the
//! bar into plain time and tuplets, `spell` writes values and rests, `beam` joins them;
//! `fold` puts repeats in or leaves each letter once; `mark` says what stands
//! above. Never here: a place on paper, a rounded time, a tie.
//!
//! Tuplets nest as in Agon, Assayag, Fineberg and Rueda, "Kant: a critique of
//! pure quantification" (ICMC 1994), where a rhythm is a tree whose nodes divide
//! their time evenly; here the divisions are known exactly and only chosen, not
//! guessed. A ratio means what MusicXML 4.0 calls `time-modification`. Values,
//! rests and beams by the beats of the meter: common practice, as taught in
//! Gould, "Behind Bars" (Faber, 2011); from memory.

mod bar;
mod beam;
mod error;
mod fold;
mod gather;
mod mark;
mod meter;
mod pieces;
mod plan;
mod spell;
mod value;

pub use error::{NotateError, Whereabouts};

use super::Written;
use barform_score::music::{Cell, CountBy, Meter, Tradition};
use barform_score::score::Score;
use barform_score::timeline::Timeline;

/// Most parts of one tuplet. A span of a grid has at most 64 slots; two grids at
/// odds in one voice, such as 7 and 12, share only finer parts. Nobody reads 84
/// to the beat with ease, but the sheet says what is played.
pub const MAX_TUPLET: i64 = 256;

/// Most notes and rests on one sheet: more than the strokes a form may have.
pub const MAX_ELEMENTS: usize = 3_000_000;

/// How much of a form is written out.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, Default)]
pub enum Fold {
    /// Every bar.
    #[default]
    Full,
    /// Groups and sections that repeat whole bars stand once, between repeat
    /// signs.
    Repeats,
    /// Each letter once, then each ostinato once; the form is the subtitle.
    Letters,
}

/// What a sheet shows and how it counts.
#[derive(Debug, Clone, PartialEq, Eq, Default)]
pub struct Options {
    /// How much is written out.
    pub fold: Fold,
    /// The tradition of the counts; `None` for the one that
    /// [`Timeline::counts`] uses.
    pub tradition: Option<Tradition>,
    /// What gets a number where a tradition is given.
    pub count_by: CountBy,
}

/// Writes a whole score.
///
/// Work and memory are linear in the strokes of the form; a bar that comes
/// again is spelt once.
///
/// # Errors
/// [`NotateError`], with the bar and what to do, where a time has no sensible
/// note value. `timeline` must be compiled from `score`; one that is not is
/// written as it plays, without the score's levels.
pub fn written(
    score: &Score,
    timeline: &Timeline,
    options: &Options,
) -> Result<Written, NotateError> {
    match options.fold {
        Fold::Full => Ok(bar::form(score, timeline, options)?.0),
        Fold::Repeats => {
            let (written, alike) = bar::form(score, timeline, options)?;
            Ok(fold::repeats(score, timeline, written, &alike))
        }
        Fold::Letters => fold::letters(score, options),
    }
}

/// Writes one cell that stands alone: in bars of `meter` from its first beat,
/// the last bar as long as the cell lasts. Bars have no numbers; the place of
/// every stroke's [`Source`](super::Source) is 0.
///
/// # Errors
/// As for [`written`].
pub fn cell(cell: &Cell, meter: Meter, options: &Options) -> Result<Written, NotateError> {
    let place = Whereabouts::Cell(cell.letter.clone());
    let bars = bar::alone(&cell.grid, &cell.slots, meter, options, place)?;
    Ok(Written {
        title: String::new(),
        subtitle: String::new(),
        tempo: barform_score::music::Beats::whole(120),
        bars,
    })
}
