//! What a file is asked to play.

use barform_play::player::{Mute, Settings};
use barform_score::music::Beats;

/// Most times a form is written out in one file.
pub const MAX_PASSES: u32 = 9_999;

/// Most empty bars ahead of the form.
pub const MAX_EMPTY_BARS: u32 = 64;

/// Most notes, markers and bars of one file. A form at its own limit fits
/// once; the writers need some 100 bytes for each.
pub const MAX_EVENTS: usize = 4_000_000;

/// Slowest and fastest tempo of a file in beats per minute: what the three
/// bytes of a MIDI file's tempo can hold, with room.
const TEMPO_RANGE_BPM: (i64, i64) = (4, 10_000);

/// What a file plays, and how. MIDI and audio of the same options line up.
#[derive(Debug, Clone, PartialEq)]
pub struct Options {
    /// How many times the form is played, `1 ..= 9999`. Ostinatos go on through
    /// all passes.
    pub passes: u32,
    /// Empty bars ahead of the form, `0 ..= 64`; the click counts in there.
    pub empty_bars: u32,
    /// Tempo in beats per minute, `4 ..= 10_000`; `None` for the score's.
    pub tempo: Option<Beats>,
    /// Length of every note in milliseconds, above zero, at most a minute.
    pub gate_ms: f64,
    /// Time between grace notes, and from the last to its main stroke, in
    /// milliseconds, `0 ..= 100`.
    pub grace_ms: f64,
    /// Time between the bounces of a buzz stroke, in milliseconds, above zero,
    /// at most a second.
    pub buzz_ms: f64,
    /// What is left out.
    pub mute: Mute,
}

impl Default for Options {
    /// The form once, as the player plays it by default.
    fn default() -> Self {
        let player = Settings::default();
        Options {
            passes: 1,
            empty_bars: 0,
            tempo: None,
            gate_ms: player.gate_ms,
            grace_ms: player.grace_ms,
            buzz_ms: player.buzz_ms,
            mute: player.mute,
        }
    }
}

/// An option out of its range.
#[derive(Debug, Clone, PartialEq, thiserror::Error)]
#[error("{name} is {read}; allowed is {allowed}")]
pub struct OptionError {
    /// Which one.
    pub name: &'static str,
    /// What was asked for.
    pub read: String,
    /// Its range.
    pub allowed: &'static str,
}

impl Options {
    /// Refuses what is out of range.
    pub(crate) fn check(&self) -> Result<(), OptionError> {
        let whole = |name, value: u32, most: u32, least: u32, allowed| {
            let ok = (least..=most).contains(&value);
            if ok {
                Ok(())
            } else {
                Err(OptionError {
                    name,
                    read: value.to_string(),
                    allowed,
                })
            }
        };
        let time = |name, ms: f64, least: f64, most: f64, allowed| {
            let ok = ms >= least && ms <= most;
            if ok {
                Ok(())
            } else {
                Err(OptionError {
                    name,
                    read: ms.to_string(),
                    allowed,
                })
            }
        };
        whole("passes", self.passes, MAX_PASSES, 1, "1 to 9999")?;
        whole(
            "count-in bars",
            self.empty_bars,
            MAX_EMPTY_BARS,
            0,
            "0 to 64",
        )?;
        time("gate", self.gate_ms, 0.001, 60_000.0, "0.001 to 60000 ms")?;
        time("grace time", self.grace_ms, 0.0, 100.0, "0 to 100 ms")?;
        time("buzz time", self.buzz_ms, 0.001, 1000.0, "0.001 to 1000 ms")
    }

    /// Tempo in beats per minute: the one asked for, else the score's.
    ///
    /// # Errors
    /// [`OptionError`] outside `4 ..= 10_000`.
    pub fn tempo_or(&self, of_score: Beats) -> Result<Beats, OptionError> {
        let tempo = self.tempo.unwrap_or(of_score);
        let (slowest, fastest) = TEMPO_RANGE_BPM;
        if tempo < Beats::whole(slowest) || tempo > Beats::whole(fastest) {
            return Err(OptionError {
                name: "tempo",
                read: tempo.to_string(),
                allowed: "4 to 10000 beats per minute",
            });
        }
        Ok(tempo)
    }
}
