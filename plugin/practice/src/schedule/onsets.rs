//! Every note of a schedule with its exact moment.

use super::{Schedule, Seconds, Segment};
use crate::passage::{Under, Written};
use crate::plan::Layer;
use barform_play::player::{BOUNCE_FADE, Settings};
use barform_score::music::{Beats, BeatsError, Level, Velocity};
use barform_score::timeline::{BOUNCES, Note};

/// Which part of the music a note belongs to.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
pub enum Sounding {
    /// The form's hands.
    Hands,
    /// The form's feet.
    Feet,
    /// An ostinato, by its number in the passage.
    Ostinato(usize),
    /// The click.
    Click,
}

/// A note that sounds.
#[derive(Debug, Clone, PartialEq)]
pub struct Onset {
    /// When it sounds.
    pub seconds: Seconds,
    /// Beats from the start of the track to its main stroke.
    pub at: Beats,
    /// How far from the main stroke it lies, in microseconds; before is negative.
    pub shift_us: i64,
    /// Its segment.
    pub segment: usize,
    /// What it belongs to.
    pub part: Sounding,
    /// What sounds.
    pub note: Note,
}

/// Times of grace notes and bounces.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Ornaments {
    /// Between grace notes, and from the last to its main stroke, in
    /// microseconds.
    pub grace_us: i64,
    /// Between the bounces of a buzz, in microseconds.
    pub buzz_us: i64,
}

impl Ornaments {
    /// From milliseconds.
    pub fn of_ms(grace_ms: f64, buzz_ms: f64) -> Ornaments {
        let us = |ms: f64| (ms * 1000.0).round() as i64;
        Ornaments {
            grace_us: us(grace_ms),
            buzz_us: us(buzz_ms),
        }
    }
}

impl Default for Ornaments {
    /// As the player has them.
    fn default() -> Self {
        let player = Settings::default();
        Ornaments::of_ms(player.grace_ms, player.buzz_ms)
    }
}

impl Schedule {
    /// All that sounds, in order of time.
    ///
    /// # Errors
    /// [`BeatsError::Overflow`] if a time does not fit.
    pub fn onsets(&self, ornaments: Ornaments) -> Result<Vec<Onset>, BeatsError> {
        let mut onsets = Vec::new();
        for number in 0..self.segments.len() {
            let mut writer = Writer {
                schedule: self,
                number,
                ornaments,
                onsets: &mut onsets,
            };
            writer.segment()?;
        }
        onsets.sort_by(|a: &Onset, b: &Onset| {
            (&a.seconds, a.part, a.note.key).cmp(&(&b.seconds, b.part, b.note.key))
        });
        Ok(onsets)
    }

    /// The form's strokes of a segment, heard or not, with their beat from the
    /// segment's start.
    ///
    /// # Errors
    /// [`BeatsError::Overflow`] if a time does not fit.
    pub fn strokes<'s>(
        &'s self,
        segment: &Segment,
    ) -> Result<Vec<(Beats, &'s Written)>, BeatsError> {
        let Some(source) = segment.source else {
            return Ok(Vec::new());
        };
        let all = &self.passages[segment.passage].strokes;
        let to = source.from.checked_add(segment.length)?;
        let range = all.partition_point(|s| s.at < source.from)..all.partition_point(|s| s.at < to);
        let strokes = all[range].iter();
        strokes
            .map(|s| Ok((s.at.checked_sub(source.from)?, s)))
            .collect()
    }

    /// An ostinato's strokes of a segment, heard or not, with their beat from the
    /// segment's start.
    ///
    /// # Errors
    /// [`BeatsError::Overflow`] if a time does not fit.
    pub fn strokes_under<'s>(
        &self,
        segment: &Segment,
        under: &'s Under,
    ) -> Result<Vec<(Beats, &'s Written)>, BeatsError> {
        let Some(source) = segment.source else {
            return Ok(Vec::new());
        };
        let mut strokes = Vec::new();
        let (from, cycle) = (source.ostinato_from, under.cycle);
        let mut start = from
            .checked_sub(from.checked_rem(cycle)?)?
            .checked_sub(from)?;
        while start < segment.length {
            for stroke in &under.strokes {
                let at = start.checked_add(stroke.at)?;
                if at >= Beats::ZERO && at < segment.length {
                    strokes.push((at, stroke));
                }
            }
            start = start.checked_add(cycle)?;
        }
        Ok(strokes)
    }

    /// Whether the layers of a segment hold a stroke of the form, or one of an
    /// ostinato.
    pub fn layers_hold(&self, segment: &Segment, stroke: &Written, ostinato: bool) -> bool {
        let layers = &self.layers[..segment.layers.min(self.layers.len())];
        let foot = stroke.limb.is_foot();
        let holds = |layer: &Layer| match layer {
            Layer::All => true,
            Layer::Ostinato => ostinato,
            Layer::Hands => !ostinato && !foot,
            Layer::Feet => !ostinato && foot,
            Layer::Accents => !ostinato && stroke.level == Level::Accent,
            Layer::Limb(limb) => !ostinato && stroke.limb == *limb,
            Layer::Voice(voice) => !ostinato && stroke.note.voice == *voice,
        };
        self.layers.is_empty() || layers.iter().any(holds)
    }
}

/// Writes one segment's onsets.
struct Writer<'s> {
    schedule: &'s Schedule,
    number: usize,
    ornaments: Ornaments,
    onsets: &'s mut Vec<Onset>,
}

impl Writer<'_> {
    fn segment(&mut self) -> Result<(), BeatsError> {
        let schedule = self.schedule;
        let segment = &schedule.segments[self.number];
        for click in &segment.clicks {
            let beat = click.at.checked_sub(segment.start)?;
            self.push(beat, 0, Sounding::Click, click.note)?;
        }
        if !segment.silent.form {
            for (beat, stroke) in schedule.strokes(segment)? {
                let open = schedule.is_players(segment, stroke);
                if !open && schedule.layers_hold(segment, stroke, false) {
                    let foot = stroke.limb.is_foot();
                    let part = if foot {
                        Sounding::Feet
                    } else {
                        Sounding::Hands
                    };
                    self.stroke(beat, part, stroke)?;
                }
            }
        }
        if !segment.silent.ostinato {
            let under = &schedule.passages[segment.passage].ostinatos;
            for (number, under) in under.iter().enumerate() {
                for (beat, stroke) in schedule.strokes_under(segment, under)? {
                    if schedule.layers_hold(segment, stroke, true) {
                        self.stroke(beat, Sounding::Ostinato(number), stroke)?;
                    }
                }
            }
        }
        Ok(())
    }

    /// A stroke with its grace notes and bounces.
    fn stroke(&mut self, beat: Beats, part: Sounding, stroke: &Written) -> Result<(), BeatsError> {
        let Ornaments { grace_us, buzz_us } = self.ornaments;
        self.push(beat, 0, part, stroke.note)?;
        if let Some(graces) = stroke.graces {
            for n in 1..=i64::from(graces.count) {
                self.push(beat, -n * grace_us, part, graces.note)?;
            }
        }
        let Some(room) = stroke.buzz else {
            return Ok(());
        };
        let tempo = self.schedule.segments[self.number].tempo;
        let room = Seconds::zero().after(room, tempo);
        for n in 1..=BOUNCES as i64 {
            if Seconds::zero().shifted_us(n * buzz_us) >= room {
                break;
            }
            let velocity = f64::from(stroke.note.velocity.value()) * BOUNCE_FADE.powi(n as i32);
            let note = Note {
                velocity: Velocity::clamped(velocity),
                ..stroke.note
            };
            self.push(beat, n * buzz_us, part, note)?;
        }
        Ok(())
    }

    fn push(
        &mut self,
        beat: Beats,
        shift_us: i64,
        part: Sounding,
        note: Note,
    ) -> Result<(), BeatsError> {
        let segment = &self.schedule.segments[self.number];
        let main = segment.begins.after(beat, segment.tempo);
        let seconds = if shift_us == 0 {
            main
        } else {
            main.shifted_us(shift_us)
        };
        self.onsets.push(Onset {
            seconds,
            at: segment.start.checked_add(beat)?,
            shift_us,
            segment: self.number,
            part,
            note,
        });
        Ok(())
    }
}
