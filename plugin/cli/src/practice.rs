//! `barform practice`: tracks to practise with, and what the playing was like.

mod options;
mod review;
mod today;
mod track;

use crate::failure::Failure;
use crate::output::{self, Target};
use clap::Subcommand;
use options::PlanArgs;

/// Shown where somebody is about to play for a while.
pub const CARE: &str = "\
Start the monitor low. Warm up, raise the tempo in small steps, stop at pain. Ask a
teacher what to practise and how, and a physician about anything that hurts.";

/// `barform practice`
#[derive(Debug, clap::Args)]
#[command(after_help = CARE)]
pub struct PracticeArgs {
    /// What to do.
    #[command(subcommand)]
    pub verb: PracticeVerb,
}

/// What there is to do with practice.
#[derive(Debug, Subcommand)]
pub enum PracticeVerb {
    /// Write a practice track: WAV, FLAC or MIDI, with click and tempo steps
    Track(track::TrackArgs),
    /// Say how a take was played, and what to work on next
    Review(review::ReviewArgs),
    /// List what is due today, from the history
    Today(today::TodayArgs),
    /// Find the latency from a take of strokes on the click
    Latency(review::LatencyArgs),
    /// Print the plan that the options describe, as a start for a plan file
    Plan(WriteArgs),
}

/// `barform practice plan`
#[derive(Debug, clap::Args)]
#[command(after_help = "\
Examples:
  barform practice plan > slow.plan
  barform practice plan --tempo '60 to 120 by 5' --gaps '1 of 4' -o gaps.plan
  barform practice plan mine.barform --level intermediate")]
pub struct WriteArgs {
    /// The score that --level proposes tempo steps for
    #[arg(value_name = "SCORE")]
    pub score: Option<std::path::PathBuf>,
    /// Where to.
    #[command(flatten)]
    pub target: Target,
    /// The plan.
    #[command(flatten)]
    pub plan: PlanArgs,
}

/// Does what is asked.
pub fn run(args: &PracticeArgs) -> Result<(), Failure> {
    match &args.verb {
        PracticeVerb::Track(args) => track::run(args),
        PracticeVerb::Review(args) => review::run(args),
        PracticeVerb::Today(args) => today::run(args),
        PracticeVerb::Latency(args) => review::latency(args),
        PracticeVerb::Plan(args) => {
            let plan = match &args.score {
                Some(path) => args.plan.plan_over(crate::input::read(path)?.score())?,
                None if args.plan.level.is_some() => {
                    let why = "--level proposes steps for a score: name one";
                    return Err(Failure::Usage(why.to_owned()));
                }
                None => args.plan.plan()?,
            };
            let text = plan.to_toml();
            match &args.target.output {
                Some(path) => output::write_file(path, text.as_bytes(), args.target.force),
                None => output::say(&text),
            }
        }
    }
}
