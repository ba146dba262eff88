//! Which bars share a line: the cheapest of all ways to break, after Knuth and
//! Plass, "Breaking Paragraphs into Lines" (Software: Practice and Experience
//! 11, 1981): a line's badness is the cube of its stretch or shrink, and the
//! sum of squared badness is least. A line holds few bars, so the search looks
//! back only over what one line can hold and its cost is in proportion to the
//! number of bars.

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

/// First piece of each line; `line` is the room after the clef.
pub fn lines(pieces: &[Piece], line: f32) -> Vec<usize> {
    let count = pieces.len();
    let mut best = vec![(f64::INFINITY, 0_usize); count + 1];
    best[0] = (0.0, 0);
    for to in 1..=count {
        let warning = pieces.get(to).map_or(0.0, |p| p.warning);
        let (mut natural, mut least) = (warning, warning);
        let mut inside = 0.0;
        for from in (0..to).rev() {
            natural += pieces[from].natural;
            least += pieces[from].least;
            // Sections inside this line: those of all pieces but its first.
            if from + 1 < to && pieces[from + 1].section {
                inside += 1.0;
            }
            let alone = from + 1 == to;
            if least > line && !alone {
                break;
            }
            let cost = best[from].0
                + cost(natural, least, line, to == count)
                + place_cost(pieces.get(to), &pieces[to - 1])
                + inside * INSIDE;
            if cost < best[to].0 {
                best[to] = (cost, from);
            }
        }
    }
    let mut starts = Vec::new();
    let mut at = count;
    while at > 0 {
        at = best[at].1;
        starts.push(at);
    }
    starts.reverse();
    starts
}

fn cost(natural: f32, least: f32, line: f32, last: bool) -> f64 {
    let ratio = if natural <= line {
        // The last line may stay short.
        if last {
            0.0
        } else {
            (line - natural) / (natural * 0.5)
        }
    } else {
        // Half-way to the closest is as much as looks well.
        (natural - line) / ((natural - least) * 0.5).max(0.01)
    };
    let badness = 100.0 * f64::from(ratio.min(20.0)).powi(3);
    (10.0 + badness).powi(2)
}

/// What it costs to begin a section inside a line: as much as a line stretched
/// by a quarter more than its music asks for.
const INSIDE: f64 = 5_000.0;

fn place_cost(next: Option<&Piece>, last: &Piece) -> f64 {
    match next {
        None => 0.0,
        Some(_) if last.torn => 2_000.0,
        Some(_) => 0.0,
    }
}
