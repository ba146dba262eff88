//! `barform vary`: variations of a cell, nearest first.

use super::asked::{Asked, Question};
use super::print;
use crate::args::letter;
use crate::failure::Failure;
use barform_app::answers::{ByRule, FoundVariations, variations};
use barform_app::craft::variation::{Ask, Keep};
use barform_app::music::{Articulation, Cell, Letter, Limb, Voice};
use clap::ValueEnum;
use serde_json::{Value, json};
use std::ops::RangeInclusive;

/// `barform vary`
#[derive(Debug, clap::Args)]
#[command(after_help = "\
Examples:
  barform vary mine.barform --letter A                 the eight nearest
  barform vary mine.barform --letter A --keep accents,kicks --opening 2
  barform vary mine.barform --letter A --within 1-6 --seed 7
  barform vary mine.barform --letter A --shift 1       one, worked out by rule

The same seed gives the same variations on every machine.")]
pub struct VaryArgs {
    /// What all questions take.
    #[command(flatten)]
    pub asked: Asked,
    /// Vary one cell only
    #[arg(short, long, value_name = "LETTER", value_parser = letter)]
    pub letter: Option<Letter>,
    /// How many of each cell
    #[arg(short, long, default_value_t = 8, value_name = "N")]
    pub number: usize,
    /// Another seed gives other variations
    #[arg(short, long, default_value_t = 1, value_name = "N")]
    pub seed: u64,
    /// How hard they may be: beginner, intermediate, advanced, professional
    #[arg(long, default_value = "intermediate", value_name = "LEVEL")]
    pub level: String,
    /// Keep the first slots as they are
    #[arg(long, default_value_t = 0, value_name = "SLOTS")]
    pub opening: usize,
    /// What stays as it is (several with commas)
    #[arg(short, long, value_name = "WHAT", value_delimiter = ',')]
    pub keep: Vec<Stays>,
    /// Limbs that may play, such as R,L,K [default: those of the cell]
    #[arg(long, value_name = "LIMBS", value_delimiter = ',', value_parser = limb)]
    pub limbs: Vec<Limb>,
    /// Voices that may be struck, such as snare,tom1,hat:open [default: those of the cell]
    #[arg(long, value_name = "VOICES", value_delimiter = ',', value_parser = voice)]
    pub voices: Vec<(Voice, Articulation)>,
    /// Distances from the cell, such as 1-6
    #[arg(long, value_name = "FROM-TO", value_parser = distances)]
    pub within: Option<RangeInclusive<u64>>,
    /// Any that exist, each as likely as another, instead of the nearest ones
    #[arg(short, long, conflicts_with = "within")]
    pub any: bool,
    /// The cell is played once, not looped
    #[arg(long)]
    pub once: bool,
    /// Instead: every stroke so many slots later, or earlier if negative
    #[arg(long, value_name = "SLOTS", allow_hyphen_values = true, group = "rule")]
    pub shift: Option<i64>,
    /// Instead: the strokes in reverse order
    #[arg(long, group = "rule")]
    pub reverse: bool,
    /// Instead: right for left and left for right
    #[arg(long, group = "rule")]
    pub invert: bool,
}

/// What can stay as it is.
#[derive(Debug, Clone, Copy, PartialEq, Eq, ValueEnum)]
pub enum Stays {
    /// Accents: there and nowhere else
    Accents,
    /// Strokes of the kick foot: there and nowhere else
    Kicks,
    /// Rests: there and nowhere else, so that the rhythm stays
    Rests,
    /// The sticking line: only voices change
    Sticking,
    /// The voices line: only the sticking changes
    Voices,
}

/// Shows variations of the cells.
pub fn run(args: &VaryArgs) -> Result<(), Failure> {
    let question = args.asked.read()?;
    let mut text = String::new();
    let mut found = Vec::new();
    for cell in question.cells(args.letter.as_ref())? {
        if !text.is_empty() {
            text.push('\n');
        }
        let (part, json) = match by_rule(args) {
            Some(rule) => one(&question, &cell, &rule.of(&cell))?,
            None => several(args, &question, &cell)?,
        };
        text += &part;
        found.push(json);
    }
    question.say(&text, json!({ "cells": found }))
}

/// The rule asked for, if one is.
fn by_rule(args: &VaryArgs) -> Option<ByRule> {
    match args.shift {
        Some(slots) => Some(ByRule::Shift(slots)),
        None if args.reverse => Some(ByRule::Reverse),
        None if args.invert => Some(ByRule::Invert),
        None => None,
    }
}

fn one(question: &Question, cell: &Cell, prime: &Cell) -> Result<(String, Value), Failure> {
    let counts = question.counts(cell)?;
    let text = format!(
        "{}\n{}{}\n{}",
        cell.letter,
        print::cell(cell, &counts, 2),
        prime.letter,
        print::cell(prime, &counts, 2)
    );
    Ok((
        text,
        json!({ "original": cell.letter.as_str(), "cell": print::cell_json(prime, &counts) }),
    ))
}

fn several(args: &VaryArgs, question: &Question, cell: &Cell) -> Result<(String, Value), Failure> {
    let stays = |what| args.keep.contains(&what);
    let mut ask = Ask::new(cell, &args.level, args.number);
    ask.keep = Keep {
        opening: args.opening,
        accents: stays(Stays::Accents),
        kicks: stays(Stays::Kicks),
        rests: stays(Stays::Rests),
        sticking: stays(Stays::Sticking),
        voices: stays(Stays::Voices),
    };
    if !args.limbs.is_empty() {
        ask.limbs.clone_from(&args.limbs);
    }
    if !args.voices.is_empty() {
        ask.voices.clone_from(&args.voices);
    }
    ask.within.clone_from(&args.within);
    ask.repeats = !args.once;
    ask.seed = args.seed;
    let kit = &question.file.score().kit;
    let FoundVariations { made, top_bpm } =
        variations(&question.rules, kit, "right-handed", &ask, args.any)?;

    let counts = question.counts(cell)?;
    let shown = match (made.cells.len(), made.fell_short()) {
        (0, _) => "none".to_owned(),
        (n, true) => format!("{n}, all there are"),
        (n, false) => format!("{n} of {}", made.exist),
    };
    let mut text = format!("{}, {}: {shown}\n", cell.letter, args.level);
    text += &print::cell(cell, &counts, 2);
    let mut cells = Vec::new();
    for (i, (variation, bpm)) in made.cells.iter().zip(top_bpm).enumerate() {
        text += &format!("\n{}. {}\n", i + 1, variation.said(bpm));
        text += &print::cell(&variation.cell, &counts, 2);
        let d = &variation.distance;
        let mut json = print::cell_json(&variation.cell, &counts);
        json["distance"] = json!({
            "total": variation.total, "slots": d.slots, "rhythm": d.rhythm,
            "sticking": d.sticking, "voices": d.voices, "levels": d.levels,
            "ornaments": d.ornaments,
        });
        json["top_bpm"] = json!(bpm);
        cells.push(json);
    }
    let json = json!({
        "original": print::cell_json(cell, &counts),
        "level": args.level,
        "seed": args.seed,
        "asked": made.asked,
        "exist": made.exist.to_string(),
        "variations": cells,
    });
    Ok((text, json))
}

fn limb(text: &str) -> Result<Limb, String> {
    let mut letters = text.trim().chars();
    match (letters.next().and_then(Limb::from_letter), letters.next()) {
        (Some(limb), None) => Ok(limb),
        _ => Err("a limb is one of R L K H".into()),
    }
}

/// Reads `snare` or `hat:open`.
pub fn voice(text: &str) -> Result<(Voice, Articulation), String> {
    let (name, way) = text.trim().split_once(':').unwrap_or((text.trim(), ""));
    let voice = Voice::from_name(name)
        .filter(|voice| *voice != Voice::Click)
        .ok_or_else(|| {
            let known: Vec<&str> = Voice::ALL.into_iter().map(Voice::name).collect();
            format!("known voices are {}", known.join(" "))
        })?;
    let articulation = match way {
        "" => Some(Articulation::Plain),
        _ => Articulation::from_name(way).filter(|a| voice.articulations().contains(a)),
    };
    articulation
        .map(|articulation| (voice, articulation))
        .ok_or_else(|| {
            let known: Vec<&str> = voice.articulations().iter().map(|a| a.name()).collect();
            format!("{name} is struck plainly or as: {}", known.join(" ").trim())
        })
}

/// Reads `1-6`, `6` (up to it) or `3-3`.
fn distances(text: &str) -> Result<RangeInclusive<u64>, String> {
    let wrong = || "distances are written 1-6 or 6".to_owned();
    let number = |t: &str| t.trim().parse::<u64>().map_err(|_| wrong());
    match text.split_once('-') {
        Some((least, most)) => Ok(number(least)?..=number(most)?),
        None => Ok(1..=number(text)?),
    }
}
