//! Limbs that the file does not name: feet by their voice, hands as the craft
//! sticks them.

use super::music::Hit;
use super::strokes::foot;
use crate::import::{RemarkKind, Remarks};
use barform_craft::sticking::{Ask, OpenStroke, Rules, stick_cell};
use barform_score::music::{
    Beats, Cell, Graces, Grid, Hand, Kit, Letter, Limb, Slot, Stroke, Voice,
};
use barform_score::score::MAX_TOGETHER;

/// Sticks cells, all by the same rules.
pub(super) struct Hands {
    rules: Rules,
    ask: Option<Ask>,
}

impl Hands {
    /// A right-handed player of a kit, at a tempo.
    pub fn new(kit: &Kit, tempo: Beats) -> Hands {
        let rules = Rules::builtin();
        let ask = rules.setup("right-handed", kit).ok();
        let ask = ask.map(|setup| Ask::new(tempo, setup));
        Hands { rules, ask }
    }

    /// The slots of a cell with every limb named, in the order `R L K H`.
    pub fn slots(
        &self,
        letter: &Letter,
        grid: &Grid,
        slots: &[Vec<&Hit>],
        bar: u32,
        remarks: &mut Remarks,
    ) -> Vec<Slot> {
        let mut open: Vec<Vec<bool>> = Vec::with_capacity(slots.len());
        let mut cell = Cell {
            letter: letter.clone(),
            grid: grid.clone(),
            slots: Vec::with_capacity(slots.len()),
        };
        for hits in slots {
            let (slot, free) = slot(hits, bar, remarks);
            cell.slots.push(slot);
            open.push(free);
        }
        if open.iter().flatten().any(|o| *o) {
            let what = "sticking that the file does not say was worked out";
            remarks.add(RemarkKind::Assumed, None, what);
            let is_open = |slot: usize, n: usize| open[slot][n];
            let stuck = self
                .ask
                .as_ref()
                .and_then(|ask| stick_cell(&cell, is_open, true, ask, &self.rules).ok());
            match stuck {
                Some((stuck, _)) => cell = stuck,
                None => alternate(&mut cell, &open),
            }
        }
        for slot in &mut cell.slots {
            slot.sort_by_key(|s| s.limb);
        }
        cell.slots
    }
}

/// The strokes of a slot, and whose hands are open. Each limb plays one.
fn slot(hits: &[&Hit], bar: u32, remarks: &mut Remarks) -> (Slot, Vec<bool>) {
    let (mut slot, mut open) = (Slot::new(), Vec::new());
    let mut taken: Vec<Limb> = Vec::new();
    // Limbs that are named first, so that open hands take what is left.
    let (named, free): (Vec<&Hit>, Vec<&Hit>) = hits.iter().partition(|h| h.limb.is_some());
    for hit in named.into_iter().chain(free) {
        let hands = [Limb::RightHand, Limb::LeftHand];
        let left = || hands.into_iter().find(|l| !taken.contains(l));
        let limb = match hit.limb {
            Some(limb) if !taken.contains(&limb) => Some((limb, false)),
            Some(limb) if limb.is_foot() => None,
            Some(_) => left().map(|l| (l, false)),
            None if foot(hit.voice, None) => {
                let limb = if hit.voice == Voice::Kick {
                    Limb::KickFoot
                } else {
                    Limb::HatFoot
                };
                (!taken.contains(&limb)).then_some((limb, false))
            }
            // Both hands at once are open together; which is which is solved.
            None => left().map(|l| (l, true)),
        };
        let Some((limb, is_open)) = limb.filter(|_| slot.len() < MAX_TOGETHER) else {
            let what = "more strokes at once than two hands and two feet can play were left out";
            remarks.add(RemarkKind::NotKept, Some(bar), what);
            continue;
        };
        taken.push(limb);
        open.push(is_open);
        slot.push(stroke(hit, limb, bar, remarks));
    }
    // A hand that is named leaves only one for the other stroke.
    let hands = slot.iter().filter(|s| !s.limb.is_foot()).count();
    if hands == 2 && slot.iter().zip(&open).any(|(s, o)| !s.limb.is_foot() && !o) {
        open.fill(false);
    }
    (slot, open)
}

fn stroke(hit: &Hit, limb: Limb, bar: u32, remarks: &mut Remarks) -> Stroke {
    let mut stroke = Stroke {
        limb,
        voice: hit.voice,
        articulation: hit.articulation,
        level: hit.level,
        graces: Graces::NONE,
        buzz: hit.buzz && !limb.is_foot(),
    };
    if limb.is_foot() && (hit.buzz || !hit.graces.is_empty()) {
        let what = "grace notes and buzzes of a foot are not kept";
        remarks.add(RemarkKind::NotKept, Some(bar), what);
        return stroke;
    }
    let named: Option<Vec<Hand>> = hit.graces.iter().copied().collect();
    if let Some(hands) = named {
        stroke.graces = Graces::from_hands(&hands).unwrap_or(Graces::NONE);
    } else if let Some(hand) = limb.hand() {
        // So many, by the hands that custom gives them.
        let count = vec![hand.other(); hit.graces.len().min(Graces::MAX)];
        stroke.graces = Graces::from_hands(&count).unwrap_or(Graces::NONE);
        let open = OpenStroke::of(Beats::ZERO, &stroke, true);
        stroke.graces = open.map_or(Graces::NONE, |o| o.graces_with(hand));
    }
    stroke
}

/// Hand to hand from the right one: where the craft finds no sticking.
fn alternate(cell: &mut Cell, open: &[Vec<bool>]) {
    let mut hand = Hand::Right;
    for (slot, open) in cell.slots.iter_mut().zip(open) {
        let hands = slot.iter().filter(|s| !s.limb.is_foot()).count();
        for (stroke, open) in slot.iter_mut().zip(open) {
            if *open && hands == 1 {
                stroke.limb = hand.into();
                if let Some(open) = OpenStroke::of(Beats::ZERO, stroke, true) {
                    stroke.graces = open.graces_with(hand);
                }
                hand = hand.other();
            }
        }
    }
}
