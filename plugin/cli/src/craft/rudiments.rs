//! `barform rudiments`: where a score holds rudiments.

use super::asked::{self, Asked};
use super::print;
use crate::args::letter;
use crate::failure::Failure;
use barform_app::answers::form_rudiments;
use barform_app::craft::line::Line;
use barform_app::craft::rudiments::{Find, Look, Rhythm, Rudiments};
use barform_app::music::{Hand, Letter};
use barform_app::words::sticking_line;
use serde_json::{Value, json};

/// `barform rudiments`
#[derive(Debug, clap::Args)]
#[command(after_help = "\
Examples:
  barform rudiments mine.barform                 in the whole form
  barform rudiments mine.barform --letter A --times 4
  barform rudiments --list")]
pub struct RudimentsArgs {
    /// What all questions take.
    #[command(flatten)]
    pub asked: Asked,
    /// Look in one cell only
    #[arg(short, long, value_name = "LETTER", value_parser = letter)]
    pub letter: Option<Letter>,
    /// Play the cell so many times in a row
    #[arg(long, default_value_t = 1, value_name = "N", requires = "letter")]
    #[arg(value_parser = clap::value_parser!(u32).range(1..=99))]
    pub times: u32,
    /// Accents must be where the rudiment has them
    #[arg(long)]
    pub accents: bool,
    /// Hands and ornaments alone: the rhythm may be another
    #[arg(long)]
    pub any_rhythm: bool,
    /// List the rudiments instead
    #[arg(long, conflicts_with_all = ["letter", "accents", "any_rhythm"])]
    pub list: bool,
}

/// Finds rudiments, or lists them.
pub fn run(args: &RudimentsArgs) -> Result<(), Failure> {
    if args.list {
        let rules = asked::rules(args.asked.rules.as_ref())?;
        let (text, json) = list(&rules.rudiments);
        return asked::say(args.asked.json, &text, json);
    }
    let question = args.asked.read()?;
    let rudiments = &question.rules.rudiments;
    let look = Look {
        accents: args.accents,
        rhythm: if args.any_rhythm {
            Rhythm::Any
        } else {
            Rhythm::Proportional
        },
    };
    let (line, finds): (Line, Vec<(Option<u32>, Find)>) = match &args.letter {
        None => {
            let timeline = question.file.compiled()?.timeline;
            let (line, found) = form_rudiments(rudiments, &timeline, look)?;
            let found = found.into_iter().map(|f| (Some(f.bar), f.find));
            (line, found.collect())
        }
        Some(letter) => {
            let cells = question.cells(Some(letter))?;
            let cells = cells.iter().cycle().take(cells.len() * args.times as usize);
            let line = Line::from_cells(cells)?;
            let found = rudiments.find(&line, look)?;
            (line, found.into_iter().map(|find| (None, find)).collect())
        }
    };
    let mut rows = Vec::new();
    let mut found = Vec::new();
    for (bar, find) in &finds {
        let mut row: Vec<String> = bar.map(|bar| format!("bar {bar}")).into_iter().collect();
        row.push(find.sentence(&line));
        rows.push(row);
        let at = |stroke: Option<&usize>| -> Option<String> {
            line.strokes.get(*stroke?).map(|(at, _)| at.to_string())
        };
        let also: Vec<&str> = find.also.iter().map(|named| named.name.as_str()).collect();
        found.push(json!({
            "bar": bar,
            "name": find.named.name,
            "number": find.named.number,
            "lead": if find.named.lead == Hand::Right { "R" } else { "L" },
            "rotation": find.named.rotation,
            "times": find.times,
            "first_beat": at(find.strokes.first()),
            "last_beat": at(find.strokes.last()),
            "also": also,
            "where": find.sentence(&line),
        }));
    }
    let text = if finds.is_empty() {
        "none\n".to_owned()
    } else {
        print::table(&rows, 0)
    };
    question.say(&text, json!({ "found": found }))
}

fn list(rudiments: &Rudiments) -> (String, Value) {
    let mut rows = Vec::new();
    let mut found = Vec::new();
    for rudiment in rudiments.all() {
        let slots: Vec<_> = rudiment
            .strokes
            .iter()
            .map(|stroke| vec![*stroke])
            .collect();
        let sticking = sticking_line(&slots);
        let grid = rudiment.grid.to_string();
        rows.push(vec![
            rudiment.number.to_string(),
            rudiment.name.clone(),
            sticking.clone(),
        ]);
        found.push(json!({
            "number": rudiment.number, "name": rudiment.name, "grid": grid,
            "sticking": sticking, "alternates": rudiment.alternates,
        }));
    }
    (print::table(&rows, 0), json!({ "rudiments": found }))
}
