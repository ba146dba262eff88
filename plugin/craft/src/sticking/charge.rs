//! What one moment costs, given what the hands did before it.

use super::explain::{Cause, Charge};
use super::passage::{Moment, OpenStroke, Passage, StickingError, moments};
use super::{Ask, Rules};
use crate::range::Thousandths;
use barform_score::music::{Hand, Level, Voice};

/// What a hand did at a moment.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum Did {
    /// It played the moment's first or second stroke.
    Main(u8),
    /// It played the grace notes of the moment's only stroke.
    Grace,
}

/// A hand's last stroke, seen from the moment to be played.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) struct Use {
    /// Moments back, at least 1.
    pub ago: u8,
    /// What it did.
    pub did: Did,
}

/// What the hands did before a moment, as far as it matters.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) struct Before {
    /// The hand that alone played the main strokes of the moment before.
    pub last: Option<Hand>,
    /// Last strokes of the right and the left hand; `None` for a rested hand.
    pub hands: [Option<Use>; 2],
}

impl Before {
    /// Nothing played yet.
    pub const NOTHING: Before = Before {
        last: None,
        hands: [None; 2],
    };
}

/// Right 0, left 1.
pub(super) fn side(hand: Hand) -> usize {
    usize::from(hand == Hand::Left)
}

/// The hands of a moment's strokes; the second counts only if there are two.
pub(super) type Hands = [Hand; 2];

/// A passage cut into moments, with everything that costs depend on.
pub(super) struct Problem<'p> {
    pub strokes: &'p [OpenStroke],
    pub moments: Vec<Moment>,
    pub looped: bool,
    pub ask: &'p Ask,
    pub rules: &'p Rules,
}

impl<'p> Problem<'p> {
    /// Cuts a passage.
    pub fn new(
        passage: &'p Passage,
        ask: &'p Ask,
        rules: &'p Rules,
    ) -> Result<Problem<'p>, StickingError> {
        let moments = moments(passage, ask)?;
        let looped = passage.looped.is_some();
        Ok(Problem {
            strokes: &passage.strokes,
            moments,
            looped,
            ask,
            rules,
        })
    }

    /// How many moments back a stroke still matters.
    pub fn memory(&self) -> u8 {
        // Checked to be 2 to 12.
        self.rules.limits.memory as u8
    }

    /// What a hand does at a moment that is played by `hands`.
    pub fn did(&self, moment: usize, hands: Hands, hand: Hand) -> Option<Did> {
        let Moment { first, count, .. } = self.moments[moment];
        // Of two strokes forced on one hand, the second is where it ends up.
        if count == 2 && hands[1] == hand {
            return Some(Did::Main(1));
        }
        if hands[0] == hand {
            return Some(Did::Main(0));
        }
        let graces = self.strokes[first].graces_with(hands[0]);
        (count == 1 && graces.iter().any(|h| h == hand)).then_some(Did::Grace)
    }

    /// The moment `ago` moments before `moment`, round the loop.
    fn back(&self, moment: usize, ago: u8) -> usize {
        let n = self.moments.len();
        (moment + n * (1 + usize::from(ago) / n) - usize::from(ago)) % n
    }

    /// Microseconds from the moment `ago` moments back; at least 1.
    fn micros(&self, moment: usize, ago: u8) -> i64 {
        let gaps = (0..ago).map(|k| self.moments[self.back(moment, k)].gap_us);
        gaps.sum::<i64>().max(1)
    }

    /// The stroke that a use points to.
    fn stroke_of(&self, moment: usize, hand_use: Use) -> &OpenStroke {
        let second = usize::from(hand_use.did == Did::Main(1));
        &self.strokes[self.moments[self.back(moment, hand_use.ago)].first + second]
    }

    /// Tells `tell` every cost of playing `moment` with `hands` after
    /// `before`: the index of the stroke it falls on, and the charge.
    pub fn charge(
        &self,
        moment: usize,
        hands: Hands,
        before: &Before,
        tell: &mut impl FnMut(usize, Charge),
    ) {
        let Moment {
            first,
            count,
            gap_us,
            on_beat,
        } = self.moments[moment];
        let cost = &self.rules.cost;
        let lead = self.ask.lead;
        let alone = hands[0];
        let mut tell = |stroke: usize, hand: Hand, cause: Cause, cost: i64| {
            if cost > 0 {
                tell(stroke, Charge { cause, hand, cost });
            }
        };

        if count == 1 {
            if alone != lead {
                if moment == 0 {
                    tell(first, alone, Cause::Start, cost.start);
                }
                if on_beat {
                    tell(first, alone, Cause::OffLead, cost.off_lead);
                }
            }
            if before.last == Some(alone) {
                tell(first, alone, Cause::Repeat, cost.repeat);
                let per_second = Thousandths(1_000_000_000 / gap_us.max(1));
                if !self.ask.doubles && per_second.0 > self.rules.limits.double_per_second * 1000 {
                    tell(first, alone, Cause::Double { per_second }, cost.impossible);
                }
            }
            let row = self.in_a_row(moment, before.hands[side(alone.other())]);
            if row >= 2 {
                let in_a_row = row + 1;
                tell(
                    first,
                    alone,
                    Cause::Run { in_a_row },
                    cost.run * i64::from(row - 1),
                );
            }
        } else if hands[0] == hands[1] {
            tell(first + 1, alone, Cause::OneHand, cost.impossible);
        }

        for (k, hand) in hands.into_iter().enumerate().take(count) {
            let index = first + k;
            let stroke = &self.strokes[index];
            if stroke.voice == Voice::Hat && hand != self.ask.setup.hat_hand {
                tell(index, hand, Cause::HatHand, cost.hat_hand);
            }
            let last = before.hands[side(hand)];
            if let Some(last) = last.filter(|last| last.ago == 1) {
                if stroke.level == Level::Accent {
                    tell(index, hand, Cause::Accent, cost.accent);
                }
                if last.did != Did::Grace && self.stroke_of(moment, last).buzz {
                    tell(index, hand, Cause::Buzz, cost.buzz);
                }
            }
            self.movement(moment, stroke.voice, last, &mut |cause, cost| {
                tell(index, hand, cause, cost);
            });

            if stroke.graces.is_empty() {
                continue;
            }
            if count == 2 {
                tell(index, hand, Cause::GraceBusy, cost.impossible);
                continue;
            }
            let graces = stroke.graces_with(hand);
            if graces.len() < 3 && graces.iter().any(|h| h == hand) {
                tell(index, hand, Cause::GraceHand, cost.grace_hand);
            }
            if graces.iter().any(|h| h != hand) {
                let other = hand.other();
                let last = before.hands[side(other)];
                self.movement(moment, stroke.voice, last, &mut |cause, cost| {
                    tell(index, other, cause, cost);
                });
            }
        }

        if let Some(on_hat) = self.crossed(moment, hands, before) {
            let (cause, cost) = if on_hat {
                (Cause::HatCrossing, cost.hat_crossing)
            } else {
                (Cause::Crossing, cost.crossing)
            };
            tell(first, alone, cause, cost);
        }
    }

    /// Strokes in a row that the one hand has played while the other, whose
    /// last stroke is `other`, was silent; never above the memory.
    fn in_a_row(&self, moment: usize, other: Option<Use>) -> u8 {
        match other {
            Some(other) => other.ago - 1,
            None if self.looped => self.memory(),
            None => self.memory().min(moment.try_into().unwrap_or(u8::MAX)),
        }
    }

    /// What it costs a hand to come from its last stroke to `voice`.
    fn movement(
        &self,
        moment: usize,
        voice: Voice,
        last: Option<Use>,
        tell: &mut impl FnMut(Cause, i64),
    ) {
        let Some(last) = last else { return };
        let (cost, limits) = (&self.rules.cost, &self.rules.limits);
        let micros = self.micros(moment, last.ago);
        let per_second = Thousandths(1_000_000_000 / micros);
        let above = per_second.0 - cost.rate_free * 1000;
        if per_second.0 > limits.hand_per_second * 1000 {
            tell(Cause::TooFast { per_second }, cost.impossible);
        } else if above > 0 {
            tell(Cause::Rate { per_second }, cost.rate * above / 1000);
        }
        let cm = self
            .ask
            .setup
            .cm_between(self.stroke_of(moment, last).voice, voice);
        if cm == 0 {
            return;
        }
        tell(Cause::Travel { cm }, cost.travel * cm / 10);
        let cm_per_second = cm * 1_000_000 / micros;
        let above = cm_per_second - cost.haste_free;
        if cm_per_second > limits.hand_cm_per_second {
            tell(Cause::TooFar { cm_per_second }, cost.impossible);
        } else if above > 0 {
            tell(Cause::Haste { cm_per_second }, cost.haste * above / 100);
        }
    }

    /// Whether the hands are crossed at a moment; `true` inside if that is for
    /// the hi-hat, as the set-up has it.
    fn crossed(&self, moment: usize, hands: Hands, before: &Before) -> Option<bool> {
        let voice = |hand: Hand| match self.did(moment, hands, hand) {
            Some(Did::Main(1)) => Some(self.strokes[self.moments[moment].first + 1].voice),
            Some(_) => Some(self.strokes[self.moments[moment].first].voice),
            None => before.hands[side(hand)].map(|last| self.stroke_of(moment, last).voice),
        };
        let (right, left) = (voice(Hand::Right)?, voice(Hand::Left)?);
        let setup = &self.ask.setup;
        let overlap = setup.cm_right(left) - setup.cm_right(right);
        let hat = if setup.hat_hand == Hand::Right {
            right
        } else {
            left
        };
        (overlap > self.rules.cost.crossing_free).then_some(hat == Voice::Hat)
    }
}
