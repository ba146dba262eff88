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

/// The stretch that sounds and the one that follows.
#[derive(Debug, Clone, Default)]
pub(super) struct Live {
    /// At most two, in order of time, not overlapping.
    pub stretches: [Option<Stretch>; 2],
}

impl Live {
    /// Nothing held.
    pub fn clear(&mut self) {
        self.stretches = [None; 2];
    }

    /// Whether no letter sounds or waits.
    pub fn is_empty(&self) -> bool {
        self.stretches == [None; 2]
    }

    /// Whether a main stroke of the form at `beats` gives way to a letter.
    pub fn covers(&self, beats: f64) -> bool {
        self.stretches
            .iter()
            .flatten()
            .any(|s| s.from <= beats && beats < s.until)
    }

    /// The letter that sounds at `beats`.
    pub fn letter_at(&self, beats: f64) -> Option<usize> {
        let hit = |s: &&Stretch| s.from <= beats && beats < s.until;
        self.stretches.iter().flatten().find(hit).map(|s| s.letter)
    }

    /// A key goes down: `stretch` takes over from its first beat.
    pub fn press(&mut self, stretch: Stretch, now: f64) {
        match &mut self.stretches {
            [Some(first), second] if first.from <= now => {
                first.until = first.until.min(stretch.from);
                *second = Some(stretch);
            }
            [first, second] => {
                *first = Some(stretch);
                *second = None;
            }
        }
    }

    /// A key goes up: its letter ends at `until`, or never starts.
    pub fn release(&mut self, letter: usize, until: f64, now: f64) {
        for slot in &mut self.stretches {
            if let Some(stretch) = slot
                && stretch.letter == letter
                && stretch.until == f64::INFINITY
            {
                if stretch.from > now {
                    *slot = None;
                } else {
                    stretch.until = until;
                }
            }
        }
    }

    /// The loop has turned back by `length` beats.
    pub fn turn(&mut self, length: f64) {
        for stretch in self.stretches.iter_mut().flatten() {
            stretch.from -= length;
            stretch.until -= length;
        }
    }

    /// Forgets what ended before `beats`; says whether anything changed.
    pub fn forget_before(&mut self, beats: f64) -> bool {
        let [first, second] = &mut self.stretches;
        if first.is_some_and(|s| s.until < beats) {
            *first = second.take();
            return true;
        }
        false
    }
}
