//! Segments put one after the other, with their clicks.

use super::walk::Piece;
use super::{
    Click, MAX_SEGMENTS, MAX_STROKES, ScheduleError, Seconds, Segment, Silent, Source, silence,
};
use crate::passage::Passage;
use crate::plan::Plan;
use barform_score::music::{Beats, BeatsError, Kit, Meter, Subdivision};
use barform_score::timeline::Bar;

/// Puts segments one after the other.
pub(super) struct Writer<'p> {
    plan: &'p Plan,
    kit: &'p Kit,
    passages: &'p [Passage],
    pub segments: Vec<Segment>,
    /// Strokes and clicks so far.
    strokes: usize,
    /// Beats so far.
    pub at: Beats,
    /// Seconds so far.
    pub now: Seconds,
}

impl<'p> Writer<'p> {
    pub fn new(plan: &'p Plan, kit: &'p Kit, passages: &'p [Passage]) -> Writer<'p> {
        Writer {
            plan,
            kit,
            passages,
            segments: Vec::new(),
            strokes: 0,
            at: Beats::ZERO,
            now: Seconds::zero(),
        }
    }
}

impl Writer<'_> {
    /// The count-in of a passage's run.
    pub fn count_in(
        &mut self,
        passage: &Passage,
        number: usize,
        step: usize,
        tempo: Beats,
    ) -> Result<(), ScheduleError> {
        let bars = self.plan.count_in.bars;
        if bars == 0 {
            return Ok(());
        }
        let meter = passage.meter();
        let pickup = passage.pickup().checked_rem(meter.bar())?;
        // Ahead of a pickup, what its bar lacks is counted as well.
        let lacks = pickup.is_positive();
        for n in 0..=bars {
            let length = match n == bars {
                true if !lacks => break,
                true => meter.bar().checked_sub(pickup)?,
                false => meter.bar(),
            };
            let bar = Bar {
                start: Beats::ZERO,
                meter,
                number: 1,
            };
            let last = n + 1 >= bars;
            let fine = self.plan.count_in.last.as_ref().filter(|_| last);
            let fine = fine.or(self.plan.click.on.as_ref());
            let clicks = self.clicks(
                &bar,
                meter.bar(),
                Beats::ZERO,
                length,
                fine.map(|s| &s.0),
                100,
            )?;
            self.push(Segment {
                clicks,
                ..self.counted(number, step, tempo, meter, length)
            })?;
        }
        Ok(())
    }

    /// A stretch of music in the bar of a number, counted from 0.
    pub fn music(
        &mut self,
        number: usize,
        step: usize,
        tempo: Beats,
        source: Source,
        piece: &Piece,
        bar: u32,
    ) -> Result<(), ScheduleError> {
        let length = piece.to.checked_sub(source.from)?;
        let silent = silence::silent(self.plan.gaps.as_ref(), bar);
        let percent = if silent.click {
            0
        } else {
            silence::faded(self.plan.click.fade, bar)
        };
        let fine = self.plan.click.on.as_ref().map(|s| &s.0);
        let clicks = self.clicks(
            &piece.bar,
            piece.bar_end,
            source.from,
            length,
            fine,
            percent,
        )?;
        let layers = self.plan.layers.as_ref().map_or(0, |layers| {
            let more = source.pass / u32::from(layers.every.max(1));
            layers.order.len().min(more as usize + 1)
        });
        self.push(Segment {
            source: Some(source),
            bar_line: piece.bar_line,
            silent,
            layers,
            clicks,
            ..self.counted(number, step, tempo, piece.bar.meter, length)
        })
    }

    /// The next segment as a bar of a count-in, without its clicks.
    fn counted(
        &self,
        passage: usize,
        step: usize,
        tempo: Beats,
        meter: Meter,
        length: Beats,
    ) -> Segment {
        Segment {
            start: self.at,
            length,
            begins: self.now.clone(),
            tempo,
            step,
            passage,
            source: None,
            bar_line: true,
            meter,
            silent: Silent::default(),
            layers: 0,
            clicks: Vec::new(),
        }
    }

    /// The clicks of a bar that sound in a stretch of it.
    fn clicks(
        &self,
        bar: &Bar,
        bar_end: Beats,
        from: Beats,
        length: Beats,
        fine: Option<&Subdivision>,
        percent: u8,
    ) -> Result<Vec<Click>, BeatsError> {
        let mut clicks = Vec::new();
        let to = from.checked_add(length)?;
        for (at, kind) in bar.clicks(bar_end, fine)? {
            let note = silence::note(&self.plan.click, self.kit, kind, percent);
            if let Some(note) = note.filter(|_| at >= from && at < to) {
                let at = self.at.checked_add(at.checked_sub(from)?)?;
                clicks.push(Click { at, kind, note });
            }
        }
        Ok(clicks)
    }

    fn push(&mut self, segment: Segment) -> Result<(), ScheduleError> {
        self.strokes += segment.clicks.len();
        if let Some(source) = segment.source {
            let passage = &self.passages[segment.passage];
            let to = source.from.checked_add(segment.length)?;
            let before = |at: Beats| passage.strokes.partition_point(|s| s.at < at);
            self.strokes += before(to) - before(source.from);
            for under in &passage.ostinatos {
                // In f64 for the bound only.
                let cycles = segment.length.to_f64() / under.cycle.to_f64();
                self.strokes += (cycles * under.strokes.len() as f64).ceil() as usize;
            }
        }
        if self.segments.len() >= MAX_SEGMENTS || self.strokes > MAX_STROKES {
            return Err(ScheduleError::TooLong);
        }
        self.now = self.now.after(segment.length, segment.tempo);
        self.at = self.at.checked_add(segment.length)?;
        self.segments.push(segment);
        Ok(())
    }
}
