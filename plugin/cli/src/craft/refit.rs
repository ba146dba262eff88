//! `barform refit`: cells on another subdivision, refit or carried.

use super::asked::{Asked, Question};
use super::print;
use crate::args::letter;
use crate::failure::Failure;
use barform_app::answers::{self, CarriedCell};
use barform_app::craft::carry::Close;
use barform_app::craft::refit::refit_by;
use barform_app::music::{Cell, Letter, Subdivision};
use barform_app::score::read_grid;
use barform_app::words::{beats, count};
use serde_json::{Value, json};

/// `barform refit`
#[derive(Debug, clap::Args)]
#[command(after_help = "\
Refitting keeps a cell's length: strokes are repeated or left out. Carrying
keeps its strokes: the length changes, and the cell moves across the bar line.

Examples:
  barform refit mine.barform --letter A                      where it could go
  barform refit mine.barform --letter A --to 16th-triplets
  barform refit mine.barform --letter A --to 5 --carry")]
pub struct RefitArgs {
    /// What all questions take.
    #[command(flatten)]
    pub asked: Asked,
    /// One cell only
    #[arg(short, long, value_name = "LETTER", value_parser = letter)]
    pub letter: Option<Letter>,
    /// The subdivision: 16ths, 16th-triplets, quintuplets … or a grid such as '4 6'
    #[arg(short, long, value_name = "SUBDIVISION", value_parser = subdivision)]
    pub to: Option<Subdivision>,
    /// Carry instead of refit
    #[arg(short, long, requires = "to")]
    pub carry: bool,
}

/// Shows the cells on another subdivision.
pub fn run(args: &RefitArgs) -> Result<(), Failure> {
    let question = args.asked.read()?;
    let mut text = String::new();
    let mut found = Vec::new();
    for cell in question.cells(args.letter.as_ref())? {
        if !text.is_empty() {
            text.push('\n');
        }
        let (part, json) = match &args.to {
            None => choices(&question, &cell)?,
            Some(to) if args.carry => carried(&question, &cell, to)?,
            Some(to) => refitted(&question, &cell, to)?,
        };
        text += &part;
        found.push(json);
    }
    question.say(&text, json!({ "cells": found }))
}

/// Where a cell could go: one row for each subdivision that has a name.
fn choices(question: &Question, cell: &Cell) -> Result<(String, Value), Failure> {
    let heads = [
        "subdivision",
        "refit",
        "carried",
        "tempo at the same stroke rate",
    ];
    let mut rows = vec![heads.map(String::from).to_vec()];
    let mut found = Vec::new();
    for choice in answers::choices(&question.rules, question.file.score().tempo, cell)? {
        let (slots, modulation) = (choice.refit_slots, choice.modulation);
        rows.push(vec![
            choice.name.to_owned(),
            slots.map_or("does not fit".to_owned(), |n| count(n, "slot")),
            beats(choice.carried),
            modulation
                .as_ref()
                .map_or("-".to_owned(), ToString::to_string),
        ]);
        found.push(json!({
            "subdivision": choice.name,
            "refit_slots": slots,
            "carried_beats": choice.carried.to_string(),
            "modulated_tempo": modulation.map(|m| m.to.to_string()),
        }));
    }
    let length = cell.grid.length()?;
    let own = Subdivision(cell.grid.clone());
    let head = format!("{}, {} on {own}\n", cell.letter, beats(length));
    let json = json!({
        "letter": cell.letter.as_str(), "beats": length.to_string(), "choices": found,
    });
    Ok((head + &print::table(&rows, 2), json))
}

fn refitted(
    question: &Question,
    cell: &Cell,
    to: &Subdivision,
) -> Result<(String, Value), Failure> {
    let refitted = refit_by(&question.rules.refit, cell, to)
        .map_err(|e| Failure::Score(format!("cell {}: {e}", cell.letter)))?;
    let (before, after) = (question.counts(cell)?, question.counts(&refitted.cell)?);
    let (was, is) = (
        print::cell(cell, &before, 2),
        print::cell(&refitted.cell, &after, 2),
    );
    let letter = &cell.letter;
    let mut text = format!("{letter} as written\n{was}{letter} on {to}\n{is}");
    let mut reasons = Vec::new();
    for choice in &refitted.choices {
        text += &format!("  {choice}\n");
        reasons.push(json!({
            "slot": choice.slot + 1,
            "from": choice.from.map(|from| from + 1),
            "why": choice.to_string(),
        }));
    }
    let mut json = print::cell_json(&refitted.cell, &after);
    json["reasons"] = json!(reasons);
    Ok((text, json))
}

fn carried(question: &Question, cell: &Cell, to: &Subdivision) -> Result<(String, Value), Failure> {
    let score = question.file.score();
    let CarriedCell {
        carried,
        back,
        closes,
        modulation,
    } = answers::carried(&question.rules, score.tempo, score.meter, cell, to)?;
    let (before, after) = (question.counts(cell)?, question.counts(&carried.cell)?);
    let mut text = format!("{} as written, {}\n", cell.letter, beats(carried.before));
    text += &print::cell(cell, &before, 2);
    text += &format!(
        "{} carried to {to}, {}\n",
        cell.letter,
        beats(carried.after)
    );
    text += &print::cell(&carried.cell, &after, 2);
    text += &format!(
        "  Looped, it is back on the bar line after {}, {}.\n",
        count(back.repeats as usize, "time"),
        count(back.bars as usize, "bar")
    );
    text += "  Ways to close on a bar line:\n";
    for close in &closes {
        text += &format!("    {close}\n");
    }
    if let Some(modulation) = &modulation {
        text += &format!("  At the same stroke rate: {modulation}\n");
    }
    let mut json = print::cell_json(&carried.cell, &after);
    json["beats_before"] = json!(carried.before.to_string());
    json["back_after_times"] = json!(back.repeats);
    json["back_after_bars"] = json!(back.bars);
    let close = |close: &Close| {
        json!({
            "bars": close.bars, "changed_beats": close.changed.to_string(),
            "how": close.to_string(),
        })
    };
    json["closes"] = closes.iter().map(close).collect();
    json["modulated_tempo"] = json!(modulation.map(|m| m.to.to_string()));
    Ok((text, json))
}

/// Reads `16ths` or a grid.
fn subdivision(text: &str) -> Result<Subdivision, String> {
    if let Some(named) = Subdivision::from_name(text) {
        return Ok(named);
    }
    read_grid(text).map(Subdivision).map_err(|e| {
        let names: Vec<&str> = Subdivision::NAMES.iter().map(|(name, ..)| *name).collect();
        format!("{e}; or a name: {}", names.join(" "))
    })
}
