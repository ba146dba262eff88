//! The hand-over between the main thread and the audio thread.
//!
//! A timeline crosses as an `Arc` that is put in one place by an atomic
//! exchange, so the newest always wins and nobody waits for anybody, and the
//! sender keeps a clone of each until the audio thread has let go of it: what
//! is replaced is freed here, never there. Everything else is a single atomic
//! value that may be missed without harm.

use std::fmt;
use std::sync::atomic::{
    AtomicBool, AtomicI32, AtomicU8, Ordering::AcqRel, Ordering::Relaxed, Ordering::Release,
};
use std::sync::{Arc, Mutex, PoisonError};

use atomic_float::AtomicF64;
use barform_app::timeline::Timeline;
use crossbeam_utils::atomic::AtomicCell;
pub use nice_plug_egui::RepaintNotifier;

/// Makes both ends.
pub fn pair<T>() -> (Sender<T>, Receiver<T>) {
    const {
        // Else the cell would take a lock.
        assert!(AtomicCell::<Option<Arc<T>>>::is_lock_free());
    }
    let slot = Arc::new(Slot {
        newest: AtomicCell::new(None),
        filled: AtomicBool::new(false),
    });
    (
        Sender {
            slot: slot.clone(),
            kept: Mutex::default(),
        },
        Receiver { slot },
    )
}

/// One place, and whether to look into it.
struct Slot<T> {
    newest: AtomicCell<Option<Arc<T>>>,
    filled: AtomicBool,
}

impl<T> fmt::Debug for Slot<T> {
    /// What is in it can only be taken out.
    fn fmt(&self, f: &mut fmt::Formatter) -> fmt::Result {
        let filled = self.filled.load(Relaxed);
        f.debug_struct("Slot").field("filled", &filled).finish()
    }
}

/// The main thread's end.
#[derive(Debug)]
pub struct Sender<T = Timeline> {
    slot: Arc<Slot<T>>,
    /// All that the audio thread may still hold.
    kept: Mutex<Vec<Arc<T>>>,
}

impl<T> Sender<T> {
    /// Hands over `new`; one that was not yet taken is dropped here.
    pub fn send(&self, new: Arc<T>) {
        self.prune();
        self.kept
            .lock()
            .unwrap_or_else(PoisonError::into_inner)
            .push(new.clone());
        drop(self.slot.newest.swap(Some(new)));
        self.slot.filled.store(true, Release);
    }

    /// Frees what the audio thread has let go of; returns how many are kept.
    pub fn prune(&self) -> usize {
        let mut kept = self.kept.lock().unwrap_or_else(PoisonError::into_inner);
        kept.retain(|sent| Arc::strong_count(sent) > 1);
        kept.len()
    }
}

/// The audio thread's end.
#[derive(Debug)]
pub struct Receiver<T = Timeline> {
    slot: Arc<Slot<T>>,
}

impl<T> Receiver<T> {
    /// The newest that has come since the last call, if any. Dropping what it
    /// replaces is safe on the audio thread: the sender still holds it.
    pub fn take(&self) -> Option<Arc<T>> {
        // Reads before it writes: nearly always nothing has come.
        if self.slot.filled.load(Relaxed) && self.slot.filled.swap(false, AcqRel) {
            self.slot.newest.take()
        } else {
            None
        }
    }
}

/// Which clock rules.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
#[repr(u8)]
pub enum Clock {
    /// The host's transport.
    Host = 0,
    /// The own clock, by choice.
    #[default]
    Own = 1,
    /// The own clock, because the host reports no position or no tempo.
    OwnForWant = 2,
}

/// What the editor sees of the audio thread, and two wishes the other way.
#[derive(Debug)]
pub struct Live {
    /// In beats, counted on through all passes.
    position: AtomicF64,
    /// Length of one pass in beats; 0 before there is a form.
    length: AtomicF64,
    tempo: AtomicF64,
    rolling: AtomicBool,
    clock: AtomicU8,
    letter: AtomicI32,
    locate: AtomicF64,
    /// Asks the open window for a picture; any thread may.
    window: RepaintNotifier,
}

impl Live {
    /// Nothing yet; `window` is told when there is something new to show.
    pub fn new(window: RepaintNotifier) -> Live {
        Live {
            window,
            position: AtomicF64::new(f64::NAN),
            length: AtomicF64::new(0.0),
            tempo: AtomicF64::new(0.0),
            rolling: AtomicBool::new(false),
            clock: AtomicU8::new(Clock::Own as u8),
            letter: AtomicI32::new(-1),
            locate: AtomicF64::new(f64::NAN),
        }
    }
}

impl Default for Live {
    /// With a window that nobody opens.
    fn default() -> Self {
        Live::new(RepaintNotifier::new())
    }
}

/// One reading of [`Live`].
#[derive(Debug, Clone, Copy, PartialEq, Default)]
pub struct Reading {
    /// Beats from the start of the form; `None` outside of it.
    pub position_beats: Option<f64>,
    /// Quarter-note beats per minute; 0 before the first block.
    pub tempo_bpm: f64,
    /// Whether time runs.
    pub rolling: bool,
    /// Which clock rules.
    pub clock: Clock,
    /// The letter played by key, as an index into the timeline's letters.
    pub letter: Option<usize>,
}

impl Live {
    /// Length of one pass of the form in beats; positions are wrapped at it.
    pub fn set_length(&self, beats: f64) {
        self.length.store(beats, Relaxed);
    }

    /// Called by the audio thread at the end of each block. The position may
    /// go on through all passes of the form.
    pub fn publish(&self, reading: Reading) {
        let position = reading.position_beats.unwrap_or(f64::NAN);
        let clock = reading.clock as u8;
        let letter = reading
            .letter
            .and_then(|l| i32::try_from(l).ok())
            .unwrap_or(-1);
        let stands = self.rolling.load(Relaxed) == reading.rolling
            && self.clock.load(Relaxed) == clock
            && self.letter.load(Relaxed) == letter;
        let moved = self.position.load(Relaxed).to_bits() != position.to_bits()
            || self.tempo.load(Relaxed) != reading.tempo_bpm;
        if stands && !moved {
            return;
        }
        self.position.store(position, Relaxed);
        self.tempo.store(reading.tempo_bpm, Relaxed);
        self.rolling.store(reading.rolling, Relaxed);
        self.clock.store(clock, Relaxed);
        self.letter.store(letter, Relaxed);
        // While time runs the window looks by itself.
        if !stands || !reading.rolling {
            self.window.request_repaint();
        }
    }

    /// The same where time runs on and only the position is another: no more
    /// than a store. The window looks by itself meanwhile.
    pub fn move_on(&self, position_beats: Option<f64>) {
        let position = position_beats.unwrap_or(f64::NAN);
        self.position.store(position, Relaxed);
    }

    /// Called by the editor once a frame.
    pub fn read(&self) -> Reading {
        let mut position = self.position.load(Relaxed);
        let length = self.length.load(Relaxed);
        if position >= length && length > 0.0 {
            position %= length;
        }
        Reading {
            position_beats: position.is_finite().then_some(position),
            tempo_bpm: self.tempo.load(Relaxed),
            rolling: self.rolling.load(Relaxed),
            clock: match self.clock.load(Relaxed) {
                0 => Clock::Host,
                2 => Clock::OwnForWant,
                _ => Clock::Own,
            },
            letter: usize::try_from(self.letter.load(Relaxed)).ok(),
        }
    }

    /// Asks the own clock to go to `beats` from the start of the form.
    pub fn locate(&self, beats: f64) {
        self.locate.store(beats, Relaxed);
    }

    /// The last wish of [`Live::locate`], once. Reads before it writes: nearly
    /// always there is none.
    pub fn take_locate(&self) -> Option<f64> {
        if self.locate.load(Relaxed).is_nan() {
            return None;
        }
        let beats = self.locate.swap(f64::NAN, Relaxed);
        beats.is_finite().then_some(beats)
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use barform_app::score::Score;

    fn timeline() -> Arc<Timeline> {
        let score = Score::parse(barform_app::DEMO_SCORE, "demo").unwrap();
        Arc::new(Timeline::compile(&score).unwrap())
    }

    #[test]
    fn the_newest_timeline_wins_and_the_audio_side_never_holds_the_last_reference() {
        let (sender, receiver) = pair();
        sender.send(timeline());
        sender.send(timeline());
        let newest = receiver.take().unwrap();
        assert!(receiver.take().is_none());
        assert_eq!(sender.prune(), 1, "the one that was never taken is freed");
        sender.send(timeline());
        let old = std::mem::replace(&mut { newest }, receiver.take().unwrap());
        assert!(
            Arc::strong_count(&old) >= 2,
            "dropping it here frees nothing"
        );
        drop(old);
        assert_eq!(sender.prune(), 0, "no longer held by the audio side");
    }

    /// A number; counts who drops it.
    struct Counted {
        number: u64,
        dropped: Arc<Mutex<Vec<std::thread::ThreadId>>>,
    }

    impl Drop for Counted {
        fn drop(&mut self) {
            let here = std::thread::current().id();
            self.dropped.lock().unwrap().push(here);
        }
    }

    #[test]
    fn two_threads_hand_over_without_loss_disorder_or_a_free_on_the_wrong_side() {
        const SENT: u64 = 200_000;
        let dropped = Arc::new(Mutex::new(Vec::new()));
        let (sender, receiver) = pair::<Counted>();
        let log = dropped.clone();
        // Comes back with the receiver and what it held last.
        let audio = std::thread::spawn(move || {
            let mut held: Option<Arc<Counted>> = None;
            let mut taken = 0_u64;
            while held.as_ref().is_none_or(|held| held.number < SENT) {
                let Some(new) = receiver.take() else { continue };
                let before = held.as_ref().map_or(0, |held| held.number);
                assert!(new.number > before, "{} after {before}", new.number);
                taken += 1;
                held = Some(new);
            }
            assert!(receiver.take().is_none(), "the last comes once");
            (receiver, held, taken)
        });
        for number in 1..=SENT {
            let dropped = log.clone();
            sender.send(Arc::new(Counted { number, dropped }));
        }
        let audio_thread = audio.thread().id();
        let (receiver, held, taken) = audio.join().unwrap();
        assert!((1..=SENT).contains(&taken), "{taken}");
        drop(held);
        assert_eq!(sender.prune(), 0);
        drop((sender, receiver));
        let dropped = dropped.lock().unwrap();
        assert_eq!(dropped.len() as u64, SENT, "each is freed, and once");
        assert!(!dropped.contains(&audio_thread));
    }

    #[test]
    fn what_nobody_takes_is_freed_with_the_two_ends() {
        for receiver_first in [false, true] {
            let dropped = Arc::new(Mutex::new(Vec::new()));
            let (sender, receiver) = pair();
            for number in 0..3 {
                let dropped = dropped.clone();
                sender.send(Arc::new(Counted { number, dropped }));
            }
            assert_eq!(sender.prune(), 1, "the newest waits");
            if receiver_first {
                drop(receiver);
                drop(sender);
            } else {
                drop(sender);
                drop(receiver);
            }
            assert_eq!(dropped.lock().unwrap().len(), 3);
        }
    }

    #[test]
    fn a_wish_to_locate_is_granted_once() {
        let live = Live::default();
        assert_eq!(live.take_locate(), None);
        live.locate(8.0);
        assert_eq!(live.take_locate(), Some(8.0));
        assert_eq!(live.take_locate(), None);
    }

    #[test]
    fn what_is_published_is_read() {
        let live = Live::default();
        assert_eq!(live.read().position_beats, None);
        let reading = Reading {
            position_beats: Some(3.5),
            tempo_bpm: 92.0,
            rolling: true,
            clock: Clock::OwnForWant,
            letter: Some(2),
        };
        live.publish(reading);
        assert_eq!(live.read(), reading);
        live.set_length(3.0);
        assert_eq!(live.read().position_beats, Some(0.5), "the second pass");
        live.move_on(Some(2.5));
        assert_eq!(live.read().position_beats, Some(2.5));
        assert_eq!(live.read().letter, reading.letter);
        live.move_on(None);
        assert_eq!(live.read().position_beats, None);
        // Each part by itself.
        let reading = Reading {
            position_beats: Some(0.5),
            ..reading
        };
        for other in [
            Reading {
                position_beats: None,
                ..reading
            },
            Reading {
                position_beats: Some(1.0),
                ..reading
            },
            Reading {
                tempo_bpm: 93.0,
                ..reading
            },
            Reading {
                rolling: false,
                ..reading
            },
            Reading {
                clock: Clock::Host,
                ..reading
            },
            Reading {
                letter: None,
                ..reading
            },
        ] {
            live.publish(reading);
            live.publish(other);
            assert_eq!(live.read(), other);
        }
    }
}
