//! What the transport needs to know of a timeline.

use barform_app::player::Settings;
use barform_app::timeline::Timeline;

use crate::params::Snapshot;

/// What the transport needs to know of the timeline, worked out once.
#[derive(Debug, Clone, Copy)]
pub(super) struct Facts {
    /// Length of its first bar.
    pub bar_beats: f64,
    /// Beats before the first bar line.
    pub pickup_beats: f64,
    /// Length of one pass.
    pub length_beats: f64,
    /// Its own tempo.
    pub tempo_bpm: f64,
    /// Number of its letters.
    pub letters: usize,
}

impl Facts {
    /// Works it out.
    pub fn of(timeline: &Timeline) -> Facts {
        Facts {
            bar_beats: timeline
                .bars
                .first()
                .map_or(4.0, |bar| bar.meter.bar().to_f64()),
            pickup_beats: timeline.pickup.to_f64(),
            length_beats: timeline.length_beats(),
            tempo_bpm: timeline.tempo.to_f64(),
            letters: timeline.letters.len(),
        }
    }

    /// Beats from the start of the form at `beats` of the clock, if inside.
    pub fn form_position(&self, beats: f64, settings: &Settings) -> Option<f64> {
        let speed = settings.rate.factor().to_f64();
        let at = (beats - settings.start_beats) * speed + self.pickup_beats;
        if at < 0.0 || self.length_beats <= 0.0 {
            None
        } else if settings.repeat {
            Some(at % self.length_beats)
        } else {
            (at < self.length_beats).then_some(at)
        }
    }

    /// The player's settings where the host's clock rules: the start is counted
    /// in the form's own bars.
    pub fn hosted(&self, set: &Snapshot) -> Settings {
        Settings {
            start_beats: set.start_bars * self.bar_beats,
            ..set.settings
        }
    }
}
