//! `barform count`: what is said on each slot.

use super::desk::{self, Common, exact};
use super::print;
use crate::failure::Failure;
use barform_app::craft::rules::Rules;
use barform_app::music::{Beats, BeatsError, CountBy, Grid, Letter, Tradition};
use barform_app::timeline::{Place, Timeline};
use barform_app::words;
use serde_json::{Value, json};

/// `barform count`
#[derive(Debug, clap::Args)]
#[command(after_help = "\
Examples:
  barform count mine.barform                    the form, counted where it stands
  barform count mine.barform --letter A --as takadimi
  barform count --traditions                    the ways to count that are known")]
pub struct CountArgs {
    /// What all verbs of the craft take.
    #[command(flatten)]
    pub common: Common,
    /// Count one cell from its first beat
    #[arg(short, long, value_name = "LETTER", value_parser = desk::letter)]
    pub letter: Option<Letter>,
    /// The tradition to count in
    #[arg(long = "as", value_name = "TRADITION")]
    pub tradition: Option<String>,
    /// Number the pulse of compound meters (12/8 in four) instead of the eighths
    #[arg(long)]
    pub pulse: bool,
    /// List the traditions instead
    #[arg(long, conflicts_with_all = ["letter", "tradition", "pulse"])]
    pub traditions: bool,
}

/// Counts a cell or the form.
pub fn run(args: &CountArgs) -> Result<(), Failure> {
    if args.traditions {
        let rules = desk::rules(args.common.rules.as_ref())?;
        let (text, json) = list(&rules);
        return desk::say(args.common.json, &text, json);
    }
    let desk = args.common.read()?;
    let counting = &desk.rules.counting;
    let tradition = match &args.tradition {
        None => counting.default_tradition(),
        Some(name) => counting.tradition(name).ok_or_else(|| {
            let known: Vec<&str> = counting.traditions().map(Tradition::name).collect();
            Failure::Usage(format!(
                "no tradition '{name}'; known are {}",
                known.join(", ")
            ))
        })?,
    };
    let by = if args.pulse {
        CountBy::Pulses
    } else {
        CountBy::Units
    };
    if let Some(letter) = &args.letter {
        let mut text = String::new();
        let mut found = Vec::new();
        for cell in desk.cells(Some(letter))? {
            let counts = tradition
                .count(&cell.grid, Beats::ZERO, desk.file.score().meter, by)
                .map_err(exact)?;
            let counts: Vec<String> = counts.into_iter().map(|count| count.text).collect();
            let length = words::beats(cell.grid.length().map_err(exact)?);
            text += &format!(
                "{}, {length}\n{}",
                cell.letter,
                print::cell(&cell, &counts, 2)
            );
            found.push(print::cell_json(&cell, &counts));
        }
        return desk.say(
            &text,
            json!({ "tradition": tradition.name(), "cells": found }),
        );
    }
    let timeline = desk.file.compiled()?.timeline;
    let mut rows = vec![["bar", "letter", "count"].map(String::from).to_vec()];
    let mut found: Vec<Value> = Vec::new();
    let mut last_bar = None;
    for place in &timeline.places {
        let (grid, from, bar) = stands(&timeline, place).map_err(exact)?;
        let bar = timeline.bars[bar];
        let counts = tradition.count(&grid, from, bar.meter, by).map_err(exact)?;
        let words: Vec<&str> = counts
            .iter()
            .map(|count| {
                if count.text.is_empty() {
                    "·"
                } else {
                    count.text.as_str()
                }
            })
            .collect();
        let letter = timeline.letters[place.letter as usize].as_str();
        let shown = if last_bar == Some(bar.number) {
            String::new()
        } else {
            bar.number.to_string()
        };
        last_bar = Some(bar.number);
        rows.push(vec![shown, letter.to_owned(), words.join(" ")]);
        let counts: Vec<&str> = counts.iter().map(|count| count.text.as_str()).collect();
        found.push(json!({
            "bar": bar.number,
            "from_bar_line": from.to_string(),
            "letter": letter,
            "counts": counts,
        }));
    }
    let json = json!({ "tradition": tradition.name(), "places": found });
    desk.say(&print::table(&rows, 0), json)
}

/// The grid of a place as it sounds, where it begins in a full bar, and the
/// index of that bar.
fn stands(timeline: &Timeline, place: &Place) -> Result<(Grid, Beats, usize), BeatsError> {
    let after = timeline
        .bars
        .partition_point(|bar| bar.start <= place.start);
    let index = after.saturating_sub(1);
    let bar = timeline.bars.get(index).ok_or(BeatsError::Overflow)?;
    let mut spans = timeline.cell_of(place).grid.spans().to_vec();
    for span in &mut spans {
        span.length = span.length.checked_div(place.rate)?;
    }
    let grid = Grid::new(spans).ok_or(BeatsError::Overflow)?;
    // A pickup is the end of a full bar.
    let missing = match bar.number {
        0 => bar.meter.bar().checked_sub(timeline.pickup)?,
        _ => Beats::ZERO,
    };
    let from = place.start.checked_sub(bar.start)?.checked_add(missing)?;
    Ok((grid, from, index))
}

fn list(rules: &Rules) -> (String, Value) {
    let mut rows = Vec::new();
    let mut found = Vec::new();
    let default = rules.counting.default_tradition().name();
    for tradition in rules.counting.traditions() {
        let name = tradition.name();
        let mark = if name == default { " (default)" } else { "" };
        rows.push(vec![format!("{name}{mark}"), tradition.about().to_owned()]);
        rows.push(vec![String::new(), tradition.source().to_owned()]);
        let divisions: serde_json::Map<String, Value> = tradition
            .divisions()
            .map(|(n, words)| (n.to_string(), words.into()))
            .collect();
        found.push(json!({
            "name": name,
            "about": tradition.about(),
            "source": tradition.source(),
            "divisions": divisions,
        }));
    }
    (
        print::table(&rows, 0),
        json!({ "default": default, "traditions": found }),
    )
}
