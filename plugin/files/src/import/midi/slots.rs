//! From strokes on slots to what a cell holds: levels, feet, two hands.
//!
//! In: the strokes of a stretch and their slots. Out: its content, or several at
//! several loudnesses. Never here: time.

use super::cells::{Content, Mark};
use super::cut::{Gridded, Timed};
use super::strokes::Played;
use crate::import::{RemarkKind, Remarks};
use barform_score::music::{Kit, Level, Limb, Velocity, VelocityCurve, Voice};

/// How velocities become levels.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum Loudness {
    /// The nearest level.
    Nearest,
    /// Exactly the levels of the kit at so many percent.
    Percent(u8),
}

const LEVELS: [Level; 3] = [Level::Normal, Level::Ghost, Level::Accent];

fn scaled(velocity: Velocity, percent: u8) -> Velocity {
    Velocity::clamped(f64::from(velocity.value()) * f64::from(percent) / 100.0)
}

/// The level whose velocity is nearest; of two as near the normal one.
fn nearest(curve: VelocityCurve, velocity: Velocity) -> Level {
    let off = |level: &Level| curve.at(*level).value().abs_diff(velocity.value());
    LEVELS.into_iter().min_by_key(off).unwrap_or_default()
}

fn level(kit: &Kit, played: &Played, loudness: Loudness) -> Option<Level> {
    let curve = kit.voice(played.hit.voice).curve;
    let velocity = played.hit.velocity;
    match loudness {
        Loudness::Nearest => Some(nearest(curve, velocity)),
        Loudness::Percent(percent) => LEVELS
            .into_iter()
            .find(|level| scaled(curve.at(*level), percent) == velocity),
    }
}

/// The loudnesses in percent at which every stroke has a level of the kit, the
/// nearest to 100 first; no more than a form can state.
pub(super) fn percents(kit: &Kit, strokes: &[Timed]) -> Vec<u8> {
    let mut all: Vec<u8> = (10..=150)
        .filter(|percent| {
            strokes.iter().all(|s| {
                let tap = kit.voice(s.played.hit.voice).curve.ghost;
                level(kit, &s.played, Loudness::Percent(*percent)).is_some()
                    && s.played.tap.is_none_or(|t| scaled(tap, *percent) == t)
            })
        })
        .collect();
    all.sort_by_key(|percent| percent.abs_diff(100));
    all
}

/// What a stretch plays; `bar` is where it stands.
pub(super) fn content(
    kit: &Kit,
    gridded: &Gridded,
    strokes: &[Timed],
    loudness: Loudness,
    bar: u32,
    remarks: &mut Remarks,
) -> Content {
    let mut slots = vec![Vec::new(); gridded.grid.slot_count()];
    for (stroke, slot) in strokes.iter().zip(&gridded.slots) {
        let hit = stroke.played.hit;
        let foot = hit.foot.then_some(match hit.voice {
            Voice::HatFoot => Limb::HatFoot,
            _ => Limb::KickFoot,
        });
        slots[*slot].push(Mark {
            foot,
            voice: hit.voice,
            articulation: hit.articulation,
            level: level(kit, &stroke.played, loudness).unwrap_or_default(),
            graces: stroke.played.graces,
            buzz: stroke.played.bounces.is_some(),
        });
    }
    for slot in &mut slots {
        limbs(slot, bar, remarks);
    }
    Content {
        grid: gridded.grid.clone(),
        slots,
    }
}

/// Leaves at most two hands and each foot once, in a fixed order.
fn limbs(slot: &mut Vec<Mark>, bar: u32, remarks: &mut Remarks) {
    slot.sort();
    // The same drum twice at once is one stroke: the louder, with all graces.
    slot.dedup_by(|b, a| {
        let same = (a.voice, a.articulation, a.foot) == (b.voice, b.articulation, b.foot);
        if same {
            a.level = a.level.max(b.level);
            a.graces = a.graces.max(b.graces);
            let what = "notes on one drum that fall on one slot became one stroke";
            remarks.add(RemarkKind::NotKept, Some(bar), what);
        }
        same
    });
    let mut free = [Limb::KickFoot, Limb::HatFoot].to_vec();
    // A foot on its own pedal first.
    for mark in slot.iter_mut() {
        let own = match mark.voice {
            Voice::Kick => Some(Limb::KickFoot),
            Voice::HatFoot => Some(Limb::HatFoot),
            _ => None,
        };
        if mark.foot.is_some() && own.is_some_and(|own| free.contains(&own)) {
            mark.foot = own;
            free.retain(|limb| Some(*limb) != own);
        }
    }
    // Grace notes and buzzes need a hand.
    slot.sort_by_key(|m| m.graces == 0 && !m.buzz);
    let mut hands = 0;
    let mut lost = 0;
    let mut settled = Vec::with_capacity(slot.len());
    for mut mark in slot.drain(..) {
        let on_own_pedal = matches!(
            (mark.foot, mark.voice),
            (Some(Limb::KickFoot), Voice::Kick) | (Some(Limb::HatFoot), Voice::HatFoot)
        );
        if mark.foot.is_none() && hands < 2 {
            hands += 1;
        } else if !on_own_pedal || settled.iter().any(|m: &Mark| m.foot == mark.foot) {
            // A foot off its pedal, or a third stroke for the hands.
            let asked = mark.foot.filter(|limb| free.contains(limb));
            let Some(limb) = asked.or_else(|| free.first().copied()) else {
                lost += 1;
                continue;
            };
            if mark.foot.is_none() {
                let what = "a third drum for two hands went to a free foot";
                remarks.add(RemarkKind::Assumed, Some(bar), what);
            }
            free.retain(|other| *other != limb);
            mark.foot = Some(limb);
            (mark.graces, mark.buzz) = (0, false);
        }
        settled.push(mark);
    }
    for _ in 0..lost {
        let what = "a stroke that no hand or foot was free for";
        remarks.add(RemarkKind::NotKept, Some(bar), what);
    }
    // Hands first, then K, then H.
    settled.sort_by_key(|m| m.foot);
    *slot = settled;
}
