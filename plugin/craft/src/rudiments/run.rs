//! How far a line goes along with one rudiment.

use super::find::{Look, Rhythm};
use super::list::Rudiment;
use barform_score::music::{Beats, BeatsError, Level, Stroke};
use std::ops::Range;

/// One hand at one time.
pub(super) struct Heard {
    /// Index in the line.
    pub index: usize,
    /// `None` where both hands play.
    pub stroke: Option<Stroke>,
    /// To the next hand stroke, or to the end of the line.
    pub gap: Beats,
}

/// Whether a stroke is the rudiment's, whatever it is played on.
fn same(stroke: Stroke, wanted: Stroke, look: Look) -> bool {
    let accent = |s: Stroke| s.level == Level::Accent;
    stroke.limb == wanted.limb
        && stroke.graces == wanted.graces
        && stroke.buzz == wanted.buzz
        && (!look.accents || accent(stroke) == accent(wanted))
}

/// Looking for one rudiment at one shift of its cycle against the line.
pub(super) struct Run<'a> {
    pub rudiment: &'a Rudiment,
    pub heard: &'a [Heard],
    pub wanted: &'a [Stroke],
    pub shift: usize,
    pub look: Look,
}

impl Run<'_> {
    /// The longest run that begins at `start`, and where to look next.
    pub fn from(&self, start: usize) -> Result<(Range<usize>, usize), BeatsError> {
        let matches = |i: usize| {
            let wanted = self.wanted[(i + self.shift) % self.wanted.len()];
            self.heard[i]
                .stroke
                .is_some_and(|stroke| same(stroke, wanted, self.look))
        };
        if !matches(start) {
            return Ok((start..start, start + 1));
        }
        // Speed against the rudiment as written; a long closing note met before
        // it is known.
        let (mut speed, mut waiting): (Option<Beats>, Option<usize>) = (None, None);
        let mut end = start + 1;
        while end < self.heard.len() {
            if !matches(end) {
                return Ok((start..end, end + 1));
            }
            if self.look.rhythm == Rhythm::Proportional {
                let gap = end - 1;
                if self.closes(gap) {
                    match speed {
                        Some(speed) if !self.is_long(gap, speed)? => {
                            return Ok((start..end, end));
                        }
                        Some(_) => {}
                        None => waiting = Some(gap),
                    }
                } else {
                    let here = self.heard[gap].gap.checked_div(self.written(gap))?;
                    if speed.is_some_and(|speed| speed != here) {
                        // The stroke before the odd gap may begin the next run,
                        // with the long note before it.
                        let long = gap > start && self.closes(gap - 1);
                        let next = if long { gap - 1 } else { gap };
                        return Ok((start..end, next.max(start + 1)));
                    }
                    speed = Some(here);
                    if let Some(gap) = waiting.take()
                        && !self.is_long(gap, here)?
                    {
                        return Ok((start..start, gap + 1));
                    }
                }
            }
            end += 1;
        }
        Ok((start..end, end))
    }

    /// The place in the rudiment of a stroke.
    fn place(&self, i: usize) -> usize {
        (i + self.shift) % self.rudiment.strokes.len()
    }

    /// The time after a stroke as written.
    fn written(&self, i: usize) -> Beats {
        self.rudiment.gaps[self.place(i)]
    }

    /// Whether a stroke is the rudiment's long last one.
    fn closes(&self, i: usize) -> bool {
        self.rudiment.closes_long() && self.place(i) + 1 == self.rudiment.strokes.len()
    }

    /// Whether the time after the last stroke is longer than, at this speed,
    /// the time before it.
    fn is_long(&self, i: usize, speed: Beats) -> Result<bool, BeatsError> {
        let before = self.rudiment.gaps[self.rudiment.strokes.len() - 2];
        Ok(self.heard[i].gap > before.checked_mul(speed)?)
    }
}
