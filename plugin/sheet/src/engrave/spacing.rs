//! How far moments stand apart: at least as far as their ink asks, row by row,
//! and beyond that in proportion to a power of how long they last.

use super::column::Column;
use super::metrics::INK_GAP;
use super::piece::{LetterBox, Part, Said, letter_width};
use super::rows::LETTER_LEFT;
use crate::{Bounds, Kind};

/// Rows that keep their own distance between moments: notes, counts, sticking,
/// letters.
const ROWS: usize = 4;
/// Least white in each row.
const ROW_GAP: [f32; ROWS] = [INK_GAP, 0.85, 0.7, 0.5];
/// Least white between a bar line and the ink of each row.
const BAR_GAP: [f32; ROWS] = [0.8, 0.25, 0.25, 0.25];
/// Least white between the ink of each row and the bar line after it.
const END_GAP: [f32; ROWS] = [INK_GAP + 0.2, 0.25, 0.25, 0.25];
/// Nothing in a row: any distance will do.
const NOTHING: f32 = f32::NEG_INFINITY;
/// Width of a sixteenth at looseness 1.
const SIXTEENTH: f32 = 2.9;
/// How width grows with duration: a note twice as long takes 1.46 times the room.
const GROWTH: f32 = 0.55;
/// Least room between two bar lines.
const LEAST_BAR: f32 = 5.0;

/// A moment's room.
#[derive(Debug, Clone, Copy)]
pub struct Room {
    /// To the next moment or the end, at looseness 1.
    ideal: f32,
    left: [f32; ROWS],
    right: [f32; ROWS],
}

impl Room {
    /// How far right of the moment anything reaches.
    pub fn rightmost(&self) -> f32 {
        self.right.iter().copied().fold(0.0, f32::max)
    }
}

/// Room of each moment: ideal after the shortest note that sounds across it, so
/// that a note's room does not depend on what the other voice does meanwhile
/// (the rule of springs in Gourlay, "Spacing a line of music", Ohio State
/// University 1987; from memory).
pub fn rooms(
    part: &Part,
    columns: &[Column],
    under: &[Vec<Said>; 2],
    letters: &[LetterBox],
) -> Vec<Room> {
    let mut rooms: Vec<Room> = columns
        .iter()
        .map(|c| {
            let mut room = Room {
                ideal: 0.0,
                left: [NOTHING; ROWS],
                right: [NOTHING; ROWS],
            };
            if let Some((left, right)) = c.reach {
                (room.left[0], room.right[0]) = (left, right);
            }
            room
        })
        .collect();
    for (row, said) in under.iter().enumerate() {
        for words in said {
            let ink = words.items.iter().map(|i| i.bounds).reduce(Bounds::with);
            let b = ink.unwrap_or_default();
            let room = &mut rooms[words.column];
            (room.left[row + 1], room.right[row + 1]) = (-b.left, b.right);
        }
    }
    for letter in letters {
        let room = &mut rooms[letter.column];
        (room.left[3], room.right[3]) = (LETTER_LEFT, letter_width(letter) - LETTER_LEFT);
    }
    let mut said: Vec<usize> = under.iter().flatten().map(|s| s.column).collect();
    said.sort_unstable();
    said.dedup();
    let mut slot = 0.0;
    let mut at = [0_usize; 2];
    let lines = [&part.bar.hands, &part.bar.feet];
    for (i, column) in columns.iter().enumerate() {
        let to = columns.get(i + 1).map_or(part.span.1, |c| c.at);
        let gap = (to.to_f64() - column.at.to_f64()) as f32;
        let mut shortest = f32::MAX;
        // Counts and sticking are read as an even row: slots are a voice too.
        if let Ok(next) = said.binary_search(&i) {
            let to = said.get(next + 1).map_or(part.span.1, |c| columns[*c].at);
            slot = (to.to_f64() - column.at.to_f64()) as f32;
        }
        if slot > 0.0 {
            shortest = slot;
        }
        for (line, at) in lines.iter().zip(&mut at) {
            while line
                .elements
                .get(*at + 1)
                .is_some_and(|e| e.at <= column.at)
            {
                *at += 1;
            }
            if let Some(e) = line.elements.get(*at)
                && !matches!(e.kind, Kind::Rest { hidden: true, .. })
            {
                shortest = shortest.min(e.length.to_f64() as f32);
            }
        }
        // A moment that only words mark, under nothing that sounds.
        let sounding = if shortest == f32::MAX { gap } else { shortest }.max(1.0 / 256.0);
        rooms[i].ideal = SIXTEENTH * (sounding * 4.0).powf(GROWTH) * (gap / sounding).max(0.0);
    }
    rooms
}

/// Places the moments of a bar whose lead is `start` wide, at a looseness of 0 or
/// more; gives where its closing sign begins.
pub fn walk(rooms: &[Room], start: f32, looseness: f32, mut place: impl FnMut(f32)) -> f32 {
    let mut last: [f32; ROWS] = std::array::from_fn(|row| start + BAR_GAP[row] - ROW_GAP[row]);
    // Words may begin above and below a meter or a repeat sign.
    let mut ideal = start + BAR_GAP[0] + 0.6;
    for room in rooms {
        let mut x = ideal;
        for ((last, gap), left) in last.iter().zip(ROW_GAP).zip(room.left) {
            x = x.max(last + gap + left);
        }
        for (last, right) in last.iter_mut().zip(room.right) {
            *last = last.max(x + right);
        }
        place(x);
        // Time goes on even where nothing is printed.
        ideal = x + (looseness * room.ideal).max(0.15);
    }
    let ends = last.iter().zip(END_GAP).map(|(last, gap)| last + gap);
    ends.fold(ideal.max(start + LEAST_BAR), f32::max)
}
