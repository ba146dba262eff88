//! Bars in the order they are played: repeats and their endings followed.

use super::music::Bar;
use crate::import::ImportError;
use barform_score::timeline::MAX_BARS;

/// Bars in a row, played so often.
#[derive(Debug, Clone, PartialEq, Eq)]
pub(super) struct Block {
    /// Indexes of bars as written.
    pub bars: Vec<usize>,
    /// At least 1.
    pub times: u32,
}

/// Follows the repeat signs. A repeat without endings stays one block with its
/// number of times; one with endings is written out.
pub(super) fn played(bars: &[Bar]) -> Result<Vec<Block>, ImportError> {
    let mut done: Vec<Block> = Vec::new();
    let mut now: Vec<usize> = Vec::new();
    let mut total = 0_usize;
    let (mut start, mut pass) = (0, 1);
    // Where in `now` the repeat at hand began.
    let mut start_now = 0;
    let mut i = 0;
    while let Some(bar) = bars.get(i) {
        total += 1;
        if total > MAX_BARS {
            let what = format!("more than {MAX_BARS} bars with all repeats");
            return Err(ImportError::TooMuch(what));
        }
        let leaves_ending =
            i > 0 && bar.passes.is_empty() && !bars[i - 1].passes.is_empty() && i > start;
        if (bar.repeat_from && i > start) || leaves_ending {
            (start, pass, start_now) = (i, 1, now.len());
        }
        if !bar.passes.is_empty() && !bar.passes.contains(&pass) {
            i += 1;
            continue;
        }
        now.push(i);
        let Some(times) = bar.repeat_to else {
            i += 1;
            continue;
        };
        let endings = bars[start..=i].iter().any(|b| !b.passes.is_empty());
        if !endings {
            let group = now.split_off(start_now);
            flush(&mut done, &mut now);
            done.push(Block { bars: group, times });
            (start, pass, start_now) = (i + 1, 1, 0);
            i += 1;
        } else if pass < times.max(last_pass(bars, start, i)) {
            pass += 1;
            i = start;
        } else {
            i += 1;
            (start, pass, start_now) = (i, 1, now.len());
        }
    }
    flush(&mut done, &mut now);
    Ok(done)
}

fn flush(done: &mut Vec<Block>, now: &mut Vec<usize>) {
    if !now.is_empty() {
        done.push(Block {
            bars: std::mem::take(now),
            times: 1,
        });
    }
}

/// The last pass that the endings of a repeat name, those after its sign
/// included.
fn last_pass(bars: &[Bar], start: usize, sign: usize) -> u32 {
    let after = bars[sign + 1..].iter().take_while(|b| !b.passes.is_empty());
    let all = bars[start..=sign].iter().chain(after);
    all.flat_map(|b| b.passes.iter().copied())
        .max()
        .unwrap_or(1)
}
