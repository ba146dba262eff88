//! `barform practice today`: what is due.

use crate::failure::Failure;
use crate::input::ScoreFile;
use crate::output;
use barform_app::practice::history::{Due, History, Session, today};
use barform_app::shelf::Folders;
use barform_app::words::count;
use serde_json::json;
use std::io::{self, Write};
use std::path::{Path, PathBuf};
use time::OffsetDateTime;

/// `barform practice today`
#[derive(Debug, clap::Args)]
#[command(after_help = format!("\
The history is a file in your data folder, which `barform practice review --keep`
adds to; nothing leaves this machine. A letter that went well is due again after
1, 2, 4, 7, 14 and 30 days; one that did not, the next day.

{}", super::CARE))]
pub struct TodayArgs {
    /// Minutes you have
    #[arg(short, long, default_value_t = 20, value_name = "MINUTES")]
    #[arg(value_parser = clap::value_parser!(u32).range(2..=600))]
    pub minutes: u32,
    /// Folder of the history [default: your data folder]
    #[arg(long, value_name = "FOLDER")]
    pub history: Option<PathBuf>,
    /// Print JSON
    #[arg(long)]
    pub json: bool,
}

/// The history in a folder, or in the user's data folder if there is one.
pub fn history(folder: Option<&Path>) -> Option<History> {
    match folder {
        Some(folder) => Some(History::at(folder)),
        None => Folders::of_user()
            .ok()
            .map(|folders| History::at(folders.root())),
    }
}

/// The history, where one has to be there.
pub fn needed(history: Option<History>) -> Result<History, Failure> {
    let none = || Failure::File("no data folder was found; name one with --history".into());
    history.ok_or_else(none)
}

/// What a score is called in the history.
pub fn title(file: &ScoreFile) -> String {
    match file.score().title.as_str() {
        "" => file.name.clone(),
        title => title.to_owned(),
    }
}

/// All sessions; lines that could not be read are reported.
pub fn read(history: &History) -> Result<Vec<Session>, Failure> {
    let read = history.read().map_err(|e| Failure::File(e.to_string()))?;
    if let Some(aside) = &read.set_aside {
        let lines = count(aside.lines, "damaged line");
        let path = aside.path.display();
        let _ = writeln!(
            io::stderr(),
            "barform: {lines} of the history set aside in {path}"
        );
    }
    if read.newer > 0 {
        let lines = count(read.newer, "session");
        let _ = writeln!(
            io::stderr(),
            "barform: skipped {lines} from a newer Barform"
        );
    }
    Ok(read.sessions)
}

/// Lists what is due.
pub fn run(args: &TodayArgs) -> Result<(), Failure> {
    let history = needed(history(args.history.as_deref()))?;
    let sessions = read(&history)?;
    let due = today(&sessions, OffsetDateTime::now_utc(), args.minutes);
    if args.json {
        let one = |d: &Due| {
            json!({
                "score": d.score, "letter": d.letter, "days": d.days, "missed": d.missed,
                "spread_ms": d.spread_ms, "tempo": d.tempo, "minutes": d.minutes,
            })
        };
        let all: Vec<_> = due.iter().map(one).collect();
        return output::say(&format!("{:#}\n", json!({ "due": all })));
    }
    let mut told = String::new();
    for one in &due {
        told += &format!(
            "{:>3} min  {} of {}: {} ago at {:.0}, {:.0} % missed, spread {:.0} ms\n",
            one.minutes,
            one.letter,
            one.score,
            count(one.days.round() as usize, "day"),
            one.tempo,
            100.0 * one.missed,
            one.spread_ms,
        );
    }
    if due.is_empty() {
        told += "Nothing is due.\n";
    }
    output::say(&told)
}
