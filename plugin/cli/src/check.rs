//! `barform check`: is the score free of errors?

use crate::args::CheckArgs;
use crate::failure::Failure;
use crate::input::{self, Piece};
use crate::{output, text};

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
        seen(input::read(path).and_then(|piece| check(&piece)))?;
    }
    if args.demo {
        let demo = input::Source {
            score: None,
            demo: true,
        };
        seen(demo.read().and_then(|piece| check(&piece)))?;
    }
    if worst == 0 {
        Ok(())
    } else {
        Err(Failure::Told(worst))
    }
}

fn check(piece: &Piece) -> Result<String, Failure> {
    let timeline = piece.timeline()?;
    Ok(format!(
        "{}: good, {}\n",
        piece.name,
        text::extent(&timeline)
    ))
}
