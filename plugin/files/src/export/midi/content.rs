//! A file as plain data: exact notes, tempos and marks.

use super::conductor::Mark;
use super::division::Division;
use super::notes::{TickNote, TimedNote, settle_keys};
use super::report::{MidiError, MidiFile, MidiReport};
use super::track::{Clock, TrackBuilder, note_track};
use barform_score::music::{Beats, BeatsError};
use midly::num::{u15, u24};
use midly::{Format, Header, MetaMessage, Smf, Timing, TrackEventKind};
use num_rational::Ratio;

/// Rounding of the tempo to whole microseconds is made good before it adds up to
/// more than this, in microseconds: half a sample at 48 kHz.
const MOST_DRIFT_US: f64 = 10.0;

/// What a file holds, in exact time from its start.
#[derive(Debug, Clone)]
pub struct Content<'a> {
    /// Name of track 0.
    pub title: &'a str,
    /// Where each tempo begins, and its beats per minute, `4 ..= 10_000`; the
    /// first at the start.
    pub tempos: Vec<(Beats, Beats)>,
    /// Places in order, such as bar lines, where the tempo may be set anew a
    /// microsecond per quarter note faster or slower, so that rounding it never
    /// adds up. None for one tempo event for each tempo.
    pub settle_at: Vec<Beats>,
    /// Time signatures and markers in order.
    pub marks: Vec<(Beats, Mark<'a>)>,
    /// Names of the tracks; one without a note is left out.
    pub tracks: Vec<String>,
    /// Notes in any order.
    pub notes: Vec<TimedNote>,
    /// Length of the file.
    pub length: Beats,
}

/// Microseconds per quarter note at a tempo, exact.
///
/// # Errors
/// [`BeatsError::Overflow`] if they do not fit.
pub(super) fn microseconds(tempo: Beats) -> Result<Ratio<i64>, BeatsError> {
    let us = Beats::whole(60_000_000).checked_div(tempo)?;
    Ok(Ratio::new(us.numer(), us.denom()))
}

impl Content<'_> {
    /// Writes the file; every note lasts `gate_ms` milliseconds or until the
    /// next one on its key.
    ///
    /// # Errors
    /// See [`MidiError`].
    pub fn write(mut self, gate_ms: f64) -> Result<MidiFile, MidiError> {
        self.drop_empty_tracks();
        let map = TempoMap::of(&self)?;
        let times = self.notes.iter().map(|n| n.at);
        let times = times.chain(self.marks.iter().map(|(at, _)| *at));
        let times = times.chain(map.events.iter().map(|(at, _)| *at));
        let division = Division::for_times(times.chain([self.length]));
        let clock = Clock {
            per_quarter: division.per_quarter,
            tempos: &map.events,
        };
        let end = clock.tick(self.length, 0);
        let gate_us = (gate_ms * 1000.0).round() as i64;
        let mut graces_at_start = 0;
        let tick = |n: &TimedNote| {
            let on = clock.tick(n.at, n.shift_us);
            graces_at_start += usize::from(on < 0);
            let on = on.max(0) as u64;
            let off = clock.tick(n.at, n.shift_us.saturating_add(gate_us));
            TickNote {
                on,
                off: (off.min(end).max(0) as u64).max(on + 1),
                track: n.track,
                note: n.note,
            }
        };
        let mut ticked: Vec<TickNote> = self.notes.iter().map(tick).collect();
        let merged = settle_keys(&mut ticked);
        let end = end.max(0) as u64;

        let mut smf_tracks = Vec::with_capacity(self.tracks.len() + 1);
        smf_tracks.push(self.conductor(&map, &clock).finish(end));
        let mut counts = vec![0; self.tracks.len()];
        for (number, name) in self.tracks.iter().enumerate() {
            let mine = ticked.iter().filter(|n| n.track == number);
            let mine: Vec<TickNote> = mine.copied().collect();
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
        let slowest = map.events.iter().map(|(_, us)| *us).max().unwrap_or(0);
        let largest_error_us = *error.numer() as f64 / *error.denom() as f64 * f64::from(slowest)
            / f64::from(division.per_quarter);
        let report = MidiReport {
            division: division.per_quarter,
            largest_error_ticks: error,
            largest_error_us,
            us_per_quarter: map.events[0].1,
            us_per_quarter_wanted: map.first_wanted,
            seconds: map.seconds,
            tempo_drift_us: map.drift_us,
            tracks: self.tracks.into_iter().zip(counts).collect(),
            merged,
            graces_at_start,
            length: self.length,
        };
        Ok(MidiFile { bytes, report })
    }

    /// Track 0: tempos ahead of what else stands at their time.
    fn conductor(&self, map: &TempoMap, clock: &Clock<'_>) -> TrackBuilder<'_> {
        let mut builder = TrackBuilder::named(self.title);
        let mut marks = self.marks.iter().peekable();
        let tick = |at: Beats| clock.tick(at, 0).max(0) as u64;
        for (at, us) in &map.events {
            while let Some((earlier, mark)) = marks.next_if(|(mark_at, _)| mark_at < at) {
                builder.push(tick(*earlier), TrackEventKind::Meta(mark.message()));
            }
            let tempo = MetaMessage::Tempo(u24::from(*us));
            builder.push(tick(*at), TrackEventKind::Meta(tempo));
        }
        for (at, mark) in marks {
            builder.push(tick(*at), TrackEventKind::Meta(mark.message()));
        }
        builder
    }

    fn drop_empty_tracks(&mut self) {
        let mut used = vec![false; self.tracks.len()];
        for note in &self.notes {
            used[note.track] = true;
        }
        let mut new_index = vec![0; used.len()];
        let mut next = 0;
        for (new, used) in new_index.iter_mut().zip(&used) {
            *new = next;
            next += usize::from(*used);
        }
        for note in &mut self.notes {
            note.track = new_index[note.track];
        }
        let mut keep = used.into_iter();
        self.tracks.retain(|_| keep.next().unwrap_or(false));
    }
}

/// The tempos of a file in whole microseconds.
struct TempoMap {
    /// Where each begins; the first at the start.
    events: Vec<(Beats, u32)>,
    first_wanted: Ratio<i64>,
    seconds: f64,
    drift_us: f64,
}

impl TempoMap {
    fn of(content: &Content<'_>) -> Result<TempoMap, BeatsError> {
        let first = content.tempos.first().ok_or(BeatsError::Overflow)?;
        let mut map = TempoMap {
            events: Vec::new(),
            first_wanted: microseconds(first.1)?,
            seconds: 0.0,
            drift_us: 0.0,
        };
        for (i, (from, tempo)) in content.tempos.iter().enumerate() {
            let to = content.tempos.get(i + 1).map_or(content.length, |n| n.0);
            let wanted = microseconds(*tempo)?;
            let nearest = wanted.round().to_integer();
            let wanted = *wanted.numer() as f64 / *wanted.denom() as f64;
            let inside = content
                .settle_at
                .iter()
                .filter(|at| *from < **at && **at < to);
            let may_settle = !content.settle_at.is_empty();
            let mut mending = false;
            let mut at = *from;
            for next in inside.chain([&to]) {
                let beats = next.to_f64() - at.to_f64();
                let drift = |us: i64| map.drift_us + (us as f64 - wanted) * beats;
                let other = if nearest as f64 > wanted {
                    nearest - 1
                } else {
                    nearest + 1
                };
                let off = drift(nearest).abs();
                // Once begun, it is made good as far as that helps.
                mending =
                    may_settle && drift(other).abs() < off && (mending || off > MOST_DRIFT_US);
                let us = if mending { other } else { nearest };
                map.drift_us = drift(us);
                map.seconds += us as f64 * beats / 1e6;
                // Fits: the tempo is at least 4 beats a minute.
                let us = us as u32;
                if map.events.last().is_none_or(|(_, now)| *now != us) {
                    map.events.push((at, us));
                }
                at = *next;
            }
        }
        Ok(map)
    }
}
