//! Which bars share a line: the cheapest of all ways to break the whole score,
//! after Knuth and Plass, "Breaking Paragraphs into Lines" (Software: Practice
//! and Experience 11, 1981): each line has a badness, and dynamic programming
//! finds the breaks whose sum is least.
//!
//! A line's density `d` is the natural width of its music over the room it has.
//! Its badness is `(d - 1)²`, the squared deviation of natural width from line
//! width; to that comes `(d - e)²` where the line before has density `e` (Knuth
//! and Plass's demerits for neighbours of unlike tightness). The last line may
//! end short and costs nothing then. A line holds few bars, so the search looks
//! back only over what one line can hold and its cost is in proportion to the
//! number of bars.

/// No line of several pieces is denser than this many times the mean.
const UNEVEN: f32 = 1.4;
/// What it costs to begin a section inside a line: as much as a line that is
/// filled to seven tenths.
const INSIDE: f32 = 0.09;
/// What it costs to tear a bar at the end of a line.
const TORN: f32 = 0.07;

/// What the search knows of a piece.
#[derive(Debug, Clone, Copy)]
pub struct Piece {
    /// Width at its natural spacing.
    pub natural: f32,
    /// Width as close as may be.
    pub least: f32,
    /// Extra room at the end of the line before it: a meter that warns.
    pub warning: f32,
    /// A section begins: a good place to begin a line.
    pub section: bool,
    /// Inside a bar: a break after this one tears it.
    pub torn: bool,
}

/// One way for a line to end at a piece, with the best lines before it.
#[derive(Debug, Clone, Copy)]
struct Line {
    from: usize,
    density: f32,
    cost: f32,
    /// Which of the lines that end where this one begins.
    before: usize,
}

/// First piece of each line; `line` is the room after the clef.
pub fn lines(pieces: &[Piece], line: f32) -> Vec<usize> {
    let mut most = f32::INFINITY;
    loop {
        let found = cheapest(pieces, line, most);
        let all: Vec<f32> = found.iter().map(|l| l.density).collect();
        let (last, full) = all.split_last().map_or((0.0, &[][..]), |(l, f)| (*l, f));
        // A short last line is set like the others.
        let others = mean(full).unwrap_or(last);
        let mean = (others * full.len() as f32 + last.max(others)) / all.len().max(1) as f32;
        let ends = found.iter().skip(1).map(|l| l.from).chain([pieces.len()]);
        let shared = found.iter().zip(ends).filter(|(l, end)| end - l.from > 1);
        let worst = shared.map(|(l, _)| l.density).fold(0.0, f32::max);
        if worst <= UNEVEN * mean {
            return found.iter().map(|l| l.from).collect();
        }
        // A lower bound is met at the latest where every piece has its own line.
        most = (UNEVEN * mean).min(0.98 * most);
    }
}

/// Mean of densities, if there are any.
pub fn mean(densities: &[f32]) -> Option<f32> {
    let count = densities.len() as f32;
    (count > 0.0).then(|| densities.iter().sum::<f32>() / count)
}

/// The cheapest lines of which none with several pieces is denser than `most`.
fn cheapest(pieces: &[Piece], line: f32, most: f32) -> Vec<Line> {
    let count = pieces.len();
    let mut ways: Vec<Vec<Line>> = vec![Vec::new(); count + 1];
    for to in 1..=count {
        let warning = pieces.get(to).map_or(0.0, |p| p.warning);
        let room = line - warning;
        let torn = to < count && pieces[to - 1].torn;
        let (mut natural, mut least) = (0.0, 0.0);
        let mut place = if torn { TORN } else { 0.0 };
        for from in (0..to).rev() {
            natural += pieces[from].natural;
            least += pieces[from].least;
            // Sections inside this line: those of all pieces but its first.
            if from + 1 < to && pieces[from + 1].section {
                place += INSIDE;
            }
            let density = natural / room.max(1.0);
            if from + 1 < to && (least > room || density > most) {
                break;
            }
            let short = to == count && density <= 1.0;
            let badness = if short { 0.0 } else { (density - 1.0).powi(2) };
            let uneven = |e: f32| if short { 0.0 } else { (density - e).powi(2) };
            let before = ways[from]
                .iter()
                .enumerate()
                .map(|(i, l)| (l.cost + uneven(l.density), i))
                .min_by(|a, b| a.0.total_cmp(&b.0));
            let (cost, before) = before.unwrap_or((0.0, 0));
            let cost = cost + badness + place;
            ways[to].push(Line {
                from,
                density,
                cost,
                before,
            });
        }
    }
    let mut found = Vec::new();
    let mut next = ways[count]
        .iter()
        .min_by(|a, b| a.cost.total_cmp(&b.cost))
        .copied();
    while let Some(l) = next {
        found.push(l);
        next = ways[l.from].get(l.before).copied();
    }
    found.reverse();
    found
}
