//! Human takes, where they are at hand: `BARFORM_TAKES` names their folder, or
//! they lie beside the workspace. Of the drummers that nothing was tuned on.

mod support;

use support::human::{folder, on_all, takes, to_click};

#[test]
fn human_takes_are_kept_whole_on_grids_that_can_be_read() {
    let Some(folder) = folder() else {
        println!("no human takes at hand: BARFORM_TAKES names no folder; skipped");
        return;
    };
    let mut all = takes(&folder);
    all.retain(|t| t.is_measured() && t.groove);
    // Every eighth is enough for a test; the example measures all.
    let some: Vec<_> = all.into_iter().step_by(8).collect();
    let seen = on_all(&some, |t| to_click(t).1);
    let sum = |f: fn(&support::human::Seen) -> usize| seen.iter().map(f).sum::<usize>() as f64;
    assert_eq!(sum(|s| s.kept), sum(|s| s.notes));
    assert!(sum(|s| s.readable) >= 0.90 * sum(|s| s.beats));
    assert!(sum(|s| s.near) >= 0.85 * sum(|s| s.strokes));
    let bars: f64 = seen.iter().map(|s| s.bars).sum();
    assert!(sum(|s| s.letters) <= 1.5 * bars);
    assert!(sum(|s| s.placements) >= 2.5 * sum(|s| s.letters));
}
