//! Scores of whole bars with repeats, on every grid from 1 to 12.

use barform_dice::Dice;

use super::patterns::{Beats, Pattern, Spans};
use super::scores::Case;
use serde_json::{Value, json};
use std::fmt::Write as _;

/// Cells of two beats: even grids, mixed ones, tuplets within tuplets.
fn spans(dice: &mut Dice) -> Spans {
    let beats = |n, d| Beats::new(n, d);
    let one = beats(1, 1);
    let n = 1 + dice.below(12) as i64;
    let m = 1 + dice.below(12) as i64;
    let kinds: [Spans; 7] = [
        vec![(n, one), (m, one)],
        vec![(n, one), (m, one)],
        vec![(n, beats(2, 1))],
        vec![(1, beats(1, 2)), (3, beats(1, 2)), (n.min(8), one)],
        // A triplet whose second note is a triplet, and one with a quintuplet.
        vec![
            (1, beats(1, 3)),
            (3, beats(1, 3)),
            (1, beats(1, 3)),
            (m.min(4), one),
        ],
        vec![(2, beats(4, 3)), (5, beats(2, 3))],
        vec![(3, beats(3, 2)), (2, beats(1, 2))],
    ];
    dice.pick(&kinds)
}

/// A score from a number: always the same.
pub fn repeated_case(number: u64) -> Case {
    let mut dice = Dice::of(number ^ 0x00dd_ba11);
    let letters = ["A", "B", "C'", "D2"];
    let cells: Vec<(&str, Pattern)> = letters
        .into_iter()
        .map(|letter| {
            let spans = spans(&mut dice);
            (letter, Pattern::random(&mut dice, spans, false))
        })
        .collect();
    let (mut text, mut items) = (String::new(), Vec::new());
    let mut play = |dice: &mut Dice, bars: usize, times: usize| {
        let (mut inside, mut played) = (String::new(), Vec::new());
        for _ in 0..bars * 2 {
            let (letter, _) = &cells[dice.below(cells.len())];
            let _ = write!(inside, "{letter} ");
            played.push(json!({"letter": letter, "subdivision": null, "rate": "1"}));
        }
        if times == 1 {
            let _ = write!(text, "{inside}| ");
        } else {
            let _ = write!(text, "({inside}|)x{times} ");
        }
        for _ in 0..times {
            items.extend(played.iter().cloned());
        }
    };
    for _ in 0..=dice.below(2) {
        let bars = 1 + dice.below(2);
        let times = 1 + dice.below(3);
        play(&mut dice, bars, times);
    }
    let mut ostinatos: Vec<Value> = Vec::new();
    let mut more = String::new();
    if dice.one_in(3) {
        // Of a bar or a part of one, so that repeats stay repeats.
        let n = 1 + dice.below(4) as i64;
        let pattern = Pattern::random(&mut dice, vec![(n, Beats::from_integer(2))], true);
        let _ = writeln!(more, "[ostinato.low]\n{}", pattern.text());
        ostinatos.push(json!({"name": "low", "pattern": pattern.json()}));
    }
    let mut music = serde_json::Map::new();
    for (letter, cell) in &cells {
        let _ = writeln!(more, "[cell.\"{letter}\"]\n{}", cell.text());
        music.insert((*letter).to_owned(), cell.json());
    }
    let head = format!(
        "barform = 1\ntitle = \"Étude {number} & <more>\"\ntempo = 92.5\nmeter = \"4/4\"\n\
         form = \"{}\"\n",
        text.trim()
    );
    Case {
        text: format!("{head}{more}"),
        options: Vec::new(),
        music: json!({
            "title": format!("Étude {number} & <more>"), "tempo": "185/2", "meter": [4, 4],
            "pickup": "0", "cells": music, "ostinatos": ostinatos,
            "sections": [{"name": "", "meter": [4, 4], "items": items}],
        }),
    }
}
