//! The player itself: one block in, events out.

mod keys;
mod pass;
mod places;

use std::sync::Arc;

use super::habits::Habits;
use super::line::{Follow, Line, Report};
use super::live::{Live, MAX_STRETCHES};
use super::sounding::Sounding;
use super::stream::{Mapping, Part, Stream};
use super::{Event, Settings, Transport};
use barform_score::music::{Graces, Velocity};
use barform_score::score::MAX_OSTINATOS;
use barform_score::timeline::{BOUNCES, LaneRole, Note, Timeline};
use pass::Steady;
use places::Layout;

/// Roundings of `f64` between a position and a sample: in the stroke's time, in
/// the line's, in their difference and in the product.
const ROUNDINGS: f64 = 4.0;

/// Host positions beyond this many beats (some forty years) are not played.
const MAX_POSITION_BEATS: f64 = 1e9;

/// Tracks of one lane.
const PARTS: usize = 1 + Graces::MAX + BOUNCES;

/// Form, click and ostinatos, and three letters by key: one that sounds, one that
/// follows, and one that ends within half a sample.
const MAX_STREAMS: usize = (2 + MAX_OSTINATOS + 3) * PARTS;

/// Each bounce of a buzz stroke is this much softer than the one before.
/// Common practice, no source.
pub const BOUNCE_FADE: f64 = 0.78;

/// A letter's stretch is kept this long after its end, so that bounces of the
/// form's strokes that gave way to it are still judged by it.
const KEEP_BEATS: f64 = 8.0;

/// Single strokes that may wait for a block: more than two hands, two feet and
/// a handful of pads do within the longest block.
pub const MAX_STRUCK: usize = 64;

/// Plays one timeline. Made on any thread, used on the audio thread.
#[derive(Debug)]
pub struct Player {
    timeline: Option<Arc<Timeline>>,
    sample_rate: f64,
    line: Option<Line>,
    /// The line of the run before.
    before: Option<Line>,
    /// How the host reports its position.
    habits: Habits,
    /// Samples processed so far.
    clock: u64,
    sounding: Sounding,
    /// Single strokes for the next block.
    struck: Vec<Note>,
    silence: bool,
    streams: Vec<Stream>,
    /// Mapping of form, ostinatos and click, then of each stretch of a letter.
    maps: [Mapping; 1 + MAX_STRETCHES],
    layout: Option<Layout>,
    /// The streams have not been placed since they were built.
    unplaced: bool,
    /// Beats per sample, grace and buzz times that the leads were worked out
    /// with.
    leads_for: (f64, f64, f64),
    live: Live,
    steady: Option<Steady>,
    /// No stream has anything to say before this, in unwrapped beats.
    quiet_until: f64,
    /// Main strokes before this are done, in unwrapped beats.
    done: f64,
    /// Where the run began; nothing earlier belongs to it.
    floor: f64,
    /// How often the loop has turned in this run.
    laps: i64,
}

/// Half a sample at `beats`, in beats: a stroke belongs to the block that holds
/// its nearest sample. A tie goes up even where `f64` rounds it down.
fn half_sample(beats: f64, per_sample: f64) -> f64 {
    0.5 * per_sample + ROUNDINGS * f64::EPSILON * beats.abs()
}

impl Default for Player {
    fn default() -> Self {
        Self::new()
    }
}

impl Player {
    /// A player with nothing to play, at 48 kHz. Allocates all it will need.
    pub fn new() -> Player {
        let map = Mapping {
            origin: 0.0,
            stretch: 1.0,
            until: f64::INFINITY,
            cycle: None,
        };
        Player {
            timeline: None,
            sample_rate: 48_000.0,
            line: None,
            before: None,
            habits: Habits::default(),
            clock: 0,
            sounding: Sounding::new(),
            struck: Vec::with_capacity(MAX_STRUCK),
            silence: false,
            streams: Vec::with_capacity(MAX_STREAMS),
            maps: [map; 1 + MAX_STRETCHES],
            layout: None,
            unplaced: true,
            leads_for: (0.0, 0.0, 0.0),
            live: Live::default(),
            steady: None,
            quiet_until: f64::NEG_INFINITY,
            done: 0.0,
            floor: 0.0,
            laps: 0,
        }
    }

    /// Sets the sample rate in Hz, above zero. A run in progress starts anew.
    pub fn set_sample_rate(&mut self, hz: f64) {
        self.sample_rate = hz;
        self.restart();
    }

    /// Begins a run of its own at the next block, wherever that is, and forgets
    /// how positions have been reported so far.
    pub fn restart(&mut self) {
        self.line = None;
        self.before = None;
        self.habits = Habits::default();
        self.steady = None;
    }

    /// Plays another timeline from the next block on and returns the one
    /// before, to be dropped elsewhere. Notes that sound end in their time.
    /// Letters held by key are let go: the other score may not have them.
    pub fn set_timeline(&mut self, timeline: Option<Arc<Timeline>>) -> Option<Arc<Timeline>> {
        let old = std::mem::replace(&mut self.timeline, timeline);
        self.live.clear();
        self.layout = None;
        self.rebuild_streams();
        old
    }

    /// Ends every sounding note at the start of the next block.
    pub fn silence(&mut self) {
        self.silence = true;
        self.steady = None;
    }

    /// Sounds one note at the first sample of the next block, whether time runs
    /// or not, and for as long as every other; when time stops it ends with the
    /// rest. With [`MAX_STRUCK`] waiting, one more is left out.
    pub fn strike(&mut self, note: Note) {
        if self.struck.len() < MAX_STRUCK {
            self.struck.push(note);
            self.steady = None;
        }
    }

    /// Whether a note waits for its end or, struck singly, for its start.
    pub fn is_sounding(&self) -> bool {
        !self.sounding.is_empty() || !self.struck.is_empty()
    }

    /// Position in the form, in beats from its start, at the next block's
    /// first sample; `None` when time stands or outside of the form.
    pub fn position_beats(&self) -> Option<f64> {
        let length = self.timeline.as_ref()?.form().cycle_beats();
        Some(self.unwrapped_beats()? % length)
    }

    /// As [`Player::position_beats`], but counted on through all passes of a
    /// repeated form: a remainder costs more than all else in a quiet block,
    /// so whoever shows the position takes it.
    pub fn unwrapped_beats(&self) -> Option<f64> {
        let line = self.line.as_ref()?;
        let map = &self.maps[0];
        let beats = line.now() - map.origin;
        if self.timeline.is_none() || beats < 0.0 || line.now() >= map.until {
            return None;
        }
        Some(beats / map.stretch)
    }

    /// Plays one block of `frames` samples. Events come in order of their
    /// offset; at the same sample ends before starts, and the form before
    /// ostinatos, click and letters.
    pub fn process(
        &mut self,
        transport: &Transport,
        settings: &Settings,
        frames: u32,
        sink: &mut impl FnMut(Event),
    ) {
        if frames == 0 || self.pass(transport, settings, frames) {
            return;
        }
        let report = Report::of(transport, self.sample_rate);
        let rolls = transport.playing
            && transport.tempo_bpm > 0.0
            && transport.tempo_bpm.is_finite()
            && report.is_within(MAX_POSITION_BEATS);
        if std::mem::take(&mut self.silence) || (!rolls && self.line.is_some()) {
            self.sounding.end_all(sink);
        }
        if rolls {
            self.roll(transport, &report, settings, frames, sink);
        } else {
            self.rest(&report);
            self.steady = None;
            self.live.clear();
            self.play_struck(settings, sink);
        }
        let last_sample = self.clock + u64::from(frames) - 1;
        self.sounding.end_until(last_sample, self.clock, sink);
        self.clock += u64::from(frames);
    }

    /// Starts the single strokes that wait.
    fn play_struck(&mut self, settings: &Settings, sink: &mut impl FnMut(Event)) {
        if self.struck.is_empty() {
            return;
        }
        let off = self.clock + self.gate_samples(settings);
        self.sounding.end_until(self.clock, self.clock, sink);
        for note in self.struck.drain(..) {
            self.sounding.start(note, off, 0, sink);
        }
    }

    /// Length of every note.
    fn gate_samples(&self, settings: &Settings) -> u64 {
        let samples = settings.gate_ms * self.sample_rate / 1000.0;
        samples.round().max(1.0) as u64
    }

    fn roll(
        &mut self,
        transport: &Transport,
        report: &Report,
        settings: &Settings,
        frames: u32,
        sink: &mut impl FnMut(Event),
    ) {
        let per_sample = report.beats_per_sample;
        let cycle = transport.cycle.filter(|c| c.can_be_followed(per_sample));
        let predicted = self.line.as_ref().map_or(f64::INFINITY, Line::now);
        let on = match &mut self.line {
            Some(line) => line.follow(report, cycle, &mut self.habits) == Follow::On,
            None => false,
        };
        if !on {
            self.begin(report, sink);
        } else if let (Some(line), Some(cycle)) = (&self.line, cycle)
            && (predicted..=line.now()).contains(&cycle.end_beats)
            && predicted < cycle.end_beats
        {
            // The host reached the loop's end a little before the line did.
            self.turn(line.now(), cycle);
        }
        self.play_struck(settings, sink);
        let Some(line) = &self.line else { return };
        let (start, end) = (line.now(), line.at(frames));
        // Behind its end a loop is not entered again.
        let cycle = cycle.filter(|c| start < c.end_beats);
        let layout = Layout {
            start_beats: settings.start_beats,
            rate: settings.rate,
            repeat: settings.repeat,
            cycle,
        };
        self.update_leads(per_sample, settings);
        if self.unplaced || self.layout != Some(layout) {
            self.lay_out(layout);
        }

        let done = end - half_sample(end, per_sample);
        if done > self.quiet_until {
            self.play_until(done, start, per_sample, settings, frames, sink);
        }
        // Where the line was moved back, what is done stays done.
        self.done = self.done.max(done);
        self.live.forget_before(start - KEEP_BEATS);
        if let Some(line) = &mut self.line {
            line.advance(frames);
        }
        if let Some(cycle) = cycle
            && end >= cycle.end_beats
        {
            self.turn(end, cycle);
        }
        self.steady = self.steady_under(transport, settings);
    }

    /// Time stands; how the host reports it is learned from.
    fn rest(&mut self, report: &Report) {
        self.before = self.line.take().or(self.before.take());
        report.rest(&mut self.habits);
    }

    /// A run begins: at a start or after a jump.
    fn begin(&mut self, report: &Report, sink: &mut impl FnMut(Event)) {
        self.sounding.end_all(sink);
        self.before = self.line.take().or(self.before.take());
        self.line = Line::start(report, self.before.as_ref(), &self.habits);
        self.live.clear();
        let beats = self.line.as_ref().map_or(0.0, Line::now);
        self.floor = beats - half_sample(beats, report.beats_per_sample);
        self.done = f64::NEG_INFINITY;
        self.laps = 0;
        self.rebuild_streams();
    }

    /// Plays all that is due before `done`, merging the streams in order.
    fn play_until(
        &mut self,
        done: f64,
        start: f64,
        per_sample: f64,
        settings: &Settings,
        frames: u32,
        sink: &mut impl FnMut(Event),
    ) {
        let Some(timeline) = &self.timeline else {
            return;
        };
        let gate = self.gate_samples(settings);
        let samples_per_beat = 1.0 / per_sample;
        let buzz_beats = settings.buzz_ms * self.sample_rate / 1000.0 * per_sample;
        loop {
            let mut due = f64::INFINITY;
            let mut first = None;
            for (i, stream) in self.streams.iter().enumerate() {
                if stream.due() < due {
                    due = stream.due();
                    first = Some(i);
                }
            }
            self.quiet_until = due;
            let Some(i) = first.filter(|_| due < done) else {
                return;
            };
            let stream = &mut self.streams[i];
            let map = &self.maps[stream.map];
            let track = stream.track(timeline);
            let mut note = track.notes[stream.index()];
            let mut plays = match timeline.lanes[stream.lane].role {
                LaneRole::Form => !self.live.covers(stream.next) && heard(&note, settings),
                LaneRole::Letter(_) => heard(&note, settings),
                LaneRole::Ostinato(_) => !settings.mute.ostinato,
                LaneRole::Click => !settings.mute.click,
            };
            if let Part::Bounce(n) = stream.part {
                let room = f64::from(track.room[stream.index()]) * map.stretch;
                // Who takes over has the hands: form and letter bounce no longer.
                let over = match timeline.lanes[stream.lane].role {
                    LaneRole::Form => self.live.covers(due),
                    _ => due >= map.until,
                };
                plays &= (n + 1) as f64 * buzz_beats < room && !over;
                let velocity = f64::from(note.velocity.value());
                note.velocity = Velocity::clamped(velocity * BOUNCE_FADE.powi(n as i32 + 1));
            }
            stream.advance(timeline, map);
            if plays {
                // Late ones (a grace note before the run began) come at once.
                let offset =
                    ((due - start + half_sample(due, per_sample)) * samples_per_beat).floor();
                let offset = offset.clamp(0.0, f64::from(frames - 1)) as u32;
                let sample = self.clock + u64::from(offset);
                self.sounding.end_until(sample, self.clock, sink);
                self.sounding.start(note, sample + gate, offset, sink);
            }
        }
    }
}

/// Whether hands or feet are muted.
fn heard(note: &Note, settings: &Settings) -> bool {
    match note.limb {
        Some(limb) if limb.is_foot() => !settings.mute.feet,
        Some(_) => !settings.mute.hands,
        None => true,
    }
}
