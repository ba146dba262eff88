//! A drum form in the plainest words, and the score file that says the same.
//!
//! Everything is an exact fraction. What a stroke sounds as is stated here from
//! published or documented facts, so that a test need not ask the product.

use std::fmt::Write;

use num_bigint::BigInt;
use num_rational::BigRational;
use num_traits::Zero;

/// An exact number of beats, samples or seconds.
pub type Exact = BigRational;

/// The fraction `n / d`.
pub fn ratio(n: i64, d: i64) -> Exact {
    Exact::new(BigInt::from(n), BigInt::from(d))
}

/// The very number that an `f64` stands for.
///
/// # Panics
/// If it stands for none.
pub fn exact(value: f64) -> Exact {
    Exact::from_float(value).expect("a finite number")
}

/// Loudness of a stroke.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Level {
    /// Ghost note.
    Ghost,
    /// As it comes.
    Normal,
    /// Accent.
    Accent,
}

/// A limb and what it strikes: tokens of a sticking and a voices line.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Stroke {
    /// `R`, `L`, `K` or `H`.
    pub limb: char,
    /// Index into [`VOICES`].
    pub voice: usize,
    /// Loudness.
    pub level: Level,
}

/// Voices of the kit and their keys in the General MIDI Level 1 percussion key
/// map (MIDI Association): Bass Drum 1, Acoustic Snare, Pedal Hi-Hat, Closed
/// Hi-Hat, High Tom, Hi Mid Tom, Low-Mid Tom, Low Tom, High Floor Tom, Low Floor
/// Tom, Ride Cymbal 1, Crash Cymbal 1. The names are the score file's.
pub const VOICES: [(&str, u8); 12] = [
    ("kick", 36),
    ("snare", 38),
    ("hatfoot", 44),
    ("hat", 42),
    ("tom1", 50),
    ("tom2", 48),
    ("tom3", 47),
    ("tom4", 45),
    ("tom5", 43),
    ("tom6", 41),
    ("ride", 51),
    ("crash", 49),
];

/// General MIDI Level 1: percussion is on channel 10, here counted from 0.
pub const PERCUSSION: u8 = 9;

/// What a host hears of a stroke.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub struct Sound {
    /// MIDI channel, from 0.
    pub channel: u8,
    /// MIDI key.
    pub key: u8,
    /// MIDI velocity.
    pub velocity: u8,
}

impl Stroke {
    /// What a host hears.
    pub fn sound(&self) -> Sound {
        Sound {
            channel: PERCUSSION,
            key: VOICES[self.voice].1,
            // The score file's documented defaults.
            velocity: match self.level {
                Level::Ghost => 32,
                Level::Normal => 84,
                Level::Accent => 118,
            },
        }
    }

    fn token(&self) -> String {
        match self.level {
            Level::Ghost => format!("({})", self.limb),
            Level::Normal => self.limb.to_string(),
            Level::Accent => format!("{}>", self.limb),
        }
    }
}

/// Even slots over a length.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Span {
    /// How many.
    pub slots: usize,
    /// Over how many beats, as numerator and denominator.
    pub beats: (i64, i64),
}

/// A cell, or an ostinato's cycle.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Cell {
    /// Where its slots are.
    pub grid: Vec<Span>,
    /// One entry a slot; `None` is a rest.
    pub slots: Vec<Option<Stroke>>,
}

impl Cell {
    /// Its length in beats.
    pub fn beats(&self) -> Exact {
        self.grid
            .iter()
            .map(|span| ratio(span.beats.0, span.beats.1))
            .fold(Exact::zero(), |sum, beats| sum + beats)
    }

    /// Its strokes, each with its place from the cell's start.
    pub fn strokes(&self) -> Vec<(Exact, Sound)> {
        let mut start = Exact::zero();
        let mut slots = self.slots.iter();
        let mut strokes = Vec::new();
        for span in &self.grid {
            let beats = ratio(span.beats.0, span.beats.1);
            for i in 0..span.slots {
                let at = &start + &beats * ratio(i as i64, span.slots as i64);
                if let Some(Some(stroke)) = slots.next() {
                    strokes.push((at, stroke.sound()));
                }
            }
            start += beats;
        }
        strokes
    }

    fn write(&self, text: &mut String) {
        let words = |list: Vec<String>| list.join(" ");
        let grid = self.grid.iter().map(|span| match span.beats {
            (1, 1) => span.slots.to_string(),
            (n, 1) => format!("{}@{n}", span.slots),
            (n, d) => format!("{}@{n}/{d}", span.slots),
        });
        let sticking = self.slots.iter().map(|slot| match slot {
            Some(stroke) => stroke.token(),
            None => "-".to_owned(),
        });
        let voices = self.slots.iter().map(|slot| match slot {
            Some(stroke) => VOICES[stroke.voice].0.to_owned(),
            None => "-".to_owned(),
        });
        // Writing to a string cannot fail.
        let _ = writeln!(text, "grid = \"{}\"", words(grid.collect()));
        let _ = writeln!(text, "sticking = \"{}\"", words(sticking.collect()));
        let _ = writeln!(text, "voices = \"{}\"\n", words(voices.collect()));
    }
}

/// A form of lettered cells over ostinatos.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Form {
    /// The cells A, B, C …; at most 26.
    pub cells: Vec<Cell>,
    /// Their order, as indices.
    pub order: Vec<usize>,
    /// What runs beneath, each on its own cycle.
    pub ostinatos: Vec<Cell>,
}

/// Something that starts over at its end: length in beats, and strokes.
pub type Cycle = (Exact, Vec<(Exact, Sound)>);

impl Form {
    /// The score file.
    pub fn score(&self) -> String {
        let letter = |i: usize| char::from(b'A' + i as u8).to_string();
        let order: Vec<String> = self.order.iter().map(|i| letter(*i)).collect();
        let mut text = format!(
            "barform = 1\ntitle = \"Invented\"\ntempo = 92\nmeter = \"4/4\"\nform = \"{}\"\n\n",
            order.join(" ")
        );
        for (i, cell) in self.cells.iter().enumerate() {
            let _ = writeln!(text, "[cell.{}]", letter(i));
            cell.write(&mut text);
        }
        for (i, ostinato) in self.ostinatos.iter().enumerate() {
            let _ = writeln!(text, "[ostinato.o{i}]");
            ostinato.write(&mut text);
        }
        text
    }

    /// The form and each ostinato.
    pub fn cycles(&self) -> Vec<Cycle> {
        let mut length = Exact::zero();
        let mut strokes = Vec::new();
        for &i in &self.order {
            for (at, sound) in self.cells[i].strokes() {
                strokes.push((&length + at, sound));
            }
            length += self.cells[i].beats();
        }
        let form = (length, strokes);
        let beneath = self.ostinatos.iter().map(|o| (o.beats(), o.strokes()));
        std::iter::once(form).chain(beneath).collect()
    }
}
