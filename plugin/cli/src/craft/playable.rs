//! `barform playable`: top tempos, and what each limb is asked for.

use super::asked::Asked;
use super::print;
use crate::args::{beats, letter};
use crate::failure::Failure;
use barform_app::answers::{LevelTop, PlayableOptions, form_line, playable};
use barform_app::craft::line::Line;
use barform_app::craft::playable::LimbReport;
use barform_app::music::{Beats, Letter};
use barform_app::words::number;
use serde_json::{Value, json};

/// `barform playable`
#[derive(Debug, clap::Args)]
#[command(after_help = "\
These figures are limits, not targets. Fast repetition can injure wrists,
forearms and ankles: warm up, raise the tempo in small steps, stop at pain or
numbness, and ask a teacher or a physician.

Examples:
  barform playable mine.barform                      the form with its ostinatos
  barform playable mine.barform --letter A           one cell, looped
  barform playable mine.barform --tempo 132 --level intermediate")]
pub struct PlayableArgs {
    /// What all questions take.
    #[command(flatten)]
    pub asked: Asked,
    /// One cell only
    #[arg(short, long, value_name = "LETTER", value_parser = letter)]
    pub letter: Option<Letter>,
    /// Beats a minute, instead of the score's
    #[arg(short, long, value_parser = beats)]
    pub tempo: Option<Beats>,
    /// One level only: beginner, intermediate, advanced, professional
    #[arg(long, value_name = "LEVEL")]
    pub level: Option<String>,
    /// Set-up of the kit: right-handed, left-handed, open-handed, left-open-handed
    #[arg(long, default_value = "right-handed", value_name = "SET-UP")]
    pub setup: String,
    /// It is played once, not looped
    #[arg(long)]
    pub once: bool,
}

/// Says how fast it can be played.
pub fn run(args: &PlayableArgs) -> Result<(), Failure> {
    let question = args.asked.read()?;
    let score = question.file.score();
    let line = match &args.letter {
        None => form_line(&question.file.compiled()?)?,
        Some(letter) => Line::from_cells(&question.cells(Some(letter))?)?,
    };
    let options = PlayableOptions {
        setup: args.setup.clone(),
        level: args.level.clone(),
        tempo: args.tempo.unwrap_or(score.tempo),
        looped: !args.once,
    };
    let answer = playable(&question.rules, &score.kit, &line, &options)?;

    let mut rows = Vec::new();
    let mut found = Vec::new();
    for LevelTop {
        level,
        top,
        why,
        fits,
    } in &answer.levels
    {
        let bpm = top
            .bpm
            .map_or("no tempo".to_owned(), |bpm| format!("{bpm} bpm"));
        rows.push(vec![level.clone(), bpm, why.clone()]);
        found.push(json!({
            "level": level, "top_bpm": top.bpm, "why": why, "fits_at_tempo": fits,
        }));
    }
    let mut shown = format!("Top tempo{}\n", if args.once { "" } else { ", looped" });
    shown += &print::table(&rows, 2);

    let heads = [
        "",
        "strokes",
        "a second",
        "fastest pair",
        "longest run",
        "travel",
    ];
    let mut rows = vec![heads.map(String::from).to_vec()];
    let busy = answer.limbs.iter().filter(|limb| limb.motions > 0);
    rows.extend(busy.map(|limb| limb_row(limb, &line)));
    shown += &format!("At {} bpm, once through\n", number(options.tempo));
    shown += &print::table(&rows, 2);
    for collision in &answer.collisions {
        shown += &format!("  {collision}\n");
    }
    shown += "Limits, not targets: warm up, small steps, stop at pain.\n";
    let limbs: Vec<Value> = answer.limbs.iter().map(limb_json).collect();
    let json = json!({
        "tempo": options.tempo.to_string(), "levels": found, "limbs": limbs,
        "collisions": answer.collisions,
    });
    question.say(&shown, json)
}

fn limb_row(report: &LimbReport, line: &Line) -> Vec<String> {
    let run = |strokes: usize, first: usize, last: usize| {
        let place = line.stretch(first, last);
        let inside = if place.starts_with("from") {
            ","
        } else {
            " in"
        };
        format!("{strokes}{inside} {place}")
    };
    let fastest = report
        .fastest
        .map_or("-".to_owned(), |r| format!("{} a second", r.per_second));
    let longest = report
        .longest
        .map_or("-".to_owned(), |r| run(r.strokes, r.first, r.last));
    let travel = match report.travel_cm {
        0 => "-".to_owned(),
        cm => format!(
            "{cm} cm, at most {} cm a second",
            report.travel_cm_per_second
        ),
    };
    vec![
        report.limb.said().to_owned(),
        report.motions.to_string(),
        report.per_second.to_string(),
        fastest,
        longest,
        travel,
    ]
}

fn limb_json(report: &LimbReport) -> Value {
    json!({
        "limb": report.limb.letter().to_string(),
        "strokes": report.motions,
        "per_second": report.per_second.to_string(),
        "fastest_pair_per_second": report.fastest.map(|r| r.per_second.to_string()),
        "longest_run": report.longest.map(|r| r.strokes),
        "travel_cm": report.travel_cm,
        "travel_cm_per_second": report.travel_cm_per_second,
    })
}
