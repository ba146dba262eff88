//! What the Bench knows of the cell it works on, worked out once for each score
//! and choice.

use barform_app::music::{Beats, Cell, Limb};
use barform_app::score::Score;
use barform_app::score::edit::{Lines, Owner, Used};
use barform_app::words;

use super::super::desk::Desk;

/// The cell, its lines, and what follows from both.
#[derive(Debug, Clone)]
pub struct Known {
    /// The desk's number of the score.
    pub stamp: u64,
    /// Whose strokes.
    pub owner: Owner,
    /// The strokes as they play.
    pub cell: Cell,
    /// As a text editor shows them.
    pub lines: Lines,
    /// Start of each slot, then the length.
    pub bounds: Vec<Beats>,
    /// What it is and who depends on it, as sentences.
    pub about: String,
    /// Items of the form that play it.
    pub used: usize,
}

impl Known {
    /// Of what is chosen; `None` if there is nothing.
    pub fn of(desk: &Desk) -> Option<Known> {
        let owner = desk.owner()?;
        let cell = desk.chosen_cell()?;
        let lines = Lines::of(desk.score(), &owner)?;
        let bounds = cell.grid.slot_bounds().ok()?;
        let used = match &owner {
            Owner::Cell(letter) => Used::of(desk.score(), letter).items.len(),
            Owner::Ostinato(_) => 0,
        };
        let mut known = Known {
            stamp: desk.stamp(),
            owner,
            cell,
            lines,
            bounds,
            about: String::new(),
            used,
        };
        known.about = known.tell(desk);
        Some(known)
    }

    /// Index of the span that a slot lies in.
    pub fn span_of(&self, slot: usize) -> usize {
        let mut end = 0;
        let spans = self.cell.grid.spans();
        let inside = spans.iter().position(|span| {
            end += usize::from(span.slots);
            slot < end
        });
        inside.unwrap_or(spans.len().saturating_sub(1))
    }

    /// The slot that sounds at `beats` from the start.
    pub fn slot_at(&self, beats: Beats) -> usize {
        let next = self.bounds.partition_point(|start| *start <= beats);
        let last = self.cell.slots.len().saturating_sub(1);
        next.saturating_sub(1).min(last)
    }

    /// A slot in words: `R> on snare with K on kick`.
    pub fn slot_in_words(&self, slot: usize) -> String {
        let Some(strokes) = self.cell.slots.get(slot) else {
            return String::new();
        };
        if strokes.is_empty() {
            return "rest".to_owned();
        }
        let each = strokes.iter().map(|stroke| {
            let stick = words::sticking(&vec![*stroke]);
            let voice = words::stroke(stroke.voice, stroke.articulation);
            format!("{stick} on {voice}")
        });
        each.collect::<Vec<_>>().join(" with ")
    }

    /// The limbs that play on a slot.
    pub fn limbs(&self, slot: usize) -> impl Iterator<Item = Limb> {
        let strokes = self.cell.slots.get(slot).map_or(&[][..], Vec::as_slice);
        strokes.iter().map(|stroke| stroke.limb)
    }

    fn tell(&self, desk: &Desk) -> String {
        let length = self.bounds.last().copied().unwrap_or(Beats::ZERO);
        let beats = words::beats(length);
        let letter = match &self.owner {
            Owner::Ostinato(name) => {
                return format!("Ostinato {name}: a cycle of {beats} under the whole form.");
            }
            Owner::Cell(letter) => letter,
        };
        let plays = plays(desk, letter.as_str());
        let often = match plays {
            0 => "not in the form yet".to_owned(),
            1 => "played once in the form".to_owned(),
            2 => "played twice in the form".to_owned(),
            _ => format!("played {plays} times in the form"),
        };
        let mut about = format!("{}: {beats}, {often}.", words::letter(letter));
        let score = desk.score();
        let def = score.cells.iter().find(|c| c.letter == *letter);
        if let Some(like) = def.and_then(|def| def.like.as_ref()) {
            let taken = self.named([false; 3]);
            about += &match taken.is_empty() {
                true => format!(" A variation of {}.", words::letter(like)),
                false => format!(
                    " A variation of {}: {taken} from there until changed here.",
                    words::letter(like)
                ),
            };
        }
        about += &followers(score, &self.owner);
        if self.cell.slots.iter().all(Vec::is_empty) {
            about += " All rests so far: click on a line or space, or type R, L, K or H.";
        }
        about
    }

    /// Names of the lines whose own-ness is as given.
    fn named(&self, own: [bool; 3]) -> String {
        let names = ["grid", "sticking", "voices"];
        let is = |i: &usize| self.lines.own[*i] == own[*i];
        // A cell whose family states no voices takes none.
        let said = |i: &usize| *i < 2 || !self.lines.voices.is_empty();
        let all: Vec<&str> = (0..3).filter(is).filter(said).map(|i| names[i]).collect();
        list(&all)
    }
}

/// How often the form plays a letter, repeats counted.
fn plays(desk: &Desk, letter: &str) -> usize {
    let timeline = &desk.shown.checked.timeline;
    let index = timeline.letters.iter().position(|l| l.as_str() == letter);
    let Some(index) = index.and_then(|i| u32::try_from(i).ok()) else {
        return 0;
    };
    timeline.places.iter().filter(|p| p.letter == index).count()
}

/// Which variations change along, and in what.
fn followers(score: &Score, owner: &Owner) -> String {
    let Owner::Cell(letter) = owner else {
        return String::new();
    };
    let variations = Used::of(score, letter).variations;
    let follow: Vec<String> = variations
        .iter()
        .filter_map(|letter| {
            let lines = Lines::of(score, &Owner::Cell(letter.clone()))?;
            (!lines.own.iter().all(|own| *own)).then(|| words::letter(letter))
        })
        .collect();
    let names: Vec<&str> = follow.iter().map(String::as_str).collect();
    match names.len() {
        0 => String::new(),
        1 => format!(
            " {} changes along where it states no line of its own.",
            names[0]
        ),
        _ => format!(
            " {} change along where they state no line of their own.",
            list(&names)
        ),
    }
}

/// `a, b and c`.
fn list(names: &[&str]) -> String {
    match names {
        [] => String::new(),
        [one] => (*one).to_owned(),
        [all @ .., last] => format!("{} and {last}", all.join(", ")),
    }
}
