//! Files of other programs: whole bars, cut at beats.

use super::{Plan, Reading};
use crate::import::midi::Report;
use crate::import::midi::bars::{self, bar_of};
use crate::import::midi::cut::at_beats;
use crate::import::midi::strokes::Played;
use crate::import::{ImportError, RemarkKind, Remarks};
use barform_score::music::Beats;
use std::collections::BTreeMap;

impl Reading<'_> {
    /// Bars and cells of a file that is not ours: whole bars, from the bar of
    /// the first stroke to that of the last.
    pub(super) fn plan(
        &self,
        strokes: &[Played],
        report: &mut Report,
        remarks: &mut Remarks,
    ) -> Result<Plan, ImportError> {
        let tolerance = self.scale()?.tolerance;
        let (Some(first), Some(last)) = (strokes.first(), strokes.last()) else {
            return Err(ImportError::Nothing("only the click plays".into()));
        };
        let signatures = &self.file.signatures;
        let last = self.clock.beats(last.hit.tick)?;
        // The last stroke may be an early one of the next bar.
        let sixteenth = Beats::new(1, 24);
        let end = last.checked_add(sixteenth)?;
        let clock = self.clock;
        let mut all = bars::draw(
            signatures,
            clock,
            bars::Frame {
                origin: Beats::ZERO,
                pickup: Beats::ZERO,
                end,
                tolerance,
            },
            |_| true,
            remarks,
        )?;
        let first = clock.beats(first.hit.tick)?.checked_add(sixteenth)?;
        let empty = all.partition_point(|b| b.start <= first).saturating_sub(1);
        let origin = all[empty].start;
        all.drain(..empty);
        for bar in &mut all {
            bar.start = bar.start.checked_sub(origin)?;
            bar.number -= empty as u32;
        }
        report.empty_bars = empty as u32;
        if empty > 0 {
            let what = format!("{empty} empty bars ahead of the first stroke");
            remarks.add(RemarkKind::NotKept, None, what);
        }
        let stretches = at_beats(&all, self.options.cell)?;
        let mut names = BTreeMap::new();
        for (tick, text) in &self.file.marks {
            let at = clock.beats(*tick)?.checked_sub(origin)?;
            let nearest = all.partition_point(|b| b.start <= at);
            let near = all[nearest.saturating_sub(1)..].iter().take(2);
            let bar = near.into_iter().find_map(|b| {
                bars::near(b.start, at, Beats::new(1, 16))
                    .ok()?
                    .then_some(b)
            });
            match bar {
                Some(bar) if !text.is_empty() => {
                    let stretch = stretches.partition_point(|s| s.start < bar.start);
                    names.insert(stretch, text.clone());
                }
                _ => {
                    let what = "a marker, cue or word that does not stand on a bar line";
                    let bar = bar_of(&all, at);
                    remarks.add(RemarkKind::NotKept, Some(bar), what);
                }
            }
        }
        Ok(Plan {
            bars: all,
            pickup: Beats::ZERO,
            stretches,
            names,
            origin,
        })
    }
}
