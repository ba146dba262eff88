//! Puts the voices of one line on the strokes of another.

use crate::music::{Limb, Slot, Stroke, Voice};
use crate::score::model::{StickSlot, StickToken, VoiceSlot, VoiceToken};

/// One slot that does not go together, before it has an owner.
pub(in crate::score) struct SlotProblem {
    /// Its index.
    pub slot: usize,
    /// What was read and what is allowed.
    pub problem: String,
    /// The mend.
    pub mend: Option<String>,
}

/// What the voices line last said.
#[derive(Clone, Default)]
pub(in crate::score) struct Memory {
    hands: Vec<(Limb, VoiceToken)>,
    feet: Vec<(Limb, VoiceToken)>,
}

impl Memory {
    /// Where a limb goes on: hands where the hands were, a foot where that
    /// foot was.
    pub fn of(&self, limb: Limb) -> Option<VoiceToken> {
        let side = if limb.is_foot() {
            &self.feet
        } else {
            &self.hands
        };
        let own = side.iter().find(|(l, _)| *l == limb);
        let any = if limb.is_foot() { None } else { side.first() };
        own.or(any).map(|(_, token)| *token)
    }

    pub fn learn(&mut self, named: &[(Limb, VoiceToken)]) {
        let hands = named.iter().filter(|(l, _)| !l.is_foot());
        let mut hands: Vec<_> = hands.copied().collect();
        if !hands.is_empty() {
            std::mem::swap(&mut self.hands, &mut hands);
        }
        for (limb, token) in named.iter().filter(|(l, _)| l.is_foot()) {
            self.feet.retain(|(l, _)| l != limb);
            self.feet.push((*limb, *token));
        }
    }
}

/// Puts the voices of one line on the strokes of another, and tells the first
/// slot that does not go together; such a slot plays its plain voices.
/// `lenient` lets the two lines differ in their rests.
pub(in crate::score) fn slots(
    sticking: &[StickSlot],
    voices: Option<&[VoiceSlot]>,
    lenient: bool,
) -> (Vec<Slot>, Option<SlotProblem>) {
    let mut memory = Memory::default();
    let mut problem = None;
    let mut out = Vec::with_capacity(sticking.len());
    for (i, sticks) in sticking.iter().enumerate() {
        let mut found = |text: String, mend: Option<String>| {
            problem.get_or_insert(SlotProblem {
                slot: i,
                problem: text,
                mend,
            });
        };
        match voices.map_or(&VoiceSlot::Same, |v| v.get(i).unwrap_or(&VoiceSlot::Same)) {
            VoiceSlot::Same => {}
            VoiceSlot::Rest => {
                if !sticks.is_empty() && !lenient {
                    let text = "the voices have a rest, the sticking a stroke".to_owned();
                    found(text, Some("write a voice or '.'".into()));
                }
            }
            VoiceSlot::Voices(list) => match (assign(sticks, list), sticks.is_empty()) {
                (Some(named), _) => memory.learn(&named),
                // '.' after it still means what it meant in the parent.
                (None, true) if lenient => {
                    let pedal = |v: &VoiceToken| matches!(v.voice, Voice::Kick | Voice::HatFoot);
                    let hands = list
                        .iter()
                        .filter(|v| !pedal(v))
                        .map(|v| (Limb::RightHand, *v));
                    memory.learn(&hands.collect::<Vec<_>>());
                }
                (None, true) => {
                    let text = "a voice is named, the sticking has a rest".to_owned();
                    found(text, Some("write '-' or '.'".into()));
                }
                (None, false) => {
                    let (v, s) = (list.len(), sticks.len());
                    let text = format!(
                        "{v} voice{} for {s} stroke{}; allowed is one per stroke, one per hand, \
                         or one for all hands",
                        plural(v),
                        plural(s)
                    );
                    let plain = sticks.iter().map(|t| Stroke::plain(t.limb).voice.name());
                    let plain = plain.collect::<Vec<_>>().join("+");
                    found(text, Some(format!("write for example {plain}")));
                }
            },
        }
        out.push(
            sticks
                .iter()
                .map(|t| stroke(*t, memory.of(t.limb)))
                .collect(),
        );
    }
    (out, problem)
}

/// Which limb a named voice is for: one per stroke, one per hand, or one for
/// the hands; a single stroke takes a single voice whoever plays it.
pub(in crate::score) fn assign(
    sticks: &[StickToken],
    list: &[VoiceToken],
) -> Option<Vec<(Limb, VoiceToken)>> {
    let limbs: Vec<Limb> = sticks.iter().map(|t| t.limb).collect();
    let hands: Vec<Limb> = limbs.iter().copied().filter(|l| !l.is_foot()).collect();
    let pair = |limbs: Vec<Limb>| Some(limbs.into_iter().zip(list.iter().copied()).collect());
    match list {
        [] => None,
        _ if list.len() == limbs.len() => pair(limbs),
        _ if list.len() == hands.len() => pair(hands),
        [one] if !hands.is_empty() => Some(hands.into_iter().map(|l| (l, *one)).collect()),
        _ => None,
    }
}

fn stroke(token: StickToken, voice: Option<VoiceToken>) -> Stroke {
    let plain = Stroke::plain(token.limb);
    Stroke {
        voice: voice.map_or(plain.voice, |v| v.voice),
        articulation: voice.map_or(plain.articulation, |v| v.articulation),
        level: token.level,
        graces: token.graces,
        buzz: token.buzz,
        ..plain
    }
}

fn plural(count: usize) -> &'static str {
    if count == 1 { "" } else { "s" }
}
