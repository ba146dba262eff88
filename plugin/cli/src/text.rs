//! Short ways to say lengths and numbers.

use barform_app::music::Beats;
use barform_app::timeline::Timeline;

/// `12 bars, 31.3 s at 92 beats a minute`.
pub fn extent(timeline: &Timeline) -> String {
    let seconds = timeline.length_beats() * 60.0 / timeline.tempo.to_f64();
    let bars = timeline.bars.iter().filter(|bar| bar.number > 0).count();
    let pickup = if timeline.pickup.is_positive() {
        " and a pickup"
    } else {
        ""
    };
    format!(
        "{}{pickup}, {} at {} beats a minute",
        count(bars, "bar"),
        duration(seconds),
        number(timeline.tempo)
    )
}

/// `1 bar`, `2 bars`.
pub fn count(n: usize, word: &str) -> String {
    format!("{n} {word}{}", if n == 1 { "" } else { "s" })
}

/// `31.3 s`, or `4:05` from a minute on.
pub fn duration(seconds: f64) -> String {
    if seconds < 59.95 {
        return format!("{seconds:.1} s");
    }
    let whole = seconds.round() as u64;
    let (hours, minutes, seconds) = (whole / 3600, whole / 60 % 60, whole % 60);
    if hours > 0 {
        format!("{hours}:{minutes:02}:{seconds:02}")
    } else {
        format!("{minutes}:{seconds:02} min")
    }
}

/// A tempo the way people write it: `92`, `92.5`.
pub fn number(value: Beats) -> String {
    if value.is_whole() {
        value.to_string()
    } else {
        format!("{}", value.to_f64())
    }
}

/// Reads a number of beats or of beats a minute.
pub fn beats(text: &str) -> Result<Beats, String> {
    text.parse::<Beats>().map_err(|e| e.to_string())
}
