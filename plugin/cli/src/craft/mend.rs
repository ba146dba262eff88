//! `barform mend`: what does not fill its bars, and how to fix it.

use super::asked::{self, Asked};
use super::print;
use crate::failure::Failure;
use barform_app::answers::{self, MendedForm, UnbarredForm};
use barform_app::craft::arrange::{Mend, Misfit};
use barform_app::score::{Score, form_text};
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
    /// What all questions take.
    #[command(flatten)]
    pub asked: Asked,
    /// Fix this form instead of the score's
    #[arg(long, value_name = "FORM")]
    pub form: Option<String>,
    /// How many ways to show
    #[arg(short, long, default_value_t = 5, value_name = "N")]
    pub number: usize,
}

/// Shows misfits and mends, section by section.
pub fn run(args: &MendArgs) -> Result<(), Failure> {
    let source = args.asked.source()?;
    let rules = asked::rules(args.asked.rules.as_ref())?;
    let (name, text) = source.text()?;
    let score = Score::parse_ignoring_bar_lines(&text, &name)?;
    let cells = score.cells_resolved()?;
    let forms = match &args.form {
        None => answers::sections(&score),
        Some(form) => {
            let typed = UnbarredForm::typed(form, &score);
            vec![typed.map_err(|e| Failure::Usage(format!("--form: {e}")))?]
        }
    };
    let mut text = String::new();
    let mut found = Vec::new();
    for form in forms {
        if !text.is_empty() {
            text.push('\n');
        }
        let title = form.title().to_owned();
        let mended = answers::mend(&rules, &cells, form, args.number)
            .map_err(|e| Failure::Score(format!("{name}: {title}: {e}")))?;
        text += &as_text(&mended);
        found.push(as_json(&mended));
    }
    asked::say(args.asked.json, &text, json!({ "sections": found }))
}

fn as_text(mended: &MendedForm) -> String {
    let mut text = String::new();
    if !mended.form.name.is_empty() {
        text += &format!("{}: ", mended.form.name);
    }
    text += &format!("{}\n", form_text(&mended.form.items));
    if mended.misfits.is_empty() {
        text += "  fills its bars\n";
    }
    for misfit in &mended.misfits {
        text += &format!("  {misfit}\n");
    }
    let mends = mended.mends.iter().enumerate();
    let rows: Vec<Vec<String>> = mends
        .map(|(i, mend)| {
            let number = format!("{}.", i + 1);
            vec![number, mend.to_string(), form_text(&mend.items)]
        })
        .collect();
    text += &print::table(&rows, 2);
    let mut added = Vec::new();
    for cell in mended.mends.iter().flat_map(|mend| &mend.added) {
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
    text
}

fn as_json(mended: &MendedForm) -> Value {
    let misfit = |m: &Misfit| {
        json!({
            "item": m.line.as_ref().map(ToString::to_string),
            "over_beats": m.over.to_string(),
            "short_beats": m.short.to_string(),
            "letter": m.letter.as_ref().map(|(_, letter)| letter.as_str()),
            "why": m.to_string(),
        })
    };
    let mend = |mend: &Mend| {
        let added: Vec<Value> = mend
            .added
            .iter()
            .map(|c| print::cell_json(c, &[]))
            .collect();
        json!({ "how": mend.to_string(), "form": form_text(&mend.items), "added": added })
    };
    json!({
        "section": mended.form.name,
        "form": form_text(&mended.form.items),
        "misfits": mended.misfits.iter().map(misfit).collect::<Vec<_>>(),
        "mends": mended.mends.iter().map(mend).collect::<Vec<_>>(),
    })
}
