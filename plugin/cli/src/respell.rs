//! `barform respell`: a score in its regular spelling.

use crate::failure::Failure;
use crate::input::Source;
use crate::output::{self, Target};
use barform_app::session::has_comments;
use std::io::{self, Write};
use std::path::Path;

/// `barform respell`
#[derive(Debug, clap::Args)]
#[command(after_help = "\
Examples:
  barform respell mine.barform                              look at it
  barform respell mine.barform -o mine.barform --force   respell the file")]
pub struct RespellArgs {
    /// The score.
    #[command(flatten)]
    pub source: Source,
    /// Where to.
    #[command(flatten)]
    pub target: Target,
}

/// Prints or writes the score.
pub fn run(args: &RespellArgs) -> Result<(), Failure> {
    let file = args.source.read()?;
    let path = args.target.output.as_deref().unwrap_or(Path::new("-"));
    output::write_file(path, file.score().to_toml().as_bytes(), args.target.force)?;
    if has_comments(file.text()) {
        let _ = writeln!(
            io::stderr(),
            "barform: {}: comments are left out",
            file.name
        );
    }
    Ok(())
}
