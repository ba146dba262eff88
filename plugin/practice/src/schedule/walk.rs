//! From passages and tempos to segments: bar by bar, pass by pass, turn by turn.

use super::{
    Click, MAX_SEGMENTS, MAX_STROKES, ScheduleError, Seconds, Segment, Silent, Source, silence,
};
use crate::passage::Passage;
use crate::plan::{Plan, Stay, Turn, TurnOf};
use barform_score::music::{Beats, BeatsError, Kit, Subdivision};
use barform_score::timeline::Bar;

/// All segments, their length and their end.
pub(super) fn segments(
    plan: &Plan,
    kit: &Kit,
    passages: &[Passage],
    tempos: &[Beats],
) -> Result<(Vec<Segment>, Beats, Seconds), ScheduleError> {
    let mut writer = Writer {
        plan,
        kit,
        passages,
        segments: Vec::new(),
        strokes: 0,
        at: Beats::ZERO,
        now: Seconds::zero(),
    };
    for (number, passage) in passages.iter().enumerate() {
        let mut done = Done::default();
        // With a count-in for every step each is a run of its own.
        let size = if plan.count_in.every_step {
            1
        } else {
            tempos.len()
        };
        for (run, tempos) in tempos.chunks(size.max(1)).enumerate() {
            Run::new(plan, passage).write(&mut writer, number, run * size, tempos, &mut done)?;
        }
    }
    Ok((writer.segments, writer.at, writer.now))
}

/// What a passage's earlier runs have played.
#[derive(Default)]
struct Done {
    /// Passes, whole or not.
    passes: u32,
    /// Bars.
    bars: u32,
}

/// A place in a passage.
#[derive(Clone, Copy)]
struct Cursor {
    pass: u32,
    at: Beats,
    /// Where bars run on: beats since the last bar line.
    in_bar: Beats,
}

/// The stretch that follows a cursor, within one bar and one pass.
struct Piece {
    to: Beats,
    /// The bar it lies in, and its end, in beats of the passage.
    bar: Bar,
    bar_end: Beats,
    bar_line: bool,
}

/// A passage from its top on.
struct Run<'p> {
    plan: &'p Plan,
    passage: &'p Passage,
    cursor: Cursor,
    /// Whose turn it is, where it began, and its bar lines so far.
    turn: usize,
    turn_from: Cursor,
    turn_bars: u16,
}

impl<'p> Run<'p> {
    fn new(plan: &'p Plan, passage: &'p Passage) -> Run<'p> {
        let top = Cursor {
            pass: 0,
            at: Beats::ZERO,
            in_bar: Beats::ZERO,
        };
        Run {
            plan,
            passage,
            cursor: top,
            turn: 0,
            turn_from: top,
            turn_bars: 0,
        }
    }

    fn write(
        mut self,
        writer: &mut Writer<'_>,
        number: usize,
        first_step: usize,
        tempos: &[Beats],
        done: &mut Done,
    ) -> Result<(), ScheduleError> {
        let rate = self.passage.rate;
        if let Some(tempo) = tempos.first() {
            writer.count_in(self.passage, number, first_step, tempo.checked_mul(rate)?)?;
        }
        let first_bar = done.bars;
        let mut beats = Beats::ZERO;
        for (stay, tempo) in tempos.iter().enumerate() {
            let tempo = tempo.checked_mul(rate)?;
            let last = stay + 1 == tempos.len();
            let mut stay_bars = 0;
            loop {
                let mut piece = self.piece()?;
                if self.turn_over(&piece) {
                    self.next_turn();
                    piece = self.piece()?;
                }
                let over = match self.plan.each {
                    Stay::Bars(bars) => piece.bar_line && stay_bars == bars,
                    Stay::Passes(passes) => {
                        let target = (stay as u32 + 1).saturating_mul(u32::from(passes));
                        self.reached(target, &piece, last)
                    }
                };
                if over {
                    break;
                }
                if piece.bar_line {
                    stay_bars += 1;
                    done.bars += 1;
                    self.turn_bars += 1;
                }
                let length = piece.to.checked_sub(self.cursor.at)?;
                let ostinato_from = match self.passage.ostinato_from {
                    Some(start) => start.checked_add(self.cursor.at)?,
                    None => beats,
                };
                let pass = done.passes + self.cursor.pass;
                let source = Source {
                    pass,
                    from: self.cursor.at,
                    ostinato_from,
                    turn: self.turn().map_or(TurnOf::Barform, |turn| turn.of),
                };
                // What comes before the first bar line belongs to its bar.
                let bar = done.bars.saturating_sub(1).max(first_bar);
                writer.music(number, first_step + stay, tempo, source, &piece, bar)?;
                beats = beats.checked_add(length)?;
                self.advance(&piece)?;
            }
            // A step begins a bar of its own.
            self.cursor.in_bar = Beats::ZERO;
        }
        done.passes += self.cursor.pass + u32::from(self.cursor.at.is_positive());
        Ok(())
    }

    fn turn(&self) -> Option<&Turn> {
        let turns = &self.plan.trading.as_ref()?.turns;
        turns.get(self.turn % turns.len().max(1))
    }

    /// Whether so many passes are over: on the first bar line of the next, so
    /// that a pickup still belongs to what it leads out of; at the very end at
    /// once.
    fn reached(&self, passes: u32, piece: &Piece, at_once: bool) -> bool {
        let here = self.cursor.pass;
        let lined = piece.bar_line || self.passage.bars_run_on;
        here > passes || (here == passes && (at_once || lined))
    }

    fn turn_over(&self, piece: &Piece) -> bool {
        match self.turn().map(|turn| turn.length) {
            None => false,
            Some(Stay::Bars(bars)) => piece.bar_line && self.turn_bars == bars,
            Some(Stay::Passes(passes)) => {
                let target = self.turn_from.pass + u32::from(passes);
                self.reached(target, piece, false)
            }
        }
    }

    fn next_turn(&mut self) {
        self.turn += 1;
        if self.turn().is_some_and(|turn| turn.of == TurnOf::Echo) {
            self.cursor = self.turn_from;
        } else {
            self.turn_from = self.cursor;
        }
        self.turn_bars = 0;
    }

    /// What comes next.
    fn piece(&self) -> Result<Piece, BeatsError> {
        let Cursor { pass, at, in_bar } = self.cursor;
        let (_, end) = self.passage.round(pass);
        if self.passage.bars_run_on {
            let meter = self.passage.meter();
            let start = at.checked_sub(in_bar)?;
            let bar_end = start.checked_add(meter.bar())?;
            return Ok(Piece {
                to: bar_end.min(end),
                bar: Bar {
                    start,
                    meter,
                    number: 1,
                },
                bar_end,
                bar_line: in_bar.is_zero(),
            });
        }
        let bars = &self.passage.bars;
        let next = bars.partition_point(|b| b.start <= at);
        let bar = next.checked_sub(1).and_then(|i| bars.get(i)).copied();
        let bar = bar.ok_or(BeatsError::Overflow)?;
        let bar_end = bars.get(next).map_or(self.passage.length, |b| b.start);
        Ok(Piece {
            to: bar_end.min(end),
            bar,
            bar_end,
            bar_line: bar.number > 0 && bar.start == at,
        })
    }

    fn advance(&mut self, piece: &Piece) -> Result<(), BeatsError> {
        let length = piece.to.checked_sub(self.cursor.at)?;
        let in_bar = self.cursor.in_bar.checked_add(length)?;
        let full = piece.to == piece.bar_end;
        self.cursor.in_bar = if full { Beats::ZERO } else { in_bar };
        self.cursor.at = piece.to;
        if piece.to == self.passage.round(self.cursor.pass).1 {
            self.cursor.pass += 1;
            self.cursor.at = self.passage.round(self.cursor.pass).0;
        }
        Ok(())
    }
}

/// Puts segments one after the other.
struct Writer<'p> {
    plan: &'p Plan,
    kit: &'p Kit,
    passages: &'p [Passage],
    segments: Vec<Segment>,
    /// Strokes and clicks so far.
    strokes: usize,
    at: Beats,
    now: Seconds,
}

impl Writer<'_> {
    fn count_in(
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
                start: self.at,
                length,
                begins: self.now.clone(),
                tempo,
                step,
                passage: number,
                source: None,
                bar_line: true,
                meter,
                silent: Silent::default(),
                layers: 0,
                clicks,
            })?;
        }
        Ok(())
    }

    fn music(
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
            start: self.at,
            length,
            begins: self.now.clone(),
            tempo,
            step,
            passage: number,
            source: Some(source),
            bar_line: piece.bar_line,
            meter: piece.bar.meter,
            silent,
            layers,
            clicks,
        })
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
