//! Where the beats of a bar begin: what beams, notes and rests keep inside of.
//!
//! Common practice: quarters in meters over 4 and below; dotted quarters (three
//! units) in compound meters; twos and at last a three in odd meters over 8 and
//! above (7/8 is 2 + 2 + 3).

use super::error::Fault;
use barform_score::music::{Beats, Meter};

/// Beats of a bar: their starts, then the bar's end. Times are quarter-note
/// beats from the bar line.
pub(super) fn beats(meter: Meter) -> Result<Vec<Beats>, Fault> {
    let bar = meter.bar();
    let step = if meter.is_compound() {
        meter.pulse()
    } else if meter.unit() <= 4 {
        Beats::ONE
    } else {
        Beats::new(8, i64::from(meter.unit()))
    };
    let mut bounds = vec![Beats::ZERO];
    let mut at = step;
    while at < bar {
        bounds.push(at);
        at = at.checked_add(step)?;
    }
    // A single unit left over joins the last two: 7/8 ends with a three.
    if bounds.len() > 1
        && !meter.is_compound()
        && meter.unit() > 4
        && !at.checked_sub(bar)?.is_zero()
    {
        bounds.pop();
    }
    bounds.push(bar);
    Ok(bounds)
}
