//! The line of time the player follows through the host's reports.
//!
//! Hosts report a position per block. Reports are rounded, late, or off by a
//! sample; playing each block from its own report would move strokes and, at
//! block edges, lose or double them. So the player draws one line from the
//! first report of a run and keeps to it as long as the reports agree: whether
//! time went on is judged by the host's count of samples where there is one,
//! the musical position then only says where. Of all lines that fit the reports
//! it is the one that had to be moved least.

use super::habits::{COUNTED_SAMPLES, Habits};
use super::{Loop, Transport};

/// How far off a report may be, in samples, and what rounding adds.
pub(super) const WOBBLE_SAMPLES: f64 = 1.0 + 1e-2;

/// A host may cut its block at the rounded end of a loop; the fractions it
/// drops each time add up. Within this many samples, a turn is still a turn.
const TURN_SAMPLES: f64 = 16.0;

/// A tempo that is told late, or as it was when the block began, may be off by
/// this much of itself.
const MISLED: f64 = 0.5;

/// Exact reports drift away from the line evenly where the host rounds its
/// tempo. So many in a row are no chance...
const EVEN_REPORTS: u32 = 4;

/// ... if none strays further than this from an even drift, in samples. What
/// CLAP's positions are rounded to comes on top.
const EVEN_SAMPLES: f64 = 1e-3;

/// Twice the finest step of a CLAP position, in beats.
const EVEN_BEATS: f64 = 1.0 / (1u64 << 30) as f64;

/// Less than this, in samples, is not worth a move of the line.
const QUARTER_SAMPLE: f64 = 0.25;

/// What a host says of one block's place.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct Report {
    /// Musical position.
    pub beats: Option<f64>,
    /// Place in the song, in samples.
    pub samples: Option<f64>,
    /// Tempo.
    pub beats_per_sample: f64,
    /// Sample rate in Hz.
    pub sample_rate: f64,
}

impl Report {
    /// The report in a transport.
    pub fn of(transport: &Transport, sample_rate: f64) -> Report {
        Report {
            beats: transport.position_beats,
            samples: transport.song_samples,
            beats_per_sample: transport.tempo_bpm / (60.0 * sample_rate),
            sample_rate,
        }
    }

    /// Where the song would be if it had run in this tempo from its start.
    fn beats_since_start(&self) -> Option<f64> {
        self.samples.map(|samples| samples * self.beats_per_sample)
    }

    /// Whether there is a position, and one within so many beats of zero.
    pub fn is_within(&self, beats: f64) -> bool {
        let place = self.beats.or_else(|| self.beats_since_start());
        place.is_some_and(|place| place.abs() <= beats)
    }

    /// Learns from a report while time stands.
    pub fn rest(&self, habits: &mut Habits) {
        habits.counts_finely |= !self.is_in_milliseconds();
        if let (Some(beats), Some(from_start)) = (self.beats, self.beats_since_start())
            && self.beats_per_sample > 0.0
            && habits.counts_finely
        {
            habits.rest(from_start, beats, self.beats_per_sample);
        }
    }

    /// Whether this says just what `other` did.
    fn repeats(&self, other: &Report) -> bool {
        self.beats == other.beats && self.samples == other.samples
    }

    /// Whether the song's place is given in whole milliseconds.
    fn is_in_milliseconds(&self) -> bool {
        self.samples.is_some_and(|samples| {
            let ms = samples * 1e3 / self.sample_rate;
            (ms - ms.round()).abs() * self.sample_rate <= 0.51 * 1e3
        })
    }
}

/// What a report means for the line.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum Follow {
    /// Time goes on, strokes up to now are done.
    On,
    /// The host has gone elsewhere.
    Jump,
}

/// A straight line of host beats over samples.
#[derive(Debug, Clone)]
pub(super) struct Line {
    anchor_beats: f64,
    samples: u64,
    beats_per_sample: f64,
    /// By how much the host's tempo is off, in beats per sample.
    drift: f64,
    /// The line may be moved by this much and still fit all reports, in beats.
    room: (f64, f64),
    /// The first report was taken to be exact.
    from_exact: bool,
    /// It was taken to be so before anything was known of the host.
    guessed: bool,
    /// Furthest that reports have lain behind and ahead of a line that is, in
    /// beats.
    strays: (f64, f64),
    /// Least and most that reports lay beyond where they would be if the song
    /// had this tempo from its start, in beats.
    beyond: (f64, f64),
    last: Report,
    /// Samples since the last report that was not a repetition.
    since_last: u32,
    /// The loop has turned back since then.
    turned: bool,
    last_frames: u32,
    /// By how much the tempo changed at the report before.
    last_change: f64,
    /// Off the line at the last report, in beats, and how fast that grew.
    last_error: f64,
    last_growth: f64,
    /// Reports in a row that drifted evenly.
    even: u32,
    late: Late,
    /// The host is exact, and nothing is to be made of a report on the line.
    exact: bool,
}

/// What is known of reports that come late.
#[derive(Debug, Clone, Copy, PartialEq)]
enum Late {
    /// The run's first report.
    First,
    /// The next said what the first did, this many samples on.
    Repeated(u32),
    /// Each report is of the block before, and the line as much later as that
    /// block was long.
    By(u32),
    Never,
}

impl Line {
    /// A new line through the first report of a run. The run before may tell
    /// better than a rounded report where that is.
    pub fn start(report: &Report, before: Option<&Line>, habits: &Habits) -> Option<Line> {
        let per_sample = report.beats_per_sample;
        let wobble = WOBBLE_SAMPLES * per_sample;
        let moved = before.and_then(|line| line.moved_to(report));
        let from_start = report.beats_since_start();
        let beats = report.beats.or(moved.map(|(at, _)| at)).or(from_start)?;
        let step = habits.step_beats(beats, wobble, per_sample * report.sample_rate);
        let (down, up) = reach(step, wobble, habits);
        let told = if habits.count_samples() {
            // What is known to be exact is not bettered.
            let near = |told: f64| step > wobble && (-down..=up).contains(&(told - beats));
            let moved = moved.filter(|(at, _)| near(*at));
            let fits = |at: &f64| moved.is_none_or(|(moved, room)| holds(room, at - moved));
            let from_start = from_start.filter(|at| near(*at)).filter(fits);
            from_start.map(|at| (at, (-wobble, wobble))).or(moved)
        } else {
            let rounded = |told: &f64| {
                (habits.counts_finely || !report.is_in_milliseconds())
                    && habits.may_round(*told, beats, per_sample)
            };
            let from_start = from_start.filter(rounded);
            from_start.map(|at| (at, (-wobble, wobble)))
        };
        let round = Habits::is_round(beats);
        // A round place is where somebody wanted to be, and a tempo that is told
        // in decimals leads a count of samples astray.
        let told = told.filter(|_| !round);
        let from_exact = step <= wobble || round || told.is_some();
        let guessed = !from_exact && !habits.are_known() && Habits::tick_of(beats).is_none();
        let (anchor_beats, room) = match told {
            Some((at, room)) => (at, room),
            None if from_exact || guessed => (beats, (-wobble, wobble)),
            None => (
                beats + (up - down) / 2.0,
                ((-up - down) / 2.0, (up + down) / 2.0),
            ),
        };
        Some(Line {
            anchor_beats,
            samples: 0,
            beats_per_sample: per_sample,
            drift: 0.0,
            room,
            from_exact,
            guessed,
            strays: (0.0, 0.0),
            beyond: (f64::INFINITY, f64::NEG_INFINITY),
            last: *report,
            since_last: 0,
            turned: false,
            last_frames: 0,
            last_change: 0.0,
            last_error: 0.0,
            last_growth: f64::NAN,
            even: 0,
            late: Late::First,
            exact: false,
        })
    }

    /// Where a jump of the song's samples leads at an unchanged tempo, and how
    /// far below and above that it may be.
    fn moved_to(&self, report: &Report) -> Option<(f64, (f64, f64))> {
        let same = report.beats_per_sample == self.last.beats_per_sample;
        let moved = self.off_samples(report).filter(|_| same)?;
        let wobble = WOBBLE_SAMPLES * self.beats_per_sample;
        let room = (self.room.0.min(-wobble), self.room.1.max(wobble));
        Some((self.now() + moved * self.slope(), room))
    }

    /// Beats at the first sample of the block at hand.
    pub fn now(&self) -> f64 {
        self.at(0)
    }

    /// Beats `frames` samples later. Multiplied from the anchor, so that no
    /// error builds up from block to block.
    pub fn at(&self, frames: u32) -> f64 {
        self.anchor_beats + (self.samples + u64::from(frames)) as f64 * self.slope()
    }

    /// The report in a transport whose tempo is as it was.
    fn report(&self, transport: &Transport) -> Report {
        Report {
            beats: transport.position_beats,
            samples: transport.song_samples,
            ..self.last
        }
    }

    /// Beats from one sample to the next.
    pub fn slope(&self) -> f64 {
        self.beats_per_sample + self.drift
    }

    /// Takes the report of a host that is known to be exact, and is: what nearly
    /// every block brings. Tempo and loop are as they were.
    pub fn pass_exact(&mut self, transport: &Transport, frames: u32) -> bool {
        let Some(beats) = transport.position_beats.filter(|_| self.exact) else {
            return false;
        };
        let counted = match (transport.song_samples, self.last.samples) {
            (Some(now), Some(last)) => {
                (now - last - f64::from(self.since_last)).abs() <= COUNTED_SAMPLES
            }
            (None, None) => true,
            _ => false,
        };
        let error = beats - self.now();
        let quarter = QUARTER_SAMPLE * self.beats_per_sample;
        if !counted || error.abs() > quarter || self.last.beats == Some(beats) {
            return false;
        }
        self.last_error = error;
        self.last.beats = transport.position_beats;
        self.last.samples = transport.song_samples;
        self.since_last = 0;
        self.advance(frames);
        true
    }

    /// Takes a report that leaves the line where it is, as most do; any other is
    /// left to [`Line::follow`]. Tempo and loop are as they were.
    pub fn pass(&mut self, transport: &Transport, frames: u32, habits: &mut Habits) -> bool {
        let report = &self.report(transport);
        let can_be = |cycle: &Loop| cycle.can_be_followed(self.beats_per_sample);
        let cycle = transport.cycle.filter(can_be);
        let Some(beats) = report.beats.filter(|_| self.is_on_time()) else {
            return false;
        };
        let off = self.off_samples(report);
        if off.is_some_and(|off| off.abs() > 2.0 * WOBBLE_SAMPLES)
            || report.repeats(&self.last)
            || self.last_change > 0.0
        {
            return false;
        }
        let step = self.step_beats(self.now(), report, habits);
        let (error, turned) = self.error(beats, near(report, step), cycle);
        if turned || !self.stays(report, beats, error, step, habits) {
            return false;
        }
        self.late = Late::Never;
        self.taken(report, habits);
        self.advance(frames);
        true
    }

    fn is_on_time(&self) -> bool {
        matches!(self.late, Late::First | Late::Never)
    }

    /// The step that positions around `beats` are rounded to.
    fn step_beats(&self, beats: f64, report: &Report, habits: &Habits) -> f64 {
        let wobble = WOBBLE_SAMPLES * report.beats_per_sample;
        habits.step_beats(beats, wobble, report.beats_per_sample * report.sample_rate)
    }

    /// Takes a report under an unchanged tempo, `error` beats off the line, if
    /// the line can stay where it is.
    fn stays(
        &mut self,
        report: &Report,
        beats: f64,
        error: f64,
        step: f64,
        habits: &mut Habits,
    ) -> bool {
        let wobble = WOBBLE_SAMPLES * self.beats_per_sample;
        let quarter = QUARTER_SAMPLE * self.beats_per_sample;
        if step <= wobble {
            if error.abs() > quarter || !self.holds(0.0) {
                return false;
            }
        } else {
            if self.guessed && habits.are_known() {
                // It was rounded.
                self.guessed = false;
                let (down, up) = reach(step, wobble, habits);
                self.room = (-down, up);
            }
            let room = self.narrowed(error, 0.0, step, habits);
            let fits = room.0 <= 0.0 && room.1 >= 0.0;
            self.strays = (self.strays.0.min(error), self.strays.1.max(error));
            if self.sees_rounding_down(report, beats, step, habits) {
                return false;
            }
            let better = self.shift_to_start(report, room, habits);
            if !fits || better.is_some_and(|shift| shift.abs() > quarter) {
                return false;
            }
            self.room = room;
        }
        let off = self.off_samples(report).filter(|_| !self.turned);
        habits.learn(beats, Some(error - self.last_error), off, report);
        self.last_error = error;
        self.last_growth = f64::NAN;
        self.even = 0;
        true
    }

    /// Whether the line may be moved by `beats`.
    fn holds(&self, beats: f64) -> bool {
        holds(self.room, beats)
    }

    /// What a report, `error` beats off the line, leaves of the room. `give` is
    /// what the line itself may be off by since the report before.
    fn narrowed(&self, error: f64, give: f64, step: f64, habits: &Habits) -> (f64, f64) {
        let (down, up) = reach(step, WOBBLE_SAMPLES * self.beats_per_sample, habits);
        (
            (self.room.0 - give).max(error - down),
            (self.room.1 + give).min(error + up),
        )
    }

    /// Whether the reports are what a host makes of a song in one tempo from its
    /// start if it rounds down.
    fn sees_rounding_down(
        &mut self,
        report: &Report,
        beats: f64,
        step: f64,
        habits: &Habits,
    ) -> bool {
        let Some(from_start) = report.beats_since_start() else {
            return false;
        };
        let beyond = beats - from_start;
        self.beyond = (self.beyond.0.min(beyond), self.beyond.1.max(beyond));
        if habits.rounds_down || !habits.count_samples() {
            return false;
        }
        let wobble = 2.0 * WOBBLE_SAMPLES * self.beats_per_sample;
        let (least, most) = self.beyond;
        // One that is off by the same amount in each block may be otherwise out.
        most - least > step / 2.0
            && most <= wobble
            && (-step - wobble..-step / 2.0 - wobble).contains(&least)
    }

    /// The move that puts the line where it would be if the song had one tempo
    /// from its start, if that fits rounded reports.
    fn shift_to_start(&self, report: &Report, room: (f64, f64), habits: &Habits) -> Option<f64> {
        let from_start = report
            .beats_since_start()
            .filter(|_| habits.count_samples())?;
        Some(from_start - self.now()).filter(|shift| room.0 <= *shift && *shift <= room.1)
    }

    /// Goes on to the next block.
    pub fn advance(&mut self, frames: u32) {
        self.samples += u64::from(frames);
        self.since_last = self.since_last.saturating_add(frames);
        self.last_frames = frames;
    }

    /// The loop turned back by `beats`, by our reckoning.
    pub fn turn(&mut self, beats: f64) {
        self.anchor_beats -= beats;
        self.turned = true;
        // Where a host's loop ends is rounded to samples.
        let wobble = WOBBLE_SAMPLES * self.beats_per_sample;
        self.room.0 -= wobble;
        self.room.1 += wobble;
    }

    /// How many samples the song's place is from where it would be if time
    /// had gone on.
    fn off_samples(&self, report: &Report) -> Option<f64> {
        let (now, last) = (report.samples?, self.last.samples?);
        Some(now - last - f64::from(self.since_last))
    }

    /// Takes the report for the block at hand.
    pub fn follow(&mut self, report: &Report, cycle: Option<Loop>, habits: &mut Habits) -> Follow {
        let per_sample = report.beats_per_sample;
        let wobble = WOBBLE_SAMPLES * per_sample;
        let predicted = self.now();
        self.exact = false;
        let step = self.step_beats(predicted, report, habits);
        // No news: a host may report once for several blocks.
        if report.repeats(&self.last) && self.is_no_news(report, step, habits) {
            if self.late == Late::First {
                self.late = Late::Repeated(self.since_last);
            }
            if per_sample != self.beats_per_sample {
                self.take_tempo(per_sample);
            }
            return Follow::On;
        }
        let ramp = self.take_tempo(per_sample);
        let off = self.off_samples(report);
        let in_ms = report.is_in_milliseconds() && self.last.is_in_milliseconds();
        let may_be_off = if in_ms {
            1.0 + report.sample_rate * 1e-3
        } else {
            2.0 * WOBBLE_SAMPLES
        };
        let went_on = off.is_some_and(|off| off.abs() <= may_be_off);
        let (Some(beats), Some(last)) = (report.beats, self.last.beats) else {
            if let Some(off) = off.filter(|_| !went_on) {
                if !self.starts_late(off, report.samples >= self.last.samples) {
                    return Follow::Jump;
                }
                self.shift(off * self.slope());
            }
            self.taken(report, habits);
            return Follow::On;
        };

        let near = near(report, step) + ramp;
        let (mut error, turned) = self.error(beats, near, cycle);
        if let Late::By(frames) = self.late {
            let late = error + (f64::from(self.last_frames) - f64::from(frames)) * per_sample;
            if late.abs() < error.abs() {
                error = late;
            }
        }
        let turn = if turned {
            TURN_SAMPLES * per_sample
        } else {
            0.0
        };
        // The musical position may be too coarse to show a jump that the
        // samples show.
        let leapt = off
            .filter(|_| !went_on && habits.count_samples())
            .is_some_and(|off| {
                let by = off * per_sample;
                by.abs() > step + 2.0 * wobble + ramp
                    && (error - by).abs() <= step + 2.0 * wobble + ramp
            });
        let rounding = Habits::tick_of(beats).map_or(wobble, |tick| tick + wobble);
        let held = match self.late {
            Late::Repeated(frames) if -error > rounding => {
                (error + f64::from(frames) * per_sample).abs() <= 2.0 * wobble
            }
            _ => false,
        };
        // Where samples tell that time went on, it is the tempo that was told wrong.
        let told = f64::from(self.since_last) > 2.0 * may_be_off || habits.count_samples();
        let misled = if went_on && told && error.abs() > near + turn {
            MISLED * f64::from(self.since_last) * per_sample
        } else {
            0.0
        };
        let follow = if !leapt && !held && error.abs() <= near + turn + misled {
            if self.is_on_time() || matches!(self.late, Late::Repeated(_)) {
                self.late = Late::Never;
            }
            let give = ramp + turn + misled;
            if give > 0.0 || !self.stays(report, beats, error, step, habits) {
                let scatter = Some(error - self.last_error).filter(|_| give == 0.0);
                // Where a loop turns, samples leap; that tells nothing of how they count.
                let off = off.filter(|_| !turned && !self.turned);
                habits.learn(beats, scatter, off, report);
                self.fit(report, beats, error, give, step, habits);
            }
            Follow::On
        } else if self.starts_late(
            error,
            cycle.is_some() || beats >= last - 2.0 * wobble - step,
        ) {
            self.shift(error);
            Follow::On
        } else {
            Follow::Jump
        };
        if follow == Follow::On {
            self.taken(report, habits);
        }
        follow
    }

    /// Whether time goes on only now from a first report that came more than once,
    /// or each report is one block late; `error` is how far it lies off the line.
    fn starts_late(&mut self, error: f64, not_before_it: bool) -> bool {
        let late = matches!(self.late, Late::Repeated(_)) && error < 0.0 && not_before_it;
        if late {
            self.late = Late::By(self.last_frames);
        }
        late
    }

    /// Whether what is told once more is told of a block before, and not what a
    /// new place is rounded to.
    fn is_no_news(&mut self, report: &Report, step: f64, habits: &mut Habits) -> bool {
        let Some(beats) = report.beats.filter(|_| report.samples.is_none()) else {
            return true;
        };
        let step = if habits.are_known() {
            step
        } else {
            Habits::tick_of(beats).unwrap_or(0.0)
        };
        let moved = f64::from(self.since_last) * self.slope();
        if moved > step + WOBBLE_SAMPLES * self.beats_per_sample && !habits.repeats {
            habits.repeats = true;
            // What was taken for rounding was none.
            self.guessed = self.late != Late::First;
        }
        self.late == Late::First || habits.repeats
    }

    /// Remembers a report that was followed.
    fn taken(&mut self, report: &Report, habits: &Habits) {
        self.last = *report;
        self.since_last = 0;
        self.turned = false;
        self.exact = habits.are_exact(report.samples.is_some())
            && self.late == Late::Never
            && self.last_change == 0.0
            && self.last_growth.is_nan()
            && self.last_error.abs() <= WOBBLE_SAMPLES * self.beats_per_sample
            && self.holds(0.0);
    }

    /// Takes the host's tempo; returns what its change explains, in beats: a
    /// host in a ramp reports one tempo per block but may move by its mean.
    fn take_tempo(&mut self, beats_per_sample: f64) -> f64 {
        let change = (beats_per_sample - self.beats_per_sample).abs();
        let ramp = change.max(self.last_change) * f64::from(self.since_last);
        self.last_change = change;
        if change > 0.0 {
            self.anchor_beats = self.now();
            self.samples = 0;
            self.beats_per_sample = beats_per_sample;
            self.drift = 0.0;
            self.beyond = (f64::INFINITY, f64::NEG_INFINITY);
        }
        ramp
    }

    /// How far a report is from the line, and whether only one of the two has
    /// yet turned back at the loop's end.
    fn error(&self, reported: f64, near: f64, cycle: Option<Loop>) -> (f64, bool) {
        let predicted = self.now();
        let straight = reported - predicted;
        let Some(cycle) = cycle else {
            return (straight, false);
        };
        let length = cycle.end_beats - cycle.start_beats;
        let near = near + TURN_SAMPLES * self.beats_per_sample;
        let block = near + f64::from(self.since_last) * self.beats_per_sample;
        let is_at =
            |beats: f64, place: f64, behind: f64| (-near..=behind).contains(&(beats - place));
        let host_turned =
            is_at(reported, cycle.start_beats, near) && is_at(predicted, cycle.end_beats, near);
        // The host may turn a block late.
        let we_turned =
            is_at(predicted, cycle.start_beats, block) && is_at(reported, cycle.end_beats, block);
        let mut best = (straight, false);
        for (holds, error) in [
            (host_turned, straight + length),
            (we_turned, straight - length),
        ] {
            if holds && error.abs() < best.0.abs() {
                best = (error, true);
            }
        }
        best
    }

    /// Narrows the room that the reports leave, and moves the line into it.
    fn fit(
        &mut self,
        report: &Report,
        beats: f64,
        error: f64,
        give: f64,
        step: f64,
        habits: &mut Habits,
    ) {
        let wobble = WOBBLE_SAMPLES * self.beats_per_sample;
        let exact = step <= wobble;
        if !exact
            && let Some(from_start) = report.beats_since_start()
            && self.sees_rounding_down(report, beats, step, habits)
        {
            habits.rounds_down = true;
            self.from_exact = true;
            let shift = from_start - self.now();
            self.room = (shift - wobble, shift + wobble);
        }
        let mut room = self.narrowed(error, give, step, habits);
        if room.0 > room.1 && self.from_exact && give == 0.0 && !exact {
            self.strays = (self.strays.0.min(error), self.strays.1.max(error));
            let per_second = self.beats_per_sample * report.sample_rate;
            self.from_exact = habits.explain(self.strays, step, per_second, wobble);
            let step = self.step_beats(beats, report, habits);
            room = self.narrowed(error, give, step, habits);
        }
        if room.0 > room.1 {
            habits.rounds_down = false;
            self.from_exact = false;
            // The song's start tells nothing.
            self.beyond.1 = f64::INFINITY;
            if give == 0.0 {
                let per_second = self.beats_per_sample * report.sample_rate;
                habits.widen(room.0 - room.1, per_second, wobble);
            }
            let (down, up) = reach(step, wobble, habits);
            room = (error - down, error + up);
        }
        self.room = room;
        let fits = room.0 <= 0.0 && room.1 >= 0.0;
        let quarter = QUARTER_SAMPLE * self.beats_per_sample;
        if exact && give == 0.0 && self.drifts_evenly(error) && error.abs() > quarter {
            self.shift(error);
            self.anchor_beats = self.now();
            self.samples = 0;
            self.drift += self.last_growth;
            (self.last_error, self.last_growth, self.even) = (0.0, 0.0, 0);
            return;
        }
        let to_start = self.shift_to_start(report, room, habits);
        let shift = match to_start.filter(|shift| !exact && shift.abs() > quarter) {
            Some(shift) => shift,
            // A tempo that was not told moved the line; exact reports know better.
            None if exact && give > 0.0 && !fits => error,
            None => 0.0_f64.clamp(room.0, room.1),
        };
        self.last_error = error - shift;
        self.shift(shift);
    }

    /// Whether exact reports have long moved away from the line by the same
    /// amount each sample.
    fn drifts_evenly(&mut self, error: f64) -> bool {
        let frames = f64::from(self.since_last);
        let growth = (error - self.last_error) / frames;
        let strays = (growth - self.last_growth).abs() * frames;
        let even = strays <= EVEN_SAMPLES * self.beats_per_sample + EVEN_BEATS;
        self.even = if even { self.even + 1 } else { 0 };
        self.last_growth = growth;
        self.even >= EVEN_REPORTS
    }

    /// Moves the whole line; strokes that are done stay done.
    fn shift(&mut self, beats: f64) {
        self.anchor_beats += beats;
        self.room.0 -= beats;
        self.room.1 -= beats;
    }
}

fn holds(room: (f64, f64), beats: f64) -> bool {
    room.0 <= beats && beats <= room.1
}

/// Reports this far off the line, in beats, still lie on it: what may be
/// rounding is taken for it, so a small jump is followed without being heard as
/// one. The line itself may be half a step off.
fn near(report: &Report, step: f64) -> f64 {
    let coarsest = Habits::coarsest_beats(report.beats_per_sample * report.sample_rate);
    2.0 * WOBBLE_SAMPLES * report.beats_per_sample + 1.5 * step.max(coarsest)
}

/// How far below and above a report the true position may lie, in beats.
fn reach(step: f64, wobble: f64, habits: &Habits) -> (f64, f64) {
    if habits.rounds_down && step > wobble {
        (wobble, step + wobble)
    } else {
        (step / 2.0 + wobble, step / 2.0 + wobble)
    }
}
