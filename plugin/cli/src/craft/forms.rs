//! `barform forms`: forms that fill so many bars, best first.

use super::desk::{self, Common, exact};
use super::print;
use crate::failure::Failure;
use barform_app::craft::arrange::{Forms, Offer, Request};
use barform_app::music::Letter;
use barform_app::words;
use serde_json::json;

/// `barform forms`
#[derive(Debug, clap::Args)]
#[command(after_help = "\
Examples:
  barform forms mine.barform --bars 4 --letters A,B,C
  barform forms mine.barform --bars 2 --letters A,B --at-least A=2 --ends B
  barform forms mine.barform --bars 4 --letters A,C --in-a-row 2 --bar-lines")]
pub struct FormsArgs {
    /// What all verbs of the craft take.
    #[command(flatten)]
    pub common: Common,
    /// Bars to fill
    #[arg(short, long, value_name = "BARS")]
    #[arg(value_parser = clap::value_parser!(u32).range(1..=64))]
    pub bars: u32,
    /// Letters to use [default: all that the form has]
    #[arg(long, value_name = "LETTERS", value_delimiter = ',', value_parser = desk::letter)]
    pub letters: Vec<Letter>,
    /// Play a letter at least so often, such as A=2
    #[arg(long, value_name = "LETTER=N", value_delimiter = ',', value_parser = times)]
    pub at_least: Vec<(Letter, u32)>,
    /// Play a letter at most so often, such as B=1
    #[arg(long, value_name = "LETTER=N", value_delimiter = ',', value_parser = times)]
    pub at_most: Vec<(Letter, u32)>,
    /// Begin with this letter
    #[arg(long, value_name = "LETTER", value_parser = desk::letter)]
    pub starts: Option<Letter>,
    /// End on this letter
    #[arg(long, value_name = "LETTER", value_parser = desk::letter)]
    pub ends: Option<Letter>,
    /// No letter more often than this in a row
    #[arg(long, value_name = "N")]
    pub in_a_row: Option<u32>,
    /// Let no letter cross a bar line
    #[arg(long)]
    pub bar_lines: bool,
    /// How many forms to show
    #[arg(short, long, default_value_t = 10, value_name = "N")]
    pub number: usize,
}

/// Lists forms.
pub fn run(args: &FormsArgs) -> Result<(), Failure> {
    let desk = args.common.read()?;
    let letters = if args.letters.is_empty() {
        desk.file.compiled()?.timeline.letters.clone()
    } else {
        args.letters.clone()
    };
    let offered = |letter: &Letter| letters.contains(letter);
    let limits = args.at_least.iter().chain(&args.at_most);
    if let Some((letter, _)) = limits.into_iter().find(|(letter, _)| !offered(letter)) {
        return Err(Failure::Usage(format!(
            "{letter} is limited, but not one of the letters"
        )));
    }
    let mut offers = Vec::new();
    for letter in &letters {
        let limit = |of: &[(Letter, u32)]| of.iter().find(|(l, _)| l == letter).map(|(_, n)| *n);
        for cell in desk.cells(Some(letter))? {
            offers.push(Offer {
                letter: letter.clone(),
                length: cell.grid.length().map_err(exact)?,
                least: limit(&args.at_least).unwrap_or(0),
                most: limit(&args.at_most),
            });
        }
    }
    let meter = desk.file.score().meter;
    let request = Request {
        bar: meter.bar(),
        bars: args.bars,
        starts: args.starts.clone(),
        ends: args.ends.clone(),
        most_in_a_row: args.in_a_row,
        meets_bar_lines: args.bar_lines,
        offers,
    };
    let mut forms =
        Forms::by(&desk.rules.arrange, &request).map_err(|e| Failure::Usage(e.to_string()))?;
    let in_all = forms.in_all().clone();
    let listed: Vec<_> = forms.by_ref().take(args.number).collect();

    let lengths: Vec<String> = request
        .offers
        .iter()
        .map(|o| format!("{} {}", o.letter, words::beats(o.length)))
        .collect();
    let of = lengths.join(", ");
    let bars = barform_app::words::count(args.bars as usize, "bar");
    let mut text = format!("{bars} of {meter} from {of}: {in_all} in all\n");
    let mut rows = Vec::new();
    let mut found = Vec::new();
    for (i, form) in listed.iter().enumerate() {
        let letters: Vec<&str> = form.letters.iter().map(Letter::as_str).collect();
        rows.push(vec![format!("{}.", i + 1), letters.join(" ")]);
        found.push(json!({ "letters": letters, "price": form.price }));
    }
    text += &print::table(&rows, 2);
    desk.say(
        &text,
        json!({ "bars": args.bars, "in_all": in_all.to_string(), "forms": found }),
    )
}

/// Reads `A=2`.
fn times(text: &str) -> Result<(Letter, u32), String> {
    let wrong = || "a letter and a number, such as A=2".to_owned();
    let (name, number) = text.split_once('=').ok_or_else(wrong)?;
    Ok((
        desk::letter(name.trim())?,
        number.trim().parse().map_err(|_| wrong())?,
    ))
}
