//! Bar lines of a form that is written out several times, and the time
//! signatures that make a reader draw them there.

use barform_score::music::{Beats, BeatsError, Meter};
use barform_score::timeline::Timeline;

/// A bar of the file.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct FileBar {
    /// From the start of the file.
    pub start: Beats,
    /// Its length; shorter than its meter's where the music cuts it.
    pub length: Beats,
    /// Its meter.
    pub meter: Meter,
}

/// Time signatures of a form in order, from the start of the file; see
/// [`signatures_of`].
pub(super) fn signatures(
    timeline: &Timeline,
    lead: Beats,
    passes: u32,
) -> Result<Vec<(Beats, Meter)>, BeatsError> {
    Ok(signatures_of(&file_bars(timeline, lead, passes)?))
}

/// Time signatures that make a reader draw these bars, which follow one another.
///
/// A bar that the form cuts short (its last, before it starts over) gets a
/// signature of its own length where one exists; together with a pickup it is
/// one full bar, and none is needed. The file's last bar keeps its meter: the
/// file ends inside it.
pub fn signatures_of(bars: &[FileBar]) -> Vec<(Beats, Meter)> {
    let mut signatures: Vec<(Beats, Meter)> = Vec::new();
    let mut irregular = false;
    for (i, bar) in bars.iter().enumerate() {
        let last = i + 1 == bars.len();
        let meter = if last || bar.length == bar.meter.bar() {
            bar.meter
        } else {
            meter_of_length(bar.length, bar.meter).unwrap_or(bar.meter)
        };
        // After a bar of no expressible length only a new signature tells the
        // reader where the next one starts.
        if irregular || signatures.last().is_none_or(|(_, now)| *now != meter) {
            signatures.push((bar.start, meter));
        }
        irregular = meter.bar() != bar.length;
    }
    signatures
}

/// All bars of the file. Ahead of the form there are only full ones.
fn file_bars(timeline: &Timeline, lead: Beats, passes: u32) -> Result<Vec<FileBar>, BeatsError> {
    let mut bars: Vec<FileBar> = Vec::new();
    let meter = super::super::lead::first_meter(timeline);
    let mut at = Beats::ZERO;
    while at < lead {
        let length = meter.bar();
        bars.push(FileBar {
            start: at,
            length,
            meter,
        });
        at = at.checked_add(length)?;
    }
    for pass in 0..passes {
        let shift = timeline.length.checked_mul(Beats::whole(i64::from(pass)))?;
        let shift = shift.checked_add(lead)?;
        for (i, bar) in timeline.bars.iter().enumerate() {
            let end = timeline
                .bars
                .get(i + 1)
                .map_or(timeline.length, |next| next.start);
            let length = end.checked_sub(bar.start)?;
            let start = bar.start.checked_add(shift)?;
            if bar.number == 0
                && let Some(before) = bars.last_mut()
            {
                // The lead-in's last bar holds the pickup already; at the end
                // of a pass the cut bar may be what the pickup lacks.
                if start < before.start.checked_add(before.length)? {
                    continue;
                }
                let both = before.length.checked_add(length)?;
                if before.meter == bar.meter && both == bar.meter.bar() {
                    before.length = both;
                    continue;
                }
            }
            bars.push(FileBar {
                start,
                length,
                meter: bar.meter,
            });
        }
    }
    Ok(bars)
}

/// A time signature for a bar of `length`, in the units of `like` or finer.
fn meter_of_length(length: Beats, like: Meter) -> Option<Meter> {
    [1, 2, 4, 8, 16, 32, 64]
        .into_iter()
        .filter(|unit| *unit >= like.unit())
        .find_map(|unit| {
            let count = length.checked_mul(Beats::new(i64::from(unit), 4)).ok()?;
            let count = count
                .is_whole()
                .then(|| u8::try_from(count.numer()).ok())??;
            Meter::new(count, unit)
        })
}
