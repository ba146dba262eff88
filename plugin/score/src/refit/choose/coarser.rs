//! Fewer slots than the cell has: some are left out, the rest stay in order.

use super::view::{Cost, View};
use super::{How, Pick};

/// The cheapest choice of slots, in order, with the opening kept.
pub(super) fn fill(view: &View) -> Vec<Pick> {
    let (old, new, keep) = (view.old, view.new, view.keep);
    // best[i]: cheapest way whose last slot so far is slot i; from[j][i]: the one
    // before it.
    let mut best: Vec<Option<Cost>> = vec![None; old];
    let mut from: Vec<Vec<usize>> = Vec::with_capacity(new);
    for j in 0..new {
        let mut next = vec![None; old];
        let mut back = vec![0; old];
        // Slot j of the cell is the earliest for new slot j; enough are left
        // for the slots that follow.
        let range = if j < keep { j..=j } else { j..=old - (new - j) };
        let (band, band_before) = (view.band(j), view.band(j.saturating_sub(1)));
        for i in range.filter(|i| j < keep || band.contains(i)) {
            let late = view.late(j, i);
            if j == 0 {
                next[i] = Some(late);
                continue;
            }
            for (before, known) in best.iter().enumerate().take(i).skip(j - 1) {
                let within = j <= keep || band_before.contains(&before);
                let Some(cost) = known.filter(|_| within) else {
                    continue;
                };
                let cost = cost + late + view.skip(before + 1, i) + view.join(before, i);
                if next[i].is_none_or(|known| cost < known) {
                    (next[i], back[i]) = (Some(cost), before);
                }
            }
        }
        best = next;
        from.push(back);
    }
    let end = |i: usize| best[i].map(|cost| (cost + view.skip(i + 1, old) + view.join(i, old), i));
    let mut at = (0..old).filter_map(end).min().map_or(new - 1, |(_, i)| i);
    let mut picks = Vec::with_capacity(new);
    for j in (0..new).rev() {
        let before = from[j][at];
        let next = j == 0 || before + 1 == at;
        picks.push(Pick {
            from: Some(at),
            how: if next { How::Next } else { How::Skips },
        });
        at = before;
    }
    picks.reverse();
    picks
}
