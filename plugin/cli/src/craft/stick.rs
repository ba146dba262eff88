//! `barform stick`: the sticking that costs the hands least, with reasons.

use super::desk::{self, Common, Desk};
use super::print;
use crate::failure::Failure;
use barform_app::craft::sticking::{Ask, Sticking, stick_cell};
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
    /// What all verbs of the craft take.
    #[command(flatten)]
    pub common: Common,
    /// One cell only
    #[arg(short, long, value_name = "LETTER", value_parser = desk::letter)]
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
    #[arg(short, long, value_parser = crate::args::beats)]
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
    let desk = args.common.read()?;
    let score = desk.file.score();
    let setup = desk
        .rules
        .sticking
        .setup(&args.setup, &score.kit)
        .map_err(|e| Failure::Usage(e.problem))?;
    let mut ask = Ask::new(args.tempo.unwrap_or(score.tempo), setup);
    ask.pulse = score.meter.pulse();
    ask.doubles = !args.no_doubles;
    match args.lead {
        Some(Lead::R) => ask.lead = Hand::Right,
        Some(Lead::L) => ask.lead = Hand::Left,
        None => {}
    }
    let mut text = String::new();
    let mut found = Vec::new();
    for cell in desk.cells(args.letter.as_ref())? {
        if !text.is_empty() {
            text.push('\n');
        }
        let (part, json) = one(args, &desk, &ask, &cell)?;
        text += &part;
        found.push(json);
    }
    desk.say(&text, json!({ "cells": found }))
}

fn one(args: &StickArgs, desk: &Desk, ask: &Ask, cell: &Cell) -> Result<(String, Value), Failure> {
    let stuck = |open: bool| {
        stick_cell(cell, |_, _| open, !args.once, ask, &desk.rules.sticking)
            .map_err(|e| Failure::Usage(format!("cell {}: {e}", cell.letter)))
    };
    let (_, written) = stuck(false)?;
    let (best, sticking) = if args.given {
        (cell.clone(), written.clone())
    } else {
        stuck(true)?
    };
    let counts = desk.counts(cell)?;
    let mut text = format!("{} as written, cost {}\n", cell.letter, written.total);
    text += &print::cell(cell, &counts, 2);
    if !args.given {
        if best == *cell {
            text += &format!("{}: no other sticking costs less\n", cell.letter);
        } else {
            text += &format!("{} at the least cost, {}\n", cell.letter, sticking.total);
            text += &print::cell(&best, &counts, 2);
        }
    }
    let reasons = reasons(&best, &sticking);
    for (slot, why) in &reasons {
        text += &format!("  slot {}: {}\n", slot + 1, why.join("; "));
    }
    let reasons: Vec<Value> = reasons
        .iter()
        .map(|(slot, why)| json!({ "slot": slot + 1, "why": why }))
        .collect();
    let mut json = print::cell_json(&best, &counts);
    json["cost"] = json!(sticking.total);
    json["cost_as_written"] = json!(written.total);
    json["reasons"] = json!(reasons);
    Ok((text, json))
}

/// The slots whose strokes cost something, and why.
fn reasons(cell: &Cell, sticking: &Sticking) -> Vec<(usize, Vec<String>)> {
    // Strokes of hands in the order of the cell, feet left out.
    let slots = cell.slots.iter().enumerate();
    let hands = slots.flat_map(|(slot, strokes)| {
        strokes
            .iter()
            .filter(|s| !s.limb.is_foot())
            .map(move |_| slot)
    });
    let mut found: Vec<(usize, Vec<String>)> = Vec::new();
    for (stroke, slot) in hands.enumerate() {
        let why = sticking.reasons(stroke);
        match found.last_mut() {
            Some((last, whys)) if *last == slot => whys.extend(why),
            _ if why.is_empty() => {}
            _ => found.push((slot, why)),
        }
    }
    found
}
