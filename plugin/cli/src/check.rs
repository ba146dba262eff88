//! `barform check`: is the score free of errors?

use crate::failure::Failure;
use crate::input::{self, ScoreFile};
use crate::output;
use barform_app::words::extent;
use std::path::PathBuf;

/// `barform check`
#[derive(Debug, clap::Args)]
#[command(after_help = "\
Examples:
  barform check *.barform
  barform check --quiet - < mine.barform && echo valid")]
pub struct CheckArgs {
    /// Score files; - reads standard input
    #[arg(value_name = "SCORE", required_unless_present = "demo")]
    pub scores: Vec<PathBuf>,
    /// Check the built-in demo score
    #[arg(long)]
    pub demo: bool,
    /// Say nothing about scores without errors
    #[arg(short, long)]
    pub quiet: bool,
}

/// Checks every score and tells the worst status.
pub fn run(args: &CheckArgs) -> Result<(), Failure> {
    let mut worst = 0;
    let mut seen = |checked: Result<String, Failure>| -> Result<(), Failure> {
        match checked {
            Ok(line) if args.quiet => drop(line),
            Ok(line) => output::say(&line)?,
            Err(failure) => {
                failure.tell();
                worst = failure.status().max(worst);
            }
        }
        Ok(())
    };
    for path in &args.scores {
        seen(input::read(path).and_then(|file| check(&file)))?;
    }
    if args.demo {
        let demo = input::Source {
            score: None,
            demo: true,
        };
        seen(demo.read().and_then(|file| check(&file)))?;
    }
    if worst == 0 {
        Ok(())
    } else {
        Err(Failure::Told(worst))
    }
}

fn check(file: &ScoreFile) -> Result<String, Failure> {
    Ok(format!(
        "{}: good, {}\n",
        file.name,
        extent(&file.compiled()?.timeline)
    ))
}
