//! Metric modulation: a note value of the old tempo becomes another note value
//! of the new one, so that the strokes go on at the same rate.
//!
//! In: a tempo and two note values or subdivisions. Out: the new tempo as an
//! exact ratio and in decimals, and the sentence that stands over the bar line.
//! Never here: playing it, seconds.

mod value;

pub use value::{decimal, note_value};

use barform_score::music::{Beats, BeatsError, Subdivision};
use std::fmt;

/// Slowest and fastest tempo of a score, in quarter notes a minute.
pub const TEMPOS: (i64, i64) = (20, 400);

/// A change of tempo at the same stroke rate.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Modulation {
    /// Tempo before, in quarter notes a minute.
    pub tempo: Beats,
    /// The note value before, in quarter notes.
    pub old: Beats,
    /// The note value after, which lasts as long.
    pub new: Beats,
    /// Tempo after over tempo before, exact.
    pub ratio: Beats,
    /// Tempo after, exact.
    pub to: Beats,
}

/// Why there is no modulation.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
pub enum ModulateError {
    /// A tempo or a note value is not above zero.
    #[error("a tempo and its note values must be above zero")]
    NotPositive,
    /// A subdivision with slots of several lengths has no one stroke rate.
    #[error("'{0}' has slots of several lengths; take one with even slots, such as 16ths")]
    Uneven(String),
    /// The exact tempo does not fit.
    #[error(transparent)]
    Beats(#[from] BeatsError),
}

impl Modulation {
    /// From `tempo` quarter notes a minute, where note value `old` becomes `new`
    /// (both in quarter notes).
    ///
    /// # Errors
    /// [`ModulateError::NotPositive`], or [`ModulateError::Beats`] if the exact
    /// tempo does not fit.
    pub fn of_values(tempo: Beats, old: Beats, new: Beats) -> Result<Modulation, ModulateError> {
        if [tempo, old, new].iter().any(|v| !v.is_positive()) {
            return Err(ModulateError::NotPositive);
        }
        // The note keeps its time, so a longer name for it is a faster beat.
        let ratio = new.checked_div(old)?;
        Ok(Modulation {
            tempo,
            old,
            new,
            ratio,
            to: tempo.checked_mul(ratio)?,
        })
    }

    /// From `tempo`, where the slots of one subdivision become those of another.
    ///
    /// # Errors
    /// As [`Modulation::of_values`]; [`ModulateError::Uneven`] for a subdivision
    /// with slots of several lengths.
    pub fn of_slots(
        tempo: Beats,
        old: &Subdivision,
        new: &Subdivision,
    ) -> Result<Modulation, ModulateError> {
        Modulation::of_values(tempo, slot(old)?, slot(new)?)
    }

    /// Whether a score may have the new tempo.
    pub fn in_range(&self) -> bool {
        (Beats::whole(TEMPOS.0)..=Beats::whole(TEMPOS.1)).contains(&self.to)
    }

    /// The way back.
    pub fn back(&self) -> Modulation {
        let ratio = Beats::new(self.ratio.denom(), self.ratio.numer());
        Modulation {
            tempo: self.to,
            old: self.new,
            new: self.old,
            ratio,
            to: self.tempo,
        }
    }
}

/// The modulations from a subdivision to each other one that has a name, nearest
/// tempo first; only to tempos that a score may have.
///
/// # Errors
/// As [`Modulation::of_slots`].
pub fn modulations(tempo: Beats, from: &Subdivision) -> Result<Vec<Modulation>, ModulateError> {
    let old = slot(from)?;
    let mut found = Vec::new();
    for (name, ..) in Subdivision::NAMES {
        let Some(to) = Subdivision::from_name(name) else {
            continue;
        };
        let way = Modulation::of_values(tempo, old, slot(&to)?)?;
        if way.ratio != Beats::ONE && way.in_range() {
            found.push(way);
        }
    }
    // Nearest by ratio, whichever way: 3/2 is as far as 2/3.
    let far = |m: &Modulation| m.ratio.max(m.back().ratio);
    found.sort_by_key(|m| (far(m), m.to));
    Ok(found)
}

fn slot(subdivision: &Subdivision) -> Result<Beats, ModulateError> {
    let spans = subdivision.0.spans();
    let mut lengths = spans.iter().map(|s| s.slot_length());
    let first = lengths.next().unwrap_or(Err(BeatsError::Overflow))?;
    for length in lengths {
        if length? != first {
            return Err(ModulateError::Uneven(subdivision.to_string()));
        }
    }
    Ok(first)
}

impl fmt::Display for Modulation {
    /// The metric modulation as engravers set it over the bar line:
    /// `sixteenth-triplet = sixteenth, ♩ = 80 → ♩ = 120 (3:2)`.
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        let tempo = |t: Beats| decimal(t, 3);
        let (old, new) = (note_value(self.old), note_value(self.new));
        let (from, to) = (tempo(self.tempo), tempo(self.to));
        let (up, down) = (self.ratio.numer(), self.ratio.denom());
        write!(f, "{old} = {new}, ♩ = {from} → ♩ = {to} ({up}:{down})")
    }
}
