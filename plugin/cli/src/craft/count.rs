//! `barform count`: what is said on each slot.

use super::asked::{self, Asked};
use super::print;
use crate::args::letter;
use crate::failure::Failure;
use barform_app::answers;
use barform_app::craft::rules::Rules;
use barform_app::music::{CountBy, Letter};
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
    /// What all questions take.
    #[command(flatten)]
    pub asked: Asked,
    /// Count one cell from its first beat
    #[arg(short, long, value_name = "LETTER", value_parser = letter)]
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
        let rules = asked::rules(args.asked.rules.as_ref())?;
        let (text, json) = list(&rules);
        return asked::say(args.asked.json, &text, json);
    }
    let question = args.asked.read()?;
    let tradition = answers::tradition(&question.rules.counting, args.tradition.as_deref())?;
    let by = if args.pulse {
        CountBy::Pulses
    } else {
        CountBy::Units
    };
    let mut text = String::new();
    let mut found = Vec::new();
    if let Some(letter) = &args.letter {
        for cell in question.cells(Some(letter))? {
            let meter = question.file.score().meter;
            let counts = answers::cell_counts(tradition, &cell, meter, by)?;
            let length = words::beats(cell.grid.length()?);
            let shown = print::cell(&cell, &counts, 2);
            text += &format!("{}, {length}\n{shown}", cell.letter);
            found.push(print::cell_json(&cell, &counts));
        }
        let json = json!({ "tradition": tradition.name(), "cells": found });
        return question.say(&text, json);
    }
    let timeline = question.file.compiled()?.timeline;
    let mut rows = vec![["bar", "letter", "count"].map(String::from).to_vec()];
    let mut last_bar = None;
    for place in answers::form_counts(&timeline, tradition, by)? {
        let said = place
            .counts
            .iter()
            .map(|c| if c.is_empty() { "·" } else { c });
        let bar = if last_bar == Some(place.bar) {
            String::new()
        } else {
            place.bar.to_string()
        };
        last_bar = Some(place.bar);
        let said = said.collect::<Vec<_>>().join(" ");
        rows.push(vec![bar, place.letter.to_string(), said]);
        found.push(json!({
            "bar": place.bar,
            "from_bar_line": place.from_bar_line.to_string(),
            "letter": place.letter.as_str(),
            "counts": place.counts,
        }));
    }
    let json = json!({ "tradition": tradition.name(), "places": found });
    question.say(&print::table(&rows, 0), json)
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
