//! Which value a length has, and which may start where.

use super::error::Fault;
use super::pieces::Frame;
use crate::Value;
use barform_score::music::Beats;

/// Values longer than a beat that may start at `start`, longest first. Common
/// practice: even groups of beats from the bar line; in three a note may last
/// from the second beat to the end, and a dotted half fills the bar.
pub(super) fn long_values(
    frame: Frame<'_>,
    start: Beats,
    beat: Beats,
    note: bool,
) -> Result<Vec<Beats>, Fault> {
    let bar = frame.beats.last().copied().unwrap_or(Beats::ZERO);
    let three = bar == Beats::whole(3) && beat == Beats::ONE;
    if three {
        let values = match start.numer() {
            _ if !note || !start.is_whole() => Vec::new(),
            0 => vec![Beats::whole(3), Beats::whole(2)],
            1 => vec![Beats::whole(2)],
            _ => Vec::new(),
        };
        return Ok(values);
    }
    let mut values = Vec::new();
    for beats in [4, 2] {
        let length = beat.checked_mul(Beats::whole(beats))?;
        let fits =
            |whole: Beats| -> Result<bool, Fault> { Ok(whole.checked_rem(length)?.is_zero()) };
        // A rest also needs a bar of such groups: none over two beats in 5/4.
        if exact(length).is_some() && fits(start)? && (note || fits(bar)?) {
            values.push(length);
        }
    }
    Ok(values)
}

/// Parts of a beat in which values are measured: half of the shortest.
const TICKS_PER_BEAT: i64 = 512;

/// Undotted values in ticks, from a whole note to a 1024th.
fn halvings() -> impl Iterator<Item = i64> {
    (0..=Value::SHORTEST.halvings()).map(|h| (4 * TICKS_PER_BEAT) >> h)
}

/// A time in ticks; `None` where it is too fine for any value.
fn ticks(time: Beats) -> Option<i64> {
    let fits = TICKS_PER_BEAT % time.denom() == 0;
    fits.then(|| time.numer().checked_mul(TICKS_PER_BEAT / time.denom()))?
}

/// The value and dots of a length, if one value with at most one dot says it.
pub(super) fn exact(length: Beats) -> Option<(Value, u8)> {
    let length = ticks(length)?;
    halvings().zip(0..).find_map(|(plain, h)| {
        let dots = match length {
            l if l == plain => 0,
            l if l == plain + plain / 2 => 1,
            _ => return None,
        };
        Some((Value::new(h)?, dots))
    })
}

/// The longest value of at most `room` that may start `at` from its beat: a
/// value starts on a multiple of its half, a dotted one of its third.
pub(super) fn longest(at: Beats, room: Beats) -> Option<Beats> {
    let (at, room) = (ticks(at)?, ticks(room)?);
    let found = halvings().find_map(|plain| {
        let half = plain / 2;
        let dotted = plain + half;
        // A dot on the shortest value would be half of it.
        let has_dot = half > 1 && dotted <= room;
        let fits = [(has_dot, dotted), (plain <= room, plain)];
        let found = fits.into_iter().find(|(fits, _)| *fits && at % half == 0);
        found.map(|(_, length)| length)
    })?;
    Some(Beats::new(found, TICKS_PER_BEAT))
}

/// The longest undotted value of at most `room` that starts on a multiple of
/// itself.
pub(super) fn longest_rest(at: Beats, room: Beats) -> Option<Beats> {
    let (at, room) = (ticks(at)?, ticks(room)?);
    let found = halvings().find(|plain| *plain <= room && at % plain == 0)?;
    Some(Beats::new(found, TICKS_PER_BEAT))
}
