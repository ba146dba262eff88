//! An instance that plays in hosts with habits, one after the other.

use anyhow::Result;
use barform_hosts::form::{Cycle, Form};
use barform_hosts::habits::Personality;
use barform_hosts::judge::{Fault, judge};
use barform_hosts::plan::Plan;
use barform_hosts::session::session;

use crate::bench::{Bench, MAX_FRAMES};
use crate::clap_host;
use crate::host::{Block, Format};

/// The default length of a note in milliseconds.
const GATE_MS: u32 = 60;

/// How finely a position is known, in beats. CLAP: the step of its fixed point,
/// for the position and for the loop's range. VST3: four roundings of `f64`
/// below 16,384 beats, past which no session goes.
fn resolution_beats(format: Format) -> f64 {
    match format {
        Format::Clap => clap_host::POSITION_STEP_BEATS,
        Format::Vst3 => 4.0 * 16_384.0 * f64::EPSILON,
    }
}

/// An instance with a score.
pub struct Stage {
    bench: Bench,
    format: Format,
    score: String,
    cycles: Vec<Cycle>,
    loaded: bool,
    /// Samples a second.
    pub rate_hz: u32,
    /// Whether the host renders as fast as it can.
    pub offline: bool,
}

impl Stage {
    /// An instance with a form to play.
    ///
    /// # Errors
    /// If the bundle is missing or the plugin refuses.
    pub fn new(format: Format, rate_hz: u32, form: &Form) -> Result<Stage> {
        Stage::with_score(format, rate_hz, form.score(), form.cycles())
    }

    /// An instance with a score to play, and what is in it.
    ///
    /// # Errors
    /// If the bundle is missing or the plugin refuses.
    pub fn with_score(
        format: Format,
        rate_hz: u32,
        score: String,
        cycles: Vec<Cycle>,
    ) -> Result<Stage> {
        Ok(Stage {
            bench: Bench::new(format, rate_hz)?,
            format,
            score,
            cycles,
            loaded: false,
            rate_hz,
            offline: false,
        })
    }

    /// Another form.
    pub fn set_form(&mut self, form: &Form) {
        self.set_score(form.score(), form.cycles());
    }

    /// Another score, and what is in it.
    pub fn set_score(&mut self, score: String, cycles: Vec<Cycle>) {
        self.loaded &= score == self.score;
        (self.score, self.cycles) = (score, cycles);
    }

    /// The score file.
    pub fn score(&self) -> &str {
        &self.score
    }

    /// Works out what must be heard in a host, and plays; returns how many
    /// strokes had to come, or what is wrong.
    ///
    /// # Errors
    /// If the score is refused or the plugin reports an error.
    pub fn play(&mut self, plan: &Plan, host: &Personality) -> Result<Result<usize, Fault>> {
        if !self.loaded {
            self.bench.load(&self.score)?;
            self.loaded = true;
        }
        let resolution = resolution_beats(self.format);
        let session = session(plan, host, &self.cycles, self.rate_hz, resolution);
        // Another host: what the instance has learned of the last one is void.
        self.bench
            .reactivate(self.rate_hz, MAX_FRAMES, self.offline)?;
        let blocks = session.blocks.iter();
        let blocks = blocks.map(|(frames, transport)| Block::of(*frames, *transport));
        let notes = self.bench.run(blocks)?;
        let strokes = session.wants.iter().filter(|want| !want.optional).count();
        let gate = (i64::from(self.rate_hz) * i64::from(GATE_MS) + 500) / 1000;
        Ok(judge(&session, &notes, gate).map(|()| strokes))
    }
}
