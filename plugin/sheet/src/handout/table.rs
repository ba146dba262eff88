//! Tables of a letter's page: top tempos, and the ladder to write in.

use super::about::About;
use super::page::{Pages, RULE, STRONG, WORDS};
use super::steps::RUNGS;
use super::text::{Type, block, line, wide};
use crate::engrave::canvas;
use crate::engrave::metrics::text_at;
use crate::engrave::rows::fitted;
use crate::{Anchor, Role, ink};

/// Height of a row to write in.
const ROW: f32 = 6.5;
/// Greatest height of a row where there is room.
const TALL_ROW: f32 = 9.0;
/// Fewest rows worth beginning at the foot of a page.
const FEW_ROWS: usize = 4;
/// Most rows on a page.
const MOST_ROWS: usize = 24;
/// Names of the columns to write in, and their width as a part of the whole.
const COLUMNS: [(&str, f32); 4] = [
    ("Step", 0.13),
    ("Date", 0.16),
    ("Tempo reached", 0.19),
    ("Notes", 0.52),
];

impl Pages<'_> {
    /// Level, tempo, why.
    pub fn tops(&mut self, tops: &[[String; 3]]) {
        let edges = self.edges();
        let gap = 3.0 * self.scale;
        let inner = edges.right - edges.left;
        let column = |i: usize, face: Type, most: f32| {
            let widths = tops.iter().map(|row| wide(&ink::printable(&row[i]), face));
            widths.fold(0.0, f32::max).min(most)
        };
        let (plain, strong) = (self.typed(WORDS), self.typed(STRONG));
        let name = column(0, plain, 0.25 * inner);
        let bpm = column(1, strong, 0.25 * inner);
        let lefts = [
            edges.left,
            edges.left + name + gap,
            edges.left + name + bpm + 2.0 * gap,
        ];
        for row in tops {
            let why = block(&row[2], plain, edges.right - lefts[2]);
            self.room(why.height);
            for (text, left, face, width) in [
                (&row[0], lefts[0], plain, name),
                (&row[1], lefts[1], strong, bpm),
            ] {
                let text = fitted(&ink::printable(text), face, width + 0.01);
                let (item, _) = line(&text, left, self.y, face, Role::Words);
                self.put(item);
            }
            self.flow(why, lefts[2]);
            self.space(0.7);
        }
        let note = "These figures are limits, not targets.";
        self.words(note, WORDS, 0.0);
    }

    /// The ladder with room to write beside each rung.
    pub fn ladder(&mut self, about: &About) {
        let row = ROW * self.scale;
        // Names of the columns, a few rows, heading and sentence together.
        self.room((FEW_ROWS + 1) as f32 * row + 14.5 * self.scale);
        self.heading("Tempo steps");
        let rungs = about.ladder.rungs(RUNGS);
        let mut told = about.ladder.sentence();
        if !rungs.is_empty() {
            let all: Vec<String> = rungs.iter().map(u32::to_string).collect();
            told += &format!(" Tempo steps: {}.", all.join(", "));
        }
        self.words(&told, WORDS, 0.0);
        self.space(1.0);
        let edges = self.edges();
        let fits = |pages: &Pages| ((pages.floor - pages.y - RULE) / row).floor().max(0.0) as usize;
        // One row is the names of the columns.
        let count = fits(self).saturating_sub(1).max(1);
        // Fewer rows than rungs are left blank: a ladder with rungs left out is
        // no row of small steps.
        let printed = if rungs.len() <= count {
            &rungs[..]
        } else {
            &[]
        };
        // Where a page is left over, rows without a tempo fill it.
        let rows = 1 + if count > RUNGS {
            let tall = (count as f32 * ROW / TALL_ROW) as usize;
            tall.clamp(RUNGS, MOST_ROWS)
        } else {
            count
        };
        let tall = ((self.floor - self.y - RULE) / rows as f32).clamp(row, TALL_ROW * self.scale);
        let inner = edges.right - edges.left;
        let top = self.y + RULE / 2.0;
        let pad = 1.0 * self.scale;
        let (plain, strong) = (self.typed(WORDS), self.typed(STRONG));
        let mut lefts = vec![edges.left];
        for (name, part) in COLUMNS {
            // The first column holds tempos, of three digits at most.
            let least = wide(name, strong).max(match lefts.len() {
                1 => wide("400 bpm", strong),
                _ => 0.0,
            });
            let width = (part * inner).max(least + 2.5 * pad);
            lefts.push((lefts[lefts.len() - 1] + width).min(edges.right));
        }
        lefts[COLUMNS.len()] = edges.right;
        let cell = |row: usize, column: usize, text: &str, face: Type| {
            let width = lefts[column + 1] - lefts[column] - 2.0 * pad;
            let text = fitted(&ink::printable(text), face, width);
            let b = text_at("1Tg", 0.0, 0.0, face.1, face.0, Anchor::Start);
            let middle = top + (row as f32 + 0.5) * tall;
            let base = middle - (b.top + b.bottom) / 2.0;
            let own = text_at(&text, 0.0, 0.0, face.1, face.0, Anchor::Start);
            let x = lefts[column] + pad - own.left.min(0.0);
            canvas::words(&text, (x, base), face, Anchor::Start, Role::Words)
        };
        let mut items = Vec::new();
        for (column, (name, _)) in COLUMNS.iter().enumerate() {
            items.push(cell(0, column, name, strong));
        }
        for (i, rung) in printed.iter().enumerate() {
            let face = if i + 1 == printed.len() {
                strong
            } else {
                plain
            };
            items.push(cell(i + 1, 0, &format!("{rung} bpm"), face));
        }
        let bottom = top + rows as f32 * tall;
        for i in 0..=rows {
            let y = top + i as f32 * tall;
            items.push(canvas::line(
                (edges.left, y),
                (edges.right, y),
                RULE,
                Role::Rule,
            ));
        }
        for (i, x) in lefts.iter().enumerate() {
            // The outer rules stay between the margins.
            let x = match i {
                0 => edges.left + RULE / 2.0,
                _ if i == COLUMNS.len() => edges.right - RULE / 2.0,
                _ => *x,
            };
            items.push(canvas::line((x, top), (x, bottom), RULE, Role::Rule));
        }
        for item in items {
            self.put(item);
        }
        self.y = bottom + RULE / 2.0;
        self.begun = true;
    }
}
