//! What each limb is asked for at a tempo.

use super::motion::{Motion, Playable, index};
use crate::range::Thousandths;
use barform_score::music::{Beats, BeatsError, Hand, Limb, Voice};

/// Strokes in a row of one limb, while its partner (the other hand, the other
/// foot) is silent.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Repeat {
    /// How many.
    pub strokes: usize,
    /// Strokes per second from the first to the last, rounded down; 0 for one.
    pub per_second: Thousandths,
    /// Index of the first stroke.
    pub first: usize,
    /// Index of the last stroke.
    pub last: usize,
}

/// What one limb does.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct LimbReport {
    /// The limb.
    pub limb: Limb,
    /// Motions; grace notes included, a drag's two as one.
    pub motions: usize,
    /// Strokes per second from its first to its last, rounded down; 0 for one.
    pub per_second: Thousandths,
    /// Its two closest strokes, the earliest of equals.
    pub fastest: Option<Repeat>,
    /// Its longest run; of equals the fastest, then the earliest.
    pub longest: Option<Repeat>,
    /// Centimetres from voice to voice, all ways together; 0 for feet.
    pub travel_cm: i64,
    /// Its fastest way, in centimetres per second, rounded down; 0 for feet.
    pub travel_cm_per_second: i64,
}

/// A time at which the right hand is to the left of the left hand.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Crossing {
    /// Index of the stroke that crosses.
    pub stroke: usize,
    /// Whether it is for the hi-hat, as the set-up has it.
    pub for_hat: bool,
}

/// `n` things in `span` beats at a tempo, per second, in thousandths.
fn per_second(n: i64, span: Beats, tempo: Beats) -> Result<i64, BeatsError> {
    if !span.is_positive() {
        return Ok(0);
    }
    let per_beat = Beats::whole(n).checked_div(span)?;
    Ok(per_beat
        .checked_mul(tempo)?
        .checked_mul(Beats::new(1000, 60))?
        .floor())
}

impl Playable<'_> {
    /// What each limb does at a tempo (beats per minute, above 0), in the order
    /// `R L K H`; once through, without the way round a loop.
    ///
    /// # Errors
    /// [`BeatsError::Overflow`] if times between strokes do not fit.
    pub fn limbs(&self, tempo: Beats) -> Result<[LimbReport; 4], BeatsError> {
        let [r, l, k, h] = Limb::ALL;
        Ok([
            self.limb(r, l, tempo)?,
            self.limb(l, r, tempo)?,
            self.limb(k, h, tempo)?,
            self.limb(h, k, tempo)?,
        ])
    }

    fn limb(&self, limb: Limb, partner: Limb, tempo: Beats) -> Result<LimbReport, BeatsError> {
        let motions = &self.motions[index(limb)];
        let repeat = |run: &[Motion]| -> Result<Option<Repeat>, BeatsError> {
            let ([first, ..], [.., last]) = (run, run) else {
                return Ok(None);
            };
            let span = last.at.checked_sub(first.at)?;
            let rate = Thousandths(per_second(run.len() as i64 - 1, span, tempo)?);
            let (strokes, first, last) = (run.len(), first.stroke, last.stroke);
            Ok(Some(Repeat {
                strokes,
                per_second: rate,
                first,
                last,
            }))
        };
        let mut fastest: Option<(Beats, &[Motion])> = None;
        let (mut travel_cm, mut travel_cm_per_second) = (0, 0);
        for pair in motions.windows(2) {
            let span = pair[1].at.checked_sub(pair[0].at)?;
            if fastest.is_none_or(|(least, _)| span < least) {
                fastest = Some((span, pair));
            }
            if !limb.is_foot() {
                let cm = self.setup.cm_between(pair[0].voice, pair[1].voice);
                travel_cm += cm;
                let speed = per_second(cm, span, tempo)? / 1000;
                travel_cm_per_second = travel_cm_per_second.max(speed);
            }
        }
        let mut longest: Option<Repeat> = None;
        for run in self.runs(motions, &self.motions[index(partner)]) {
            let Some(run) = repeat(run)? else { continue };
            let better =
                |old: Repeat| (run.strokes, run.per_second) > (old.strokes, old.per_second);
            if longest.is_none_or(better) {
                longest = Some(run);
            }
        }
        Ok(LimbReport {
            limb,
            motions: motions.len(),
            per_second: repeat(motions)?.map_or(Thousandths(0), |all| all.per_second),
            fastest: fastest.map_or(Ok(None), |(_, pair)| repeat(pair))?,
            longest,
            travel_cm,
            travel_cm_per_second,
        })
    }

    /// A limb's motions cut wherever its partner moves. Where both move at
    /// once, a run ends after it.
    fn runs<'m>(&self, motions: &'m [Motion], partner: &[Motion]) -> Vec<&'m [Motion]> {
        let mut runs = Vec::new();
        let (mut from, mut p) = (0, 0);
        for i in 1..motions.len() {
            while p < partner.len() && partner[p].at < motions[i - 1].at {
                p += 1;
            }
            if partner.get(p).is_some_and(|other| other.at < motions[i].at) {
                runs.push(&motions[from..i]);
                from = i;
            }
        }
        runs.push(&motions[from..]);
        runs
    }

    /// Where the hands cross, in order of time; once through. The voices'
    /// places and how much overlap is free come from the sticking rules.
    pub fn crossings(&self) -> Vec<Crossing> {
        let mut hands: [Option<Voice>; 2] = [None; 2];
        let mut found = Vec::new();
        let (right, left) = (&self.motions[0], &self.motions[1]);
        let (mut r, mut l) = (0, 0);
        loop {
            let at = match (right.get(r), left.get(l)) {
                (None, None) => break,
                (Some(a), None) => a.at,
                (None, Some(b)) => b.at,
                (Some(a), Some(b)) => a.at.min(b.at),
            };
            let mut stroke = None;
            for (i, motions, next) in [(0, right, &mut r), (1, left, &mut l)] {
                if let Some(motion) = motions.get(*next).filter(|m| m.at == at) {
                    hands[i] = Some(motion.voice);
                    stroke = stroke.or(Some(motion.stroke));
                    *next += 1;
                }
            }
            if let ([Some(a), Some(b)], Some(stroke)) = (hands, stroke) {
                let overlap = self.setup.cm_right(b) - self.setup.cm_right(a);
                let hat = if self.setup.hat_hand == Hand::Right {
                    a
                } else {
                    b
                };
                if overlap > self.crossing_free {
                    found.push(Crossing {
                        stroke,
                        for_hat: hat == Voice::Hat,
                    });
                }
            }
        }
        found
    }
}
