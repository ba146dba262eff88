//! A host with habits goes through a plan: its blocks, where time truly is in
//! each, and what it has in mind to tell before it rounds.

use num_traits::{ToPrimitive, Zero};

use crate::buffer::{Buffer, make_flags_late, make_stale, tell_tempos};
use crate::form::{Exact, exact, ratio};
use crate::habits::{Lag, Personality, Standing, Start, Turn};
use crate::plan::{Course, Dice, Plan, Run, Sizes, short};
use crate::time::{Slope, reaches, run_on};

/// A tempo that moves within a block does so in so many even parts.
const RAMP_PARTS: u32 = 8;

/// A jump is at least so far, in beats, besides what blocks and tempo could
/// explain: much further than any rounding.
const JUMP_BEATS: f64 = 0.125;

/// Where a habit needs room to be told from a turn, a loop is at least as long
/// as so many blocks.
const LOOP_BLOCKS: f64 = 4.0;

/// Goes through a plan.
pub(super) struct Teller<'a> {
    host: &'a Personality,
    rate_hz: u32,
    dice: Dice,
    out: Vec<Buffer>,
    sample: i64,
    line: Exact,
    song: Exact,
    /// What the line went by last.
    slope: Slope,
    /// Whether it starts anew with the next block, or has been rounded before it.
    breaks: bool,
    rounded_turn: bool,
}

/// Beats per sample.
pub(super) fn step_of(tempo_bpm: f64, rate_hz: u32) -> Exact {
    exact(tempo_bpm) / ratio(60 * i64::from(rate_hz), 1)
}

/// All blocks of a session.
pub(super) fn tell(plan: &Plan, host: &Personality, rate_hz: u32) -> Vec<Buffer> {
    let mut teller = Teller {
        host,
        rate_hz,
        dice: Dice::new(plan.seed),
        out: Vec::new(),
        sample: 0,
        line: Exact::zero(),
        song: Exact::zero(),
        slope: Slope {
            frames: 0,
            step: step_of(120.0, rate_hz),
        },
        breaks: false,
        rounded_turn: false,
    };
    let mut before: Option<Run> = None;
    for run in &plan.runs {
        let run = teller.fitted(plan, run);
        let stands = before.is_none_or(|before| !teller.jumps(&before, &run));
        teller.play(plan, &run, stands);
        before = Some(run);
    }
    teller.rest(&Exact::zero(), 120.0);
    let mut buffers = teller.out;
    if host.lag == Lag::Stale {
        make_stale(&mut buffers);
    }
    if host.start == Start::FlagLate {
        make_flags_late(&mut buffers);
    }
    tell_tempos(&mut buffers, host);
    buffers
}

impl Teller<'_> {
    /// The run as this host can have it: one tempo, even blocks, a loop that is
    /// long enough.
    fn fitted(&self, plan: &Plan, run: &Run) -> Run {
        let first = &plan.runs[0];
        let block_beats = self.block_beats(run);
        let mut run = run.clone();
        if plan.one_tempo || !self.host.tells_beats {
            run.tempo = Course::Even(first.tempo.first_bpm());
        }
        if !self.host.tells_beats {
            run.cycle = None;
        }
        if self.host.lag == Lag::Stale {
            run.sizes = Sizes::Even(first.sizes.most());
        }
        // Whether a start just at a loop's end is inside, rounding blurs.
        if let Some((start, beats)) = run.cycle
            && !self.host.position.is_sharp()
            && (run.from_beats - start - beats).abs() < JUMP_BEATS
        {
            run.cycle = None;
        }
        if let Some((_, beats)) = &mut run.cycle {
            let host = self.host;
            let needs_room = !host.tells_loop
                || host.turn == Turn::Late
                || host.lag != Lag::None
                || host.start != Start::Plain;
            if needs_room {
                let room = LOOP_BLOCKS * block_beats;
                *beats = beats.max((4.0 * room).ceil() / 4.0);
            }
            if !host.position.is_sharp() {
                // How often a loop turned within a block, rounding blurs.
                *beats = beats.max(0.5).max((4.0 * block_beats).ceil() / 4.0);
            }
        }
        run
    }

    /// The longest block, or the latency if that is longer, in beats.
    fn block_beats(&self, run: &Run) -> f64 {
        let latency = match self.host.lag {
            Lag::Latency(samples) => samples.unsigned_abs(),
            _ => 0,
        };
        let samples = f64::from(run.sizes.most().max(latency));
        samples * run.tempo.most_bpm() / (60.0 * f64::from(self.rate_hz))
    }

    /// Whether a run can be a jump from the one before it: far enough from where
    /// that would go on, loop or not.
    fn jumps(&self, before: &Run, run: &Run) -> bool {
        let here = self.line.to_f64().expect("a position");
        let margin = JUMP_BEATS + 3.0 * (self.block_beats(before) + self.block_beats(run));
        let far = |turn: f64| (run.from_beats - here - turn).abs() > margin;
        let turns = [before.cycle, run.cycle];
        let mut turns = turns.iter().flatten().map(|(_, beats)| *beats);
        run.jumps && far(0.0) && turns.all(|beats| far(beats) && far(-beats))
    }

    fn play(&mut self, plan: &Plan, run: &Run, stands: bool) {
        let first_bpm = run.tempo.first_bpm();
        let first_step = step_of(first_bpm, self.rate_hz);
        let lead = match self.host.lag {
            Lag::Latency(samples) => ratio(samples.into(), 1) * &first_step,
            _ => Exact::zero(),
        };
        let from = exact(run.from_beats) - &lead;
        if stands {
            self.rest(&from, first_bpm);
        }
        self.song = &from / &first_step;
        if !plan.one_tempo && self.host.tells_beats {
            // A quarter of a minute of something else.
            self.song += ratio(15 * i64::from(self.rate_hz), 1);
        }
        self.line = from;
        let cycle = run
            .cycle
            .map(|(from, beats)| (exact(from), exact(from + beats)));
        (self.breaks, self.rounded_turn) = (true, false);
        // Samples of a block that a loop's end has cut short.
        let mut rest_of_block = 0;
        // Blocks until a turn that is not told shows.
        let mut until_turn = 0;
        // What the next position is told past a loop's end.
        let mut past = Exact::zero();
        let repeats = match self.host.start {
            Start::Repeated => stands,
            Start::RepeatedAfterJump => !stands,
            Start::Plain | Start::FlagLate => false,
        };
        if repeats {
            let frames = self.size(run.sizes);
            let slopes = self.slopes(first_bpm, first_bpm, frames);
            let mut buffer = self.buffer(run, &slopes, [first_bpm; 3]);
            buffer.held = true;
            self.push(buffer);
        }
        for number in 0..run.blocks {
            let part = |number: u32| f64::from(number) / f64::from(run.blocks);
            let (first, last) = run.tempo.over(part(number), part(number + 1));
            let mut frames = rest_of_block;
            if frames == 0 {
                frames = self.size(run.sizes);
            }
            let mut slopes = self.slopes(first, last, frames);
            let splits = matches!(self.host.turn, Turn::Split | Turn::SplitWhole);
            let turn = cycle.as_ref().filter(|_| splits);
            let turn = turn.and_then(|(_, end)| reaches(&self.line, &slopes, &(end - &lead)));
            if let Some(turn) = turn {
                let cut = turn.ceil().to_integer().to_u32().expect("a block");
                if cut < frames {
                    shorten(&mut slopes, cut);
                    let even = matches!(run.sizes, Sizes::Even(_));
                    rest_of_block = if even { frames - cut } else { 0 };
                } else {
                    rest_of_block = 0;
                }
            } else {
                rest_of_block = 0;
            }
            let before = self.line.clone();
            let mut buffer = self.buffer(run, &slopes, [first, mean(first, last), last]);
            let step = slopes[slopes.len() - 1].step.clone();
            if !past.is_zero() {
                buffer.told += &past;
                buffer.song += &past / &step;
                past = Exact::zero();
            }
            let whole = self.host.turn == Turn::SplitWhole;
            buffer.follows = cycle.clone().filter(|_| self.host.tells_loop && !whole);
            let follows = buffer.follows.as_ref();
            let (mut legs, back) = run_on(&mut self.line, self.sample, &slopes, follows);
            self.song += ratio(i64::from(buffer.frames()), 1) - &back;
            if let Some((start, end)) = &cycle
                && before < *end
            {
                let beats = end - start;
                if !back.is_zero() && self.host.turn == Turn::Late {
                    past = beats;
                } else if follows.is_none() && self.line >= *end {
                    until_turn = 1 + u32::from(self.host.turn == Turn::Late);
                    if self.host.tells_loop {
                        for leg in &mut legs {
                            leg.to = leg.to.clone().min(end.clone());
                        }
                    }
                }
            }
            buffer.legs = legs;
            buffer.end = self.line.clone();
            self.push(buffer);
            if until_turn > 0
                && let Some((start, end)) = &cycle
            {
                until_turn -= 1;
                if until_turn == 0 {
                    let turned = if whole {
                        start.clone()
                    } else {
                        &self.line - (end - start)
                    };
                    self.song -= (&self.line - &turned) / &step;
                    self.line = turned;
                    self.breaks = !self.host.tells_loop;
                    self.rounded_turn = self.host.tells_loop;
                    if let Some(last) = self.out.last_mut().filter(|_| self.host.tells_loop) {
                        last.end.clone_from(&self.line);
                    }
                }
            }
        }
    }

    /// Two blocks in which time stands, before it starts at `next`.
    fn rest(&mut self, next: &Exact, tempo_bpm: f64) {
        let frames = match (self.host.lag, self.out.last()) {
            (Lag::Stale, Some(last)) => last.frames(),
            _ => self.dice.up_to(64),
        };
        let stood = self.line.clone();
        for number in 0..2 {
            let slopes = [Slope {
                frames,
                step: self.slope.step.clone(),
            }];
            let tempo_bpm = match self.out.last() {
                Some(last) if number == 0 => last.tempos_bpm[2],
                _ => tempo_bpm,
            };
            let follows = self.out.last().and_then(|last| last.follows.clone());
            let cycle = self.out.last().and_then(|last| last.cycle);
            let mut line = stood.clone();
            let (legs, _) = run_on(&mut line, self.sample, &slopes, follows.as_ref());
            let moved = ratio(i64::from(frames), 1) * &self.slope.step;
            let late = self.host.start == Start::FlagLate;
            let told = match self.host.standing {
                Standing::Zero if number == 1 || !late => Exact::zero(),
                Standing::Frozen if number == 1 => next.clone(),
                Standing::Running if number == 1 => &stood + moved,
                _ => stood.clone(),
            };
            let buffer = Buffer {
                start: self.sample,
                parts: vec![frames],
                plays: false,
                breaks: std::mem::take(&mut self.breaks),
                held: false,
                rounded_turn: std::mem::take(&mut self.rounded_turn),
                song: &told / &self.slope.step,
                told,
                legs,
                slope: slopes[0].clone(),
                end: line,
                tempos_bpm: [tempo_bpm; 3],
                tempo_bpm,
                cycle: cycle.filter(|_| number == 0),
                follows,
            };
            self.push(buffer);
        }
    }

    fn size(&mut self, sizes: Sizes) -> u32 {
        match sizes {
            Sizes::Even(frames) => frames,
            Sizes::UpTo(frames) => self.dice.up_to(frames),
        }
    }

    fn slopes(&self, first_bpm: f64, last_bpm: f64, frames: u32) -> Vec<Slope> {
        let step = |bpm: f64| match self.out.last() {
            Some(last) if last.plays && last.tempos_bpm == [bpm; 3] => last.slope.step.clone(),
            _ => step_of(bpm, self.rate_hz),
        };
        if first_bpm == last_bpm || frames < RAMP_PARTS {
            let step = step(mean(first_bpm, last_bpm));
            return vec![Slope { frames, step }];
        }
        let edge = |part: u32| part * frames / RAMP_PARTS;
        (0..RAMP_PARTS)
            .map(|part| {
                let way = (f64::from(part) + 0.5) / f64::from(RAMP_PARTS);
                Slope {
                    frames: edge(part + 1) - edge(part),
                    step: step(short(first_bpm + (last_bpm - first_bpm) * way)),
                }
            })
            .collect()
    }

    /// A block in which time runs, at the line as it is.
    fn buffer(&mut self, run: &Run, slopes: &[Slope], tempos_bpm: [f64; 3]) -> Buffer {
        let frames: u32 = slopes.iter().map(|slope| slope.frames).sum();
        let cycle = run.cycle.filter(|_| self.host.tells_loop);
        Buffer {
            start: self.sample,
            parts: self.parts(frames),
            plays: true,
            breaks: std::mem::take(&mut self.breaks),
            held: false,
            rounded_turn: std::mem::take(&mut self.rounded_turn),
            told: self.line.clone(),
            song: self.song.clone(),
            legs: Vec::new(),
            slope: slopes[slopes.len() - 1].clone(),
            end: self.line.clone(),
            tempos_bpm,
            tempo_bpm: 0.0,
            cycle: cycle.map(|(from, beats)| (from, from + beats)),
            follows: None,
        }
    }

    fn parts(&mut self, frames: u32) -> Vec<u32> {
        let mut parts = Vec::new();
        let mut rest = frames;
        if let Lag::Parts(most) = self.host.lag {
            for _ in 1..self.dice.up_to(most) {
                if rest > 1 {
                    let part = self.dice.up_to(rest - 1);
                    parts.push(part);
                    rest -= part;
                }
            }
        }
        parts.push(rest);
        parts
    }

    fn push(&mut self, buffer: Buffer) {
        self.sample += i64::from(buffer.frames());
        self.slope = buffer.slope.clone();
        self.out.push(buffer);
    }
}

/// The tempo half-way between two.
fn mean(first_bpm: f64, last_bpm: f64) -> f64 {
    if first_bpm == last_bpm {
        first_bpm
    } else {
        short((first_bpm + last_bpm) / 2.0)
    }
}

/// Keeps the first `frames` samples.
fn shorten(slopes: &mut Vec<Slope>, frames: u32) {
    let mut left = frames;
    slopes.retain_mut(|slope| {
        slope.frames = slope.frames.min(left);
        left -= slope.frames;
        slope.frames > 0
    });
}
