//! `barform revoice`: cells on another kit.

use super::asked::Asked;
use super::print;
use super::vary;
use crate::args::letter;
use crate::failure::Failure;
use barform_app::answers::written_pedals;
use barform_app::craft::revoice::{Pedals, Setup, revoice_by};
use barform_app::music::{Letter, Voice};
use clap::ValueEnum;
use serde_json::{Value, json};

/// `barform revoice`
#[derive(Debug, clap::Args)]
#[command(after_help = "\
The kit is named in order round it, toms highest first; pedals are not named.

Examples:
  barform revoice mine.barform --kit hat,snare,tom1,tom2,ride
  barform revoice mine.barform --letter A --kit snare,tom1,crash --pedals kick")]
pub struct RevoiceArgs {
    /// What all questions take.
    #[command(flatten)]
    pub asked: Asked,
    /// One cell only
    #[arg(short, long, value_name = "LETTER", value_parser = letter)]
    pub letter: Option<Letter>,
    /// The kit at hand
    #[arg(
        short,
        long,
        value_name = "VOICES",
        value_delimiter = ',',
        required = true
    )]
    #[arg(value_parser = drum)]
    pub kit: Vec<Voice>,
    /// Its pedals
    #[arg(long, default_value = "two", value_name = "PEDALS")]
    pub pedals: Feet,
}

/// Pedals of a kit.
#[derive(Debug, Clone, Copy, PartialEq, Eq, ValueEnum)]
pub enum Feet {
    /// Bass drum only
    Kick,
    /// Bass drum and hi-hat
    Two,
    /// Two on the bass drum, and the hi-hat
    Double,
}

/// Shows the cells on the other kit.
pub fn run(args: &RevoiceArgs) -> Result<(), Failure> {
    let question = args.asked.read()?;
    let cells = question.cells(args.letter.as_ref())?;
    let all = question.cells(None)?;
    let from = Setup::of(&question.file.score().kit, written_pedals(&all));
    let pedals = match args.pedals {
        Feet::Kick => Pedals::ONE,
        Feet::Two => Pedals::TWO,
        Feet::Double => Pedals::ALL,
    };
    let to = Setup::new(&args.kit, pedals);
    let mut text = String::new();
    let mut found = Vec::new();
    for cell in &cells {
        let moved = revoice_by(&question.rules.revoice, cell, &from, &to)?;
        let counts = question.counts(cell)?;
        if !text.is_empty() {
            text.push('\n');
        }
        let state = match (moved.changes.is_empty(), moved.reversible) {
            (true, _) => ", as written",
            (false, true) => ", reversible",
            (false, false) => ", not reversible",
        };
        text += &format!(
            "{}{state}\n{}",
            cell.letter,
            print::cell(&moved.cell, &counts, 2)
        );
        let changes: Vec<String> = moved.changes.iter().map(ToString::to_string).collect();
        for change in &changes {
            text += &format!("  {change}\n");
        }
        let mut json: Value = print::cell_json(&moved.cell, &counts);
        json["changes"] = json!(changes);
        json["reversible"] = json!(moved.reversible);
        found.push(json);
    }
    question.say(&text, json!({ "cells": found }))
}

fn drum(text: &str) -> Result<Voice, String> {
    let (voice, _) = vary::voice(text)?;
    if text.contains(':') || matches!(voice, Voice::Kick | Voice::HatFoot) {
        return Err("a kit is named by drums and cymbals alone, pedals with --pedals".into());
    }
    Ok(voice)
}
