//! What keys, buttons and clicks do to the cell.
//!
//! Gives an edit of the score through the desk, the cursor where it happened,
//! or a sentence why not.

use barform_app::music::{Articulation, Hand, Limb, Stroke, Voice};
use barform_app::score::edit::{CellEdit, Edit, Owner, Way};

use super::super::desk::{Desk, Spot};
use super::known::Known;
use super::stroke::{Ornament, foot_of, hand_for, ornamented, round, stroke_of, voices_of};
use crate::state::Problem;

/// One thing done on the Bench.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Act {
    /// The cursor to a slot.
    Go(usize),
    /// The cursor so many slots on; negative is back.
    Step(isize),
    /// The cursor to the last slot.
    Last,
    /// A stroke of that limb alone.
    Put(Limb),
    /// A stroke of that limb beside the others.
    Add(Limb),
    /// Nothing on the slot.
    Rest,
    /// The chosen stroke away, or all of the slot.
    Remove,
    /// Accent on or off.
    Accent,
    /// Ghost note on or off.
    Ghost,
    /// An ornament on or off.
    Ornament(Ornament),
    /// The next voice round the kit.
    Round {
        /// The one before instead.
        back: bool,
    },
    /// A voice.
    Voice(Voice),
    /// How it is struck.
    Struck(Articulation),
    /// The next way its voice can be struck.
    NextWay,
    /// The other hand.
    Swap,
    /// So many slots in the span under the cursor.
    Slots(u8),
    /// A span more at the end, as the last one.
    AddBeat,
    /// The last span away.
    RemoveBeat,
    /// Rests on all slots.
    Clear,
    /// All strokes so many slots later.
    Rotate(i64),
    /// A click on the staff where a voice is written.
    Click {
        /// The slot.
        slot: usize,
        /// What stands at that height.
        voice: Voice,
        /// With Shift: beside the hand that plays there.
        beside: bool,
    },
    /// A click on a note head.
    Pick {
        /// The slot.
        slot: usize,
        /// Whose.
        limb: Limb,
    },
}

/// How the Bench stands between two acts.
#[derive(Debug, Default)]
pub struct Doing {
    /// The stroke chosen among those of the slot.
    pub limb: Option<Limb>,
    /// A stroke was just typed: the next one goes to the next slot.
    pub onward: bool,
    /// What becomes of strokes when a grid changes.
    pub way: Way,
    /// Why nothing was done.
    pub said: Option<String>,
}

impl Doing {
    /// Does it. Whether the grid may have changed.
    pub fn act(&mut self, act: Act, desk: &mut Desk, known: &Known) -> bool {
        self.said = None;
        let slot = desk.chosen.slot;
        let last = known.cell.slots.len().saturating_sub(1);
        let typed = std::mem::take(&mut self.onward);
        match act {
            Act::Go(to) => self.go(desk, known, to),
            Act::Step(by) => self.go(desk, known, slot.saturating_add_signed(by).min(last)),
            Act::Last => self.go(desk, known, last),
            Act::Put(_) | Act::Rest => self.write(act, desk, known, slot + usize::from(typed)),
            Act::Add(limb) => {
                self.onward = typed;
                let stroke = stroke_of(&known.cell, slot, limb);
                edit(desk, known, CellEdit::Add { slot, stroke });
            }
            Act::Remove => {
                let limb = self.limb_on(known, slot);
                edit(desk, known, CellEdit::Remove { slot, limb });
                self.limb = None;
            }
            Act::Click {
                slot,
                voice,
                beside,
            } => self.click(desk, known, (slot, voice, beside)),
            Act::Pick { slot: at, limb } => {
                if at == slot && self.limb == Some(limb) {
                    edit(
                        desk,
                        known,
                        CellEdit::Remove {
                            slot,
                            limb: Some(limb),
                        },
                    );
                    self.limb = None;
                } else {
                    self.go(desk, known, at);
                    self.limb = Some(limb);
                }
            }
            Act::Slots(_) | Act::AddBeat | Act::RemoveBeat => {
                self.grid(act, desk, known);
                return true;
            }
            Act::Clear => drop(edit(desk, known, CellEdit::Clear)),
            Act::Rotate(by) => drop(edit(desk, known, CellEdit::Rotate(by))),
            _ => {
                self.onward = typed;
                self.mark(act, desk, known, slot);
            }
        }
        false
    }

    /// The chosen limb, if it plays on the slot.
    pub fn limb_on(&self, known: &Known, slot: usize) -> Option<Limb> {
        self.limb
            .filter(|limb| known.limbs(slot).any(|l| l == *limb))
    }

    /// The stroke that voice and ornament go to: the chosen one, else the first;
    /// hands come first.
    pub fn target<'k>(&self, known: &'k Known, slot: usize) -> Option<&'k Stroke> {
        let strokes = known.cell.slots.get(slot)?;
        let limb = self.limb_on(known, slot);
        strokes
            .iter()
            .find(|s| limb.is_none_or(|limb| s.limb == limb))
    }

    fn go(&mut self, desk: &mut Desk, known: &Known, slot: usize) {
        desk.chosen.owner = Some(known.owner.clone());
        desk.chosen.slot = slot.min(known.cell.slots.len().saturating_sub(1));
        self.limb = None;
    }

    /// A stroke or a rest as typed: one after the other.
    fn write(&mut self, act: Act, desk: &mut Desk, known: &Known, slot: usize) {
        if slot >= known.cell.slots.len() {
            self.onward = true;
            self.said =
                Some("That was the last slot. Home goes to the first; ] adds a beat.".to_owned());
            return;
        }
        let change = match act {
            Act::Put(limb) => {
                let stroke = stroke_of(&known.cell, slot, limb);
                CellEdit::Put { slot, stroke }
            }
            _ => CellEdit::Remove { slot, limb: None },
        };
        if edit(desk, known, change) {
            desk.chosen.slot = slot;
            self.limb = None;
            self.onward = true;
        }
    }

    /// Changes of a stroke that is there.
    fn mark(&mut self, act: Act, desk: &mut Desk, known: &Known, slot: usize) {
        let limb = self.limb_on(known, slot);
        let one = self.target(known, slot).copied();
        let target = one.map(|stroke| stroke.limb);
        let change = match act {
            Act::Accent => CellEdit::Accent { slot, limb },
            Act::Ghost => CellEdit::Ghost { slot, limb },
            Act::Swap => CellEdit::SwapHand { slot },
            Act::Voice(voice) => CellEdit::Voice {
                slot,
                limb: target,
                voice,
            },
            Act::Struck(articulation) => CellEdit::Articulation {
                slot,
                limb: target,
                articulation,
            },
            Act::NextWay => {
                let now = one.map_or(Articulation::Plain, |stroke| stroke.articulation);
                let ways = one.map_or(&[][..], |stroke| stroke.voice.articulations());
                let next = ways.iter().skip_while(|way| **way != now).nth(1);
                CellEdit::Articulation {
                    slot,
                    limb: target,
                    articulation: next.copied().unwrap_or_default(),
                }
            }
            Act::Round { back } => {
                let now = one.map_or(Voice::Snare, |stroke| stroke.voice);
                let foot = target.is_some_and(Limb::is_foot);
                let voice = round(&voices_of(desk, foot), now, back);
                CellEdit::Voice {
                    slot,
                    limb: target,
                    voice,
                }
            }
            Act::Ornament(ornament) => match one {
                Some(stroke) if stroke.limb.hand().is_some() => CellEdit::Add {
                    slot,
                    stroke: ornamented(stroke, ornament),
                },
                // The core says what is missing.
                _ => CellEdit::Ornament { slot, limb },
            },
            _ => return,
        };
        let swapped = matches!(change, CellEdit::SwapHand { .. });
        if edit(desk, known, change) && swapped {
            let other = |limb: Limb| limb.hand().map_or(limb, |hand| hand.other().into());
            self.limb = self.limb.map(other);
        }
    }

    /// A click on the staff: the voice at that height, played on that slot.
    fn click(
        &mut self,
        desk: &mut Desk,
        known: &Known,
        (slot, voice, beside): (usize, Voice, bool),
    ) {
        let Some(strokes) = known.cell.slots.get(slot) else {
            return;
        };
        if let Some(there) = strokes.iter().find(|s| s.voice == voice) {
            let limb = there.limb;
            self.act(Act::Pick { slot, limb }, desk, known);
            return;
        }
        let plain = |limb: Limb| Stroke {
            voice,
            ..Stroke::plain(limb)
        };
        let hands: Vec<&Stroke> = strokes.iter().filter(|s| !s.limb.is_foot()).collect();
        let (limb, change) = match (foot_of(voice), hands.as_slice()) {
            (Some(limb), _) => (
                limb,
                CellEdit::Add {
                    slot,
                    stroke: plain(limb),
                },
            ),
            (None, []) => {
                let limb = Limb::from(hand_for(desk, known, slot, voice));
                (
                    limb,
                    CellEdit::Add {
                        slot,
                        stroke: plain(limb),
                    },
                )
            }
            (None, [one]) if beside => {
                let other = one.limb.hand().map_or(Hand::Left, Hand::other);
                let limb = Limb::from(other);
                (
                    limb,
                    CellEdit::Add {
                        slot,
                        stroke: plain(limb),
                    },
                )
            }
            (None, [first, ..]) => {
                let chosen = self.limb_on(known, slot).filter(|l| !l.is_foot());
                let limb = chosen.unwrap_or(first.limb);
                let limb = hands
                    .iter()
                    .find(|s| s.limb == limb)
                    .map_or(first.limb, |s| s.limb);
                (
                    limb,
                    CellEdit::Voice {
                        slot,
                        limb: Some(limb),
                        voice,
                    },
                )
            }
        };
        if edit(desk, known, change) {
            desk.chosen.slot = slot;
            self.limb = Some(limb);
        }
    }
}

/// Makes an edit of the cell; whether it was made.
pub fn edit(desk: &mut Desk, known: &Known, change: CellEdit) -> bool {
    let owner = known.owner.clone();
    desk.chosen.owner = Some(owner.clone());
    let done = desk.edit(Spot::Bench, &Edit::Cell(owner.clone(), change), None);
    // An ostinato has no letter that the desk could show.
    if done.is_some() && matches!(owner, Owner::Ostinato(_)) {
        desk.chosen.owner = Some(owner);
    }
    done.is_some()
}

/// A problem that the window found by itself.
pub fn problem(message: impl Into<String>) -> Problem {
    Problem {
        line: 0,
        column: 0,
        span: 0..0,
        message: message.into(),
        mend: None,
    }
}
