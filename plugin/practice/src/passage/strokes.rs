//! Strokes with their exact times and all that was written of them.

use super::Under;
use barform_score::music::{Beats, BeatsError, Kit, Level, Limb, Slot, Stroke};
use barform_score::score::Score;
use barform_score::timeline::{Lane, LaneRole, Note, Timeline};

/// The grace notes of a stroke; all of them alike.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Grace {
    /// How many.
    pub count: u8,
    /// What each sounds like.
    pub note: Note,
}

/// A stroke as written.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Written {
    /// Beats from the start of the passage or of the ostinato's cycle.
    pub at: Beats,
    /// What sounds.
    pub note: Note,
    /// Who plays it.
    pub limb: Limb,
    /// How loud it is meant.
    pub level: Level,
    /// Grace notes ahead of it.
    pub graces: Option<Grace>,
    /// A buzz goes on for so many beats.
    pub buzz: Option<Beats>,
    /// Number of its letter in the passage.
    pub letter: usize,
}

/// Reads a lane together with the cells that it was compiled from: the two list
/// the same strokes in the same order.
struct Reading<'a> {
    lane: &'a Lane,
    times: Vec<Beats>,
    kit: &'a Kit,
    graces: usize,
    read: Vec<Written>,
}

impl<'a> Reading<'a> {
    fn of(score: &'a Score, timeline: &'a Timeline, lane: &'a Lane) -> Result<Self, BeatsError> {
        Ok(Reading {
            lane,
            times: timeline.exact_times(score, lane)?,
            kit: &timeline.kit,
            graces: 0,
            read: Vec::with_capacity(lane.main.len()),
        })
    }

    /// Reads the strokes of a cell, with its slots' bounds.
    fn cell(
        &mut self,
        slots: &[Slot],
        bounds: &[Beats],
        rate: Beats,
        letter: usize,
    ) -> Result<(), BeatsError> {
        let strokes = slots.iter().enumerate();
        for (slot, stroke) in strokes.flat_map(|(n, slot)| slot.iter().map(move |s| (n, s))) {
            // As in a timeline: what has no key does not sound.
            if self.kit.key(stroke.voice, stroke.articulation).is_some() {
                let room = bounds[slot + 1]
                    .checked_sub(bounds[slot])?
                    .checked_div(rate)?;
                self.stroke(stroke, room, letter)?;
            }
        }
        Ok(())
    }

    fn stroke(&mut self, stroke: &Stroke, room: Beats, letter: usize) -> Result<(), BeatsError> {
        let number = self.read.len();
        let (Some(note), Some(at)) = (self.lane.main.notes.get(number), self.times.get(number))
        else {
            // Lane and cells of two different scores.
            return Err(BeatsError::Overflow);
        };
        let graces = match stroke.graces.len() {
            0 => None,
            count => {
                let note = self.lane.graces[0].notes.get(self.graces).copied();
                self.graces += 1;
                let count = count as u8;
                note.map(|note| Grace { count, note })
            }
        };
        self.read.push(Written {
            at: *at,
            note: *note,
            limb: stroke.limb,
            level: stroke.level,
            graces,
            buzz: stroke.buzz.then_some(room),
            letter,
        });
        Ok(())
    }
}

/// The form's strokes; `letter` counts its places.
pub(super) fn of_form(score: &Score, timeline: &Timeline) -> Result<Vec<Written>, BeatsError> {
    let mut reading = Reading::of(score, timeline, timeline.form())?;
    for (number, place) in timeline.places.iter().enumerate() {
        let cell = timeline.cell_of(place);
        let bounds = cell.grid.slot_bounds()?;
        reading.cell(&cell.slots, &bounds, place.rate, number)?;
    }
    Ok(reading.read)
}

/// A letter's strokes.
pub(super) fn of_letter(
    score: &Score,
    timeline: &Timeline,
    number: usize,
) -> Result<Vec<Written>, BeatsError> {
    let lane = timeline.letter_lane(number).ok_or(BeatsError::Overflow)?;
    let cell = score.cell(&timeline.letters[number]);
    let cell = cell.ok_or(BeatsError::Overflow)?;
    let mut reading = Reading::of(score, timeline, &timeline.lanes[lane])?;
    reading.cell(&cell.slots, &cell.grid.slot_bounds()?, Beats::ONE, 0)?;
    Ok(reading.read)
}

/// All ostinatos.
pub(super) fn ostinatos(score: &Score, timeline: &Timeline) -> Result<Vec<Under>, BeatsError> {
    let mut under = Vec::new();
    for lane in &timeline.lanes {
        let LaneRole::Ostinato(number) = lane.role else {
            continue;
        };
        let written = score.ostinatos.get(usize::from(number));
        let written = written.ok_or(BeatsError::Overflow)?;
        let mut reading = Reading::of(score, timeline, lane)?;
        let bounds = written.grid.slot_bounds()?;
        reading.cell(&written.slots(), &bounds, Beats::ONE, 0)?;
        under.push(Under {
            name: written.name.clone(),
            cycle: lane.cycle,
            strokes: reading.read,
        });
    }
    Ok(under)
}
