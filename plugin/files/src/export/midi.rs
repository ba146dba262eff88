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
mod division;
mod exact;
mod notes;
mod report;
mod track;

pub use division::MAX_DIVISION;
pub use report::{MidiError, MidiFile, MidiReport};

use self::conductor::conductor;
use self::division::Division;
use self::notes::{Notes, TickNote, TimedNote, settle_keys};
use self::track::{Clock, TrackBuilder, note_track};
use super::{MAX_EVENTS, Options, lead_in};
use barform_score::music::Beats;
use barform_score::score::Score;
use barform_score::timeline::Timeline;
use midly::num::{u15, u24};
use midly::{Format, Header, MetaMessage, Smf, Timing, TrackEventKind};
use num_rational::Ratio;

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
    let wanted = Beats::whole(60_000_000).checked_div(options.tempo_or(timeline.tempo)?)?;
    let wanted = Ratio::new(wanted.numer(), wanted.denom());
    let us_per_quarter = wanted.round().to_integer() as u32;
    let lead = lead_in(timeline, options.empty_bars)?;
    let length = timeline
        .length
        .checked_mul(Beats::whole(passes as i64))?
        .checked_add(lead)?;
    let Notes { tracks, notes } = Notes::collect(score, timeline, options, lead, us_per_quarter)?;
    let conductor = conductor(timeline, lead, options.passes)?;

    let times = notes
        .iter()
        .map(|n| n.at)
        .chain(conductor.iter().map(|(at, _)| *at));
    let division = Division::for_times(times.chain([length]));
    let clock = Clock {
        per_quarter: division.per_quarter,
        us_per_quarter,
    };
    let end = clock.tick(length, 0);
    let gate_us = (options.gate_ms * 1000.0).round() as i64;
    let mut graces_at_start = 0;
    let mut ticked: Vec<TickNote> = notes
        .iter()
        .map(|n: &TimedNote| {
            let on = clock.tick(n.at, n.shift_us);
            graces_at_start += usize::from(on < 0);
            let on = on.max(0) as u64;
            let off = clock
                .tick(n.at, n.shift_us.saturating_add(gate_us))
                .min(end)
                .max(0) as u64;
            TickNote {
                on,
                off: off.max(on + 1),
                track: n.track,
                note: n.note,
            }
        })
        .collect();
    drop(notes);
    let merged = settle_keys(&mut ticked);
    let end = end.max(0) as u64;

    let mut smf_tracks = Vec::with_capacity(tracks.len() + 1);
    let mut builder = TrackBuilder::named(&timeline.title);
    builder.push(
        0,
        TrackEventKind::Meta(MetaMessage::Tempo(u24::from(us_per_quarter))),
    );
    for (at, mark) in &conductor {
        builder.push(
            clock.tick(*at, 0).max(0) as u64,
            TrackEventKind::Meta(mark.message()),
        );
    }
    smf_tracks.push(builder.finish(end));
    let mut counts = vec![0; tracks.len()];
    for (number, name) in tracks.iter().enumerate() {
        let mine: Vec<TickNote> = ticked
            .iter()
            .filter(|n| n.track == number)
            .copied()
            .collect();
        counts[number] = mine.len();
        smf_tracks.push(note_track(name, &mine, end));
    }
    let timing = Timing::Metrical(u15::from(division.per_quarter));
    let smf = Smf {
        header: Header::new(Format::Parallel, timing),
        tracks: smf_tracks,
    };
    let mut bytes = Vec::new();
    smf.write_std(&mut bytes)
        .map_err(|e| MidiError::Write(e.to_string()))?;

    let error = division.largest_error;
    let largest_error_us = *error.numer() as f64 / *error.denom() as f64
        * f64::from(us_per_quarter)
        / f64::from(division.per_quarter);
    let report = MidiReport {
        division: division.per_quarter,
        largest_error_ticks: error,
        largest_error_us,
        us_per_quarter,
        us_per_quarter_wanted: wanted,
        tracks: tracks.into_iter().zip(counts).collect(),
        merged,
        graces_at_start,
        length,
    };
    Ok(MidiFile { bytes, report })
}
