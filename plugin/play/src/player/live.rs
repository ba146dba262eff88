//! Letters played by key: each starts at the next beat or bar line, goes round
//! while its key is held, and gives way to the form at the next one.

/// Where a letter starts and stops when its key is pressed and released.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub enum Quantise {
    /// The next beat.
    Beat,
    /// The next bar line.
    #[default]
    Bar,
}

/// A letter's stretch of time in place of the form, in unwrapped host beats.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct Stretch {
    /// Number of the letter.
    pub letter: usize,
    /// Its lane in the timeline.
    pub lane: usize,
    /// First beat.
    pub from: f64,
    /// Where it ends; infinite while the key is held.
    pub until: f64,
}

/// Most stretches that are kept: one that sounds, one that follows, and those
/// that are over but whose strokes of the form would still bounce. Eight bounces
/// of a buzz, 100 ms apart, are some five beats at 400 quarter notes a minute.
pub(super) const MAX_STRETCHES: usize = 8;

/// The stretches in order of time. They do not overlap, and only the last may
/// lie ahead.
#[derive(Debug, Clone)]
pub(super) struct Live {
    stretches: Vec<Stretch>,
}

impl Default for Live {
    /// Nothing held. Allocates all the room there will be.
    fn default() -> Self {
        Live {
            stretches: Vec::with_capacity(MAX_STRETCHES),
        }
    }
}

impl Live {
    /// Nothing held.
    pub fn clear(&mut self) {
        self.stretches.clear();
    }

    /// Whether no letter sounds or waits, and none did of late.
    pub fn is_empty(&self) -> bool {
        self.stretches.is_empty()
    }

    /// All that are kept, [`MAX_STRETCHES`] at most.
    pub fn stretches(&self) -> &[Stretch] {
        &self.stretches
    }

    fn at(&self, beats: f64) -> Option<&Stretch> {
        let mut all = self.stretches.iter();
        all.find(|s| s.from <= beats && beats < s.until)
    }

    /// Whether the form gives way to a letter at `beats`.
    pub fn covers(&self, beats: f64) -> bool {
        self.at(beats).is_some()
    }

    /// The letter that sounds at `beats`.
    pub fn letter_at(&self, beats: f64) -> Option<usize> {
        self.at(beats).map(|s| s.letter)
    }

    /// A key goes down: `stretch` takes over from its first beat. One that has
    /// not begun gives way to it.
    pub fn press(&mut self, stretch: Stretch, now: f64) {
        self.stretches
            .retain(|s| s.from <= now && s.from < stretch.from);
        if self.stretches.len() == MAX_STRETCHES {
            self.stretches.remove(0);
        }
        if let Some(last) = self.stretches.last_mut() {
            last.until = last.until.min(stretch.from);
        }
        self.stretches.push(stretch);
    }

    /// A key goes up: its letter ends at `until`, or never starts.
    pub fn release(&mut self, letter: usize, until: f64, now: f64) {
        self.stretches.retain_mut(|s| {
            let held = s.letter == letter && s.until == f64::INFINITY;
            if held {
                s.until = until;
            }
            !held || s.from <= now
        });
    }

    /// The loop has turned back by `beats`.
    pub fn turn(&mut self, beats: f64) {
        for stretch in &mut self.stretches {
            stretch.from -= beats;
            stretch.until -= beats;
        }
    }

    /// Forgets what ended before `beats`.
    pub fn forget_before(&mut self, beats: f64) {
        self.stretches.retain(|s| s.until >= beats);
    }
}
