//! Beat lines drawn anew where the letters say what a beat plays: the stroke just
//! ahead of a line may be the next beat's first.

use super::content::{Content, Costs, Mark};

/// Most strokes that change sides of one line.
const MOST: usize = 3;

/// Which beat each stroke belongs to, when every beat should play its letter's.
/// `marks` are all strokes in order of time with `played` counted from pulse 0;
/// `ends` says how many of them lie before the end of each beat. Exact, by
/// dynamic programming over beats.
pub fn recut(
    marks: &[Mark],
    ends: &[usize],
    meant: &[&Content],
    near: f64,
    costs: &Costs,
) -> Vec<usize> {
    let choices = |k: usize| -> Vec<usize> {
        let end = ends[k];
        if k + 1 == ends.len() {
            return vec![end];
        }
        let line = (k + 1) as f64;
        let low = marks[..end].iter().rev().take(MOST);
        let low = low.take_while(|m| m.played > line - near).count();
        let high = marks[end..].iter().take(MOST);
        let high = high.take_while(|m| m.played < line + near).count();
        (end - low..=end + high).collect()
    };
    let mut before = vec![(0_usize, 0.0_f64)];
    let mut from: Vec<Vec<usize>> = Vec::with_capacity(ends.len());
    let mut lines: Vec<Vec<usize>> = Vec::with_capacity(ends.len());
    for k in 0..ends.len() {
        let now = choices(k);
        let mut row = Vec::with_capacity(now.len());
        let mut back = Vec::with_capacity(now.len());
        for end in &now {
            let mut best = (f64::INFINITY, 0);
            for (i, (start, cost)) in before.iter().enumerate() {
                let Some(some) = marks.get(*start..*end) else {
                    continue;
                };
                let beat = beat(some, k);
                // Ties keep the line where it was.
                let moved = if *end == ends[k] { 0.0 } else { 0.5 };
                let sum = cost + moved + meant[k].difference(&beat, costs).cost;
                if sum < best.0 {
                    best = (sum, i);
                }
            }
            row.push((*end, best.0));
            back.push(best.1);
        }
        before = row;
        from.push(back);
        lines.push(now);
    }
    let cheapest = (0..before.len()).min_by(|a, b| before[*a].1.total_cmp(&before[*b].1));
    let mut at = cheapest.unwrap_or(0);
    let mut out = vec![0; ends.len()];
    for k in (0..ends.len()).rev() {
        out[k] = lines[k][at];
        at = from[k][at];
    }
    out
}

/// Strokes as a beat without slots.
fn beat(some: &[Mark], k: usize) -> Content {
    let mark = |m: &Mark| Mark {
        slot: (-1, 1),
        played: m.played - k as f64,
        ..*m
    };
    Content {
        marks: some.iter().map(mark).collect(),
        times: 1,
        ..Content::default()
    }
}
