//! `barform refit`: cells on another subdivision, refit or carried.

use super::desk::{self, Common, Desk, exact};
use super::print;
use crate::failure::Failure;
use barform_app::craft::carry::{carry, close_by, realign};
use barform_app::craft::modulate::Modulation;
use barform_app::craft::refit::refit_by;
use barform_app::music::{Beats, Cell, Letter, Subdivision};
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
    /// What all verbs of the craft take.
    #[command(flatten)]
    pub common: Common,
    /// One cell only
    #[arg(short, long, value_name = "LETTER", value_parser = desk::letter)]
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
    let desk = args.common.read()?;
    let mut text = String::new();
    let mut found = Vec::new();
    for cell in desk.cells(args.letter.as_ref())? {
        if !text.is_empty() {
            text.push('\n');
        }
        let (part, json) = match &args.to {
            None => choices(&desk, &cell)?,
            Some(to) if args.carry => carried(&desk, &cell, to)?,
            Some(to) => refitted(&desk, &cell, to)?,
        };
        text += &part;
        found.push(json);
    }
    desk.say(&text, json!({ "cells": found }))
}

/// Where a cell could go: one row for each subdivision that has a name.
fn choices(desk: &Desk, cell: &Cell) -> Result<(String, Value), Failure> {
    let tempo = desk.file.score().tempo;
    let own = Subdivision(cell.grid.clone());
    let mut rows = vec![
        [
            "subdivision",
            "refit",
            "carried",
            "tempo at the same stroke rate",
        ]
        .map(String::from)
        .to_vec(),
    ];
    let mut found = Vec::new();
    for (name, ..) in Subdivision::NAMES {
        let Some(to) = Subdivision::from_name(name) else {
            continue;
        };
        let refit = refit_by(&desk.rules.refit, cell, &to);
        let slots = refit.as_ref().map(|r| r.cell.slots.len());
        let carried = carry(cell, &to).map_err(failed(cell))?;
        let modulation = Modulation::of_slots(tempo, &own, &to)
            .ok()
            .filter(Modulation::in_range);
        rows.push(vec![
            name.to_owned(),
            slots
                .as_ref()
                .map_or("does not fit".to_owned(), |n| count(*n, "slot")),
            beats(carried.after),
            modulation
                .as_ref()
                .map_or("-".to_owned(), Modulation::to_string),
        ]);
        found.push(json!({
            "subdivision": name,
            "refit_slots": slots.ok(),
            "carried_beats": carried.after.to_string(),
            "modulated_tempo": modulation.map(|m| m.to.to_string()),
        }));
    }
    let length = cell.grid.length().map_err(exact)?;
    let head = format!("{}, {} on {own}\n", cell.letter, beats(length));
    let json = json!({
        "letter": cell.letter.as_str(), "beats": length.to_string(), "choices": found,
    });
    Ok((head + &print::table(&rows, 2), json))
}

fn refitted(desk: &Desk, cell: &Cell, to: &Subdivision) -> Result<(String, Value), Failure> {
    let refitted = refit_by(&desk.rules.refit, cell, to).map_err(failed(cell))?;
    let (before, after) = (desk.counts(cell)?, desk.counts(&refitted.cell)?);
    let mut text = format!(
        "{} as written\n{}",
        cell.letter,
        print::cell(cell, &before, 2)
    );
    text += &format!(
        "{} on {to}\n{}",
        cell.letter,
        print::cell(&refitted.cell, &after, 2)
    );
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

fn carried(desk: &Desk, cell: &Cell, to: &Subdivision) -> Result<(String, Value), Failure> {
    let carried = carry(cell, to).map_err(failed(cell))?;
    let (before, after) = (desk.counts(cell)?, desk.counts(&carried.cell)?);
    let bar = desk.file.score().meter.bar();
    let back = realign(carried.after, bar).map_err(exact)?;
    let ways = close_by(&desk.rules.carry, &carried.cell, Beats::ZERO, bar);
    let ways = ways.map_err(failed(cell))?;
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
    for way in &ways {
        text += &format!("    {way}\n");
    }
    let from = Subdivision(cell.grid.clone());
    let modulation = Modulation::of_slots(desk.file.score().tempo, &from, to).ok();
    if let Some(modulation) = &modulation {
        text += &format!("  At the same stroke rate: {modulation}\n");
    }
    let mut json = print::cell_json(&carried.cell, &after);
    json["beats_before"] = json!(carried.before.to_string());
    json["back_after_times"] = json!(back.repeats);
    json["back_after_bars"] = json!(back.bars);
    json["closes"] = ways
        .iter()
        .map(|way| json!({ "bars": way.bars, "changed_beats": way.changed.to_string(), "how": way.to_string() }))
        .collect();
    json["modulated_tempo"] = json!(modulation.map(|m| m.to.to_string()));
    Ok((text, json))
}

/// An error about a cell.
fn failed<E: std::fmt::Display>(cell: &Cell) -> impl Fn(E) -> Failure {
    move |error| Failure::Score(format!("cell {}: {error}", cell.letter))
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
