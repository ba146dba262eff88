//! One block of audio: from the host's transport and notes to the player, and
//! from the player to the host's notes and the embedded kit.
//!
//! In: the framework's buffer and context. Out: notes in order of their sample,
//! ours merged with those that come in; stereo audio. Everything that music
//! needs is in the core; this file only translates.
//! Never here: an allocation, a lock, a system call. What is replaced is freed
//! by its sender (see [`crate::handover`]).

use std::sync::Arc;

use barform_core::music::{Articulation, Voice};
use barform_core::player::{
    Event, EventKind, Loop, OwnClock, Player, Settings, Transport as PlayerTransport,
};
use barform_core::sound::{Mixer, SampleSet};
use barform_core::timeline::{Note, Timeline};
use nice_plug::context::process::SendEventError;
use nice_plug::midi::{Channel, Key, VoiceID};
use nice_plug::prelude::*;

use crate::Barform;
use crate::handover::{Clock, Live, Reading, Receiver};
use crate::params::{BarformParams, ClockChoice, Snapshot};

/// Room for the notes that come in during one block: what the framework itself
/// keeps room for. More than that lose their order, not their being.
const THROUGH_CAPACITY: usize = Barform::INPUT_EVENT_CAPACITY;

/// Note-offs that a full host buffer turned away and that are still owed.
const OWED_CAPACITY: usize = 256;

/// What the audio thread owns.
pub struct Engine {
    params: Arc<BarformParams>,
    /// The parameters at their last change.
    set: Snapshot,
    live: Arc<Live>,
    incoming: Option<Receiver>,
    player: Player,
    /// None until the sample rate is known.
    mixer: Option<Mixer>,
    clock: OwnClock,
    /// The own clock has never been started or sent anywhere.
    fresh: bool,
    facts: Facts,
    sample_rate_hz: f64,
    level_db: f32,
    bypassed: bool,
    through: Vec<NoteEvent<()>>,
    owed: Vec<NoteEvent<()>>,
    /// The letter that each held key plays.
    held: [Option<u16>; 128],
}

/// What the transport needs to know of the timeline, worked out once.
#[derive(Debug, Clone, Copy)]
struct Facts {
    bar_beats: f64,
    pickup_beats: f64,
    length_beats: f64,
    tempo_bpm: f64,
    letters: usize,
}

impl Facts {
    fn of(timeline: &Timeline) -> Facts {
        Facts {
            bar_beats: timeline
                .bars
                .first()
                .map_or(4.0, |bar| bar.meter.bar().to_f64()),
            pickup_beats: timeline.pickup.to_f64(),
            length_beats: timeline.length_beats(),
            tempo_bpm: timeline.tempo.to_f64(),
            letters: timeline.letters.len(),
        }
    }

    /// Beats from the start of the form at `beats` of the clock, if inside.
    fn form_position(&self, beats: f64, settings: &Settings) -> Option<f64> {
        let speed = settings.rate.factor().to_f64();
        let at = (beats - settings.start_beats) * speed + self.pickup_beats;
        if at < 0.0 || self.length_beats <= 0.0 {
            None
        } else if settings.repeat {
            Some(at % self.length_beats)
        } else {
            (at < self.length_beats).then_some(at)
        }
    }
}

impl Engine {
    /// A silent engine; it plays once [`Engine::activate`] was called.
    pub fn new(params: Arc<BarformParams>) -> Engine {
        let facts = Facts::of(&params.session.checked().timeline);
        let live = params.session.live.clone();
        live.set_length(facts.length_beats);
        Engine {
            live,
            incoming: params.session.take_receiver(),
            set: params.snapshot(),
            params,
            player: Player::new(),
            mixer: None,
            clock: OwnClock::default(),
            fresh: true,
            facts,
            sample_rate_hz: 48_000.0,
            level_db: f32::NAN,
            bypassed: false,
            through: Vec::with_capacity(THROUGH_CAPACITY),
            owed: Vec::with_capacity(OWED_CAPACITY),
            held: [None; 128],
        }
    }

    /// Gets ready for a sample rate; allocates. Without a kit for that rate the
    /// notes go out all the same.
    pub fn activate(&mut self, sample_rate_hz: f64) {
        self.sample_rate_hz = sample_rate_hz;
        self.player.set_sample_rate(sample_rate_hz);
        let right = |m: &Mixer| m.samples().rate_hz() == sample_rate_hz;
        if !self.mixer.as_ref().is_some_and(right) {
            self.mixer = SampleSet::for_rate(sample_rate_hz).ok().map(Mixer::new);
            self.level_db = f32::NAN;
        }
    }

    /// Ends all notes at the next block and cuts the kit's sound.
    pub fn reset(&mut self) {
        self.silence();
        if let Some(mixer) = &mut self.mixer {
            mixer.silence();
        }
    }

    /// Ends all notes at the next block.
    pub fn silence(&mut self) {
        self.player.silence();
        self.held = [None; 128];
    }

    /// Plays one block.
    pub fn process(&mut self, buffer: &mut Buffer, context: &mut impl ProcessContext<Barform>) {
        self.take_timeline();
        if let Some(set) = self.params.take_changes() {
            self.set = set;
        }
        let frames = buffer.samples() as u32;
        let bypass = self.set.bypass;
        let (clock, own) = self.which_clock(context);
        let mut settings = self.set.settings;
        if !own {
            settings.start_beats = self.set.start_bars * self.facts.bar_beats;
        }
        let transport = if own {
            self.own_transport(frames, &settings, bypass)
        } else {
            host_transport(context.transport(), bypass)
        };
        self.take_input(context, bypass);
        self.prepare_kit(bypass);

        let sound = self.set.sound && !bypass;
        let Engine {
            player,
            mixer,
            through,
            owed,
            ..
        } = self;
        let mut out = Out {
            context,
            through,
            owed,
            sent: 0,
        };
        out.send_owed();
        let mut kit = Kit::new(mixer.as_mut(), buffer, sound);
        player.process(&transport, &settings, frames, &mut |event: Event| {
            out.send_through_until(event.offset);
            if let EventKind::On(note) = event.kind {
                kit.strike(event.offset as usize, &note);
            }
            out.send(event);
        });
        kit.finish();
        out.send_through_until(u32::MAX);
        out.through.clear();

        let position_beats = self.player.unwrapped_beats().or_else(|| {
            self.facts
                .form_position(transport.position_beats, &settings)
        });
        self.live.publish(Reading {
            position_beats,
            tempo_bpm: transport.tempo_bpm,
            rolling: transport.playing,
            clock,
            letter: self.player.live_letter(),
        });
    }

    /// The newest score, if one has come.
    fn take_timeline(&mut self) {
        if let Some(timeline) = self.incoming.as_ref().and_then(Receiver::take) {
            self.facts = Facts::of(&timeline);
            self.live.set_length(self.facts.length_beats);
            self.held = [None; 128];
            // Frees nothing: the sender keeps what it sent.
            drop(self.player.set_timeline(Some(timeline)));
        }
    }

    fn which_clock(&self, context: &impl ProcessContext<Barform>) -> (Clock, bool) {
        let host = context.transport();
        let reports = context.plugin_api() != PluginApi::Standalone
            && host.pos_beats.is_some()
            && host.tempo.is_some();
        match self.set.clock {
            ClockChoice::Own => (Clock::Own, true),
            ClockChoice::Host if reports => (Clock::Host, false),
            ClockChoice::Host => (Clock::OwnForWant, true),
        }
    }

    fn own_transport(&mut self, frames: u32, settings: &Settings, bypass: bool) -> PlayerTransport {
        let stretch = 1.0 / settings.rate.factor().to_f64();
        let origin = settings.start_beats - self.facts.pickup_beats * stretch;
        let run = self.set.own_run && !bypass;
        if let Some(form_beats) = self.live.take_locate() {
            self.clock.start_at(origin + form_beats * stretch);
            self.fresh = false;
        } else if run && !self.clock.is_running() {
            let at = self.clock.position_beats();
            let over = !settings.repeat && at >= origin + self.facts.length_beats * stretch;
            self.clock
                .start_at(if self.fresh || over { origin } else { at });
            self.fresh = false;
        }
        if !run {
            self.clock.stop();
        }
        let tempo_bpm = self.set.own_tempo_bpm.unwrap_or(self.facts.tempo_bpm);
        self.clock.advance(frames, tempo_bpm, self.sample_rate_hz)
    }

    /// Letter keys go to the player, everything else is kept to go out.
    fn take_input(&mut self, context: &mut impl ProcessContext<Barform>, bypass: bool) {
        while let Some(event) = context.next_event() {
            if !bypass && self.take_letter(&event) {
                continue;
            }
            if self.through.len() < THROUGH_CAPACITY {
                self.through.push(event);
            } else {
                // A full host buffer is the host's to mend.
                let _ = context.try_send_event(event);
            }
        }
    }

    /// Whether the event was a letter key, and has been dealt with.
    fn take_letter(&mut self, event: &NoteEvent<()>) -> bool {
        match *event {
            NoteEvent::NoteOn {
                timing,
                key: Key::Number(key),
                ..
            } => {
                let Some(first) = self.set.first_key else {
                    return false;
                };
                let letter = i32::from(key) - first;
                let letters = self.facts.letters.min(128) as i32;
                if !(0..letters).contains(&letter) {
                    return false;
                }
                let quantise = self.set.letter_start;
                self.held[usize::from(key & 127)] = Some(letter as u16);
                self.player.letter_down(letter as usize, timing, quantise);
                true
            }
            NoteEvent::NoteOff {
                timing,
                key: Key::Number(key),
                ..
            }
            | NoteEvent::Choke {
                timing,
                key: Key::Number(key),
                ..
            } => {
                let Some(letter) = self.held[usize::from(key & 127)].take() else {
                    return false;
                };
                let quantise = self.set.letter_start;
                self.player.letter_up(usize::from(letter), timing, quantise);
                true
            }
            _ => false,
        }
    }

    /// Level and bypass reach the kit when they change.
    fn prepare_kit(&mut self, bypass: bool) {
        let Some(mixer) = &mut self.mixer else { return };
        let level_db = self.set.level_db;
        if level_db != self.level_db {
            self.level_db = level_db;
            mixer.set_gain_db(level_db);
        }
        if bypass && !self.bypassed {
            mixer.fade_out();
        }
        self.bypassed = bypass;
    }
}

/// Zeroes in place: for the few samples of a block a call of `memset`, which
/// the compiler makes of a constant, takes longer than the stores.
fn silence(channel: &mut [f32]) {
    let zero = std::hint::black_box(0.0);
    for sample in channel {
        *sample = zero;
    }
}

fn host_transport(host: &Transport, bypass: bool) -> PlayerTransport {
    PlayerTransport {
        playing: host.playing && !bypass,
        position_beats: host.pos_beats.unwrap_or(0.0),
        tempo_bpm: host.tempo.unwrap_or(0.0),
        cycle: host.loop_range_beats.map(|(start_beats, end_beats)| Loop {
            start_beats,
            end_beats,
        }),
    }
}

/// The host's note output, with what comes in merged in front of what is ours.
struct Out<'a, C> {
    context: &'a mut C,
    through: &'a mut Vec<NoteEvent<()>>,
    owed: &'a mut Vec<NoteEvent<()>>,
    sent: usize,
}

impl<C: ProcessContext<Barform>> Out<'_, C> {
    /// Note-offs that found no room in an earlier block.
    fn send_owed(&mut self) {
        while let Some(event) = self.owed.last() {
            if self.context.try_send_event(*event).is_err() {
                return;
            }
            self.owed.pop();
        }
    }

    /// What came in up to `offset`, that sample included.
    fn send_through_until(&mut self, offset: u32) {
        while let Some(event) = self.through.get(self.sent) {
            if event.timing() > offset {
                return;
            }
            // A full host buffer is the host's to mend.
            let _ = self.context.try_send_event(*event);
            self.sent += 1;
        }
    }

    fn send(&mut self, event: Event) {
        match event.kind {
            EventKind::On(note) => {
                let _ = self.context.try_send_event(NoteEvent::NoteOn {
                    timing: event.offset,
                    voice_id: VoiceID::Wildcard,
                    channel: Channel::Number(note.channel.index()),
                    key: Key::Number(note.key.number()),
                    velocity: note.velocity.to_unit(),
                });
            }
            EventKind::Off(note) => self.send_off(NoteEvent::NoteOff {
                timing: event.offset,
                voice_id: VoiceID::Wildcard,
                channel: Channel::Number(note.channel.index()),
                key: Key::Number(note.key.number()),
                velocity: 0.0,
            }),
        }
    }

    /// A note-off that a full buffer turns away is owed: nothing may hang.
    fn send_off(&mut self, off: NoteEvent<()>) {
        if let Err((_, SendEventError::HostBufferFull)) = self.context.try_send_event(off)
            && self.owed.len() < OWED_CAPACITY
            && let NoteEvent::NoteOff {
                voice_id,
                channel,
                key,
                velocity,
                ..
            } = off
        {
            self.owed.push(NoteEvent::NoteOff {
                timing: 0,
                voice_id,
                channel,
                key,
                velocity,
            });
        }
    }
}

/// The embedded kit over one block: audio is rendered up to each stroke, so
/// that it takes effect on its sample.
struct Kit<'a> {
    mixer: Option<&'a mut Mixer>,
    left: &'a mut [f32],
    right: &'a mut [f32],
    done: usize,
    strikes: bool,
}

impl<'a> Kit<'a> {
    fn new(mixer: Option<&'a mut Mixer>, buffer: &'a mut Buffer, strikes: bool) -> Kit<'a> {
        // What rings when the sound is switched off rings out.
        let mixer = mixer.filter(|mixer| strikes || mixer.is_sounding());
        match (mixer, buffer.as_slice()) {
            (Some(mixer), [left, right, ..]) => Kit {
                mixer: Some(mixer),
                left,
                right,
                done: 0,
                strikes,
            },
            // The framework hands out the host's buffers as they are, with
            // whatever was in them.
            (_, channels) => {
                for channel in channels {
                    silence(channel);
                }
                Kit {
                    mixer: None,
                    left: &mut [],
                    right: &mut [],
                    done: 0,
                    strikes: false,
                }
            }
        }
    }

    fn strike(&mut self, frame: usize, note: &Note) {
        if self.strikes {
            self.render_until(frame);
            if let Some(mixer) = &mut self.mixer {
                let (voice, articulation): (Voice, Articulation) = (note.voice, note.articulation);
                mixer.trigger(voice, articulation, note.velocity);
            }
        }
    }

    fn finish(&mut self) {
        self.render_until(self.left.len());
    }

    fn render_until(&mut self, frame: usize) {
        if let Some(mixer) = &mut self.mixer
            && frame > self.done
        {
            mixer.render(
                &mut self.left[self.done..frame],
                &mut self.right[self.done..frame],
            );
            self.done = frame;
        }
    }
}
