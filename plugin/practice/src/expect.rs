//! What a player is to play: a schedule's strokes, as a report sees them.

use crate::passage::Written;
use crate::schedule::{Ornaments, Schedule, Segment};
use barform_score::music::{Beats, BeatsError, Level, Limb, Voice};

/// A stroke or a grace note that is due.
#[derive(Debug, Clone, PartialEq)]
pub struct Expected {
    /// When, in seconds from the start of the track.
    pub seconds: f64,
    /// On what.
    pub voice: Voice,
    /// By whom; a grace note by the hand of its stroke.
    pub limb: Limb,
    /// How loud it is meant.
    pub level: Level,
    /// Its velocity in the score's kit.
    pub velocity: u8,
    /// The stroke that it leads to, for a grace note: an index into the list.
    pub grace_of: Option<usize>,
    /// A buzz goes on for so many seconds.
    pub buzz: Option<f64>,
    /// Its letter; empty for an ostinato.
    pub letter: String,
    /// Place in the beat, from 0 to 1.
    pub place: Beats,
}

impl Schedule {
    /// What the player is to play, in order of time: where there are turns or
    /// letters of the player's own, those; otherwise all of the form and the
    /// ostinatos that the layers hold. Gaps are silent for Barform only.
    ///
    /// # Errors
    /// [`BeatsError::Overflow`] if a time does not fit.
    pub fn expected(&self, ornaments: Ornaments) -> Result<Vec<Expected>, BeatsError> {
        let trades = self.trades();
        let mut list = Vec::new();
        for segment in &self.segments {
            let mut writer = Writer {
                segment,
                ornaments,
                list: &mut list,
            };
            let passage = &self.passages[segment.passage];
            for (beat, stroke) in self.strokes(segment)? {
                if self.layers_hold(segment, stroke, false)
                    && (!trades || self.is_players(segment, stroke))
                {
                    let letter = passage.letters.get(stroke.letter);
                    let letter = letter.map_or(String::new(), |(_, l)| l.to_string());
                    let from = segment.source.map_or(Beats::ZERO, |s| s.from);
                    writer.stroke(beat, from.checked_add(beat)?, stroke, letter)?;
                }
            }
            for under in passage.ostinatos.iter().filter(|_| !trades) {
                for (beat, stroke) in self.strokes_under(segment, under)? {
                    if self.layers_hold(segment, stroke, true) {
                        writer.stroke(beat, stroke.at, stroke, String::new())?;
                    }
                }
            }
        }
        Ok(in_order(list))
    }
}

/// Leaves out what is due after a moment, in seconds: who stopped has not missed
/// the rest. A grace note goes with its stroke.
pub fn until(due: &mut Vec<Expected>, seconds: f64) {
    let mut count = due.partition_point(|e| e.seconds <= seconds);
    while let Some(first) = due[..count]
        .iter()
        .position(|e| e.grace_of.is_some_and(|main| main >= count))
    {
        count = first;
    }
    due.truncate(count);
}

struct Writer<'s> {
    segment: &'s Segment,
    ornaments: Ornaments,
    list: &'s mut Vec<Expected>,
}

impl Writer<'_> {
    fn stroke(
        &mut self,
        beat: Beats,
        place: Beats,
        stroke: &Written,
        letter: String,
    ) -> Result<(), BeatsError> {
        let Segment { begins, tempo, .. } = self.segment;
        let main = Expected {
            seconds: begins.after(beat, *tempo).to_f64(),
            voice: stroke.note.voice,
            limb: stroke.limb,
            level: stroke.level,
            velocity: stroke.note.velocity.value(),
            grace_of: None,
            buzz: stroke.buzz.map(|b| b.to_f64() * 60.0 / tempo.to_f64()),
            letter,
            place: place.checked_rem(Beats::ONE)?,
        };
        let index = self.list.len();
        let graces = stroke.graces.map_or(0, |g| i64::from(g.count));
        let graces: Vec<Expected> = (1..=graces)
            .map(|n| Expected {
                seconds: main.seconds - (n * self.ornaments.grace_us) as f64 / 1e6,
                level: Level::Ghost,
                velocity: stroke.graces.map_or(0, |g| g.note.velocity.value()),
                grace_of: Some(index),
                buzz: None,
                ..main.clone()
            })
            .collect();
        self.list.push(main);
        self.list.extend(graces);
        Ok(())
    }
}

/// Sorted by time, grace notes still pointing to their strokes.
fn in_order(list: Vec<Expected>) -> Vec<Expected> {
    let mut order: Vec<usize> = (0..list.len()).collect();
    order.sort_by(|a, b| list[*a].seconds.total_cmp(&list[*b].seconds));
    let mut place = vec![0; list.len()];
    for (new, old) in order.iter().enumerate() {
        place[*old] = new;
    }
    let mut sorted: Vec<Expected> = order.iter().map(|old| list[*old].clone()).collect();
    for stroke in &mut sorted {
        stroke.grace_of = stroke.grace_of.map(|old| place[old]);
    }
    sorted
}
