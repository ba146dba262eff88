//! A schedule as a track: notes on frames for the sound, and a MIDI file with a
//! tempo map.

use crate::plan::TurnOf;
use crate::schedule::{Ornaments, Schedule, Segment, Sounding};
use barform_files::export::midi::{
    Content, FileBar, Mark, MidiError, MidiFile, TimedNote, signatures_of,
};
use barform_files::export::render::{RenderError, Rendering, Sounds};
use barform_score::music::{Beats, BeatsError};
use barform_score::timeline::Note;

/// All notes on their nearest frames, ties up, in order; then the track's end.
///
/// # Errors
/// [`BeatsError::Overflow`] if a time does not fit.
pub fn frames(
    schedule: &Schedule,
    ornaments: Ornaments,
    rate_hz: u32,
) -> Result<(Vec<(u64, Note)>, u64), BeatsError> {
    let onsets = schedule.onsets(ornaments)?;
    let notes = onsets
        .into_iter()
        .map(|o| (o.seconds.frame(rate_hz), o.note));
    Ok((notes.collect(), schedule.ends.frame(rate_hz)))
}

/// The track as sound, to be written with
/// [`write_rendering`](barform_files::export::audio::write_rendering). `tail_s`
/// seconds follow its end; `None` lets the kit ring out.
///
/// # Errors
/// See [`RenderError`].
pub fn rendering(
    schedule: &Schedule,
    ornaments: Ornaments,
    sounds: &Sounds,
    tail_s: Option<f64>,
    rate_hz: u32,
) -> Result<Rendering, RenderError> {
    let (notes, end) = frames(schedule, ornaments, rate_hz)?;
    Rendering::of_notes(notes, end, sounds, tail_s, f64::from(rate_hz))
}

/// The bars of the track. A stretch before a bar line goes on with the bar before
/// it, as far as that is not full.
fn bars(schedule: &Schedule) -> Result<Vec<FileBar>, BeatsError> {
    let mut bars: Vec<FileBar> = Vec::new();
    for segment in &schedule.segments {
        let Segment {
            start,
            length,
            meter,
            ..
        } = *segment;
        if let Some(before) = bars.last_mut().filter(|_| !segment.bar_line) {
            let both = before.length.checked_add(length)?;
            if before.meter == meter && both <= meter.bar() {
                before.length = both;
                continue;
            }
        }
        bars.push(FileBar {
            start,
            length,
            meter,
        });
    }
    Ok(bars)
}

/// Where each tempo begins.
fn tempos(schedule: &Schedule) -> Vec<(Beats, Beats)> {
    let mut tempos: Vec<(Beats, Beats)> = Vec::new();
    for segment in &schedule.segments {
        if tempos.last().is_none_or(|(_, now)| *now != segment.tempo) {
            tempos.push((segment.start, segment.tempo));
        }
    }
    tempos
}

/// The track as a Standard MIDI File of type 1: tempo map, time signatures, a
/// marker for every count-in, tempo step, turn and letter, and a track each for
/// hands, feet, ostinatos and click.
///
/// # Errors
/// See [`MidiError`].
pub fn midi(
    schedule: &Schedule,
    ornaments: Ornaments,
    gate_ms: f64,
) -> Result<MidiFile, MidiError> {
    let bars = bars(schedule)?;
    let words = markers(schedule)?;
    let signatures = signatures_of(&bars).into_iter();
    let mut marks: Vec<(Beats, Mark)> = signatures.map(|(at, m)| (at, Mark::Meter(m))).collect();
    marks.extend(words.iter().map(|(at, text)| (*at, Mark::Text(text))));
    marks.sort_by_key(|(at, _)| *at);
    let mut tracks = vec!["Hands".to_owned(), "Feet".to_owned(), "Click".to_owned()];
    // Passages of one score have the same ostinatos.
    let under = schedule.passages.iter().flat_map(|p| &p.ostinatos);
    let count = schedule.passages.first().map_or(0, |p| p.ostinatos.len());
    tracks.extend(under.take(count).map(|u| format!("Ostinato: {}", u.name)));
    let onsets = schedule.onsets(ornaments)?;
    let note = |onset: &crate::schedule::Onset| TimedNote {
        at: onset.at,
        shift_us: onset.shift_us,
        track: match onset.part {
            Sounding::Hands => 0,
            Sounding::Feet => 1,
            Sounding::Click => 2,
            Sounding::Ostinato(n) => 3 + n,
        },
        note: onset.note,
    };
    let content = Content {
        title: &schedule.title,
        tempos: tempos(schedule),
        settle_at: bars.iter().map(|bar| bar.start).collect(),
        marks,
        tracks,
        notes: onsets.iter().map(note).collect(),
        length: schedule.length,
    };
    content.write(gate_ms)
}

/// What is told where: count-ins, tempo steps, turns, letters.
fn markers(schedule: &Schedule) -> Result<Vec<(Beats, String)>, BeatsError> {
    let mut marks = Vec::new();
    let mut before: Option<&Segment> = None;
    for segment in &schedule.segments {
        let mut mark = |text: String| marks.push((segment.start, text));
        let changed = |of: fn(&Segment) -> usize| before.is_none_or(|b| of(b) != of(segment));
        if changed(|s| s.passage) {
            mark(schedule.passages[segment.passage].name.clone());
        }
        if changed(|s| s.step) || changed(|s| s.passage) {
            mark(format!("{} bpm", segment.tempo.to_f64()));
        }
        let turn = |s: &Segment| s.source.map(|source| source.turn);
        if before.is_none_or(|b| turn(b) != turn(segment)) {
            match turn(segment) {
                None => mark("count-in".to_owned()),
                Some(TurnOf::Player | TurnOf::Echo) => mark("player".to_owned()),
                Some(TurnOf::Barform) if before.and_then(turn).is_some() => {
                    mark("barform".to_owned())
                }
                Some(TurnOf::Barform) => {}
            }
        }
        if let Some(source) = segment.source {
            let letters = &schedule.passages[segment.passage].letters;
            let to = source.from.checked_add(segment.length)?;
            let first = letters.partition_point(|(at, _)| *at < source.from);
            for (at, letter) in letters[first..].iter().take_while(|(at, _)| *at < to) {
                let at = segment.start.checked_add(at.checked_sub(source.from)?)?;
                marks.push((at, letter.to_string()));
            }
        }
        before = Some(segment);
    }
    Ok(marks)
}
