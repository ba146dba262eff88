//! Whether a grid, a sticking and voices are within the limits.

use super::{out_of_range, too_many, writable};
use crate::music::{Beats, BeatsError, Grid, Slot, Voice};
use crate::score::error::{Fault, Line, ScoreErrorKind as Kind, Spot, beats};
use crate::score::limits::{
    MAX_CELL_BEATS, MAX_SLOT_TERM, MAX_SLOTS, MAX_TERM, MAX_TOGETHER, SLOTS_PER_BEAT,
};
use crate::score::model::{Ostinato, StickSlot, VoiceSlot, VoiceToken};
use crate::score::read::playable;
use crate::score::resolve;

/// Whether a written grid has a size and lengths that add up.
pub(super) fn grid(spot: Spot, owner: &str, grid: &Grid) -> Result<(), Fault> {
    if let Some(part) = grid.spans().iter().position(|s| !writable(s.length)) {
        let span = grid.spans()[part];
        let kind = Kind::OutOfRange {
            what: format!("a span of the grid of {owner}"),
            read: beats(span.length),
            allowed: format!("a length with terms of at most {MAX_TERM}"),
        };
        return Err(Fault::part(spot, part, kind));
    }
    size(grid).map(|_| ()).map_err(|why| match why {
        Size::Slots(n) => too_many(spot, "slots in one grid", n, MAX_SLOTS),
        Size::Beats(length) => {
            let allowed = format!("at most {MAX_CELL_BEATS} beats");
            out_of_range(
                spot,
                &format!("the length of {owner}"),
                beats(length),
                allowed,
            )
        }
        Size::Short(slot) => out_of_range(
            spot,
            &format!("the shortest slot of {owner}"),
            beats(slot),
            shortest_allowed(),
        ),
        Size::Overflow => Fault::new(
            spot,
            Kind::Overflow {
                what: format!("the grid of {owner}"),
            },
        ),
    })
}

/// Why a grid is too large.
pub(in crate::score) enum Size {
    Slots(usize),
    Beats(Beats),
    Short(Beats),
    Overflow,
}

/// The shortest slot of a grid.
pub(in crate::score) fn shortest_slot(grid: &Grid) -> Result<Beats, BeatsError> {
    let slots = grid.spans().iter().map(|s| s.slot_length());
    slots
        .reduce(|a, b| Ok(a?.min(b?)))
        .unwrap_or(Ok(Beats::ZERO))
}

/// Whether a slot of such length may be played.
pub(in crate::score) fn long_enough(slot: Beats) -> bool {
    slot >= Beats::new(1, SLOTS_PER_BEAT)
}

/// What a message says of the least length of a slot.
pub(in crate::score) fn shortest_allowed() -> String {
    format!("at least 1/{SLOTS_PER_BEAT} of a beat")
}

/// Whether a grid is within the limits, on any subdivision.
pub(in crate::score) fn size(grid: &Grid) -> Result<Beats, Size> {
    let slots = grid
        .spans()
        .iter()
        .fold(0, |sum: usize, s| sum + usize::from(s.slots));
    if slots > MAX_SLOTS {
        return Err(Size::Slots(slots));
    }
    let bounds = grid.slot_bounds().map_err(|_| Size::Overflow)?;
    let length = bounds.last().copied().unwrap_or(Beats::ZERO);
    if length > Beats::whole(MAX_CELL_BEATS) {
        return Err(Size::Beats(length));
    }
    // Lengths of single slots are differences of these.
    let fine = |b: &Beats| b.numer() > MAX_SLOT_TERM || b.denom() > MAX_SLOT_TERM;
    let slot = grid.spans().iter().map(|s| s.slot_length());
    let slots_fit = slot.into_iter().all(|s| s.is_ok_and(|s| !fine(&s)));
    if bounds.iter().any(fine) || !slots_fit {
        return Err(Size::Overflow);
    }
    let shortest = shortest_slot(grid).map_err(|_| Size::Overflow)?;
    if long_enough(shortest) {
        Ok(length)
    } else {
        Err(Size::Short(shortest))
    }
}

/// What only a sticking built in code can have wrong.
pub(super) fn sticking(spot: Spot, owner: &str, slots: &[StickSlot]) -> Result<(), Fault> {
    for (i, slot) in slots.iter().enumerate() {
        for (n, token) in slot.iter().enumerate() {
            if let Err(why) = playable(&slot[..n], *token) {
                let problem = format!("strokes that cannot be played at once: {why}");
                let problem = resolve::SlotProblem {
                    slot: i,
                    problem,
                    mend: None,
                };
                return Err(resolve::slot_fault(spot, owner.to_owned(), problem));
            }
        }
    }
    Ok(())
}

/// What only voices built in code can have wrong.
pub(super) fn voices(spot: Spot, owner: &str, slots: &[VoiceSlot]) -> Result<(), Fault> {
    for (i, slot) in slots.iter().enumerate() {
        let VoiceSlot::Voices(list) = slot else {
            continue;
        };
        if list.is_empty() || list.len() > MAX_TOGETHER || !list.iter().all(|v| strikable(*v)) {
            let problem = "no voices, more than 4, or an articulation the voice does not have";
            let problem = resolve::SlotProblem {
                slot: i,
                problem: problem.to_owned(),
                mend: None,
            };
            return Err(resolve::slot_fault(spot, owner.to_owned(), problem));
        }
    }
    Ok(())
}

pub(super) fn strikable(token: VoiceToken) -> bool {
    token.voice != Voice::Click && token.voice.articulations().contains(&token.articulation)
}

pub(super) fn check_ostinato(index: usize, ostinato: &Ostinato) -> Result<(), Fault> {
    let spot = |line| Spot::Ostinato(index, line);
    let owner = format!("ostinato {}", ostinato.name);
    grid(spot(Line::Grid), &owner, &ostinato.grid)?;
    sticking(spot(Line::Sticking), &owner, &ostinato.sticking)?;
    voices(
        spot(Line::Voices),
        &owner,
        ostinato.voices.as_deref().unwrap_or_default(),
    )?;
    let written = [
        ("sticking", Line::Sticking, Some(ostinato.sticking.len())),
        (
            "voices",
            Line::Voices,
            ostinato.voices.as_ref().map(Vec::len),
        ),
    ];
    for (name, line, found) in written {
        let kind = found.and_then(|n| resolve::count(&owner, name, n, &ostinato.grid));
        if let Some(kind) = kind {
            return Err(Fault::new(spot(line), kind));
        }
    }
    let voices = ostinato.voices.as_deref();
    let (_, problem): (Vec<Slot>, _) = resolve::slots(&ostinato.sticking, voices, false);
    match problem {
        Some(problem) => Err(resolve::slot_fault(spot(Line::Voices), owner, problem)),
        None => Ok(()),
    }
}
