//! One limb asked for twice.

use super::levels::Levels;
use super::motion::Playable;
use crate::line::Line;
use barform_score::music::{Beats, BeatsError, Limb, Voice};

/// How two strokes of one limb meet.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Meeting {
    /// At once on two voices: impossible.
    TwoVoices(Voice, Voice),
    /// At once on one voice: one stroke does for both.
    Doubled(Voice),
    /// Closer in time than the limb can repeat.
    TooClose {
        /// Beats between them.
        gap: Beats,
        /// Least time in milliseconds.
        least_ms: i64,
    },
}

/// Two strokes of one limb that meet.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Collision {
    /// The limb.
    pub limb: Limb,
    /// How they meet.
    pub meeting: Meeting,
    /// Time of the first, in beats.
    pub at: Beats,
    /// Index of the first stroke.
    pub first: usize,
    /// Index of the second stroke.
    pub second: usize,
}

impl Playable<'_> {
    /// Strokes of one limb on two voices at once; no tempo helps.
    pub fn two_voices(&self) -> impl Iterator<Item = Collision> {
        self.at_once()
            .filter(|c| matches!(c.meeting, Meeting::TwoVoices(..)))
    }

    /// Strokes of one limb at the same time.
    fn at_once(&self) -> impl Iterator<Item = Collision> {
        self.at_once.iter().map(|(limb, a, b)| Collision {
            limb: *limb,
            meeting: if a.voice == b.voice {
                Meeting::Doubled(a.voice)
            } else {
                Meeting::TwoVoices(a.voice, b.voice)
            },
            at: a.at,
            first: a.stroke,
            second: b.stroke,
        })
    }

    /// All collisions at a tempo (beats per minute, above 0) in order of time:
    /// within one part, or of a form with the ostinatos merged into it.
    ///
    /// # Errors
    /// [`BeatsError::Overflow`] if times between strokes do not fit.
    pub fn collisions(&self, tempo: Beats, levels: &Levels) -> Result<Vec<Collision>, BeatsError> {
        let mut found: Vec<Collision> = self.at_once().collect();
        for limb in Limb::ALL {
            let least_ms = levels.closest_ms(limb);
            // Shorter than this many beats is too close.
            let least = tempo.checked_mul(Beats::new(least_ms, 60_000))?;
            for (i, from) in self.motions[super::motion::index(limb)].iter().enumerate() {
                let Some((at, to)) = self.motion(limb, i + 1)? else {
                    break;
                };
                let gap = at.checked_sub(from.at)?;
                if gap < least {
                    let meeting = Meeting::TooClose { gap, least_ms };
                    let (first, second) = (from.stroke, to.stroke);
                    found.push(Collision {
                        limb,
                        meeting,
                        at: from.at,
                        first,
                        second,
                    });
                }
            }
        }
        found.sort_by_key(|c| c.at);
        Ok(found)
    }
}

impl Collision {
    /// A plain sentence with the places of both strokes.
    pub fn sentence(&self, line: &Line) -> String {
        let limb = self.limb.said();
        let first = line.stretch(self.first, self.first);
        let second = line.stretch(self.second, self.second);
        match self.meeting {
            Meeting::TwoVoices(a, b) => format!(
                "The {limb} has {} ({first}) and {} ({second}) at once.",
                a.name(),
                b.name()
            ),
            Meeting::Doubled(voice) => format!(
                "The {limb} has {} twice at once ({first}; {second}); one stroke does for both.",
                voice.name()
            ),
            Meeting::TooClose { gap, least_ms } => format!(
                "The {limb} has {gap} of a beat from {first} to {second}; it needs {least_ms} ms."
            ),
        }
    }
}
