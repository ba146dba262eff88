//! `barform stick`: the sticking that costs the hands least, with reasons.

use super::asked::{Asked, Question};
use super::print;
use crate::args::{beats, letter};
use crate::failure::Failure;
use barform_app::answers::{StickOptions, StickQuestion};
use barform_app::music::{Beats, Cell, Hand, Letter};
use clap::ValueEnum;
use serde_json::{Value, json};

/// `barform stick`
#[derive(Debug, clap::Args)]
#[command(after_help = "\
Costs come from the rule set, so they can be argued with: see --rules.

Examples:
  barform stick mine.barform --letter A
  barform stick mine.barform --letter A --given          what the written hands cost
  barform stick mine.barform --lead l --tempo 140 --no-doubles")]
pub struct StickArgs {
    /// What all questions take.
    #[command(flatten)]
    pub asked: Asked,
    /// One cell only
    #[arg(short, long, value_name = "LETTER", value_parser = letter)]
    pub letter: Option<Letter>,
    /// Keep the written hands, and say what they cost
    #[arg(short, long)]
    pub given: bool,
    /// The hand that leads [default: as the set-up has it]
    #[arg(long, value_name = "HAND")]
    pub lead: Option<Lead>,
    /// Set-up of the kit: right-handed, left-handed, open-handed, left-open-handed
    #[arg(long, default_value = "right-handed", value_name = "SET-UP")]
    pub setup: String,
    /// Beats a minute, instead of the score's
    #[arg(short, long, value_parser = beats)]
    pub tempo: Option<Beats>,
    /// Let no hand play twice in a row at speed
    #[arg(long)]
    pub no_doubles: bool,
    /// The cell is played once, not looped
    #[arg(long)]
    pub once: bool,
}

/// The hand that leads.
#[derive(Debug, Clone, Copy, PartialEq, Eq, ValueEnum)]
pub enum Lead {
    /// Right
    R,
    /// Left
    L,
}

/// Sticks the cells.
pub fn run(args: &StickArgs) -> Result<(), Failure> {
    let question = args.asked.read()?;
    let options = StickOptions {
        setup: args.setup.clone(),
        lead: args.lead.map(|lead| match lead {
            Lead::R => Hand::Right,
            Lead::L => Hand::Left,
        }),
        tempo: args.tempo,
        doubles: !args.no_doubles,
        looped: !args.once,
    };
    let hands = StickQuestion::new(&question.rules, question.file.score(), &options)?;
    let mut text = String::new();
    let mut found = Vec::new();
    for cell in question.cells(args.letter.as_ref())? {
        if !text.is_empty() {
            text.push('\n');
        }
        let (part, json) = one(args, &question, &hands, &cell)?;
        text += &part;
        found.push(json);
    }
    question.say(&text, json!({ "cells": found }))
}

fn one(
    args: &StickArgs,
    question: &Question,
    hands: &StickQuestion,
    cell: &Cell,
) -> Result<(String, Value), Failure> {
    let written = hands.as_written(cell)?;
    let best = if args.given {
        written.clone()
    } else {
        hands.cheapest(cell)?
    };
    let counts = question.counts(cell)?;
    let mut text = format!("{} as written, cost {}\n", cell.letter, written.cost);
    text += &print::cell(cell, &counts, 2);
    if !args.given {
        if best.cell == *cell {
            text += &format!("{}: no other sticking costs less\n", cell.letter);
        } else {
            text += &format!("{} at the least cost, {}\n", cell.letter, best.cost);
            text += &print::cell(&best.cell, &counts, 2);
        }
    }
    for (slot, why) in &best.reasons {
        text += &format!("  slot {}: {}\n", slot + 1, why.join("; "));
    }
    let reasons = best.reasons.iter();
    let reasons = reasons.map(|(slot, why)| json!({ "slot": slot + 1, "why": why }));
    let mut json = print::cell_json(&best.cell, &counts);
    json["cost"] = json!(best.cost);
    json["cost_as_written"] = json!(written.cost);
    json["reasons"] = reasons.collect();
    Ok((text, json))
}
