//! Hearing something by itself: a cell round and round, a stored form, one
//! stroke. And what comes in meanwhile.
//!
//! In, from the window: a compiled timeline to play by itself, a tempo, single
//! strokes. Out, to the window: where it stands, and the notes that came in
//! with the moment each fell on. The audio thread plays it with a player of its
//! own, beside the form, into the same kit and the same note output (see
//! `process/aside.rs`).

use std::sync::atomic::{
    AtomicBool, AtomicU32,
    Ordering::{AcqRel, Acquire, Relaxed, Release},
};
use std::sync::{Arc, Mutex, MutexGuard, PoisonError};

use atomic_float::AtomicF64;
use barform_app::timeline::{Note, Timeline};
use rtrb::{Consumer, Producer, RingBuffer};

use crate::handover::{self, Receiver, RepaintNotifier, Sender};

/// Strokes and notes that may wait; more are dropped.
const WAITING: usize = 256;

/// Tempos that can be asked for, in quarter-note beats per minute; those of the
/// own clock.
const TEMPO_BPM: std::ops::RangeInclusive<f64> = 20.0..=400.0;

/// A note that came in.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Heard {
    /// MIDI key, 0 to 127.
    pub key: u8,
    /// MIDI channel, 0 to 15.
    pub channel: u8,
    /// Velocity, above 0 to 1.
    pub velocity: f32,
    /// Beats from the start of what is played by itself, within one round;
    /// `None` while nothing is.
    pub beats: Option<f64>,
}

/// What is played by itself.
#[derive(Debug)]
pub struct Piece {
    /// The music.
    pub timeline: Arc<Timeline>,
    /// Number of the start that it belongs to, from 1. A piece of the same
    /// number goes on from where the one before was.
    pub start: u32,
}

/// The window's end.
#[derive(Debug)]
pub struct Audition {
    shared: Arc<Shared>,
    sender: Sender<Piece>,
    /// Strokes to sound, on their way out.
    strikes: Mutex<Producer<Note>>,
    /// Notes that came in.
    heard: Mutex<Consumer<Heard>>,
    /// Starts so far.
    starts: AtomicU32,
    stage: Mutex<Option<Stage>>,
}

/// The audio thread's end.
#[derive(Debug)]
pub struct Stage {
    /// What is to be played.
    pub incoming: Receiver<Piece>,
    strikes: Consumer<Note>,
    heard: Producer<Heard>,
    /// The rest.
    pub shared: Arc<Shared>,
}

/// What both ends see.
#[derive(Debug)]
pub struct Shared {
    /// There is something for the audio thread to look at.
    called: AtomicBool,
    /// Number of the start that is to be heard; 0 for none.
    wanted: AtomicU32,
    /// In quarter-note beats per minute.
    tempo: AtomicF64,
    /// Whether a click goes along.
    click: AtomicBool,
    /// In beats from the start; not a number while nothing plays.
    position: AtomicF64,
    /// Whether the window wants the notes that come in.
    listening: AtomicBool,
    /// Asks the open window for a picture; any thread may.
    window: RepaintNotifier,
}

impl Default for Audition {
    /// With a window that nobody opens.
    fn default() -> Self {
        Audition::new(RepaintNotifier::new())
    }
}

impl Audition {
    /// Nothing to be heard; `window` is told when there is something new to
    /// show.
    pub fn new(window: RepaintNotifier) -> Audition {
        let (sender, incoming) = handover::pair();
        let (strikes, to_strike) = RingBuffer::new(WAITING);
        let (hears, heard) = RingBuffer::new(WAITING);
        let shared = Arc::new(Shared {
            called: AtomicBool::new(false),
            wanted: AtomicU32::new(0),
            tempo: AtomicF64::new(90.0),
            click: AtomicBool::new(false),
            position: AtomicF64::new(f64::NAN),
            listening: AtomicBool::new(false),
            window,
        });
        Audition {
            stage: Mutex::new(Some(Stage {
                incoming,
                strikes: to_strike,
                heard: hears,
                shared: shared.clone(),
            })),
            shared,
            sender,
            strikes: Mutex::new(strikes),
            heard: Mutex::new(heard),
            starts: AtomicU32::new(0),
        }
    }

    /// The audio thread's end, once.
    pub fn take_stage(&self) -> Option<Stage> {
        lock(&self.stage).take()
    }

    /// Plays a timeline by itself from its start, round and round, at a tempo in
    /// quarter-note beats per minute, with or without a click.
    pub fn play(&self, timeline: Arc<Timeline>, tempo_bpm: f64, click: bool) {
        self.set_tempo(tempo_bpm);
        self.set_click(click);
        // Zero stands for none, so it is left out when the count turns over.
        let start = self.starts.load(Relaxed).wrapping_add(1).max(1);
        self.starts.store(start, Relaxed);
        self.sender.send(Arc::new(Piece { timeline, start }));
        self.shared.wanted.store(start, Release);
        self.shared.call();
    }

    /// Puts another timeline in place of the one that plays, which goes on from
    /// where it is: a cell that is edited while it is heard. Does nothing while
    /// nothing plays.
    pub fn swap(&self, timeline: Arc<Timeline>) {
        let start = self.shared.wanted.load(Relaxed);
        if start != 0 {
            self.sender.send(Arc::new(Piece { timeline, start }));
        }
    }

    /// Ends it.
    pub fn stop(&self) {
        self.shared.wanted.store(0, Release);
    }

    /// Whether something is to be played by itself.
    pub fn is_playing(&self) -> bool {
        self.shared.wanted.load(Relaxed) != 0
    }

    /// Sets the tempo in quarter-note beats per minute, kept within 20 to 400.
    pub fn set_tempo(&self, bpm: f64) {
        let bpm = bpm.clamp(*TEMPO_BPM.start(), *TEMPO_BPM.end());
        if bpm.is_finite() {
            self.shared.tempo.store(bpm, Relaxed);
        }
    }

    /// Whether a click goes along.
    pub fn set_click(&self, on: bool) {
        self.shared.click.store(on, Relaxed);
    }

    /// Beats from the start of what plays, within one round.
    pub fn position_beats(&self) -> Option<f64> {
        let beats = self.shared.position.load(Relaxed);
        beats.is_finite().then_some(beats)
    }

    /// Sounds one stroke at once.
    pub fn strike(&self, note: Note) {
        // With 256 strokes waiting one more is not missed.
        lock(&self.strikes).push(note).ok();
        self.shared.call();
    }

    /// Asks for the notes that come in, or no longer; what waits is dropped.
    pub fn listen(&self, on: bool) {
        if self.shared.listening.swap(on, Relaxed) != on {
            let mut heard = lock(&self.heard);
            while heard.pop().is_ok() {}
        }
    }

    /// The next note that came in. Keys that play letters are among them.
    pub fn heard(&self) -> Option<Heard> {
        lock(&self.heard).pop().ok()
    }

    /// Frees what the audio thread has let go of.
    pub fn prune(&self) {
        self.sender.prune();
    }
}

/// Of the window's side only.
fn lock<T>(mutex: &Mutex<T>) -> MutexGuard<'_, T> {
    mutex.lock().unwrap_or_else(PoisonError::into_inner)
}

impl Stage {
    /// A stroke that is to sound now.
    pub fn next_strike(&mut self) -> Option<Note> {
        self.strikes.pop().ok()
    }

    /// A note has come in.
    pub fn hear(&mut self, heard: Heard) {
        // Who plays 256 notes within a frame does without the rest.
        self.heard.push(heard).ok();
        self.shared.window.request_repaint();
    }
}

impl Shared {
    /// From the window: there is something to look at.
    fn call(&self) {
        self.called.store(true, Release);
    }

    /// Whether there is something to look at since the last call. Reads before
    /// it writes: nearly always there is nothing.
    pub fn take_call(&self) -> bool {
        self.called.load(Relaxed) && self.called.swap(false, AcqRel)
    }

    /// Number of the start that is to be heard. What was sent with it can be
    /// taken after this was read.
    pub fn wanted(&self) -> Option<u32> {
        match self.wanted.load(Acquire) {
            0 => None,
            start => Some(start),
        }
    }

    /// In quarter-note beats per minute.
    pub fn tempo_bpm(&self) -> f64 {
        self.tempo.load(Relaxed)
    }

    /// Whether a click goes along.
    pub fn click(&self) -> bool {
        self.click.load(Relaxed)
    }

    /// Called by the audio thread at the end of each block in which something
    /// plays, and once when nothing does any more.
    pub fn publish(&self, position_beats: Option<f64>) {
        self.position
            .store(position_beats.unwrap_or(f64::NAN), Relaxed);
        // While something plays the window looks by itself.
        if position_beats.is_none() {
            self.window.request_repaint();
        }
    }

    /// Whether the window wants the notes that come in.
    pub fn is_listening(&self) -> bool {
        self.listening.load(Relaxed)
    }
}
