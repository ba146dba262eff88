//! From passages and tempos to segments: bar by bar, pass by pass, turn by turn.

use super::write::Writer;
use super::{ScheduleError, Seconds, Segment, Source};
use crate::passage::Passage;
use crate::plan::{Plan, Stay, Turn, TurnOf};
use barform_score::music::{Beats, BeatsError, Kit};
use barform_score::timeline::Bar;

/// All segments, their length and their end.
pub(super) fn segments(
    plan: &Plan,
    kit: &Kit,
    passages: &[Passage],
    tempos: &[Beats],
) -> Result<(Vec<Segment>, Beats, Seconds), ScheduleError> {
    let mut writer = Writer::new(plan, kit, passages);
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
pub(super) struct Piece {
    pub to: Beats,
    /// The bar it lies in, and its end, in beats of the passage.
    pub bar: Bar,
    pub bar_end: Beats,
    pub bar_line: bool,
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
