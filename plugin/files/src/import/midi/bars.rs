//! Where the bar lines of a file fall, as a score draws them.
//!
//! In: time signatures in ticks, where the form begins. Out: bars in beats from
//! the start of the form. Never here: notes.

use super::clock::Clock;
use crate::import::{ImportError, RemarkKind, Remarks};
use barform_score::music::{Beats, BeatsError, Meter};
use barform_score::timeline::MAX_BARS;

/// A bar.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) struct Bar {
    /// Its start from the start of the form.
    pub start: Beats,
    /// Its length; less than its meter's in a pickup.
    pub length: Beats,
    /// Its meter.
    pub meter: Meter,
    /// Its number; a pickup is 0.
    pub number: u32,
}

/// What bar lines are drawn in.
#[derive(Debug, Clone, Copy)]
pub(super) struct Frame {
    /// Beat of the file where the form begins.
    pub origin: Beats,
    /// Beats ahead of the first full bar.
    pub pickup: Beats,
    /// Up to where, from the start of the form.
    pub end: Beats,
    /// So far off a bar line a signature still stands on it.
    pub tolerance: Beats,
}

/// Draws bar lines. A signature counts where it stands on one of them and
/// `may_change` says yes there; others are told.
pub(super) fn draw(
    signatures: &[(u64, Meter)],
    clock: Clock,
    frame: Frame,
    may_change: impl Fn(Beats) -> bool,
    remarks: &mut Remarks,
) -> Result<Vec<Bar>, ImportError> {
    let Frame {
        origin,
        pickup,
        end,
        tolerance,
    } = frame;
    let mut meter = Meter::FOUR_FOUR;
    let mut coming = Vec::new();
    for (tick, stated) in signatures {
        let at = clock.beats(*tick)?.checked_sub(origin)?;
        // What holds at the start of the form was stated before.
        if at <= tolerance {
            meter = *stated;
        } else {
            coming.push((at, *stated));
        }
    }
    if signatures.is_empty() {
        remarks.add(
            RemarkKind::Assumed,
            None,
            "no time signature is stated: 4/4",
        );
    }
    let mut coming = coming.into_iter().peekable();
    let mut bars = Vec::new();
    let (mut at, mut number) = (Beats::ZERO, 1);
    if pickup.is_positive() {
        bars.push(Bar {
            start: at,
            length: pickup,
            meter,
            number: 0,
        });
        at = pickup;
    }
    while at < end {
        if bars.len() >= MAX_BARS {
            return Err(ImportError::TooMuch(format!("more than {MAX_BARS} bars")));
        }
        let late = at.checked_add(tolerance)?;
        while let Some((stated_at, stated)) = coming.next_if(|(s, _)| *s <= late) {
            let here = near(stated_at, at, tolerance)? && (at.is_zero() || may_change(at));
            if here {
                meter = stated;
            } else {
                let what = format!("a change to {stated} that does not fall on a bar line");
                remarks.add(RemarkKind::NotKept, Some(number), what);
            }
        }
        let length = meter.bar();
        bars.push(Bar {
            start: at,
            length,
            meter,
            number,
        });
        number += 1;
        at = at.checked_add(length)?;
    }
    for (_, stated) in coming {
        let what = format!("a change to {stated} after the last stroke");
        remarks.add(RemarkKind::NotKept, None, what);
    }
    Ok(bars)
}

/// Whether two times are within `tolerance` of each other.
pub(super) fn near(a: Beats, b: Beats, tolerance: Beats) -> Result<bool, BeatsError> {
    let off = if a > b {
        a.checked_sub(b)?
    } else {
        b.checked_sub(a)?
    };
    Ok(off <= tolerance)
}

/// The bar of a time, by its number.
pub(super) fn bar_of(bars: &[Bar], at: Beats) -> u32 {
    let i = bars.partition_point(|b| b.start <= at);
    i.checked_sub(1).map_or(1, |i| bars[i].number)
}
