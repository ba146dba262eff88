//! One block of audio: from the host's transport and notes to the player, and
//! from the player to the host's notes and the embedded kit.
//!
//! Gives notes in order of their sample, ours merged with those that come in;
//! stereo audio. Everything that music needs is in the crates below; this file only
//! translates.

mod aside;
mod facts;
mod kit;
mod letters;
mod notes;

use std::sync::Arc;

use barform_app::player::{Event, Loop, OwnClock, Player, Settings, Transport as PlayerTransport};
use barform_app::sound::{Mixer, SampleSet};
use nice_plug::prelude::*;

use crate::handover::{Clock, Live, Reading, Receiver};
use crate::params::{BarformParams, ClockChoice, Snapshot};
use aside::Aside;
use facts::Facts;
use kit::Kit;
use letters::{Letters, Press};
use notes::{Out, Waiting};

/// What the audio thread owns.
pub struct Engine {
    params: Arc<BarformParams>,
    /// The parameters at their last change.
    set: Snapshot,
    /// Their settings where the host's clock rules: its bars are the form's.
    hosted: Settings,
    live: Arc<Live>,
    incoming: Option<Receiver>,
    player: Player,
    /// What is played by itself, beside the form.
    aside: Aside,
    /// None until the sample rate is known.
    mixer: Option<Mixer>,
    clock: OwnClock,
    /// The own clock has never been started or sent anywhere.
    fresh: bool,
    facts: Facts,
    sample_rate_hz: f64,
    level_db: f32,
    bypassed: bool,
    /// The clock that was told of last, if time ran by it.
    told: Option<Clock>,
    letters: Letters,
    waiting: Waiting,
}

impl Engine {
    /// A silent engine; it plays once [`Engine::activate`] was called.
    pub fn new(params: Arc<BarformParams>) -> Engine {
        let facts = Facts::of(&params.session.checked().timeline);
        let set = params.snapshot();
        let live = params.session.live.clone();
        live.set_length(facts.length_beats);
        Engine {
            live,
            incoming: params.session.take_receiver(),
            aside: Aside::new(params.session.audition.take_stage()),
            set,
            hosted: facts.hosted(&set),
            params,
            player: Player::new(),
            mixer: None,
            clock: OwnClock::default(),
            fresh: true,
            facts,
            sample_rate_hz: 48_000.0,
            level_db: f32::NAN,
            bypassed: false,
            told: None,
            letters: Letters::default(),
            waiting: Waiting::new(),
        }
    }

    /// Gets ready for a sample rate; allocates. Without a kit for that rate the
    /// notes go out all the same.
    pub fn activate(&mut self, sample_rate_hz: f64) {
        self.sample_rate_hz = sample_rate_hz;
        self.player.set_sample_rate(sample_rate_hz);
        self.aside.set_sample_rate(sample_rate_hz);
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
        self.aside.silence();
        self.letters.let_go();
    }

    /// Plays one block.
    pub fn process<P>(&mut self, buffer: &mut Buffer, context: &mut impl ProcessContext<P>)
    where
        P: Plugin<SysExMessage = ()>,
    {
        self.take_timeline();
        if let Some(set) = self.params.take_changes() {
            self.set = set;
            self.hosted = self.facts.hosted(&set);
        }
        let frames = buffer.samples() as u32;
        let bypass = self.set.bypass;
        let (clock, own) = self.which_clock(context);
        let transport = if own {
            self.own_transport(frames, bypass)
        } else {
            host_transport(context.transport(), bypass)
        };
        let aside_plays = self.aside.begin(frames, bypass);
        self.take_input(context, bypass);
        self.prepare_kit(bypass);

        let Engine {
            player,
            aside,
            mixer,
            waiting,
            set,
            hosted,
            facts,
            live,
            told,
            ..
        } = self;
        let settings = if own { &set.settings } else { &*hosted };
        let mut kit = Kit::new(mixer.as_mut(), buffer, set.sound && !bypass);
        // In most blocks nothing starts or ends.
        let quiet = !aside_plays && waiting.is_empty();
        let passes = quiet && player.pass(&transport, settings, frames);
        if passes {
            kit.finish();
        } else {
            let mut out = Out::new(context, waiting, kit);
            if aside_plays {
                aside.play(settings, frames, &mut |event: Event| out.aside(event));
            }
            player.process(&transport, settings, frames, &mut |event: Event| {
                out.form(event);
            });
            out.finish();
        }

        let position_beats = player
            .unwrapped_beats()
            .or_else(|| facts.form_position(transport.position_beats?, settings));
        if passes && *told == Some(clock) {
            live.move_on(position_beats);
            return;
        }
        *told = transport.playing.then_some(clock);
        live.publish(Reading {
            position_beats,
            tempo_bpm: transport.tempo_bpm,
            rolling: transport.playing,
            clock,
            letter: player.live_letter(),
        });
    }

    /// The newest score, if one has come.
    fn take_timeline(&mut self) {
        if let Some(timeline) = self.incoming.as_ref().and_then(Receiver::take) {
            self.facts = Facts::of(&timeline);
            self.hosted = self.facts.hosted(&self.set);
            self.live.set_length(self.facts.length_beats);
            self.letters.let_go();
            // Frees nothing: the sender keeps what it sent.
            drop(self.player.set_timeline(Some(timeline)));
        }
    }

    fn which_clock<P: Plugin>(&self, context: &impl ProcessContext<P>) -> (Clock, bool) {
        let host = context.transport();
        let reports = context.plugin_api() != PluginApi::Standalone
            && (host.pos_beats.is_some() || song_samples(host).is_some())
            && host.tempo.is_some();
        match self.set.clock {
            ClockChoice::Own => (Clock::Own, true),
            ClockChoice::Host if reports => (Clock::Host, false),
            ClockChoice::Host => (Clock::OwnForWant, true),
        }
    }

    fn own_transport(&mut self, frames: u32, bypass: bool) -> PlayerTransport {
        let settings = &self.set.settings;
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
    fn take_input<P>(&mut self, context: &mut impl ProcessContext<P>, bypass: bool)
    where
        P: Plugin<SysExMessage = ()>,
    {
        // A key that was down as a letter comes up as one in bypass, too.
        let first_key = self.set.first_key.filter(|_| !bypass);
        let (letters, quantise) = (self.facts.letters, self.set.letter_start);
        while let Some(event) = context.next_event() {
            self.aside.hear(&event);
            let player = &mut self.player;
            let press = |press| match press {
                Press::Down { letter, timing } => player.letter_down(letter, timing, quantise),
                Press::Up { letter, timing } => player.letter_up(letter, timing, quantise),
            };
            if !self.letters.read(&event, first_key, letters, press) {
                self.waiting.pass(event, context);
            }
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

fn host_transport(host: &Transport, bypass: bool) -> PlayerTransport {
    PlayerTransport {
        playing: host.playing && !bypass,
        position_beats: host.pos_beats,
        song_samples: song_samples(host),
        tempo_bpm: host.tempo.unwrap_or(0.0),
        cycle: host.loop_range_beats.map(|(start_beats, end_beats)| Loop {
            start_beats,
            end_beats,
        }),
    }
}

/// The song's position in samples: VST3 counts them, CLAP gives seconds.
fn song_samples(host: &Transport) -> Option<f64> {
    let in_seconds = || host.pos_seconds.map(|s| s * f64::from(host.sample_rate));
    host.pos_samples
        .map(|samples| samples as f64)
        .or_else(in_seconds)
}
