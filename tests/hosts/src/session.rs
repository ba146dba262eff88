//! A session in a host with habits: what is told for each block, and what must
//! be heard.

use num_traits::{ToPrimitive, Zero};

use crate::buffer::Buffer;
use crate::form::{Cycle, Exact, Sound, exact, ratio};
use crate::habits::{Personality, Song};
use crate::plan::{Dice, Plan};
use crate::slack::{LEARN_REPORTS, Moment};
use crate::stretch::{Known, Stretch};
use crate::telling::{step_of, tell};
use crate::told::{SongTime, Transport};

/// What is told, and what must be heard.
#[derive(Debug, Clone, PartialEq)]
pub struct Session {
    /// Length and transport of each block.
    pub blocks: Vec<(u32, Transport)>,
    /// All strokes, in no particular order.
    pub wants: Vec<Want>,
    /// Where notes are cut short, in order.
    pub cuts: Vec<Cut>,
}

/// Where a run ends.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Cut {
    /// Sample of the session.
    pub at: i64,
    /// Whether time stands from there on; otherwise it jumps.
    pub stops: bool,
}

/// A stroke.
#[derive(Debug, Clone, PartialEq)]
pub struct Want {
    /// Its true time, in samples of the session.
    pub time: f64,
    /// The first sample on which it may sound.
    pub first: i64,
    /// The last.
    pub last: i64,
    /// Whether it may lie outside of the run, so that it need not come.
    pub optional: bool,
    /// Five milliseconds more to either side.
    pub moved: Moved,
    /// What is heard.
    pub sound: Sound,
    /// How steady the line is there.
    pub steady: Option<Steady>,
}

/// Where a stroke is that has moved by a little more than it may, but is there.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Moved {
    /// The first sample on which it may sound then.
    pub first: i64,
    /// The last.
    pub last: i64,
    /// Whether that may be outside of the run.
    pub optional: bool,
}

impl Want {
    /// The same where it may have moved.
    pub(super) fn nearly(&self) -> Want {
        Want {
            first: self.moved.first,
            last: self.moved.last,
            optional: self.optional || self.moved.optional,
            ..self.clone()
        }
    }
}

/// A settled line: between two strokes of the same `line` the distance is right
/// to the sample, apart from what more reports have told meanwhile.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Steady {
    /// Number of the line.
    pub line: usize,
    /// What is not known of it, in samples.
    pub unknown: f64,
}

/// What a teller of positions remembers.
struct Reports<'a> {
    host: &'a Personality,
    plan: &'a Plan,
    rate_hz: u32,
    dice: Dice,
    lines: usize,
    /// Reports so far.
    heard: u32,
}

/// A plan in a host. `cycles` all start at beat 0; the format tells positions in
/// steps of `resolution_beats`.
pub fn session(
    plan: &Plan,
    host: &Personality,
    cycles: &[Cycle],
    rate_hz: u32,
    resolution_beats: f64,
) -> Session {
    let buffers = tell(plan, host, rate_hz);
    let mut out = Session {
        blocks: Vec::with_capacity(buffers.len()),
        wants: Vec::new(),
        cuts: Vec::new(),
    };
    let mut reports = Reports {
        host,
        plan,
        rate_hz,
        dice: Dice::new(plan.seed ^ 1),
        lines: 0,
        heard: 0,
    };
    let mut told: Vec<(f64, (f64, f64))> = buffers.iter().map(|b| reports.tell(b)).collect();
    for number in 1..buffers.len() {
        if buffers[number - 1].held {
            // The very same is told again.
            told[number].0 = told[number - 1].0;
        }
    }
    for (buffer, (position, _)) in buffers.iter().zip(&told) {
        let transport = reports.transport(buffer, *position);
        out.blocks
            .extend(buffer.parts.iter().map(|frames| (*frames, transport)));
    }
    let mut number = 0;
    while number < buffers.len() {
        if !buffers[number].plays {
            number += 1;
            continue;
        }
        let more = buffers[number + 1..]
            .iter()
            .take_while(|buffer| buffer.plays && !buffer.breaks)
            .count();
        let range = number..number + 1 + more;
        number = range.end;
        let stretch = reports.look_into(&buffers[range.clone()], &told[range]);
        let last = &stretch.buffers[more];
        out.cuts.push(Cut {
            at: last.start + i64::from(last.frames()),
            stops: buffers.get(number).is_none_or(|next| !next.plays),
        });
        stretch.want(cycles, resolution_beats, &mut out.wants);
    }
    out
}

impl Reports<'_> {
    fn rate(&self) -> f64 {
        f64::from(self.rate_hz)
    }

    /// The position that is told, and how far off it may be.
    fn tell(&mut self, buffer: &Buffer) -> (f64, (f64, f64)) {
        let step = float(&buffer.slope.step);
        let chance = self.dice.either_side();
        self.host
            .position
            .tell(&buffer.told, step, self.rate(), chance)
    }

    fn transport(&self, buffer: &Buffer, position_beats: f64) -> Transport {
        let rate = self.rate();
        Transport {
            playing: buffer.plays,
            position_beats,
            tells_beats: self.host.tells_beats,
            song: match self.host.song {
                Song::Whole => SongTime::At(float(&buffer.song.floor())),
                Song::Absent => SongTime::Absent,
                Song::Millisecond => {
                    let ms = (float(&buffer.song) / rate * 1000.0).round();
                    SongTime::At(ms / 1000.0 * rate)
                }
            },
            tempo_bpm: buffer.tempo_bpm,
            cycle: buffer.cycle,
            ..Transport::stopped()
        }
    }

    /// Goes through a stretch as a listener would who knows the truth.
    fn look_into<'b>(&mut self, buffers: &'b [Buffer], told: &[(f64, (f64, f64))]) -> Stretch<'b> {
        let first = &buffers[0];
        let early_beats = if first.held {
            // The tempo may be told a block late, too.
            let told = step_of(first.tempo_bpm, self.rate_hz);
            f64::from(first.frames()) * float((&first.slope.step).max(&told))
        } else {
            0.0
        };
        let start = exact(told[0].0);
        let on_the_beat = start == first.told && start.is_integer();
        // What is told as a place where users put things is taken for one.
        let mistaken = start != first.told && (&start * ratio(4, 1)).is_integer();
        let by_the_sample = self.plan.one_tempo
            && self.host.song == Song::Whole
            && !mistaken
            && step_of(first.tempo_bpm, self.rate_hz) == first.slope.step;
        let mut at = Moment {
            step: 0.0,
            since: 0.0,
            reports: 0,
            all_reports: 0,
            rate_hz: self.rate(),
            behind: f64::INFINITY,
            ahead: f64::INFINITY,
            blur: 0.0,
            single: 0.0,
            anchored: false,
            astray: 0.0,
            misled: false,
            drift: 0.0,
            rounded_turn: false,
            turned: false,
        };
        self.lines += 1;
        let mut change = first.start;
        // Until when strokes may have come too early, and by how much.
        let mut led = (i64::MIN, 0.0f64);
        let mut before: Option<&Buffer> = None;
        let mut told_step = Exact::zero();
        let mut known = Vec::with_capacity(buffers.len());
        for (buffer, (position, (less, more))) in buffers.iter().zip(told) {
            if before.is_none_or(|before| before.tempo_bpm != buffer.tempo_bpm) {
                told_step = step_of(buffer.tempo_bpm, self.rate_hz);
            }
            if let Some(before) = before
                && !(before.tempo_bpm == buffer.tempo_bpm
                    && before.slope.step == buffer.slope.step
                    && even(buffer))
            {
                change = buffer.start;
                at.reports = 0;
                (at.behind, at.ahead) = (f64::INFINITY, f64::INFINITY);
                self.lines += 1;
            }
            // The place by the sample is rounded anew at each turn.
            self.lines += usize::from(buffer.turns());
            at.rounded_turn |= buffer.rounded_turn;
            at.step = float(&buffer.slope.step);
            at.since = (buffer.start - change) as f64;
            // Where the first block is told twice, nobody knows which is right.
            let by_the_sample =
                by_the_sample && (self.host.position.is_on_ticks() || self.heard >= LEARN_REPORTS);
            // Where a loop drops fractions, the start tells no more.
            let from_start = on_the_beat && change == first.start && !at.rounded_turn;
            at.anchored = !first.held && (by_the_sample || from_start);
            self.see(&mut at, buffer, *position, (*less, *more));
            let astray = astray(buffer, &told_step);
            at.reports += 1;
            self.heard += 1;
            at.all_reports = self.heard;
            if astray == 0.0 && at.has_settled() {
                at.drift = 0.0;
            }
            at.drift += astray;
            at.misled |= astray > 0.0;
            if buffer.start >= led.0 {
                led.1 = 0.0;
            }
            at.astray = astray.max(led.1);
            if astray > 0.0 {
                let end = buffer.start + i64::from(buffer.frames());
                led = (led.0.max(end + astray.ceil() as i64), led.1.max(astray));
            }
            let settled = at.has_settled() || self.host.position.is_sharp() && early_beats == 0.0;
            known.push(Known {
                slack: self.host.slack(&at),
                steady: (settled && !at.misled && !at.rounded_turn).then(|| Steady {
                    line: self.lines,
                    unknown: (at.behind + at.ahead) / at.step,
                }),
            });
            before = Some(buffer);
        }
        Stretch {
            buffers,
            known,
            first_told: exact(told[0].0),
            early_beats,
            near: i64::from(self.rate_hz / 200),
        }
    }

    /// Takes one more report into account: a line that lies further behind or
    /// ahead than that would not fit.
    fn see(&self, at: &mut Moment, buffer: &Buffer, told: f64, (less, more): (f64, f64)) {
        if self.host.position.is_sharp() {
            (at.behind, at.ahead) = (0.0, 0.0);
            return;
        }
        if buffer.turns() || buffer.rounded_turn {
            // A host may drop the fraction of a sample: reports tell anew.
            at.behind += at.step;
            at.ahead += at.step;
        }
        let off = float(&(exact(told) - &buffer.told));
        at.blur = less + more;
        let half = at.blur / 2.0;
        // Rounded down, the report is at most a step behind; taken for rounded to
        // the nearest, half a step to either side.
        let most = if self.host.position.is_down() {
            at.blur
        } else {
            half
        };
        at.single = most;
        at.behind = at.behind.min(most);
        at.ahead = at.ahead.min(most);
        if self.heard >= LEARN_REPORTS {
            at.behind = at.behind.min(half - off);
            at.ahead = at.ahead.min(most + off);
        }
    }
}

/// Whether a block has one tempo.
fn even(buffer: &Buffer) -> bool {
    let step = &buffer.slope.step;
    buffer.legs.iter().all(|leg| leg.step == *step)
}

/// How far the told tempo leads from the line within a block, in samples.
fn astray(buffer: &Buffer, told_step: &Exact) -> f64 {
    if even(buffer) && buffer.slope.step == *told_step {
        return 0.0;
    }
    let mut line = Exact::zero();
    let mut least = told_step.clone();
    let mut most = Exact::zero();
    for leg in &buffer.legs {
        line += &leg.to - &leg.from;
        let told = (leg.time_of(&leg.to) - ratio(buffer.start, 1)) * told_step;
        let off = &line - told;
        most = most.max(if off < Exact::zero() { -off } else { off });
        least = least.min(leg.step.clone());
    }
    float(&(most / least))
}

pub(super) fn float(value: &Exact) -> f64 {
    value.to_f64().expect("a number that f64 can hold")
}
