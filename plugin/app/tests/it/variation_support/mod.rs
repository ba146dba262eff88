//! Invented cells, and the rules of a level checked from the outside.

use barform_app::craft::variation::*;
use barform_app::music::*;
use std::collections::HashSet;

pub fn stroke(limb: Limb, voice: Voice) -> Stroke {
    Stroke {
        voice,
        ..Stroke::plain(limb)
    }
}

pub fn right(voice: Voice) -> Slot {
    vec![stroke(Limb::RightHand, voice)]
}

pub fn left(voice: Voice) -> Slot {
    vec![stroke(Limb::LeftHand, voice)]
}

pub fn kick() -> Slot {
    vec![Stroke::plain(Limb::KickFoot)]
}

pub fn accent(mut slot: Slot) -> Slot {
    for s in &mut slot {
        s.level = Level::Accent;
    }
    slot
}

pub fn cell_of(slots: Vec<Slot>) -> Cell {
    let grid = Grid::new(vec![Span::new(slots.len() as u8, Beats::ONE).unwrap()]).unwrap();
    Cell {
        letter: Letter::new("A").unwrap(),
        grid,
        slots,
    }
}

/// Three beats of sixteenth triplets: singles, an accent on each beat, a rest,
/// two kicks at the end. Invented.
pub fn three_beats() -> Cell {
    use Voice::*;
    let mut slots = Vec::new();
    for voice in [Snare, Tom1, Tom2] {
        slots.push(accent(right(voice)));
        slots.push(left(voice));
        slots.push(right(voice));
        slots.push(left(voice));
        slots.push(right(voice));
        slots.push(left(voice));
    }
    slots[10] = vec![];
    slots[16] = kick();
    slots[17] = kick();
    let span = Span::new(6, Beats::ONE).unwrap();
    let grid = Grid::new(vec![span; 3]).unwrap();
    Cell {
        letter: Letter::new("A").unwrap(),
        grid,
        slots,
    }
}

pub fn limbs(slot: &Slot) -> Vec<Limb> {
    let mut limbs: Vec<Limb> = slot.iter().map(|s| s.limb).collect();
    limbs.sort();
    limbs
}

/// Most slots in a row, going round the cell again and again, that `hit`.
pub fn longest(cell: &Cell, hit: impl Fn(&Slot) -> bool) -> usize {
    let twice: Vec<bool> = cell.slots.iter().chain(&cell.slots).map(hit).collect();
    twice.split(|on| !on).map(<[bool]>::len).max().unwrap_or(0)
}

pub fn plays(limb: Limb) -> impl Fn(&Slot) -> bool {
    move |slot| {
        slot.iter()
            .any(|s| s.limb == limb || s.graces.iter().any(|hand| Limb::from(hand) == limb))
    }
}

/// The level's rules, checked from the outside.
pub fn assert_playable(cell: &Cell, level: &LevelRules) {
    assert!(
        longest(cell, plays(Limb::RightHand)) <= usize::from(level.same_hand),
        "{cell:?}"
    );
    assert!(
        longest(cell, plays(Limb::LeftHand)) <= usize::from(level.same_hand),
        "{cell:?}"
    );
    assert!(
        longest(cell, plays(Limb::KickFoot)) <= usize::from(level.kick),
        "{cell:?}"
    );
    assert!(
        longest(cell, plays(Limb::HatFoot)) <= usize::from(level.hat_foot),
        "{cell:?}"
    );
    assert!(
        longest(cell, Vec::is_empty) <= usize::from(level.rests),
        "{cell:?}"
    );
    for slot in &cell.slots {
        assert!(slot.len() <= usize::from(level.at_once));
        let unique: HashSet<Limb> = slot.iter().map(|s| s.limb).collect();
        assert_eq!(unique.len(), slot.len(), "two voices on one limb");
        let hands = slot.iter().filter(|s| !s.limb.is_foot()).count();
        assert!(hands < 2 || level.both_hands);
        let open = |s: &Stroke| {
            s.voice == Voice::Hat
                && matches!(s.articulation, Articulation::Open | Articulation::Half)
        };
        let foot = slot.iter().any(|s| s.limb == Limb::HatFoot);
        assert!(
            !(foot && slot.iter().any(open)),
            "the foot closes an open hi-hat"
        );
        for s in slot {
            match s.limb {
                Limb::KickFoot => assert_eq!(s.voice, Voice::Kick),
                Limb::HatFoot => assert_eq!(s.voice, Voice::HatFoot),
                _ => assert!(!matches!(s.voice, Voice::Kick | Voice::HatFoot)),
            }
            assert!(level.accents || s.level != Level::Accent);
            assert!(level.ghosts || s.level != Level::Ghost);
            assert!(level.flams || s.graces.is_empty());
        }
    }
}

pub fn assert_distinct(found: &Variations, original: &Cell) {
    let all: HashSet<&Vec<Slot>> = found.cells.iter().map(|v| &v.cell.slots).collect();
    assert_eq!(all.len(), found.cells.len(), "a cell twice");
    assert!(!all.contains(&original.slots), "the original");
    assert!(
        found.cells.windows(2).all(|w| w[0].total <= w[1].total),
        "out of order"
    );
}

/// A cell of so many slots, up to 64 a span.
pub fn cell_on(slots: usize) -> Cell {
    let mut spans = Vec::new();
    let mut left = slots;
    while left > 0 {
        let n = left.min(64);
        spans.push(Span::new(n as u8, Beats::ONE).unwrap());
        left -= n;
    }
    Cell {
        letter: Letter::new("A").unwrap(),
        grid: Grid::new(spans).unwrap(),
        slots: (0..slots)
            .map(|i| {
                if i % 2 == 0 {
                    right(Voice::Snare)
                } else {
                    left_snare()
                }
            })
            .collect(),
    }
}

pub fn left_snare() -> Slot {
    left(Voice::Snare)
}
