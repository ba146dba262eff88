//! Ostinatos as this program writes them: a track each, on a cycle of its own.
//!
//! In: the strokes of such a track. Out: the shortest cycle that plays them all.

use super::strokes::Played;

/// The shortest cycle in ticks after which the strokes begin again, from `start`
/// to `end`; the whole stretch if there is none shorter. A cycle of which only a
/// part fits the file's end counts where that part agrees.
pub(super) fn cycle(strokes: &[Played], start: u64, end: u64) -> u64 {
    let whole = end.saturating_sub(start);
    let Some(first) = strokes.first() else {
        return whole;
    };
    let same = |a: &Played, b: &Played| {
        let parts = |p: &Played| {
            let h = p.hit;
            (h.voice, h.articulation, h.velocity, p.graces, p.bounces)
        };
        parts(a) == parts(b)
    };
    let periodic = |cycle: u64, step: usize| {
        let inside = first.hit.tick - start < cycle;
        inside
            && strokes.iter().zip(&strokes[step..]).all(|(a, b)| {
                b.hit.tick - a.hit.tick == cycle && same(a, b)
            })
            // After the last one that has come back, none is missing.
            && strokes[strokes.len() - step..]
                .iter()
                .all(|s| s.hit.tick + cycle >= end)
    };
    (1..strokes.len())
        .map(|step| (strokes[step].hit.tick - first.hit.tick, step))
        .filter(|(cycle, _)| *cycle > 0)
        .find(|(cycle, step)| periodic(*cycle, *step))
        .map_or(whole, |(cycle, _)| cycle)
}
