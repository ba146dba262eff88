//! `barform mend`: what does not fill its bars, and how to fix it.

use super::desk::{self, Common};
use super::print;
use crate::failure::Failure;
use barform_app::craft::arrange::{ArrangeError, Material, mends_by, misfits};
use barform_app::craft::rules::Rules;
use barform_app::music::{Beats, Cell};
use barform_app::score::{FormItem, Overrides, Score, Section, form_text, read_form};
use barform_app::words::sticking_line;
use serde_json::{Value, json};

/// `barform mend`
#[derive(Debug, clap::Args)]
#[command(after_help = "\
Bar lines of the score are not checked while it is read, so that a form with a
beat too many can be fixed.

Examples:
  barform mend mine.barform
  barform mend mine.barform --form 'A A B | C |'   this form of the score's letters")]
pub struct MendArgs {
    /// What all verbs of the craft take.
    #[command(flatten)]
    pub common: Common,
    /// Fix this form instead of the score's
    #[arg(long, value_name = "FORM")]
    pub form: Option<String>,
    /// How many ways to show
    #[arg(short, long, default_value_t = 5, value_name = "N")]
    pub number: usize,
}

/// A form to be fixed.
struct Part {
    name: String,
    items: Vec<FormItem>,
    overrides: Overrides,
    bar: Beats,
    pickup: Beats,
}

/// Shows misfits and mends, section by section.
pub fn run(args: &MendArgs) -> Result<(), Failure> {
    let source = args.common.source()?;
    let rules = desk::rules(args.common.rules.as_ref())?;
    let (name, text) = source.text()?;
    let score = Score::parse_ignoring_bar_lines(&text, &name)?;
    let cells = score.cells_resolved()?;
    let mut text = String::new();
    let mut found = Vec::new();
    for part in parts(args, &score)? {
        if !text.is_empty() {
            text.push('\n');
        }
        let (shown, json) = mended(args, &rules, &cells, &part).map_err(|e| {
            let place = if part.name.is_empty() {
                "the form"
            } else {
                &part.name
            };
            Failure::Score(format!("{}: {place}: {e}", name))
        })?;
        text += &shown;
        found.push(json);
    }
    desk::say(args.common.json, &text, json!({ "sections": found }))
}

fn parts(args: &MendArgs, score: &Score) -> Result<Vec<Part>, Failure> {
    if let Some(form) = &args.form {
        let items = read_form(form).map_err(|e| Failure::Usage(format!("--form: {e}")))?;
        return Ok(vec![Part {
            name: String::new(),
            items,
            overrides: Overrides::default(),
            bar: score.meter.bar(),
            pickup: score.pickup,
        }]);
    }
    let sections = score.sections.iter().enumerate();
    let part = |(i, section): (usize, &Section)| Part {
        name: section.name.clone(),
        items: section.items.clone(),
        overrides: section.overrides.clone(),
        bar: section.meter.unwrap_or(score.meter).bar(),
        pickup: if i == 0 { score.pickup } else { Beats::ZERO },
    };
    Ok(sections.map(part).collect())
}

fn mended(
    args: &MendArgs,
    rules: &Rules,
    cells: &[Cell],
    part: &Part,
) -> Result<(String, Value), ArrangeError> {
    let material = Material {
        cells,
        overrides: &part.overrides,
        bar: part.bar,
        pickup: part.pickup,
    };
    let form = form_text(&part.items);
    let wrong = misfits(&part.items, &material)?;
    let mut text = String::new();
    if !part.name.is_empty() {
        text += &format!("{}: ", part.name);
    }
    text += &format!("{form}\n");
    if wrong.is_empty() {
        text += "  fills its bars\n";
    }
    for misfit in &wrong {
        text += &format!("  {misfit}\n");
    }
    let mut ways = if wrong.is_empty() {
        Vec::new()
    } else {
        mends_by(&rules.arrange, &part.items, &material)?
    };
    ways.truncate(args.number);
    let rows: Vec<Vec<String>> = ways
        .iter()
        .enumerate()
        .map(|(i, way)| {
            vec![
                format!("{}.", i + 1),
                way.to_string(),
                form_text(&way.items),
            ]
        })
        .collect();
    text += &print::table(&rows, 2);
    let mut added = Vec::new();
    for cell in ways.iter().flat_map(|way| &way.added) {
        let line = format!(
            "  {} = {} on '{}'\n",
            cell.letter,
            sticking_line(&cell.slots),
            cell.grid
        );
        if !added.contains(&line) {
            text += &line;
            added.push(line);
        }
    }
    let misfits: Vec<Value> = wrong
        .iter()
        .map(|m| {
            json!({
                "item": m.line.as_ref().map(ToString::to_string),
                "over_beats": m.over.to_string(),
                "short_beats": m.short.to_string(),
                "letter": m.letter.as_ref().map(|(_, letter)| letter.as_str()),
                "why": m.to_string(),
            })
        })
        .collect();
    let ways: Vec<Value> = ways
        .iter()
        .map(|way| {
            let added: Vec<Value> = way.added.iter().map(|c| print::cell_json(c, &[])).collect();
            json!({ "how": way.to_string(), "form": form_text(&way.items), "added": added })
        })
        .collect();
    let json = json!({
        "section": part.name, "form": form, "misfits": misfits, "mends": ways,
    });
    Ok((text, json))
}
