//! From a score to flat arrays.

use std::collections::HashMap;
use std::collections::hash_map::Entry;

use super::{Bar, Lane, LaneRole, Note, Place, SectionStart, Timeline};
use crate::music::{Beats, BeatsError, Cell, Graces, Kit, Level, Slot, Stroke, Velocity};
use crate::score::{Score, ScoreError};

/// Most bars of one form: more than a day at one bar every two seconds.
pub const MAX_BARS: usize = 50_000;

/// Why a score cannot be compiled.
#[derive(Debug, Clone, PartialEq, thiserror::Error)]
pub enum CompileError {
    /// The score itself is not sound.
    #[error(transparent)]
    Score(#[from] ScoreError),
    /// Lengths that do not add up exactly in 63 bits.
    #[error(transparent)]
    Beats(#[from] BeatsError),
    /// The form has more bars than [`MAX_BARS`].
    #[error("the form has more than {MAX_BARS} bars; shorten it or use a longer meter")]
    TooManyBars,
}

/// One stroke of a cell, ready to be put anywhere in the form.
struct Ready {
    slot: u16,
    /// From the start of the cell, at its rate.
    at: Beats,
    /// Beats until the next slot, at its rate.
    room: Beats,
    level: Level,
    note: Note,
    graces: usize,
    buzz: bool,
}

impl Timeline {
    /// Compiles a score.
    ///
    /// # Errors
    /// See [`CompileError`]; a score that [`Score::parse`] has accepted fails
    /// only on [`MAX_BARS`].
    pub fn compile(score: &Score) -> Result<Timeline, CompileError> {
        let plan = score.placements()?;
        let kit = &score.kit;
        let sections = section_starts(score, &plan)?;
        let bars = bars(score, &sections, plan.length)?;

        let mut form = Lane::new(LaneRole::Form, plan.length);
        let mut places = Vec::with_capacity(plan.places.len());
        // Few distinct variants and rates as a rule; each is prepared once.
        let mut ready: HashMap<(u32, Beats), Vec<Ready>> = HashMap::new();
        for (number, item) in plan.places.iter().enumerate() {
            let strokes = match ready.entry((item.variant, item.rate)) {
                Entry::Occupied(known) => known.into_mut(),
                Entry::Vacant(new) => {
                    let cell = &plan.variants[item.variant as usize];
                    new.insert(prepare(&cell.grid, &cell.slots, item.rate, kit)?)
                }
            };
            places.push(Place {
                start: item.start,
                length: item.length,
                letter: item.letter,
                section: item.section,
                item: item.item,
                variant: item.variant,
                rate: item.rate,
                first_stroke: form.main.len() as u32,
            });
            put(
                &mut form,
                strokes,
                item.start,
                number as u32,
                item.level_percent,
                kit,
            );
        }

        let mut lanes = vec![form];
        for (number, ostinato) in score.ostinatos.iter().enumerate() {
            let mut lane = Lane::new(LaneRole::Ostinato(number as u16), ostinato.grid.length()?);
            let strokes = prepare(&ostinato.grid, &ostinato.slots(), Beats::ONE, kit)?;
            put(&mut lane, &strokes, Beats::ZERO, 0, 100, kit);
            lanes.push(lane);
        }
        lanes.push(click(&bars, plan.length, kit)?);
        let mut letters = Vec::with_capacity(score.cells.len());
        for (number, cell) in score.cells_resolved()?.into_iter().enumerate() {
            lanes.push(letter_lane(number as u16, &cell, kit)?);
            letters.push(cell.letter);
        }
        Ok(Timeline {
            title: score.title.clone(),
            tempo: score.tempo,
            length: plan.length,
            pickup: score.pickup,
            bars,
            sections,
            places,
            variants: plan.variants,
            letters,
            lanes,
            kit: kit.clone(),
        })
    }
}

/// A note of the kit at a level.
fn note(kit: &Kit, stroke: &Stroke) -> Option<Note> {
    let voice = kit.voice(stroke.voice);
    Some(Note {
        key: kit.key(stroke.voice, stroke.articulation)?,
        channel: voice.channel,
        velocity: voice.curve.at(stroke.level),
        voice: stroke.voice,
        articulation: stroke.articulation,
        limb: Some(stroke.limb),
    })
}

/// The strokes of a grid in order of time, at a rate.
fn prepare(
    grid: &crate::music::Grid,
    slots: &[Slot],
    rate: Beats,
    kit: &Kit,
) -> Result<Vec<Ready>, BeatsError> {
    let mut bounds = grid.slot_bounds()?;
    for bound in &mut bounds {
        *bound = bound.checked_div(rate)?;
    }
    let mut strokes = Vec::new();
    for (i, slot) in slots.iter().enumerate() {
        for stroke in slot {
            let Some(note) = note(kit, stroke) else {
                continue;
            };
            strokes.push(Ready {
                slot: i as u16,
                at: bounds[i],
                room: bounds[i + 1].checked_sub(bounds[i])?,
                level: stroke.level,
                note,
                graces: stroke.graces.len(),
                buzz: stroke.buzz,
            });
        }
    }
    Ok(strokes)
}

/// Puts prepared strokes into a lane, `start` beats in.
fn put(lane: &mut Lane, strokes: &[Ready], start: Beats, place: u32, percent: u8, kit: &Kit) {
    for stroke in strokes {
        let at = nearest_f64(start, stroke.at);
        let curve = kit.voice(stroke.note.voice).curve;
        let scaled = |velocity: Velocity| {
            Velocity::clamped(f64::from(velocity.value()) * f64::from(percent) / 100.0)
        };
        let note = Note {
            velocity: scaled(curve.at(stroke.level)),
            ..stroke.note
        };
        lane.main.push(at, note);
        lane.place.push(place);
        lane.slot.push(stroke.slot);
        // Grace notes are taps, whatever the level of their main stroke.
        let tap = Note {
            velocity: scaled(curve.ghost),
            ..stroke.note
        };
        for track in &mut lane.graces[..stroke.graces.min(Graces::MAX)] {
            track.push(at, tap);
        }
        if stroke.buzz {
            for track in &mut lane.bounces {
                track.push(at, note);
                // Never above the exact length: a bounce must not fall on the next slot.
                track.room.push((stroke.room.to_f64() as f32).next_down());
            }
        }
    }
}

/// `a + b` as the nearest `f64`, or one beside it where the exact fraction has
/// more than 53 bits. Saves the reduction of the fraction: this runs for every
/// stroke.
fn nearest_f64(a: Beats, b: Beats) -> f64 {
    let (an, ad) = (i128::from(a.numer()), i128::from(a.denom()));
    let (bn, bd) = (i128::from(b.numer()), i128::from(b.denom()));
    match an
        .checked_mul(bd)
        .zip(bn.checked_mul(ad))
        .and_then(|(x, y)| x.checked_add(y))
    {
        Some(numer) => numer as f64 / (ad * bd) as f64,
        None => a.to_f64() + b.to_f64(),
    }
}

fn letter_lane(number: u16, cell: &Cell, kit: &Kit) -> Result<Lane, BeatsError> {
    let mut lane = Lane::new(LaneRole::Letter(number), cell.grid.length()?);
    let strokes = prepare(&cell.grid, &cell.slots, Beats::ONE, kit)?;
    put(&mut lane, &strokes, Beats::ZERO, 0, 100, kit);
    Ok(lane)
}

/// One click per pulse of every bar, another sound on the bar line.
fn click(bars: &[Bar], length: Beats, kit: &Kit) -> Result<Lane, BeatsError> {
    let mut lane = Lane::new(LaneRole::Click, length);
    for (i, bar) in bars.iter().enumerate() {
        let end = bars.get(i + 1).map_or(length, |next| next.start);
        for (at, kind) in bar.clicks(end, None)? {
            if let Some(note) = kind.note(kit) {
                lane.main.push(at.to_f64(), note);
                lane.place.push(0);
                lane.slot.push(0);
            }
        }
    }
    Ok(lane)
}

fn section_starts(
    score: &Score,
    plan: &crate::score::Placements,
) -> Result<Vec<SectionStart>, BeatsError> {
    let starts = score.sections.iter().zip(&plan.section_starts);
    Ok(starts
        .map(|(section, start)| SectionStart {
            name: section.name.clone(),
            start: *start,
            meter: section.meter.unwrap_or(score.meter),
        })
        .collect())
}

fn bars(score: &Score, sections: &[SectionStart], length: Beats) -> Result<Vec<Bar>, CompileError> {
    let mut bars = Vec::new();
    let mut at = Beats::ZERO;
    let mut number = 1;
    if score.pickup.is_positive() && length.is_positive() {
        let meter = sections.first().map_or(score.meter, |s| s.meter);
        bars.push(Bar {
            start: at,
            meter,
            number: 0,
        });
        at = score.pickup;
    }
    while at < length {
        if bars.len() >= MAX_BARS {
            return Err(CompileError::TooManyBars);
        }
        let section = sections.partition_point(|s| s.start <= at).checked_sub(1);
        let meter = section.map_or(score.meter, |i| sections[i].meter);
        bars.push(Bar {
            start: at,
            meter,
            number,
        });
        number += 1;
        at = at.checked_add(meter.bar())?;
    }
    Ok(bars)
}
