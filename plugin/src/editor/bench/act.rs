//! What keys, buttons and clicks do to the cell.
//!
//! In: one [`Act`]. Out: an edit of the score through the desk, the cursor where
//! it happened, or a sentence why not. Never here: a widget.

use std::sync::LazyLock;

use barform_core::craft::sticking::{Ask, Rules, stick_cell};
use barform_core::music::{Articulation, Beats, Cell, Graces, Hand, Limb, Span, Stroke, Voice};
use barform_core::score::edit::{CellEdit, Edit, Owner, Way};

use super::super::desk::{Desk, Spot};
use super::known::Known;
use crate::state::Problem;

/// Grace notes or a buzz.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Ornament {
    /// One grace note by the other hand.
    Flam,
    /// Two by the other hand.
    Drag,
    /// Three, hand to hand.
    Ruff,
    /// The stick pressed to bounce until the next slot.
    Buzz,
}

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

    /// Another grid; the cursor stays at its time.
    fn grid(&mut self, act: Act, desk: &mut Desk, known: &Known) {
        let slot = desk.chosen.slot;
        let spans = known.cell.grid.spans();
        let span = known.span_of(slot);
        let change = match act {
            Act::Slots(slots) => {
                let length = spans.get(span).map_or(Beats::ONE, |span| span.length);
                let Some(to) = Span::new(slots, length) else {
                    return;
                };
                let way = self.way;
                CellEdit::Span { span, to, way }
            }
            Act::AddBeat => {
                let Some(span) = spans.last().copied() else {
                    return;
                };
                CellEdit::AddSpan {
                    at: spans.len(),
                    span,
                }
            }
            _ => CellEdit::RemoveSpan(spans.len().saturating_sub(1)),
        };
        keeping_time(desk, known, |desk| edit(desk, known, change));
        self.limb = None;
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

/// Does what may change the grid, and puts the cursor back to its time.
pub fn keeping_time(desk: &mut Desk, known: &Known, go: impl FnOnce(&mut Desk) -> bool) -> bool {
    let at = known.bounds.get(desk.chosen.slot).copied();
    let done = go(desk);
    if done && let (Some(at), Some(now)) = (at, Known::of(desk)) {
        desk.chosen.slot = now.slot_at(at);
    }
    done
}

/// A stroke of a limb as it goes on from what is there: on the voice it or
/// another hand has on the slot or had before.
fn stroke_of(cell: &Cell, slot: usize, limb: Limb) -> Stroke {
    let here = cell.slots.get(slot).map_or(&[][..], Vec::as_slice);
    let own = |s: &&Stroke| s.limb == limb;
    let hand = |s: &&Stroke| !limb.is_foot() && !s.limb.is_foot();
    if let Some(own) = here.iter().find(own) {
        return *own;
    }
    let plain = Stroke::plain(limb);
    if let Some(other) = here.iter().find(hand) {
        return Stroke {
            limb,
            graces: turned(other.graces),
            ..*other
        };
    }
    let before = cell.slots[..slot.min(cell.slots.len())].iter().rev();
    let like = (before.clone().flatten().find(own)).or_else(|| before.flatten().find(hand));
    Stroke {
        voice: like.map_or(plain.voice, |s| s.voice),
        ..plain
    }
}

/// The same grace notes by the other hands.
fn turned(graces: Graces) -> Graces {
    let hands: Vec<Hand> = graces.iter().map(Hand::other).collect();
    Graces::from_hands(&hands).unwrap_or(graces)
}

/// The stroke with the ornament, or plain if it has it. Hands as the Percussive
/// Arts Society's 40 International Drum Rudiments have them for flam and drag;
/// common practice for the ruff.
fn ornamented(stroke: Stroke, ornament: Ornament) -> Stroke {
    let plain = Stroke {
        graces: Graces::NONE,
        buzz: false,
        ..stroke
    };
    let Some(hand) = stroke.limb.hand() else {
        return plain;
    };
    let other = hand.other();
    let hands: &[Hand] = match ornament {
        Ornament::Flam => &[other],
        Ornament::Drag => &[other, other],
        Ornament::Ruff => &[other, hand, other],
        Ornament::Buzz => &[],
    };
    let with = Stroke {
        graces: Graces::from_hands(hands).unwrap_or(Graces::NONE),
        buzz: ornament == Ornament::Buzz,
        ..plain
    };
    if with.graces.len() == stroke.graces.len() && with.buzz == stroke.buzz {
        plain
    } else {
        with
    }
}

/// Whether a stroke has an ornament.
pub fn has(stroke: &Stroke, ornament: Ornament) -> bool {
    match ornament {
        Ornament::Flam => stroke.graces.len() == 1,
        Ornament::Drag => stroke.graces.len() == 2,
        Ornament::Ruff => stroke.graces.len() == 3,
        Ornament::Buzz => stroke.buzz,
    }
}

/// The foot whose pedal a voice is.
pub fn foot_of(voice: Voice) -> Option<Limb> {
    match voice {
        Voice::Kick => Some(Limb::KickFoot),
        Voice::HatFoot => Some(Limb::HatFoot),
        _ => None,
    }
}

/// What a hand or a foot can be put on, round the kit.
pub fn voices_of(desk: &Desk, foot: bool) -> Vec<Voice> {
    if foot {
        vec![Voice::Kick, Voice::HatFoot]
    } else {
        desk.score().kit.order.clone()
    }
}

/// The next of the voices, or the one before; over the end to the start.
fn round(voices: &[Voice], now: Voice, back: bool) -> Voice {
    let count = voices.len();
    let Some(at) = voices.iter().position(|v| *v == now) else {
        return voices.first().copied().unwrap_or(now);
    };
    let to = if back { at + count - 1 } else { at + 1 };
    voices[to % count]
}

static STICKING: LazyLock<Rules> = LazyLock::new(Rules::builtin);

/// The hand for a new stroke: the best by the sticking's rules with all other
/// hands as they are; else the other one than before it.
fn hand_for(desk: &Desk, known: &Known, slot: usize, voice: Voice) -> Hand {
    let alternate = || {
        let before = known.cell.slots[..slot.min(known.cell.slots.len())].iter();
        let last = before.rev().flatten().find_map(|s| s.limb.hand());
        last.map_or(Hand::Right, Hand::other)
    };
    let mut cell = known.cell.clone();
    let Some(strokes) = cell.slots.get_mut(slot) else {
        return Hand::Right;
    };
    strokes.insert(
        0,
        Stroke {
            voice,
            ..Stroke::plain(Limb::RightHand)
        },
    );
    let Ok(setup) = STICKING.setup("right-handed", &desk.score().kit) else {
        return alternate();
    };
    let ask = Ask::new(desk.score().tempo, setup);
    let open = |s: usize, number: usize| s == slot && number == 0;
    let stuck = stick_cell(&cell, open, true, &ask, &STICKING).ok();
    let hand = stuck.and_then(|(cell, _)| cell.slots.get(slot)?.first()?.limb.hand());
    hand.unwrap_or_else(alternate)
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
