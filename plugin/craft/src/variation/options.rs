//! Every way to fill one slot.

use super::ask::Ask;
use super::rules::{LevelRules, Together};
use barform_score::music::{Articulation, Graces, Level, Limb, Slot, Stroke, Voice};

/// A voice and how it is struck.
type Struck = (Voice, Articulation);

/// The voices a limb may strike.
fn voices_of(limb: Limb, voices: &[Struck]) -> Vec<Struck> {
    let fits = |(voice, _): &&Struck| match limb {
        Limb::KickFoot => *voice == Voice::Kick,
        Limb::HatFoot => *voice == Voice::HatFoot,
        _ => !matches!(voice, Voice::Kick | Voice::HatFoot | Voice::Click),
    };
    voices.iter().filter(fits).copied().collect()
}

/// All slots a level allows, the rest first; each exactly once, strokes in the
/// order `R L K H`.
///
/// Hands that play together share one level, and a foot is accented only where
/// no hand plays: those are the differences that are heard. With every limb and
/// every voice there is that makes some twenty thousand.
pub(super) fn all(
    limbs: &[Limb],
    voices: &[Struck],
    level: &LevelRules,
    together: &Together,
) -> Vec<Slot> {
    let mut voices = voices.to_vec();
    voices.sort();
    voices.dedup();
    let mut slots: Vec<Slot> = vec![Vec::new()];
    // Every set of limbs.
    for set in 1u8..16 {
        let playing: Vec<Limb> = Limb::ALL
            .into_iter()
            .enumerate()
            .filter(|(i, limb)| set & (1 << i) != 0 && limbs.contains(limb))
            .map(|(_, limb)| limb)
            .collect();
        let hands = playing.iter().filter(|limb| !limb.is_foot()).count();
        if playing.len() != set.count_ones() as usize
            || playing.len() > usize::from(level.at_once)
            || (hands == 2 && !level.both_hands)
        {
            continue;
        }
        let mut levels = vec![Level::Normal];
        if level.accents {
            levels.push(Level::Accent);
        }
        if level.ghosts && hands > 0 {
            levels.push(Level::Ghost);
        }
        let mut flams = vec![false];
        if level.flams
            && hands == 1
            && limbs.contains(&Limb::RightHand)
            && limbs.contains(&Limb::LeftHand)
        {
            flams.push(true);
        }
        for loud in levels {
            for flam in &flams {
                let plain: Slot = playing
                    .iter()
                    .map(|l| dress(*l, hands, loud, *flam))
                    .collect();
                slots.extend(voiced(&plain, &voices, |slot| {
                    allowed(slot, level, together)
                }));
            }
        }
    }
    slots
}

/// A plain stroke of a limb with the level and the flam it takes in its slot.
fn dress(limb: Limb, hands: usize, loud: Level, flam: bool) -> Stroke {
    let plain = Stroke::plain(limb);
    let level = if limb.is_foot() && hands > 0 {
        Level::Normal
    } else {
        loud
    };
    let grace = limb.hand().filter(|_| flam).map(|hand| hand.other());
    let graces = grace
        .and_then(|hand| Graces::from_hands(&[hand]))
        .unwrap_or_default();
    Stroke {
        level,
        graces,
        ..plain
    }
}

/// The strokes of `plain` on every choice of voices that is `allowed`.
pub(super) fn voiced(
    plain: &[Stroke],
    voices: &[Struck],
    allowed: impl Fn(&[Stroke]) -> bool,
) -> Vec<Slot> {
    let mut partial: Vec<Slot> = vec![Vec::new()];
    for stroke in plain {
        let own = voices_of(stroke.limb, voices);
        partial = partial
            .iter()
            .flat_map(|before| {
                own.iter().map(|(voice, articulation)| {
                    let mut slot = before.clone();
                    slot.push(Stroke {
                        voice: *voice,
                        articulation: *articulation,
                        ..*stroke
                    });
                    slot
                })
            })
            .collect();
    }
    partial.retain(|slot| allowed(slot));
    partial
}

/// Whether the voices of a slot go together.
pub(super) fn allowed(slot: &[Stroke], level: &LevelRules, together: &Together) -> bool {
    let foot_on_hat = slot.iter().any(|s| s.voice == Voice::HatFoot);
    let open_hat = slot.iter().any(|s| {
        s.voice == Voice::Hat && matches!(s.articulation, Articulation::Open | Articulation::Half)
    });
    if foot_on_hat && open_hat && !together.open_hat_with_hat_foot {
        return false;
    }
    let mut hands = slot.iter().filter(|s| !s.limb.is_foot());
    match (hands.next(), hands.next()) {
        (Some(one), Some(other)) if one.voice == other.voice => {
            if is_drum(one.voice) {
                level.one_drum
            } else {
                together.hands_on_one_cymbal
            }
        }
        _ => true,
    }
}

fn is_drum(voice: Voice) -> bool {
    use Voice::*;
    matches!(
        voice,
        Kick | Snare | Tom1 | Tom2 | Tom3 | Tom4 | Tom5 | Tom6
    )
}

/// Whether a slot keeps what is to stay of the original's.
pub(super) fn keeps(ask: &Ask<'_>, original: &[Stroke], slot: &[Stroke]) -> bool {
    let accented = |slot: &[Stroke]| slot.iter().any(|s| s.level == Level::Accent);
    let kick = |slot: &[Stroke]| slot.iter().any(|s| s.limb == Limb::KickFoot);
    let struck = |slot: &[Stroke]| {
        let mut struck: Vec<Struck> = slot.iter().map(|s| (s.voice, s.articulation)).collect();
        struck.sort();
        struck
    };
    (!ask.keep.accents || accented(slot) == accented(original))
        && (!ask.keep.kicks || kick(slot) == kick(original))
        && (!ask.keep.rests || slot.is_empty() == original.is_empty())
        && (!ask.keep.voices || struck(slot) == struck(original))
}
