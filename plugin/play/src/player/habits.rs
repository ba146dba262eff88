//! How finely a host reports musical positions, learned from the reports.
//!
//! Many hosts round: to ticks of a beat, to milliseconds, through `f32`. How is
//! a trait of the host, so it is kept from one run to the next.

use super::line::{Report, WOBBLE_SAMPLES};

/// Ticks per beat that hosts round to, the coarsest first. Common practice:
/// divisions that sequencers and MIDI files use.
const TICKS_PER_BEAT: [f64; 5] = [192.0, 480.0, 960.0, 1_920.0, 7_680.0];

/// The coarsest rounding that is told from a jump, in beats.
const COARSEST_BEATS: f64 = 1.0 / 192.0;

/// Some hosts work positions out from milliseconds.
const COARSEST_SECONDS: f64 = 1e-3;

/// Reports after which what was learned is relied on.
const LEARNED: u32 = 8;

/// After so many reports in a row that fit the line, what was scattered before
/// was a hiccup.
const FORGET: u32 = 64;

/// Twice the finest step of a CLAP position, in beats: values are told apart no
/// more finely.
const FINEST_BEATS: f64 = 1.0 / (1u64 << 30) as f64;

/// A count of samples that is off by more is rounded, or a jump.
pub(super) const COUNTED_SAMPLES: f64 = 0.1;

/// What has been learned of the host's reports.
#[derive(Debug, Clone)]
pub(super) struct Habits {
    reports: u32,
    /// For each of [`TICKS_PER_BEAT`], whether all reports lay on it.
    on_ticks: [bool; TICKS_PER_BEAT.len()],
    /// All reports were values of `f32`.
    single: bool,
    /// Most that two reports in a row were apart from the line, in beats.
    scatter_beats: f64,
    /// That was more than rounding to a millisecond explains.
    beyond_milliseconds: bool,
    /// Reports in a row that were not scattered.
    calm: u32,
    /// Reports in a row whose samples had gone on by just the block's length.
    counted: u32,
    /// Reports were rounded while time stood.
    rounds_at_rest: bool,
    /// The song's samples were once no whole number of milliseconds.
    pub counts_finely: bool,
    /// Positions are known not to be rounded.
    exact: bool,
    /// The host rounds down, not to the nearest tick.
    pub rounds_down: bool,
    /// One position is told for several blocks.
    pub repeats: bool,
}

impl Default for Habits {
    fn default() -> Self {
        Habits {
            reports: 0,
            on_ticks: [true; TICKS_PER_BEAT.len()],
            single: true,
            scatter_beats: 0.0,
            beyond_milliseconds: false,
            calm: 0,
            counted: 0,
            rounds_at_rest: false,
            counts_finely: false,
            exact: false,
            rounds_down: false,
            repeats: false,
        }
    }
}

/// The distance between neighbouring values of `f32` at `beats`.
fn single_step(beats: f64) -> f64 {
    let single = beats.abs() as f32;
    f64::from(single.next_up()) - f64::from(single)
}

/// Whether `beats` is a whole number of ticks, as far as can be told after a
/// rounding by up to `slack`; yes where it cannot be told at all.
fn is_on(beats: f64, ticks_per_beat: f64, slack: f64) -> bool {
    let ticks = beats * ticks_per_beat;
    let slack = slack * ticks_per_beat;
    slack > 0.25 || (ticks - ticks.round()).abs() <= slack
}

/// What rounding to the precision of a report may have moved `beats` by.
fn slack(beats: f64, single: bool) -> f64 {
    let single = if single { single_step(beats) } else { 0.0 };
    FINEST_BEATS + beats.abs() * 4.0 * f64::EPSILON + single
}

impl Habits {
    /// Whether enough has been heard to rely on [`Habits::step_beats`].
    pub fn are_known(&self) -> bool {
        self.reports >= LEARNED
    }

    /// Whether positions are known not to be rounded, and samples, where they
    /// are told, as little.
    pub fn are_exact(&self, samples: bool) -> bool {
        self.exact && (!samples || self.count_samples())
    }

    /// Whether the host's count of samples is exact, as far as it was heard.
    pub fn count_samples(&self) -> bool {
        self.counted >= LEARNED
    }

    /// Whether positions are rounded to more than the ticks they lie on.
    pub fn is_scattered(&self, wobble: f64) -> bool {
        self.scatter_beats > self.tick_beats() + 2.0 * wobble
    }

    /// Length of the ticks that all reports lay on; 0 if there are none.
    fn tick_beats(&self) -> f64 {
        self.ticks().map_or(0.0, |n| 1.0 / TICKS_PER_BEAT[n])
    }

    /// The step that positions around `beats` are rounded to; the coarsest
    /// that any host rounds to while too little is known. `wobble` beats are
    /// no step, `per_second` is the tempo.
    pub fn step_beats(&self, beats: f64, wobble: f64, per_second: f64) -> f64 {
        if !self.are_known() {
            return Habits::coarsest_beats(per_second);
        }
        let ticks = self.tick_beats();
        let step = if self.is_scattered(wobble) {
            // Scattered reports are rounded to something, mostly to milliseconds.
            let step = if self.beyond_milliseconds {
                self.scatter_beats
            } else {
                0.0
            };
            step.max(COARSEST_SECONDS * per_second)
        } else {
            ticks
        };
        if self.single {
            step + single_step(beats)
        } else {
            step
        }
    }

    /// The coarsest step of any host, at a tempo in beats per second.
    pub fn coarsest_beats(per_second: f64) -> f64 {
        COARSEST_BEATS.max(COARSEST_SECONDS * per_second)
    }

    /// Whether a report lies where users put things, on a quarter of a beat:
    /// what a host says of a start there is what it is.
    pub fn is_round(beats: f64) -> bool {
        is_on(beats, 4.0, FINEST_BEATS)
    }

    /// The coarsest tick that a report lies on, in beats, if it lies on any.
    pub fn tick_of(beats: f64) -> Option<f64> {
        let slack = slack(beats, f64::from(beats as f32) == beats);
        let on = |ticks: &&f64| slack * **ticks <= 0.25 && is_on(beats, **ticks, slack);
        TICKS_PER_BEAT.iter().find(on).map(|ticks| 1.0 / ticks)
    }

    /// Whether a report may be `beats` rounded to a tick, to the nearest or down,
    /// judged by itself.
    pub fn may_round(&self, beats: f64, report: f64, per_sample: f64) -> bool {
        let off = beats - report;
        let tick = Habits::tick_of(report).unwrap_or(0.0);
        let reach = -tick / 2.0 - per_sample..=tick + per_sample;
        // What is off by less than a sample may be the count of whole samples.
        reach.contains(&off) && (self.rounds_at_rest || off.abs() > 1.01 * per_sample)
    }

    /// Learns from a report while time stands: `beats` is where the count of
    /// samples puts it in a song of one tempo.
    pub fn rest(&mut self, beats: f64, report: f64, per_sample: f64) {
        self.rounds_at_rest |= !self.are_known() && self.may_round(beats, report, per_sample);
    }

    /// Reports do not fit one line by `beats`: what they are rounded to is more
    /// than was known.
    pub fn widen(&mut self, beats: f64, per_second: f64, wobble: f64) {
        if self.is_scattered(wobble) {
            let most = Habits::coarsest_beats(per_second);
            self.scatter_beats = (self.scatter_beats + beats).min(most);
            self.beyond_milliseconds = true;
        }
    }

    /// How reports that lay between these places around the true ones, in
    /// beats, can have been rounded: a host that rounds down is always behind.
    /// The `step` as it is known may be too small, where it is not that of
    /// ticks. Whether they can have been rounded at all.
    pub fn explain(
        &mut self,
        (behind, ahead): (f64, f64),
        step: f64,
        per_second: f64,
        wobble: f64,
    ) -> bool {
        // What is left of it is more than what arithmetic rounds.
        let slack = 1.9 * wobble;
        let down = ahead <= slack;
        let needed = if down {
            -behind - slack
        } else {
            2.0 * (ahead.max(-behind) - slack)
        };
        let coarsest = if self.is_scattered(wobble) {
            step.max(COARSEST_SECONDS * per_second + wobble)
        } else {
            step
        };
        if needed > coarsest {
            return false;
        }
        self.rounds_down = down;
        if needed > step {
            (self.scatter_beats, self.beyond_milliseconds) = (needed, true);
        }
        true
    }

    /// Learns from a report that time went on; `scatter` is how far it lies
    /// from where the report before made the line expect it, in beats, where
    /// that can be told; `off` is the same of the song's samples.
    pub fn learn(&mut self, beats: f64, scatter: Option<f64>, off: Option<f64>, report: &Report) {
        let wobble = WOBBLE_SAMPLES * report.beats_per_sample;
        let millisecond = COARSEST_SECONDS * report.beats_per_sample * report.sample_rate;
        self.reports = LEARNED.min(self.reports + 1);
        if let Some(off) = off {
            self.counted = if off.abs() <= COUNTED_SAMPLES {
                LEARNED.min(self.counted + 1)
            } else {
                0
            };
        }
        self.single = self.single && (f64::from(beats as f32) - beats).abs() <= FINEST_BEATS;
        // Reports on the coarsest ticks are on all others that are left.
        let slack = slack(beats, self.single);
        while let Some(n) = self.ticks() {
            if is_on(beats, TICKS_PER_BEAT[n], slack) {
                break;
            }
            self.on_ticks[n] = false;
        }
        match scatter.map(f64::abs) {
            Some(scatter) if scatter > 2.0 * wobble => {
                self.scatter_beats = self.scatter_beats.max(scatter);
                self.beyond_milliseconds |= scatter > millisecond + 2.0 * wobble;
                self.calm = 0;
            }
            Some(_) if self.scatter_beats > 0.0 => {
                self.calm += 1;
                if self.calm >= FORGET {
                    (self.scatter_beats, self.beyond_milliseconds) = (0.0, false);
                }
            }
            _ => {}
        }
        let rounded = self.single || self.ticks().is_some() || self.scatter_beats > 0.0;
        self.exact = self.are_known() && !rounded;
    }

    /// Which of [`TICKS_PER_BEAT`] all reports lay on.
    fn ticks(&self) -> Option<usize> {
        self.on_ticks.iter().position(|on| *on)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    const RATE_HZ: f64 = 48_000.0;
    const SAMPLE: f64 = 120.0 / (60.0 * RATE_HZ);
    const WOBBLE: f64 = WOBBLE_SAMPLES * SAMPLE;
    /// Beats a second at 120 beats per minute; a millisecond is 48 samples.
    const PER_SECOND: f64 = 2.0;

    fn report(beats_per_sample: f64) -> Report {
        Report {
            beats: Some(0.0),
            samples: None,
            beats_per_sample,
            sample_rate: RATE_HZ,
        }
    }

    /// Habits after reports that lay so many samples from where the one before
    /// made the line expect them.
    fn scattered(samples: &[f64]) -> Habits {
        let mut habits = Habits::default();
        for (n, scatter) in samples.iter().cycle().take(20).enumerate() {
            // On no ticks and no value of `f32`.
            let beats = (n as f64 + 0.123_456_789) * std::f64::consts::E;
            habits.learn(beats, Some(scatter * SAMPLE), None, &report(SAMPLE));
        }
        habits
    }

    fn step_samples(habits: &Habits) -> f64 {
        habits.step_beats(1.0, WOBBLE, PER_SECOND) / SAMPLE
    }

    fn near(a: f64, b: f64) -> bool {
        (a - b).abs() < 1e-6
    }

    #[test]
    fn scatter_within_a_millisecond_is_rounding_to_one_at_any_tempo() {
        for scatter in [[16.0, 32.0], [3.0, 50.0]] {
            let habits = scattered(&scatter);
            assert!(near(step_samples(&habits), 48.0), "{scatter:?}");
            // Half as fast, a millisecond is half as many beats.
            let slow = habits.step_beats(1.0, WOBBLE / 2.0, PER_SECOND / 2.0);
            assert!(near(slow, 48.0 * SAMPLE / 2.0), "{scatter:?}");
        }
    }

    #[test]
    fn scatter_beyond_a_millisecond_is_a_step_in_beats() {
        let habits = scattered(&[16.0, 51.0]);
        assert!(near(step_samples(&habits), 51.0));
        let slow = habits.step_beats(1.0, WOBBLE / 2.0, PER_SECOND / 2.0);
        assert!(near(slow, 51.0 * SAMPLE));
    }

    #[test]
    fn a_wobble_of_a_sample_is_no_rounding_and_a_hiccup_is_forgotten() {
        let mut habits = scattered(&[2.0]);
        assert!(near(step_samples(&habits), 0.0));
        habits.learn(0.77, Some(51.0 * SAMPLE), None, &report(SAMPLE));
        assert!(near(step_samples(&habits), 51.0));
        for calm in 1..=FORGET {
            assert!(near(step_samples(&habits), 51.0), "{calm}");
            habits.learn(0.77, Some(0.0), None, &report(SAMPLE));
        }
        assert!(near(step_samples(&habits), 0.0));
        // What comes next is judged by itself.
        habits.learn(0.77, Some(16.0 * SAMPLE), None, &report(SAMPLE));
        assert!(near(step_samples(&habits), 48.0));
    }

    /// What [`Habits::explain`] makes of reports so many samples behind and ahead.
    fn explained(habits: &mut Habits, behind: f64, ahead: f64) -> bool {
        let step = habits.step_beats(1.0, WOBBLE, PER_SECOND);
        let strays = (behind * SAMPLE, ahead * SAMPLE);
        habits.explain(strays, step, PER_SECOND, WOBBLE)
    }

    #[test]
    fn reports_that_are_only_ever_behind_are_rounded_down() {
        let mut habits = scattered(&[16.0]);
        assert!(explained(&mut habits, -47.0, 1.5) && habits.rounds_down);
        assert!(near(step_samples(&habits), 48.0));
        // One a little further off than a millisecond makes the step wider.
        assert!(explained(&mut habits, -50.5, 0.0) && habits.rounds_down);
        assert!(near(step_samples(&habits), 50.5 - 1.9 * WOBBLE_SAMPLES));
        // One that is ahead shows that it was no rounding down.
        assert!(explained(&mut habits, -10.0, 10.0) && !habits.rounds_down);
    }

    #[test]
    fn reports_on_both_sides_are_rounded_to_the_nearest_and_reach_half_as_far() {
        let mut habits = scattered(&[16.0]);
        for (behind, ahead) in [(-24.0, 24.0), (-5.0, 25.5), (-25.5, 5.0)] {
            assert!(explained(&mut habits, behind, ahead) && !habits.rounds_down);
            assert!(near(step_samples(&habits), 48.0));
        }
        assert!(explained(&mut habits, -26.3, 5.0) && !habits.rounds_down);
        assert!(near(
            step_samples(&habits),
            2.0 * (26.3 - 1.9 * WOBBLE_SAMPLES)
        ));
    }

    #[test]
    fn what_is_too_far_off_for_a_millisecond_was_not_rounded() {
        let mut habits = scattered(&[16.0]);
        assert!(!explained(&mut habits, -51.5, 0.0) && !habits.rounds_down);
        assert!(!explained(&mut habits, -27.0, 5.0));
        assert!(near(step_samples(&habits), 48.0));
        // Ticks are known: their step does not grow.
        let mut habits = Habits::default();
        for n in 0..20 {
            habits.learn(f64::from(n) / 960.0, None, None, &report(SAMPLE));
        }
        // The values fit an `f32`, too, whose own step comes on top.
        let step = step_samples(&habits);
        assert!((25.0..25.01).contains(&step));
        assert!(explained(&mut habits, -26.0, 0.0) && habits.rounds_down);
        assert!(!explained(&mut habits, -28.0, 0.0));
        assert!(near(step_samples(&habits), step));
    }

    #[test]
    fn a_report_is_told_to_be_rounded_by_where_it_lies() {
        let habits = Habits::default();
        let tick = 1.0 / 960.0;
        // In ticks from the report on its tick, 25 samples long here.
        for (off, may) in [
            (0.5, true),
            (-0.5, true),
            (0.9, true),
            (-0.6, false),
            (1.1, false),
        ] {
            let told = habits.may_round(7.0 * tick + off * tick, 7.0 * tick, SAMPLE);
            assert_eq!(told, may, "{off}");
        }
        // Less than a sample may be the count of samples, unless the host was seen
        // to round.
        let near = 7.0 * tick + 0.9 * SAMPLE;
        assert!(!habits.may_round(near, 7.0 * tick, SAMPLE));
        let mut habits = habits;
        habits.rest(8.0 * tick + 10.0 * SAMPLE, 8.0 * tick, SAMPLE);
        assert!(habits.may_round(near, 7.0 * tick, SAMPLE));
    }
}
