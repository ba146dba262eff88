//! How many, how long, how fast.

use crate::music::Beats;
use crate::timeline::Timeline;

/// Most names in a list before the rest is counted.
const MAX_LISTED: usize = 12;

/// `1 bar`, `2 bars`.
pub fn count(n: usize, word: &str) -> String {
    format!("{n} {word}{}", if n == 1 { "" } else { "s" })
}

/// `1 beat`, `3/2 beats`.
pub fn beats(length: Beats) -> String {
    let one = length <= Beats::ONE && length.is_positive();
    format!("{length} beat{}", if one { "" } else { "s" })
}

/// `31.3 s`, or `4:05 min` from a minute on.
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

/// A tempo the way people write it: `92`, `92.5`.
pub fn number(value: Beats) -> String {
    if value.is_whole() {
        value.to_string()
    } else {
        value.to_f64().to_string()
    }
}

/// A large number with its thousands apart: `1 234`.
pub fn thousands(digits: &str) -> String {
    let mut out = String::new();
    for (i, digit) in digits.chars().enumerate() {
        if i > 0 && (digits.len() - i).is_multiple_of(3) {
            out.push(' ');
        }
        out.push(digit);
    }
    out
}

/// Names in a sentence: `A, B and C`.
pub fn listed(names: &[String]) -> String {
    match names {
        [] => String::new(),
        [one] => one.clone(),
        _ if names.len() > MAX_LISTED => {
            let more = names.len() - MAX_LISTED;
            format!("{} and {more} more", names[..MAX_LISTED].join(", "))
        }
        [first @ .., last] => format!("{} and {last}", first.join(", ")),
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn thousands_stand_apart() {
        let pairs = [("7", "7"), ("1234", "1 234"), ("123456", "123 456")];
        for (digits, text) in pairs {
            assert_eq!(thousands(digits), text);
        }
    }
}
