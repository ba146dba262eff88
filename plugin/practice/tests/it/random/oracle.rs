//! The schedule worked out from the descriptions, by place and not step by step:
//! a note's beat on an endless line of passes tells its bar, its tempo step, its
//! turn and its layer.

use super::{Asked, Music, Play, Q, Slot, q};
use num_traits::{Signed, ToPrimitive, Zero};

/// Grace notes as the player has them by default, in microseconds.
const GRACE_US: i64 = 25_000;

#[derive(Debug, Clone, PartialEq, Eq, PartialOrd, Ord)]
pub struct Note {
    /// Seconds.
    pub at: Q,
    pub key: u8,
    pub velocity: u8,
    /// 0 hands, 1 feet, 2 click, 3 ostinato.
    pub track: u8,
    /// Grace notes lie near, not on, exact places.
    pub grace: bool,
}

/// The whole track.
pub struct Worked {
    pub notes: Vec<Note>,
    pub ends: Q,
    /// Seconds of every change of tempo step.
    pub steps: Vec<Q>,
    /// Seconds of all bar lines.
    pub lines: Vec<Q>,
}

/// A stroke in a loop: beat, slot, letter.
type Placed = (Q, (char, u8, u8), usize);

/// What goes round.
struct Loop {
    length: Q,
    strokes: Vec<Placed>,
    /// Bar lines.
    lines: Vec<Q>,
    /// Bars: where each is counted from, where it begins and ends here.
    bars: Vec<[Q; 3]>,
    run_on: bool,
    /// Beat of the ostinato at the start of each pass.
    ostinato: Option<Q>,
    rate: Q,
}

/// Velocities of ghost, normal and accent in the General MIDI kit as it comes.
const LEVELS: [u8; 3] = [32, 84, 118];

fn cell_strokes(slots: &[Slot], from: &Q, length: &Q, letter: usize) -> Vec<Placed> {
    let count = slots.len() as i64;
    let at = |n: usize| from + length * q(n as i64, count);
    let strokes = slots.iter().enumerate();
    strokes
        .filter_map(|(n, s)| s.map(|s| (at(n), s, letter)))
        .collect()
}

/// Strokes, starts and lengths of letters, bars.
type Form = (Vec<Placed>, Vec<(Q, Q)>, Vec<[Q; 3]>);

/// The form `times` times in a row.
fn written(music: &Music, times: i64) -> Form {
    let (mut strokes, mut places, mut bars) = (Vec::new(), Vec::new(), Vec::new());
    let mut at = q(0, 1);
    for time in 0..times {
        for n in &music.form {
            let cell = &music.cells[*n];
            let length = q(cell.length.0, cell.length.1);
            strokes.extend(cell_strokes(&cell.slots, &at, &length, *n));
            places.push((at.clone(), length.clone()));
            at += length;
        }
        let start = music.length() * q(time, 1);
        let mut line = &start + q(music.pickup, 1);
        // A pickup is counted from the bar line that it does not have.
        bars.push([&line - music.bar(), start, line.clone()]);
        while line < at {
            let next = &line + music.bar();
            bars.push([line.clone(), line, next.clone().min(at.clone())]);
            line = next;
        }
    }
    (strokes, places, bars)
}

fn looped(music: &Music, play: &Play) -> Loop {
    let (strokes, places, bars) = written(music, 2);
    let cut = |from: Q, to: Q, rate: i64| {
        let inside = |at: &Q| *at >= from && *at < to;
        let strokes = strokes.iter().filter(|s| inside(&s.0));
        let lines = bars.iter().filter(|b| b[0] == b[1] && inside(&b[0]));
        let mut lines: Vec<Q> = lines.map(|b| &b[0] - &from).collect();
        let here = bars.iter().filter(|b| b[2] > from && b[1] < to);
        let within = |at: &Q| at.clone().clamp(from.clone(), to.clone()) - &from;
        let mut bars: Vec<[Q; 3]> = here
            .map(|[line, a, b]| [line - &from, within(a), within(b)])
            .collect();
        if lines.is_empty() {
            lines.push(q(0, 1));
            bars = vec![[q(0, 1), q(0, 1), &to - &from]];
        }
        Loop {
            length: &to - &from,
            strokes: strokes.map(|(at, s, l)| (at - &from, *s, *l)).collect(),
            lines,
            bars,
            run_on: false,
            ostinato: Some(from),
            rate: q(rate, 100),
        }
    };
    match play {
        Play::Form => Loop {
            ostinato: None,
            ..cut(q(0, 1), music.length(), 100)
        },
        Play::Letter(n) => {
            let cell = &music.cells[*n];
            let length = q(cell.length.0, cell.length.1);
            Loop {
                strokes: cell_strokes(&cell.slots, &q(0, 1), &length, *n),
                length,
                lines: Vec::new(),
                bars: Vec::new(),
                run_on: true,
                ostinato: None,
                rate: q(1, 1),
            }
        }
        Play::Bars(from, to) => {
            let line = |n: u32| q(music.pickup, 1) + music.bar() * q(i64::from(n) - 1, 1);
            let end = line(to + 1).min(music.length());
            cut(line(*from), end, 100)
        }
        Play::Join(at, beats, rate) => {
            // The first place where these two letters come in a row.
            let (count, form) = (music.form.len(), &music.form);
            let pair = |i: usize| (form[i], form[(i + 1) % count]);
            let at = (0..count).find(|i| pair(*i) == pair(*at)).unwrap();
            let beats = q(beats.0, beats.1);
            let (start, length) = &places[at];
            let middle = start + length;
            let from = &middle - beats.clone().min(length.clone());
            let to = &middle + beats.min(places[at + 1].1.clone());
            cut(from, to, *rate)
        }
    }
}

/// A run: beats from its top, and what holds from where on.
struct Run {
    /// Where each step begins and its tempo.
    stays: Vec<(Q, Q)>,
    end: Q,
    /// Bar lines.
    lines: Vec<Q>,
}

fn run(music: &Music, going: &Loop, asked: &Asked, tempos: &[Q]) -> Run {
    let length = &going.length;
    let passes = i64::from(asked.passes);
    let count = tempos.len() as i64;
    let (mut lines, mut starts) = (Vec::new(), vec![q(0, 1)]);
    let end;
    if going.run_on {
        let stay = match asked.bars {
            Some(bars) => music.bar() * q(i64::from(bars), 1),
            None => length * q(passes, 1),
        };
        for n in 0..count {
            let (from, to) = (&stay * q(n, 1), &stay * q(n + 1, 1));
            let mut line = from.clone();
            while line < to {
                lines.push(line.clone());
                line += music.bar();
            }
            if n > 0 {
                starts.push(from);
            }
        }
        end = stay * q(count, 1);
    } else {
        // Enough passes for any of the plans.
        let enough = match asked.bars {
            Some(bars) => i64::from(bars) * count + 1,
            None => passes * count,
        };
        for pass in 0..=enough {
            lines.extend(going.lines.iter().map(|l| l + length * q(pass, 1)));
        }
        match asked.bars {
            Some(bars) => {
                let at = |n: i64| lines[usize::try_from(n * i64::from(bars)).unwrap()].clone();
                starts.extend((1..count).map(at));
                end = at(count);
            }
            None => {
                let first = &going.lines[0];
                starts.extend((1..count).map(|n| length * q(n * passes, 1) + first));
                end = length * q(count * passes, 1);
            }
        }
        lines.retain(|l| *l < end);
    }
    let stays = starts.into_iter().zip(tempos.iter().cloned()).collect();
    Run { stays, end, lines }
}

impl Run {
    /// Seconds from the run's top.
    fn seconds(&self, at: &Q) -> Q {
        let mut sum = q(0, 1);
        for (n, (from, tempo)) in self.stays.iter().enumerate() {
            let to = self
                .stays
                .get(n + 1)
                .map_or(&self.end, |next| &next.0)
                .min(at);
            if to > from {
                sum += (to - from) * q(60, 1) / tempo;
            }
        }
        sum
    }

    /// Bar of a beat, from 0; what comes before the first line belongs to it.
    fn bar(&self, at: &Q) -> usize {
        self.lines.partition_point(|l| l <= at).saturating_sub(1)
    }
}

fn pulse(music: &Music) -> Q {
    let compound = music.meter.1 >= 8 && music.meter.0 > 3 && music.meter.0 % 3 == 0;
    q(if compound { 12 } else { 4 }, music.meter.1)
}

/// Clicks of a bar from `line` on between two beats: beat and kind (0 bar line, 1
/// beat, 2 between).
fn clicks(music: &Music, line: &Q, from: &Q, to: &Q, fine: Option<u8>) -> Vec<(Q, u8)> {
    let mut found = Vec::new();
    let step = fine.map_or_else(|| pulse(music), |n| q(1, i64::from(n)));
    for step in [pulse(music), step] {
        let mut at = line.clone();
        while at < *to {
            let place = &at - line;
            let kind = if place.is_zero() {
                0
            } else if (place / pulse(music)).is_integer() {
                1
            } else {
                2
            };
            if at >= *from {
                found.push((at.clone(), kind));
            }
            at += &step;
        }
    }
    found.sort();
    found.dedup();
    found
}

/// The whole track.
pub fn worked(music: &Music, asked: &Asked) -> Worked {
    let going = looped(music, &asked.play);
    let mut tempos: Vec<Q> = asked
        .tempos
        .iter()
        .map(|t| q(t.0, t.1) * &going.rate)
        .collect();
    if asked.down {
        let down: Vec<Q> = tempos.iter().rev().skip(1).cloned().collect();
        tempos.extend(down);
    }
    let mut track = Worked {
        notes: Vec::new(),
        ends: q(0, 1),
        steps: Vec::new(),
        lines: Vec::new(),
    };
    let (mut passes_before, mut bars_before) = (0, 0);
    let size = if asked.every_step { 1 } else { tempos.len() };
    for tempos in tempos.chunks(size) {
        let run = run(music, &going, asked, tempos);
        let top = counted_in(music, &going, asked, &tempos[0], &mut track);
        let mut music_of = InRun {
            music,
            going: &going,
            asked,
            run: &run,
            top: top.clone(),
            passes_before,
            bars_before,
            track: &mut track,
        };
        music_of.all();
        passes_before += (&run.end / &going.length)
            .ceil()
            .to_integer()
            .to_u64()
            .unwrap();
        bars_before += run.lines.len();
        track.ends = &top + run.seconds(&run.end);
        track
            .steps
            .extend(run.stays.iter().map(|(from, _)| &top + run.seconds(from)));
        track
            .lines
            .extend(run.lines.iter().map(|l| &top + run.seconds(l)));
    }
    track.notes.sort();
    track
}

/// The count-in; returns the second at which the music begins.
fn counted_in(music: &Music, going: &Loop, asked: &Asked, tempo: &Q, track: &mut Worked) -> Q {
    let start = track.ends.clone();
    if asked.count_in == 0 {
        return start;
    }
    let bars = i64::from(asked.count_in);
    let mut lengths = vec![music.bar(); asked.count_in.into()];
    let mut pickup = going.lines.first().cloned().unwrap_or_else(|| q(0, 1));
    while pickup >= music.bar() {
        pickup -= music.bar();
    }
    if pickup.is_positive() {
        lengths.push(music.bar() - pickup);
    }
    let mut at = q(0, 1);
    for (n, length) in lengths.iter().enumerate() {
        let fine = match n as i64 + 1 >= bars {
            true => asked.count_last.or(asked.click_on),
            false => asked.click_on,
        };
        let to = &at + length;
        for (beat, kind) in clicks(music, &at, &at, &to, fine) {
            let second = &start + beat * q(60, 1) / tempo;
            track.click(asked, second, kind, 100);
        }
        track.lines.push(&start + &at * q(60, 1) / tempo);
        at = to;
    }
    start + at * q(60, 1) / tempo
}

impl Worked {
    fn click(&mut self, asked: &Asked, at: Q, kind: u8, percent: u64) {
        let (key, velocity) = [(34, 118), (33, 84), (33, 32)][usize::from(kind)];
        // Nearest whole number, ties up.
        let velocity = (velocity * percent * 2 + 100) / 200;
        if !asked.click_off && velocity > 0 {
            self.notes.push(Note {
                at,
                key,
                velocity: velocity as u8,
                track: 2,
                grace: false,
            });
        }
    }
}

/// The music of a run.
struct InRun<'a> {
    music: &'a Music,
    going: &'a Loop,
    asked: &'a Asked,
    run: &'a Run,
    top: Q,
    passes_before: u64,
    bars_before: usize,
    track: &'a mut Worked,
}

impl InRun<'_> {
    fn all(&mut self) {
        let passes = (&self.run.end / &self.going.length).ceil().to_integer();
        for pass in 0..passes.to_i64().unwrap() {
            let start = &self.going.length * q(pass, 1);
            for (at, stroke, letter) in self.going.strokes.clone() {
                self.stroke(&(&start + at), stroke, letter);
            }
            if let Some(from) = &self.going.ostinato {
                let end = &start + &self.going.length;
                self.ostinato(&(&start - from), &start, &end);
            }
        }
        if self.going.ostinato.is_none() {
            self.ostinato(&q(0, 1), &q(0, 1), &self.run.end.clone());
        }
        self.click();
    }

    fn pass(&self, at: &Q) -> u64 {
        (at / &self.going.length)
            .floor()
            .to_integer()
            .to_u64()
            .unwrap()
    }

    /// What a gap silences at a beat.
    fn silenced(&self, at: &Q, what: &str) -> bool {
        let Some((silent, of, grow, parts)) = &self.asked.gaps else {
            return false;
        };
        let bar = self.bars_before + self.run.bar(at);
        let of = usize::from(*of);
        let wanted = usize::from(*silent) + bar / of * usize::from(*grow);
        let silent = wanted.min((of - 1).max(usize::from(*silent)));
        let last_ones = bar % of + silent >= of;
        last_ones && parts.iter().any(|p| *p == what || *p == "all")
    }

    fn layered(&self, at: &Q, holds: impl Fn(&str) -> bool) -> bool {
        let pass = self.passes_before + self.pass(at);
        let heard = 1 + (pass / u64::from(self.asked.every)) as usize;
        let layers = &self.asked.layers;
        layers.is_empty() || layers.iter().take(heard).any(|l| *l == "all" || holds(l))
    }

    fn players_turn(&self, at: &Q) -> bool {
        let turns = &self.asked.turns;
        let whole: u64 = turns.iter().map(|t| u64::from(t.1)).sum();
        if whole == 0 {
            return false;
        }
        let mut unit = match self.asked.turns_in_passes {
            false => self.run.bar(at) as u64,
            true if self.going.run_on => self.pass(at),
            // A pickup still belongs to the pass that it leads out of.
            true => {
                let lined = at - &self.going.lines[0];
                if lined.is_negative() {
                    0
                } else {
                    self.pass(&lined)
                }
            }
        } % whole;
        for (player, length) in turns {
            if unit < u64::from(*length) {
                return *player;
            }
            unit -= u64::from(*length);
        }
        unreachable!()
    }

    fn push(&mut self, at: &Q, shift_us: i64, key: u8, velocity: u8, track: u8) {
        let at = &self.top + self.run.seconds(at) + q(shift_us, 1_000_000);
        self.track.notes.push(Note {
            at: at.max(q(0, 1)),
            key,
            velocity,
            track,
            grace: shift_us != 0,
        });
    }

    fn stroke(&mut self, at: &Q, (limb, level, graces): (char, u8, u8), letter: usize) {
        let foot = limb == 'K';
        let holds = |layer: &str| match layer {
            "hands" => !foot,
            "feet" | "kick" => foot,
            "accents" => level == 2,
            "R" => limb == 'R',
            _ => false,
        };
        let open = self.players_turn(at) || self.asked.player_letter == Some(letter);
        if *at >= self.run.end || open || self.silenced(at, "form") || !self.layered(at, holds) {
            return;
        }
        let (key, track) = if foot { (36, 1) } else { (38, 0) };
        self.push(at, 0, key, LEVELS[usize::from(level)], track);
        for n in 1..=i64::from(graces) {
            self.push(at, -n * GRACE_US, key, LEVELS[0], track);
        }
    }

    /// Strokes between two beats of cycles counted from `zero`.
    fn ostinato(&mut self, zero: &Q, from: &Q, to: &Q) {
        let Some((cycle, slots)) = &self.music.ostinato else {
            return;
        };
        let slot = q(*cycle, slots.len() as i64);
        let mut number = ((from - zero) / &slot)
            .ceil()
            .to_integer()
            .to_i64()
            .unwrap();
        loop {
            let at = zero + &slot * q(number, 1);
            if at >= *to || at >= self.run.end {
                return;
            }
            let played = slots[number.rem_euclid(slots.len() as i64) as usize];
            let silent = self.silenced(&at, "ostinato");
            if played && !silent && self.layered(&at, |l| l == "ostinato") {
                self.push(&at, 0, 44, LEVELS[1], 3);
            }
            number += 1;
        }
    }

    fn click(&mut self) {
        let (lines, fine) = (&self.run.lines, self.asked.click_on);
        let mut found = Vec::new();
        if self.going.run_on {
            for (n, line) in lines.iter().enumerate() {
                let next = lines.get(n + 1).unwrap_or(&self.run.end);
                found.extend(clicks(self.music, line, line, next, fine));
            }
        }
        let passes = (&self.run.end / &self.going.length).ceil().to_integer();
        for pass in 0..passes.to_i64().unwrap() {
            let start = &self.going.length * q(pass, 1);
            for [line, from, to] in &self.going.bars {
                let at = |beat: &Q| beat + &start;
                found.extend(clicks(self.music, &at(line), &at(from), &at(to), fine));
            }
        }
        found.retain(|(at, _)| *at < self.run.end);
        for (at, kind) in found {
            if self.silenced(&at, "click") {
                continue;
            }
            let bar = self.bars_before + self.run.bar(&at);
            let lost = self.asked.fade.map_or(0, |(percent, bars)| {
                (bar as u64 / u64::from(bars) * u64::from(percent)).min(100)
            });
            let second = &self.top + self.run.seconds(&at);
            self.track.click(self.asked, second, kind, 100 - lost);
        }
    }
}
