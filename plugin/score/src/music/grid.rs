//! Grids: how a cell's time is cut into slots, and how a cell is moved to
//! another subdivision.

use super::{Beats, BeatsError};
use std::fmt;

/// Most slots in one span: 64 covers every tuplet on a drum part.
pub const MAX_SLOTS_PER_SPAN: u8 = 64;

/// An even division: `slots` slots in the time of `length` beats.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
pub struct Span {
    /// Number of slots, `1 ..= 64`.
    pub slots: u8,
    /// Total length, above zero.
    pub length: Beats,
}

impl Span {
    /// A span, if `slots` and `length` are in range.
    pub fn new(slots: u8, length: Beats) -> Option<Span> {
        let ok = (1..=MAX_SLOTS_PER_SPAN).contains(&slots) && length.is_positive();
        ok.then_some(Span { slots, length })
    }

    /// Length of one slot.
    ///
    /// # Errors
    /// [`BeatsError::Overflow`] if it does not fit.
    pub fn slot_length(self) -> Result<Beats, BeatsError> {
        self.length.checked_div(Beats::whole(i64::from(self.slots)))
    }
}

/// A list of spans, one after the other. Written `6 6`, `3@2`, `1@1/2 3@1/2`.
#[derive(Debug, Clone, PartialEq, Eq, Hash)]
pub struct Grid {
    spans: Vec<Span>,
}

impl Grid {
    /// A grid of at least one span.
    pub fn new(spans: Vec<Span>) -> Option<Grid> {
        (!spans.is_empty()).then_some(Grid { spans })
    }

    /// One span of `slots` even slots in one beat.
    pub fn per_beat(slots: u8) -> Option<Grid> {
        Grid::new(vec![Span::new(slots, Beats::ONE)?])
    }

    /// The spans in order.
    pub fn spans(&self) -> &[Span] {
        &self.spans
    }

    /// Number of slots.
    pub fn slot_count(&self) -> usize {
        self.spans.iter().map(|s| usize::from(s.slots)).sum()
    }

    /// Total length.
    ///
    /// # Errors
    /// [`BeatsError::Overflow`] if it does not fit.
    pub fn length(&self) -> Result<Beats, BeatsError> {
        self.spans
            .iter()
            .try_fold(Beats::ZERO, |sum, s| sum.checked_add(s.length))
    }

    /// Start of each slot from the start of the grid, then the total length:
    /// one entry more than there are slots.
    ///
    /// # Errors
    /// [`BeatsError::Overflow`] if one of them does not fit.
    pub fn slot_bounds(&self) -> Result<Vec<Beats>, BeatsError> {
        let mut bounds = Vec::with_capacity(self.slot_count() + 1);
        let mut start = Beats::ZERO;
        for span in &self.spans {
            let slot = span.slot_length()?;
            for i in 0..span.slots {
                bounds.push(start.checked_add(slot.checked_mul(Beats::whole(i64::from(i)))?)?);
            }
            start = start.checked_add(span.length)?;
        }
        bounds.push(start);
        Ok(bounds)
    }

    /// This grid's spans repeated until exactly `length` is filled, the last
    /// span cut at a slot where need be.
    ///
    /// # Errors
    /// [`RefitError::NoWholeSlots`] if `length` does not end on a slot.
    pub fn tile_to_length(&self, length: Beats) -> Result<Grid, RefitError> {
        let mut spans = Vec::new();
        let mut left = length;
        for span in self.spans.iter().cycle() {
            if span.length <= left {
                spans.push(*span);
                left = left.checked_sub(span.length)?;
            } else {
                let slots = left.checked_div(span.slot_length()?)?;
                if !slots.is_whole() {
                    return Err(RefitError::NoWholeSlots {
                        length,
                        grid: self.clone(),
                    });
                }
                // Below span.slots, which is at most 64.
                spans.push(Span {
                    slots: slots.numer() as u8,
                    length: left,
                });
                left = Beats::ZERO;
            }
            if left.is_zero() {
                break;
            }
        }
        Ok(Grid { spans })
    }

    /// This grid's spans repeated until there are exactly `slots` slots, the
    /// last span cut where need be.
    ///
    /// # Errors
    /// [`BeatsError::Overflow`] if the cut span's length does not fit.
    pub fn tile_to_slots(&self, slots: usize) -> Result<Grid, BeatsError> {
        let mut spans = Vec::new();
        let mut left = slots;
        for span in self.spans.iter().cycle() {
            if left == 0 {
                break;
            }
            let take = left.min(usize::from(span.slots));
            let length = if take == usize::from(span.slots) {
                span.length
            } else {
                span.slot_length()?.checked_mul(Beats::whole(take as i64))?
            };
            spans.push(Span {
                slots: take as u8,
                length,
            });
            left -= take;
        }
        Ok(Grid { spans })
    }
}

impl fmt::Display for Grid {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        for (i, span) in self.spans.iter().enumerate() {
            let gap = if i == 0 { "" } else { " " };
            if span.length == Beats::ONE {
                write!(f, "{gap}{}", span.slots)?;
            } else {
                write!(f, "{gap}{}@{}", span.slots, span.length)?;
            }
        }
        Ok(())
    }
}

/// How a cell is put on another subdivision.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, Default)]
pub enum Fit {
    /// Keep the cell's length in beats; strokes are chosen or repeated.
    #[default]
    Refit,
    /// Keep the cell's strokes; its length changes.
    Carry,
}

/// Why a cell cannot be refit.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
pub enum RefitError {
    /// The cell's length is no whole number of the new slots.
    #[error("{length} beats are no whole number of slots of '{grid}'")]
    NoWholeSlots {
        /// The cell's length.
        length: Beats,
        /// The subdivision asked for.
        grid: Grid,
    },
    /// The exact arithmetic does not fit.
    #[error(transparent)]
    Beats(#[from] BeatsError),
}

/// A subdivision a cell can be moved to: a grid that is repeated as long as
/// the cell needs. Common ones have names.
#[derive(Debug, Clone, PartialEq, Eq, Hash)]
pub struct Subdivision(
    /// The pattern that repeats.
    pub Grid,
);

impl Subdivision {
    /// The names known in brackets in a form, each with its slots and beats.
    /// Common practice.
    pub const NAMES: [(&'static str, u8, i64); 11] = [
        ("quarters", 1, 1),
        ("quarter-triplets", 3, 2),
        ("8ths", 2, 1),
        ("8th-triplets", 3, 1),
        ("16ths", 4, 1),
        ("quintuplets", 5, 1),
        ("16th-triplets", 6, 1),
        ("septuplets", 7, 1),
        ("32nds", 8, 1),
        ("nonuplets", 9, 1),
        ("32nd-triplets", 12, 1),
    ];

    /// The subdivision of a name such as `16ths`.
    pub fn from_name(name: &str) -> Option<Subdivision> {
        let (_, slots, beats) = Self::NAMES.into_iter().find(|(n, ..)| *n == name)?;
        Some(Subdivision(Grid::new(vec![Span::new(
            slots,
            Beats::whole(beats),
        )?])?))
    }

    /// The name, if it has one.
    pub fn name(&self) -> Option<&'static str> {
        let [span] = self.0.spans() else { return None };
        let hit = |(_, slots, beats): &(&str, u8, i64)| {
            *slots == span.slots && Beats::whole(*beats) == span.length
        };
        Self::NAMES.into_iter().find(hit).map(|(name, ..)| name)
    }
}

impl fmt::Display for Subdivision {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self.name() {
            Some(name) => f.write_str(name),
            None => fmt::Display::fmt(&self.0, f),
        }
    }
}
