//! A form as a Standard MIDI File (MIDI Manufacturers Association, *Standard
//! MIDI Files 1.0*), type 1.
//!
//! Track 0 carries title, tempo, time signatures and markers: one per letter
//! where it starts, and before it the section's name where a section starts.
//! Then a track each for the hands and the feet of the form, for every ostinato
//! and, if it is not muted, for the click; a track with nothing to play is left
//! out. Names are UTF-8.
//!
//! Main strokes lie exactly on their ticks where 15 bits of ticks per quarter
//! note allow it; [`MidiReport`] says what was rounded otherwise. Grace notes
//! and bounces are set in milliseconds and lie on the nearest tick.
//!
//! Only a grace note can fall before the start of the file. It then lies on the
//! first tick with its main stroke, and the report counts it; one empty bar
//! ahead ([`Options::empty_bars`]) gives it room.

mod bars;
mod conductor;
mod content;
mod division;
mod notes;
mod report;
mod track;

pub use bars::{FileBar, signatures_of};
pub use conductor::Mark;
pub use content::Content;
pub use division::MAX_DIVISION;
pub use notes::TimedNote;
pub use report::{MidiError, MidiFile, MidiReport};

use self::conductor::conductor;
use self::notes::Notes;
use super::{MAX_EVENTS, Options, lead_in};
use barform_score::music::Beats;
use barform_score::score::Score;
use barform_score::timeline::Timeline;

/// Writes the file of a score and the timeline compiled from it.
///
/// # Errors
/// See [`MidiError`].
pub fn write(score: &Score, timeline: &Timeline, options: &Options) -> Result<MidiFile, MidiError> {
    options.check()?;
    let passes = u64::from(options.passes);
    let marks = (timeline.places.len() + timeline.bars.len() + timeline.sections.len()) as u64;
    if marks.saturating_mul(passes) > MAX_EVENTS as u64 {
        return Err(MidiError::TooLong);
    }
    let tempo = options.tempo_or(timeline.tempo)?;
    let us_per_quarter = content::microseconds(tempo)?.round().to_integer() as u32;
    let lead = lead_in(timeline, options.empty_bars)?;
    let length = timeline
        .length
        .checked_mul(Beats::whole(passes as i64))?
        .checked_add(lead)?;
    let Notes { tracks, notes } = Notes::collect(score, timeline, options, lead, us_per_quarter)?;
    let content = Content {
        title: &timeline.title,
        tempos: vec![(Beats::ZERO, tempo)],
        settle_at: Vec::new(),
        marks: conductor(timeline, lead, options.passes)?,
        tracks,
        notes,
        length,
    };
    content.write(options.gate_ms)
}
