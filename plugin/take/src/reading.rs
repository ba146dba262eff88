//! A take, read.

mod contents;
mod course;

use crate::TakeError;
use crate::beat::BeatMap;
use crate::form::Form;
use crate::job::{Job, Watch};
use crate::keys::Keys;
use crate::letters::{Classes, Content, Costs};
use crate::recording::Recording;
use crate::strokes::Stroke;
use crate::subdivide::{BeatRead, Shape};
use barform_score::music::{Kit, Meter, Voice};

/// Whether somebody played it, or a program wrote it on its ticks.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Kind {
    /// By hand, with human timing.
    Played,
    /// On the ticks of a grid.
    Programmed,
}

/// Where the beats come from.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub enum BeatSource {
    /// The file's tempo map where it states one, else found.
    #[default]
    Auto,
    /// The file's tempo map: it was played to a click.
    Click,
    /// Found from the strokes.
    Found,
}

/// How a take is read.
#[derive(Debug, Clone, PartialEq)]
pub struct Options {
    /// Played or programmed; `None` to find out.
    pub kind: Option<Kind>,
    /// Where the beats come from.
    pub beats: BeatSource,
    /// Pulses a minute, 20 to 400; `None` to find out.
    pub tempo: Option<f64>,
    /// Moment of the first beat of a bar, in seconds; `None` to find out.
    pub first_beat: Option<f64>,
    /// Meter; `None` for the file's, else 4/4.
    pub meter: Option<Meter>,
    /// The kit whose keys the pads send.
    pub kit: Kit,
    /// Most forms proposed, `1 ..= 20`.
    pub proposals: usize,
}

impl Default for Options {
    fn default() -> Self {
        Options {
            kind: None,
            beats: BeatSource::Auto,
            tempo: None,
            first_beat: None,
            meter: None,
            kit: Kit::general_midi(),
            proposals: 5,
        }
    }
}

/// A stroke with its slot.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Placed {
    /// The stroke.
    pub stroke: Stroke,
    /// Its pulse, from the start of the form.
    pub pulse: i64,
    /// Its slot as a fraction of a pulse from there.
    pub slot: (i64, i64),
    /// How late it came, in milliseconds; negative if early. What the whole take
    /// is late is taken off, and what its player's own line of beats is.
    pub late_ms: f64,
    /// The same against the beats as they were given, or found.
    pub click_ms: f64,
}

/// A take, read.
#[derive(Debug, Clone)]
pub struct Reading {
    /// Whether it was played or programmed.
    pub kind: Kind,
    /// Share of notes that lie on the ticks of a grid, `0 ..= 1`.
    pub on_ticks: f64,
    /// Where the beats were taken from: never [`BeatSource::Auto`].
    pub source: BeatSource,
    /// The beats; pulse 0 is the form's first.
    pub map: BeatMap,
    /// The meter.
    pub meter: Meter,
    /// Pulses of the form.
    pub pulses: usize,
    /// How late the take is against its beats on the whole, in milliseconds.
    pub late_ms: f64,
    /// Spread of the strokes around their slots, in milliseconds.
    pub spread_ms: f64,
    /// The subdivisions there are.
    pub shapes: Vec<Shape>,
    /// Subdivision of every beat, or two.
    pub beats: Vec<BeatRead>,
    /// Every stroke with its slot, in order of time.
    pub strokes: Vec<Placed>,
    /// Notes that were a second contact of a stroke.
    pub contacts: usize,
    /// What each pulse plays.
    pub contents: Vec<Content>,
    /// Ostinatos of the feet, lifted out of the cells.
    pub lifted: Vec<Lifted>,
    /// Classes of the pulses, and what differences between them cost.
    pub classes: Classes,
    /// See [`Reading::classes`].
    pub costs: Costs,
    /// What the keys play.
    pub keys: Keys,
    /// Notes on channels that were not read.
    pub other_channels: usize,
    /// Forms, that with the shortest description first.
    pub forms: Vec<Form>,
    /// How sure the beats are.
    pub certainty: Certainty,
    /// Strokes of a count-in; they are not in the form.
    pub counted: Vec<Stroke>,
    /// The file's title.
    pub title: String,
}

/// A foot that goes on unchanged under the form.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Lifted {
    /// What it plays.
    pub voice: Voice,
    /// Pulses of its cycle.
    pub cycle: i64,
    /// Its strokes: pulse of the cycle, and slot as a fraction of a pulse.
    pub slots: Vec<(i64, (i64, i64))>,
    /// Strokes that the take leaves out.
    pub missed: usize,
}

/// How sure beats are.
#[derive(Debug, Clone, PartialEq)]
pub struct Certainty {
    /// Of tempo and beat, `0 ..= 1`.
    pub beat: f64,
    /// Of the bar line, `0 ..= 1`.
    pub bar: f64,
    /// Other tempos that fit, pulses a minute, best first.
    pub others: Vec<f64>,
}

impl Default for Certainty {
    fn default() -> Self {
        Certainty {
            beat: 1.0,
            bar: 1.0,
            others: Vec::new(),
        }
    }
}

impl Reading {
    /// Reads the bytes of a MIDI file.
    ///
    /// # Errors
    /// See [`TakeError`].
    pub fn of(bytes: &[u8], options: &Options) -> Result<Reading, TakeError> {
        Reading::watched(bytes, options, &mut |_| true)
    }

    /// The same, telling `watch` the share that is done; where it answers
    /// `false` the reading stops.
    ///
    /// # Errors
    /// See [`TakeError`].
    pub fn watched(
        bytes: &[u8],
        options: &Options,
        watch: &mut Watch<'_>,
    ) -> Result<Reading, TakeError> {
        let mut job = Job::new(watch);
        job.part(0.05);
        job.step(0, 1)?;
        let recording = Recording::read(bytes)?;
        course::read(&recording, options, &mut job)
    }
}

/// Pulses in a bar, at least 1.
pub fn pulses(meter: Meter) -> usize {
    let pulses = meter.bar().checked_div(meter.pulse());
    pulses.map_or(4, |p| p.numer().max(1) as usize)
}
