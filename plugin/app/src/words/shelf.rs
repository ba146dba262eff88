//! Stored cells and forms in words.

use super::{beats, letter};
use crate::music::{Grid, Subdivision};
use crate::score::Score;
use crate::shelf::{Item, Stamp};

/// Longest grid that is written out, in characters.
const GRID_CHARS: usize = 24;

/// Most letters that are named.
const LETTERS: usize = 8;

const MINUTE: i64 = 60;
const HOUR: i64 = 60 * MINUTE;
const DAY: i64 = 24 * HOUR;

/// A grid, with the name of its subdivision where it has one.
pub fn grid(grid: &Grid) -> String {
    let spans = grid.spans();
    let same = spans.windows(2).all(|pair| pair[0] == pair[1]);
    let first = spans.first().map(|span| vec![*span]);
    let name = first
        .and_then(Grid::new)
        .map(Subdivision)
        .and_then(|subdivision| subdivision.name());
    match name {
        Some(name) if same => name.to_owned(),
        _ => {
            let text = grid.to_string();
            if text.chars().count() <= GRID_CHARS {
                return format!("grid {text}");
            }
            let cut = text.chars().take(GRID_CHARS - 1).chain(['…']);
            format!("grid {}", cut.collect::<String>())
        }
    }
}

/// What an item is: `Form of 8 beats: A B B’`, or `A: 1 beat, 16ths`.
pub fn item(item: &Item) -> String {
    match item.cells.as_slice() {
        [cell] if !item.has_form => {
            let (length, grid) = (beats(cell.length), grid(&cell.grid));
            format!("{}: {length}, {grid}", letter(&cell.letter))
        }
        cells => {
            let letters = cells.iter().take(LETTERS);
            let mut letters: Vec<String> = letters.map(|c| letter(&c.letter)).collect();
            if cells.len() > LETTERS {
                letters.push("…".to_owned());
            }
            let length = beats(item.length);
            format!("Form of {length}: {}", letters.join(" "))
        }
    }
}

/// The voices it is played on.
pub fn item_voices(item: &Item) -> String {
    let voices = item.voices();
    let names: Vec<String> = voices.iter().map(|v| v.said().to_owned()).collect();
    names.join(", ")
}

/// When it was last used: `used 3 days ago`.
pub fn last_used(item: &Item, now: Stamp) -> String {
    match item.used {
        None => "never used".to_owned(),
        Some(at) => format!("used {}", ago(at, now)),
    }
}

/// How long ago a moment was.
pub fn ago(at: Stamp, now: Stamp) -> String {
    let some = |n: i64, unit: &str| {
        let s = if n == 1 { "" } else { "s" };
        format!("{n} {unit}{s} ago")
    };
    match now.unix_seconds() - at.unix_seconds() {
        ..MINUTE => "just now".to_owned(),
        age @ MINUTE..HOUR => some(age / MINUTE, "minute"),
        age @ HOUR..DAY => some(age / HOUR, "hour"),
        age if age < 30 * DAY => some(age / DAY, "day"),
        _ => {
            let date: String = at.to_string().chars().take(10).collect();
            format!("on {date}")
        }
    }
}

/// Tags as typed, between commas.
pub fn tags(typed: &str) -> Vec<String> {
    let tags = typed.split(',').map(str::trim).filter(|t| !t.is_empty());
    tags.map(str::to_owned).collect()
}

/// A name to begin with for something out of a score.
pub fn suggested_name(score: &Score, what: &str) -> String {
    let title = score.title.trim();
    match (title.is_empty(), what.is_empty()) {
        (true, true) => "Form".to_owned(),
        (true, false) => format!("Cell {what}"),
        (false, true) => title.to_owned(),
        (false, false) => format!("{title}, {what}"),
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn stamp(seconds: i64) -> Stamp {
        Stamp::from_unix_seconds(seconds).unwrap()
    }

    #[test]
    fn ages_are_told_in_the_largest_whole_unit() {
        let now = stamp(100 * DAY);
        for (age, text) in [
            (0, "just now"),
            (59, "just now"),
            (60, "1 minute ago"),
            (2 * HOUR + 5, "2 hours ago"),
            (3 * DAY, "3 days ago"),
            // 70 days after 1 January 1970.
            (30 * DAY, "on 1970-03-12"),
        ] {
            assert_eq!(ago(stamp(100 * DAY - age), now), text);
        }
    }

    #[test]
    fn tags_are_what_stands_between_commas() {
        assert_eq!(tags(" toms, , warm-up ,"), ["toms", "warm-up"]);
        assert!(tags(" , ").is_empty());
    }
}
