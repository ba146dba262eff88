//! The strokes to be stuck.

use crate::line::Line;
use barform_score::music::{Beats, BeatsError, Graces, Hand, Level, Stroke, Voice};

/// Why a passage cannot be stuck at all.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
pub enum StickingError {
    /// More hand strokes at one time than there are hands.
    #[error("{strokes} hand strokes at beat {at}; there are two hands")]
    TooManyAtOnce {
        /// Their time in beats from the start of the passage.
        at: Beats,
        /// How many there are.
        strokes: usize,
    },
    /// Strokes that are not in order of time, or after the end of a loop.
    #[error("a stroke at beat {at} comes too late or too early for its place")]
    OutOfOrder {
        /// Its time in beats.
        at: Beats,
    },
    /// A tempo or a pulse that is not allowed.
    #[error("{what} is {read}; allowed is {allowed}")]
    NotAllowed {
        /// Which.
        what: &'static str,
        /// What was asked for.
        read: Beats,
        /// Its range.
        allowed: &'static str,
    },
    /// Exact arithmetic ran out of room.
    #[error(transparent)]
    Beats(#[from] BeatsError),
}

/// One hand stroke, its hand settled or open.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct OpenStroke {
    /// Time in beats from the start of the passage.
    pub at: Beats,
    /// What is struck.
    pub voice: Voice,
    /// How loud.
    pub level: Level,
    /// Grace notes; of an open stroke only their number counts.
    pub graces: Graces,
    /// Whether it is buzzed.
    pub buzz: bool,
    /// The hand, if it is settled.
    pub hand: Option<Hand>,
}

impl OpenStroke {
    /// A hand stroke at a time; `None` for a foot. `open` lets go of its hand.
    pub fn of(at: Beats, stroke: &Stroke, open: bool) -> Option<OpenStroke> {
        let hand = stroke.limb.hand()?;
        Some(OpenStroke {
            at,
            voice: stroke.voice,
            level: stroke.level,
            graces: stroke.graces,
            buzz: stroke.buzz,
            hand: (!open).then_some(hand),
        })
    }

    /// The grace notes this stroke has when `hand` plays it: those written if
    /// the hand is settled; else a flam or a drag by the other hand, and a ruff
    /// from hand to hand. Common practice.
    pub fn graces_with(&self, hand: Hand) -> Graces {
        let other = hand.other();
        if self.hand == Some(hand) {
            return self.graces;
        }
        let hands = [
            other,
            if self.graces.len() == 2 { other } else { hand },
            other,
        ];
        Graces::from_hands(&hands[..self.graces.len().min(Graces::MAX)]).unwrap_or(Graces::NONE)
    }
}

/// Hand strokes in order of time.
#[derive(Debug, Clone, PartialEq, Eq, Default)]
pub struct Passage {
    /// The strokes; those at the same time are played at once.
    pub strokes: Vec<OpenStroke>,
    /// Length in beats of a passage that is played over and over, whose last
    /// stroke leads to its first. `None` for one that is played once.
    pub looped: Option<Beats>,
}

impl Passage {
    /// The hand strokes of a line; `open` says of each stroke of the line, by
    /// its index, whether its hand is open. The second result holds the index
    /// in the line of each stroke of the passage.
    pub fn of_line(line: &Line, open: impl Fn(usize) -> bool) -> (Passage, Vec<usize>) {
        let (strokes, from) = line
            .strokes
            .iter()
            .enumerate()
            .filter_map(|(i, (at, stroke))| Some((OpenStroke::of(*at, stroke, open(i))?, i)))
            .unzip();
        (
            Passage {
                strokes,
                looped: None,
            },
            from,
        )
    }

    /// The same passage, played over and over every `length` beats.
    pub fn looped_every(mut self, length: Beats) -> Passage {
        self.looped = Some(length);
        self
    }
}

/// One moment: the strokes that sound at one time.
#[derive(Debug, Clone, Copy)]
pub(super) struct Moment {
    /// Index of its first stroke.
    pub first: usize,
    /// One or two strokes.
    pub count: usize,
    /// Microseconds since the moment before, rounded down; for the first one
    /// of a loop since the last one, else 0.
    pub gap_us: i64,
    /// Whether it falls on a beat.
    pub on_beat: bool,
}

/// Cuts a passage into moments.
pub(super) fn moments(passage: &Passage, ask: &super::Ask) -> Result<Vec<Moment>, StickingError> {
    let micros = |beats: Beats| -> Result<i64, StickingError> {
        Ok(beats
            .checked_mul(Beats::whole(60_000_000))?
            .checked_div(ask.tempo)?
            .floor())
    };
    if !ask.tempo.is_positive() || ask.tempo > Beats::whole(1000) {
        let allowed = "above 0 to 1000 beats per minute";
        return Err(StickingError::NotAllowed {
            what: "the tempo",
            read: ask.tempo,
            allowed,
        });
    }
    if !ask.pulse.is_positive() {
        let allowed = "above 0 beats";
        return Err(StickingError::NotAllowed {
            what: "the pulse",
            read: ask.pulse,
            allowed,
        });
    }
    let strokes = &passage.strokes;
    let mut moments: Vec<Moment> = Vec::with_capacity(strokes.len());
    let mut before = None;
    for (first, stroke) in strokes.iter().enumerate() {
        let at = stroke.at;
        match (before, moments.last_mut()) {
            (Some(time), Some(last)) if time == at => {
                last.count += 1;
                if last.count > 2 {
                    let all = strokes[last.first..]
                        .iter()
                        .take_while(|s| s.at == at)
                        .count();
                    return Err(StickingError::TooManyAtOnce { at, strokes: all });
                }
                continue;
            }
            (Some(time), _) if time > at => return Err(StickingError::OutOfOrder { at }),
            _ => {}
        }
        let gap_us = before.map_or(Ok(0), |time| micros(at.checked_sub(time)?))?;
        let on_beat = ask
            .from_bar_line
            .checked_add(at)?
            .checked_rem(ask.pulse)?
            .is_zero();
        moments.push(Moment {
            first,
            count: 1,
            gap_us,
            on_beat,
        });
        before = Some(at);
    }
    if let (Some(length), Some(first), Some(last)) =
        (passage.looped, strokes.first(), strokes.last())
    {
        if first.at < Beats::ZERO || last.at >= length {
            return Err(StickingError::OutOfOrder { at: last.at });
        }
        moments[0].gap_us = micros(length.checked_sub(last.at)?.checked_add(first.at)?)?;
    }
    Ok(moments)
}
