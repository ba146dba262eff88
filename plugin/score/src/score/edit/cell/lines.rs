//! Cells as text: what a text editor shows, and what was typed there.

use super::Owner;
use super::found::Found;
use crate::music::{Grid, Slot, Stroke};
use crate::score::edit::Work;
use crate::score::edit::letters::find;
use crate::score::edit::restate::keep_variations;
use crate::score::error::{Line, ScoreError, Spot};
use crate::score::model::{Score, StickSlot, VoiceSlot};
use crate::score::resolve::{resolve, sources};
use crate::score::{read_voices, sticking_text, voices_text};

/// The lines of a cell or ostinato as a text editor shows them, its own or taken
/// over from a parent.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Lines {
    /// The grid.
    pub grid: Grid,
    /// The sticking line.
    pub sticking: String,
    /// The voices line; empty where none is stated.
    pub voices: String,
    /// Whether it states the grid, the sticking and the voices itself.
    pub own: [bool; 3],
}

impl Lines {
    /// The lines of a cell or ostinato, if it is known.
    pub fn of(score: &Score, owner: &Owner) -> Option<Lines> {
        let text = |grid: &Grid, sticking: &[StickSlot], voices: Option<&[VoiceSlot]>, own| Lines {
            grid: grid.clone(),
            sticking: sticking_text(sticking, Some(grid)),
            voices: voices.map_or(String::new(), |v| voices_text(v, Some(grid))),
            own,
        };
        match owner {
            Owner::Cell(letter) => {
                let index = score.cells.iter().position(|c| c.letter == *letter)?;
                let from = sources(score).ok()?[index];
                let cells = &score.cells;
                let voices = from.voices.and_then(|i| cells[i].voices.as_deref());
                let grid = cells[from.grid?].grid.as_ref()?;
                let sticking = cells[from.sticking?].sticking.as_deref()?;
                let own = [from.grid, from.sticking, from.voices].map(|i| i == Some(index));
                Some(text(grid, sticking, voices, own))
            }
            Owner::Ostinato(name) => {
                let o = score.ostinatos.iter().find(|o| o.name == *name)?;
                let own = [true, true, o.voices.is_some()];
                Some(text(&o.grid, &o.sticking, o.voices.as_deref(), own))
            }
        }
    }
}

/// An error of a typed line, where an editor shows it.
pub(super) fn at(mut error: ScoreError, spot: Spot) -> ScoreError {
    error.spot = spot;
    error
}

/// The slots with another sticking: voices stay with their limbs, or else with
/// the hands; a stroke on a former rest goes on where its limb was.
pub(super) fn restuck(line: &[StickSlot], old: &[Slot]) -> Vec<Slot> {
    let mut last: Vec<Stroke> = Vec::new();
    let mut out = Vec::with_capacity(line.len());
    for (sticks, old) in line.iter().zip(old) {
        let mut slot = Slot::with_capacity(sticks.len());
        for token in sticks {
            let foot = token.limb.is_foot();
            let own = |s: &&Stroke| s.limb == token.limb;
            let hand = |s: &&Stroke| !foot && !s.limb.is_foot();
            let like = (old.iter().find(own))
                .or_else(|| old.iter().find(hand))
                .or_else(|| last.iter().find(own))
                .or_else(|| last.iter().find(hand));
            let plain = Stroke::plain(token.limb);
            let like = like.copied().unwrap_or(plain);
            slot.push(Stroke {
                limb: token.limb,
                voice: like.voice,
                articulation: like.articulation,
                level: token.level,
                graces: token.graces,
                buzz: token.buzz,
            });
        }
        if slot.iter().any(|s| !s.limb.is_foot()) {
            last.retain(|s| s.limb.is_foot());
        }
        for stroke in &slot {
            last.retain(|s| s.limb != stroke.limb);
            last.push(*stroke);
        }
        out.push(slot);
    }
    out
}

/// Sets the voices line as typed.
pub(super) fn set_voices(
    found: &Found,
    text: Option<&str>,
    work: &mut Work,
) -> Result<(), ScoreError> {
    let spot = found.spot(Line::Voices);
    let line = text.map(read_voices).transpose().map_err(|e| at(e, spot))?;
    match found {
        Found::Cell(index, before) => {
            let parent = match &work.score.cells[*index].like {
                Some(like) => sources(&work.score)?[find(&work.score, like)?].voices,
                None => None,
            };
            let parents = parent.and_then(|i| work.score.cells[i].voices.as_ref());
            let line = line.filter(|line| parents != Some(line));
            work.score.cells[*index].voices = line;
            // The cell's own complaint, not that of a variation.
            resolve(&work.score, *index, sources(&work.score)?[*index])?;
            keep_variations(&mut work.score, before, &[], &mut work.told)?;
        }
        Found::Ostinato(index) => work.score.ostinatos[*index].voices = line,
    }
    Ok(())
}
