//! Limits as bounds on the tempo, and the top tempo.

use super::collide::Collision;
use super::levels::{Ability, Levels};
use super::motion::Playable;
use crate::range::Thousandths;
use barform_score::music::{Beats, BeatsError, Limb};

/// No top tempo is above this, in beats per minute: the fastest a score has.
pub const MAX_BPM: u32 = 400;

/// What is measured, and how much is allowed.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Measure {
    /// Strokes per second over some strokes in a row of one limb.
    Rate {
        /// How many strokes.
        strokes: usize,
        /// Most strokes per second.
        most: Thousandths,
    },
    /// Time between two strokes of one limb.
    Closest {
        /// Least time in milliseconds.
        least_ms: i64,
    },
    /// A hand's way from voice to voice.
    Travel {
        /// Its length in centimetres.
        cm: i64,
        /// Most centimetres per second.
        most: i64,
    },
}

/// Some strokes of one limb that bound the tempo.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Bound {
    /// The limb.
    pub limb: Limb,
    /// What is measured.
    pub measure: Measure,
    /// Index of the first stroke.
    pub first: usize,
    /// Index of the last stroke; of a grace note, of its main stroke.
    pub last: usize,
    /// Beats from the first to the last, above 0.
    pub span: Beats,
}

impl Bound {
    /// The fastest tempo that keeps the limit, in beats per minute, as an exact
    /// fraction.
    ///
    /// With s beats at T beats a minute lasting 60 s / T seconds:
    /// n strokes are (n - 1) T / (60 s) a second, so T ≤ 60 s · most / (n - 1);
    /// 60000 s / T milliseconds, so T ≤ 60000 s / least;
    /// c centimetres are c T / (60 s) a second, so T ≤ 60 s · most / c.
    pub(super) fn tempo(&self) -> (i128, i128) {
        let (n, d) = (i128::from(self.span.numer()), i128::from(self.span.denom()));
        match self.measure {
            Measure::Rate { strokes, most } => (
                60 * n * i128::from(most.0),
                1000 * d * (strokes as i128 - 1),
            ),
            Measure::Closest { least_ms } => (60_000 * n, d * i128::from(least_ms)),
            Measure::Travel { cm, most } => (60 * n * i128::from(most), d * i128::from(cm)),
        }
    }

    /// The greatest whole tempo that keeps the limit, in beats per minute; 0 if
    /// none does.
    pub fn top_bpm(&self) -> i128 {
        let (n, d) = self.tempo();
        n / d
    }

    /// Whether a tempo in beats per minute breaks the limit.
    pub fn breaks(&self, tempo: Beats) -> bool {
        let (n, d) = self.tempo();
        i128::from(tempo.numer()) * d > n * i128::from(tempo.denom())
    }
}

/// The top tempo of some strokes at a level.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Top {
    /// Greatest whole number of beats per minute that keeps every limit, at
    /// most [`MAX_BPM`]; `None` if no tempo does.
    pub bpm: Option<u32>,
    /// What breaks first above it; `None` if nothing does up to [`MAX_BPM`],
    /// or if no tempo helps.
    pub limit: Option<Bound>,
    /// What no tempo helps: one limb on two voices at once.
    pub collision: Option<Collision>,
}

impl Playable<'_> {
    /// Hands every bound on the tempo to `tell`: limb by limb in the order
    /// `R L K H`, the closest strokes, then rates from short to long, then
    /// travel, each in order of time.
    fn bounds(
        &self,
        level: &Ability,
        levels: &Levels,
        tell: &mut impl FnMut(Bound),
    ) -> Result<(), BeatsError> {
        for limb in Limb::ALL {
            let motions = &self.motions[super::motion::index(limb)];
            let mut over = |strokes: usize, measure: Measure| -> Result<(), BeatsError> {
                for (i, from) in motions.iter().enumerate() {
                    let Some((at, to)) = self.motion(limb, i + strokes - 1)? else {
                        break;
                    };
                    let span = at.checked_sub(from.at)?;
                    let (first, last) = (from.stroke, to.stroke);
                    tell(Bound {
                        limb,
                        measure,
                        first,
                        last,
                        span,
                    });
                }
                Ok(())
            };
            over(
                2,
                Measure::Closest {
                    least_ms: levels.closest_ms(limb),
                },
            )?;
            for (strokes, most) in level.limits(limb) {
                over(
                    *strokes,
                    Measure::Rate {
                        strokes: *strokes,
                        most: *most,
                    },
                )?;
            }
            if limb.is_foot() {
                continue;
            }
            for (i, from) in motions.iter().enumerate() {
                let Some((at, to)) = self.motion(limb, i + 1)? else {
                    break;
                };
                let cm = self.setup.cm_between(from.voice, to.voice);
                if cm > 0 {
                    let span = at.checked_sub(from.at)?;
                    let measure = Measure::Travel {
                        cm,
                        most: level.travel_cm_per_second,
                    };
                    tell(Bound {
                        limb,
                        measure,
                        first: from.stroke,
                        last: to.stroke,
                        span,
                    });
                }
            }
        }
        Ok(())
    }

    /// The top tempo at a level. Of several bounds that are equally tight the
    /// first in the order of [`Limb::ALL`] is told, closest strokes before
    /// rates before travel, each the earliest.
    ///
    /// # Errors
    /// [`BeatsError::Overflow`] if times between strokes do not fit.
    pub fn top_tempo(&self, level: &Ability, levels: &Levels) -> Result<Top, BeatsError> {
        let collision = self.two_voices().next();
        if collision.is_some() {
            return Ok(Top {
                bpm: None,
                limit: None,
                collision,
            });
        }
        let mut tightest: Option<Bound> = None;
        self.bounds(level, levels, &mut |bound| {
            let tighter = tightest.is_none_or(|tightest| {
                let ((a, b), (c, d)) = (bound.tempo(), tightest.tempo());
                // Numbers of this size multiply without loss only as wide ones;
                // where they would not, whole tempos decide.
                match (a.checked_mul(d), c.checked_mul(b)) {
                    (Some(x), Some(y)) => x < y,
                    _ => bound.top_bpm() < tightest.top_bpm(),
                }
            });
            if tighter {
                tightest = Some(bound);
            }
        })?;
        let whole = tightest.map_or(i128::from(MAX_BPM), |bound| bound.top_bpm());
        if whole >= i128::from(MAX_BPM) {
            return Ok(Top {
                bpm: Some(MAX_BPM),
                limit: None,
                collision: None,
            });
        }
        let bpm = u32::try_from(whole).ok().filter(|bpm| *bpm > 0);
        Ok(Top {
            bpm,
            limit: tightest,
            collision: None,
        })
    }

    /// Every bound of a level that a tempo breaks, in the order of
    /// [`Playable::top_tempo`].
    ///
    /// # Errors
    /// [`BeatsError::Overflow`] if times between strokes do not fit.
    pub fn broken(
        &self,
        tempo: Beats,
        level: &Ability,
        levels: &Levels,
    ) -> Result<Vec<Bound>, BeatsError> {
        let mut broken = Vec::new();
        self.bounds(level, levels, &mut |bound| {
            if bound.breaks(tempo) {
                broken.push(bound);
            }
        })?;
        Ok(broken)
    }
}
