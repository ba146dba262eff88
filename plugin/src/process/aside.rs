//! What is played by itself, on the audio thread.
//!
//! Gives events in order, from a player and a clock of their own, beside the
//! form; to the window the position within one round. While nothing is wanted a
//! block costs one look at a flag.

use std::sync::Arc;

use barform_app::player::{Event, Mute, OwnClock, Player, Settings, Transport as PlayerTransport};
use barform_app::score::Rate;
use nice_plug::midi::{Channel, Key};
use nice_plug::prelude::*;

use super::facts::Facts;
use crate::audition::{Heard, Piece, Stage};

/// Plays it.
pub(super) struct Aside {
    stage: Option<Stage>,
    player: Player,
    clock: OwnClock,
    sample_rate_hz: f64,
    /// What was taken last; held as long as the player holds its timeline.
    piece: Option<Arc<Piece>>,
    length_beats: f64,
    pickup_beats: f64,
    /// Where on the clock a round begins.
    origin_beats: f64,
    /// Number of the start that is being played.
    playing: Option<u32>,
    /// Something plays, is still to end, or waits for the end of bypass.
    busy: bool,
    waits: bool,
    /// Time in this block.
    transport: PlayerTransport,
}

impl Aside {
    /// Nothing yet; allocates all that will be needed.
    pub fn new(stage: Option<Stage>) -> Aside {
        Aside {
            stage,
            player: Player::new(),
            clock: OwnClock::default(),
            sample_rate_hz: 48_000.0,
            piece: None,
            length_beats: 0.0,
            pickup_beats: 0.0,
            origin_beats: 0.0,
            playing: None,
            busy: false,
            waits: false,
            transport: PlayerTransport::STOPPED,
        }
    }

    /// Sets the sample rate in Hz.
    pub fn set_sample_rate(&mut self, hz: f64) {
        self.sample_rate_hz = hz;
        self.player.set_sample_rate(hz);
    }

    /// Ends all notes at the next block.
    pub fn silence(&mut self) {
        self.player.silence();
    }

    /// Begins a block: learns what is wanted. Says whether there is anything
    /// to play or to end; if not, [`Aside::play`] need not be called.
    pub fn begin(&mut self, frames: u32, bypass: bool) -> bool {
        let Some(stage) = &mut self.stage else {
            return false;
        };
        if !stage.shared.take_call() && !self.busy {
            return false;
        }
        // First what is wanted, then what is to be played: the piece is then
        // never older than the wish.
        let wanted = stage.shared.wanted();
        self.waits = bypass && wanted.is_some();
        let tempo_bpm = stage.shared.tempo_bpm();
        while let Some(note) = stage.next_strike() {
            if !bypass {
                self.player.strike(note);
            }
        }
        if let Some(piece) = stage.incoming.take() {
            self.take(piece);
        }
        let start = self.piece.as_ref().map(|piece| piece.start);
        let start = start.filter(|_| wanted.is_some() && !bypass);
        if start != self.playing {
            self.playing = start;
            self.origin_beats = 0.0;
            if start.is_some() {
                self.clock.start_at(0.0);
                // A run of its own, even where the clock has hardly moved.
                self.player.restart();
            } else {
                self.clock.stop();
            }
        }
        self.transport = self.clock.advance(frames, tempo_bpm, self.sample_rate_hz);
        true
    }

    /// Takes another piece; one of the same start goes on from where it is.
    fn take(&mut self, piece: Arc<Piece>) {
        let facts = Facts::of(&piece.timeline);
        let length_beats = facts.length_beats;
        if Some(piece.start) == self.playing && length_beats != self.length_beats {
            let now = self.clock.position_beats();
            let into = wrap(now - self.origin_beats, self.length_beats);
            self.origin_beats = now - wrap(into, length_beats);
        }
        self.length_beats = length_beats;
        self.pickup_beats = facts.pickup_beats;
        // Frees nothing: the sender keeps the piece, which holds its timeline,
        // until it has been let go of here, after the player.
        drop(self.player.set_timeline(Some(piece.timeline.clone())));
        self.piece = Some(piece);
    }

    /// Plays the block that was begun. Everything sounds but, unless asked
    /// for, the click.
    pub fn play(&mut self, settings: &Settings, frames: u32, sink: &mut impl FnMut(Event)) {
        let Some(stage) = &self.stage else { return };
        let settings = Settings {
            rate: Rate::Normal,
            start_beats: self.origin_beats + self.pickup_beats,
            repeat: true,
            mute: Mute {
                click: !stage.shared.click(),
                ..Mute::default()
            },
            ..*settings
        };
        self.player
            .process(&self.transport, &settings, frames, sink);
        self.busy = self.playing.is_some() || self.waits || self.player.is_sounding();
        let now = self.playing.map(|_| self.clock.position_beats());
        stage
            .shared
            .publish(now.map(|now| wrap(now - self.origin_beats, self.length_beats)));
    }

    /// Tells the window of a note that came in, if it listens, with the place
    /// it fell on.
    pub fn hear(&mut self, event: &NoteEvent<()>) {
        let Some(stage) = &mut self.stage else { return };
        let NoteEvent::NoteOn {
            timing,
            channel: Channel::Number(channel),
            key: Key::Number(key),
            velocity,
            ..
        } = *event
        else {
            return;
        };
        if !stage.shared.is_listening() {
            return;
        }
        let beats = self.playing.map(|_| {
            let per_sample = self.transport.tempo_bpm / (60.0 * self.sample_rate_hz);
            let at = self.transport.position_beats.unwrap_or(0.0) + f64::from(timing) * per_sample;
            wrap(at - self.origin_beats, self.length_beats)
        });
        stage.hear(Heard {
            key,
            channel,
            velocity,
            beats,
        });
    }
}

/// `beats` within one round of a length.
fn wrap(beats: f64, length_beats: f64) -> f64 {
    if length_beats <= 0.0 {
        return 0.0;
    }
    let into = beats.rem_euclid(length_beats);
    // Rounding may reach the length itself.
    if into < length_beats { into } else { 0.0 }
}
