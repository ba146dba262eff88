//! How early or late, in words.

use crate::music::Level;
use crate::played::{Hit, to_ms};

/// Milliseconds either way that count as on time: what good players are within.
/// Common practice, no source.
const ON_TIME_MS: f64 = 5.0;

/// `12 ms late`, `on time (3 ms early)`.
pub fn lateness(ms: f64) -> String {
    let whole = ms.round().abs();
    let side = if ms < 0.0 { "early" } else { "late" };
    match () {
        () if whole == 0.0 => "on time".to_owned(),
        () if whole <= ON_TIME_MS => format!("on time ({whole} ms {side})"),
        () => format!("{whole} ms {side}"),
    }
}

/// `slot 3, snare, accent: 12 ms late`.
pub fn hit(hit: &Hit, bpm: f64) -> String {
    let level = match hit.struck.level {
        Level::Ghost => ", ghost note",
        Level::Normal => "",
        Level::Accent => ", accent",
    };
    format!(
        "slot {}, {}{level}: {}",
        hit.landed.slot + 1,
        hit.struck.voice.said(),
        lateness(to_ms(hit.landed.off, bpm))
    )
}

#[cfg(test)]
mod tests {
    #[test]
    fn early_and_late_are_told_in_whole_milliseconds() {
        for (ms, text) in [
            (0.2, "on time"),
            (-3.4, "on time (3 ms early)"),
            (5.4, "on time (5 ms late)"),
            (5.6, "6 ms late"),
            (-41.5, "42 ms early"),
        ] {
            assert_eq!(super::lateness(ms), text);
        }
    }
}
