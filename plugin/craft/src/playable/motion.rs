//! What each limb does, in order of time.

use crate::sticking::{Rules, Setup};
use barform_score::music::{Beats, BeatsError, Limb, Stroke, Voice};

/// One motion of a limb.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) struct Motion {
    /// Time in beats.
    pub at: Beats,
    /// What it strikes.
    pub voice: Voice,
    /// Index of the stroke it belongs to.
    pub stroke: usize,
}

/// Strokes of the four limbs, ready to be asked about.
///
/// A grace note is a motion of its hand at the time of its main stroke; two of
/// one hand (a drag) are one motion, since the second is a rebound; one by the
/// hand that plays the main stroke is part of that motion.
#[derive(Debug, Clone)]
pub struct Playable<'a> {
    /// Length of a loop.
    pub(super) looped: Option<Beats>,
    /// Where the voices stand.
    pub(super) setup: &'a Setup,
    /// Centimetres of overlap that are no crossing yet.
    pub(super) crossing_free: i64,
    /// Motions of `R L K H`, one per time.
    pub(super) motions: [Vec<Motion>; 4],
    /// Two motions of one limb at one time: limb and both.
    pub(super) at_once: Vec<(Limb, Motion, Motion)>,
}

/// Index of a limb in [`Limb::ALL`].
pub(super) fn index(limb: Limb) -> usize {
    match limb {
        Limb::RightHand => 0,
        Limb::LeftHand => 1,
        Limb::KickFoot => 2,
        Limb::HatFoot => 3,
    }
}

impl<'a> Playable<'a> {
    /// Strokes at times that do not fall, of a cell, a form or several things
    /// merged. With `looped`, they come round every so many beats, and all but
    /// [`Playable::limbs`] counts across the join; a length that is not above
    /// the last time is no loop.
    pub fn new(
        strokes: &'a [(Beats, Stroke)],
        looped: Option<Beats>,
        setup: &'a Setup,
        rules: &Rules,
    ) -> Playable<'a> {
        let mut order: Vec<usize> = (0..strokes.len()).collect();
        order.sort_by_key(|i| strokes[*i].0);
        let last = order.last().map_or(Beats::ZERO, |i| strokes[*i].0);
        let mut playable = Playable {
            looped: looped.filter(|length| *length > last),
            setup,
            crossing_free: rules.cost.crossing_free,
            motions: Default::default(),
            at_once: Vec::new(),
        };
        for i in order {
            let (at, stroke) = strokes[i];
            let motion = Motion {
                at,
                voice: stroke.voice,
                stroke: i,
            };
            playable.add(stroke.limb, motion);
            for hand in stroke.graces.iter() {
                playable.add(hand.into(), motion);
            }
        }
        playable
    }

    /// Adds a motion, unless the limb moves at that time already.
    fn add(&mut self, limb: Limb, motion: Motion) {
        let motions = &mut self.motions[index(limb)];
        match motions.last() {
            Some(last) if last.at == motion.at => {
                if last.stroke != motion.stroke {
                    self.at_once.push((limb, *last, motion));
                }
            }
            _ => motions.push(motion),
        }
    }

    /// Motion number `i` of a limb and its time, counted on round the loop.
    pub(super) fn motion(
        &self,
        limb: Limb,
        i: usize,
    ) -> Result<Option<(Beats, Motion)>, BeatsError> {
        let motions = &self.motions[index(limb)];
        if let Some(motion) = motions.get(i) {
            return Ok(Some((motion.at, *motion)));
        }
        let (Some(length), n @ 1..) = (self.looped, motions.len()) else {
            return Ok(None);
        };
        let turns = length.checked_mul(Beats::whole((i / n) as i64))?;
        Ok(Some((
            motions[i % n].at.checked_add(turns)?,
            motions[i % n],
        )))
    }
}
