//! `barform playable`: top tempos, and what each limb is asked for.

use super::desk::{self, Common, exact};
use super::print;
use crate::failure::Failure;
use barform_app::craft::line::Line;
use barform_app::craft::playable::{LimbReport, Playable};
use barform_app::music::{Beats, Letter};
use barform_app::words;
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
    /// What all verbs of the craft take.
    #[command(flatten)]
    pub common: Common,
    /// One cell only
    #[arg(short, long, value_name = "LETTER", value_parser = desk::letter)]
    pub letter: Option<Letter>,
    /// Beats a minute, instead of the score's
    #[arg(short, long, value_parser = crate::args::beats)]
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
    let desk = args.common.read()?;
    let score = desk.file.score();
    let line = match &args.letter {
        None => desk.form_line()?,
        Some(letter) => Line::from_cells(&desk.cells(Some(letter))?).map_err(exact)?,
    };
    let setup = desk
        .rules
        .sticking
        .setup(&args.setup, &score.kit)
        .map_err(|e| Failure::Usage(e.problem))?;
    let looped = (!args.once).then_some(line.length);
    let playable = Playable::new(&line.strokes, looped, &setup, &desk.rules.sticking);
    let levels = &desk.rules.levels;
    let known: Vec<&str> = levels
        .all()
        .iter()
        .map(|level| level.name.as_str())
        .collect();
    if let Some(name) = args
        .level
        .as_ref()
        .filter(|name| levels.get(name).is_none())
    {
        let known = known.join(", ");
        return Err(Failure::Usage(format!(
            "unknown level '{name}'; known are {known}"
        )));
    }
    let tempo = args.tempo.unwrap_or(score.tempo);
    if !tempo.is_positive() {
        return Err(Failure::Usage(format!(
            "a tempo is above 0, {tempo} is not"
        )));
    }

    let mut rows = Vec::new();
    let mut found = Vec::new();
    let wanted = |name: &str| args.level.as_ref().is_none_or(|level| level == name);
    for level in levels.all().iter().filter(|level| wanted(&level.name)) {
        let top = playable.top_tempo(level, levels).map_err(exact)?;
        let why = top.sentence(level, &line);
        let bpm = top
            .bpm
            .map_or("no tempo".to_owned(), |bpm| format!("{bpm} bpm"));
        let fits = top
            .bpm
            .is_some_and(|bpm| Beats::whole(i64::from(bpm)) >= tempo);
        rows.push(vec![level.name.clone(), bpm, why.clone()]);
        found.push(json!({
            "level": level.name, "top_bpm": top.bpm, "why": why, "fits_at_tempo": fits,
        }));
    }
    let mut shown = format!("Top tempo{}\n", if args.once { "" } else { ", looped" });
    shown += &print::table(&rows, 2);

    let reports = playable.limbs(tempo).map_err(exact)?;
    let mut rows = vec![
        [
            "",
            "strokes",
            "a second",
            "fastest pair",
            "longest run",
            "travel",
        ]
        .map(String::from)
        .to_vec(),
    ];
    rows.extend(
        reports
            .iter()
            .filter(|r| r.motions > 0)
            .map(|report| limb_row(report, &line)),
    );
    shown += &format!("At {} bpm, once through\n", words::number(tempo));
    shown += &print::table(&rows, 2);
    let collisions = playable.collisions(tempo, levels).map_err(exact)?;
    let collisions: Vec<String> = collisions.iter().map(|c| c.sentence(&line)).collect();
    for collision in &collisions {
        shown += &format!("  {collision}\n");
    }
    shown += "Limits, not targets: warm up, small steps, stop at pain.\n";
    let limbs: Vec<Value> = reports.iter().map(limb_json).collect();
    let json = json!({
        "tempo": tempo.to_string(), "levels": found, "limbs": limbs, "collisions": collisions,
    });
    desk.say(&shown, json)
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
