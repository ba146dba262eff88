//! What comes before the form in a file.

use barform_score::music::{Beats, BeatsError, Meter};
use barform_score::timeline::{Bar, Note, Timeline};

/// Beats of file before the form starts: the empty bars asked for and, ahead of
/// a pickup, what its bar lacks. So bar lines of the file fall where a program
/// that counts from the file's start draws them, and the first full bar of a
/// form with pickup is the file's second.
///
/// # Errors
/// [`BeatsError::Overflow`] if the sum does not fit.
pub fn lead_in(timeline: &Timeline, empty_bars: u32) -> Result<Beats, BeatsError> {
    let bar = first_meter(timeline).bar();
    let empty = bar.checked_mul(Beats::whole(i64::from(empty_bars)))?;
    if timeline.pickup.is_positive() {
        empty.checked_add(bar)?.checked_sub(timeline.pickup)
    } else {
        Ok(empty)
    }
}

/// The click of the empty bars and of what comes before a pickup: one per pulse,
/// another sound on each bar line. Times are from the start of the file.
///
/// # Errors
/// [`BeatsError::Overflow`] if a time does not fit.
pub fn count_in(timeline: &Timeline, empty_bars: u32) -> Result<Vec<(Beats, Note)>, BeatsError> {
    let meter = first_meter(timeline);
    let end = lead_in(timeline, empty_bars)?;
    let mut clicks = Vec::new();
    let mut start = Beats::ZERO;
    while start < end {
        let next = start.checked_add(meter.bar())?;
        let bar = Bar {
            start,
            meter,
            number: 1,
        };
        for (at, kind) in bar.clicks(next.min(end), None)? {
            clicks.extend(kind.note(&timeline.kit).map(|note| (at, note)));
        }
        start = next;
    }
    Ok(clicks)
}

/// Meter of the form's first bar.
pub(super) fn first_meter(timeline: &Timeline) -> Meter {
    timeline
        .bars
        .first()
        .map_or(Meter::FOUR_FOUR, |bar| bar.meter)
}
