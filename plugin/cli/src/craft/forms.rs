//! `barform forms`: forms that fill so many bars, best first.

use super::asked::Asked;
use super::print;
use crate::args::letter;
use crate::failure::Failure;
use barform_app::answers::{FormsOptions, forms};
use barform_app::music::Letter;
use barform_app::words::{beats, count};
use serde_json::json;

/// `barform forms`
#[derive(Debug, clap::Args)]
#[command(after_help = "\
Examples:
  barform forms mine.barform --bars 4 --letters A,B,C
  barform forms mine.barform --bars 2 --letters A,B --at-least A=2 --ends B
  barform forms mine.barform --bars 4 --letters A,C --in-a-row 2 --bar-lines")]
pub struct FormsArgs {
    /// What all questions take.
    #[command(flatten)]
    pub asked: Asked,
    /// Bars to fill
    #[arg(short, long, value_name = "BARS")]
    #[arg(value_parser = clap::value_parser!(u32).range(1..=64))]
    pub bars: u32,
    /// Letters to use [default: all that the form has]
    #[arg(long, value_name = "LETTERS", value_delimiter = ',', value_parser = letter)]
    pub letters: Vec<Letter>,
    /// Play a letter at least so often, such as A=2
    #[arg(long, value_name = "LETTER=N", value_delimiter = ',', value_parser = times)]
    pub at_least: Vec<(Letter, u32)>,
    /// Play a letter at most so often, such as B=1
    #[arg(long, value_name = "LETTER=N", value_delimiter = ',', value_parser = times)]
    pub at_most: Vec<(Letter, u32)>,
    /// Begin with this letter
    #[arg(long, value_name = "LETTER", value_parser = letter)]
    pub starts: Option<Letter>,
    /// End on this letter
    #[arg(long, value_name = "LETTER", value_parser = letter)]
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
    let question = args.asked.read()?;
    let options = FormsOptions {
        bars: args.bars,
        letters: args.letters.clone(),
        at_least: args.at_least.clone(),
        at_most: args.at_most.clone(),
        starts: args.starts.clone(),
        ends: args.ends.clone(),
        most_in_a_row: args.in_a_row,
        meets_bar_lines: args.bar_lines,
        number: args.number,
    };
    let answer = forms(&question.rules, &question.file.compiled()?, &options)?;
    let lengths = answer.letters.iter();
    let lengths: Vec<String> = lengths
        .map(|(l, length)| format!("{l} {}", beats(*length)))
        .collect();
    let mut text = format!(
        "{} of {} from {}: {} in all\n",
        count(args.bars as usize, "bar"),
        question.file.score().meter,
        lengths.join(", "),
        answer.in_all
    );
    let mut rows = Vec::new();
    let mut found = Vec::new();
    for (i, form) in answer.listed.iter().enumerate() {
        let letters: Vec<&str> = form.letters.iter().map(Letter::as_str).collect();
        rows.push(vec![format!("{}.", i + 1), letters.join(" ")]);
        found.push(json!({ "letters": letters, "price": form.price }));
    }
    text += &print::table(&rows, 2);
    question.say(
        &text,
        json!({ "bars": args.bars, "in_all": answer.in_all, "forms": found }),
    )
}

/// Reads `A=2`.
fn times(text: &str) -> Result<(Letter, u32), String> {
    let wrong = || "a letter and a number, such as A=2".to_owned();
    let (name, number) = text.split_once('=').ok_or_else(wrong)?;
    Ok((
        letter(name.trim())?,
        number.trim().parse().map_err(|_| wrong())?,
    ))
}
