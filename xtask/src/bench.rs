//! Runs all benches and prints one table of what the project promises.
//!
//! The benches are criterion's; what they measure is read from the
//! `estimates.json` that criterion leaves for each. The rows of the table, with
//! their goals, are declared here and nowhere else.

use std::collections::HashMap;
use std::path::Path;
use std::time::SystemTime;

use anyhow::{Context, Result, bail};
use serde_json::Value;

use crate::{bundle, setup, step};

/// What a row is held to.
enum Goal {
    /// At most so many nanoseconds.
    AtMost(f64),
    /// At most so many times as long as the row of that id.
    Times(f64, &'static str),
    /// None: a yardstick for other rows.
    None,
}

/// A row of the table.
struct Row {
    /// As criterion has it.
    id: &'static str,
    /// What it says to a reader.
    what: &'static str,
    /// How many of it one measured turn does.
    per_turn: f64,
    goal: Goal,
}

/// Nanoseconds in a microsecond and in a millisecond.
const US: f64 = 1e3;
const MS: f64 = 1e6;

/// A block of 64 samples at 48 kHz lasts 1333 microseconds; the player may take
/// a hundredth of that.
const PLAYER_BLOCK: f64 = 13.3 * US;

/// A frame while time runs; one comes every 24 milliseconds.
const FRAME: f64 = 4.0 * MS;

const ROWS: &[Row] = &[
    Row {
        id: "compile/10",
        what: "compile a score of 10 bars",
        per_turn: 1.0,
        goal: Goal::AtMost(MS),
    },
    Row {
        id: "compile/10000",
        what: "compile a score of 10,000 bars",
        per_turn: 1.0,
        goal: Goal::AtMost(50.0 * MS),
    },
    Row {
        id: "place_at/10",
        what: "find a position in 10 bars",
        per_turn: 1.0,
        goal: Goal::AtMost(US),
    },
    Row {
        id: "place_at/10000",
        what: "find a position in 10,000 bars",
        per_turn: 1.0,
        goal: Goal::AtMost(US),
    },
    Row {
        id: "player_64_frames/10",
        what: "play 64 samples of 10 bars",
        per_turn: 1_000.0,
        goal: Goal::AtMost(PLAYER_BLOCK),
    },
    Row {
        id: "player_64_frames/10000",
        what: "play 64 samples of 10,000 bars",
        per_turn: 1_000.0,
        goal: Goal::Times(1.5, "player_64_frames/10"),
    },
    Row {
        id: "process_64_frames/empty",
        what: "process 64 samples: a plugin that does nothing",
        per_turn: 2_000.0,
        goal: Goal::None,
    },
    Row {
        id: "process_64_frames/10",
        what: "process 64 samples: 10 bars, notes only",
        per_turn: 2_000.0,
        goal: Goal::Times(1.3, "process_64_frames/empty"),
    },
    Row {
        id: "process_64_frames/10000",
        what: "process 64 samples: 10,000 bars, notes only",
        per_turn: 2_000.0,
        goal: Goal::Times(1.3, "process_64_frames/empty"),
    },
    Row {
        id: "instantiate/barform_empty",
        what: "make an instance: a plugin that does nothing",
        per_turn: 1.0,
        goal: Goal::None,
    },
    Row {
        id: "instantiate/barform_clap",
        what: "make an instance",
        per_turn: 1.0,
        goal: Goal::AtMost(10.0 * MS),
    },
    Row {
        id: "activate/first",
        what: "activate it at 48 kHz, kit and all",
        per_turn: 1.0,
        goal: Goal::AtMost(300.0 * MS),
    },
    Row {
        id: "midi/barform",
        what: "write 24,000 strokes as a MIDI file",
        per_turn: 1.0,
        goal: Goal::Times(0.01, "midi/mido"),
    },
    Row {
        id: "midi/mido",
        what: "the same with mido",
        per_turn: 1.0,
        goal: Goal::None,
    },
    Row {
        id: "sticking/10000",
        what: "find the sticking of 10,000 strokes",
        per_turn: 1.0,
        goal: Goal::AtMost(50.0 * MS),
    },
    Row {
        id: "rudiments/10000",
        what: "find the rudiments in 10,000 strokes",
        per_turn: 1.0,
        goal: Goal::AtMost(500.0 * MS),
    },
    Row {
        id: "top_tempo/10000",
        what: "find the top tempo of 10,000 strokes",
        per_turn: 1.0,
        goal: Goal::AtMost(50.0 * MS),
    },
    Row {
        id: "sheet/1000",
        what: "print 1,000 bars: spell and lay out",
        per_turn: 1.0,
        goal: Goal::AtMost(500.0 * MS),
    },
    Row {
        id: "sheet/10000",
        what: "print 10,000 bars: spell and lay out",
        per_turn: 1.0,
        goal: Goal::Times(12.0, "sheet/1000"),
    },
    Row {
        id: "frame/stand",
        what: "draw a frame of the Stand, 1,000 strokes",
        per_turn: 1.0,
        goal: Goal::AtMost(FRAME),
    },
    Row {
        id: "frame/bench",
        what: "draw a frame of the Bench, 1,000 strokes",
        per_turn: 1.0,
        goal: Goal::AtMost(FRAME),
    },
    Row {
        id: "frame/score",
        what: "draw a frame of the Score page, 1,000 strokes",
        per_turn: 1.0,
        goal: Goal::AtMost(FRAME),
    },
    Row {
        id: "frame/kit",
        what: "draw a frame of the Kit page, 1,000 strokes",
        per_turn: 1.0,
        goal: Goal::AtMost(FRAME),
    },
    Row {
        id: "frame/shelf",
        what: "draw a frame of the Shelf, 1,000 strokes",
        per_turn: 1.0,
        goal: Goal::AtMost(FRAME),
    },
    Row {
        id: "frame/settings",
        what: "draw a frame of the Settings, 1,000 strokes",
        per_turn: 1.0,
        goal: Goal::AtMost(FRAME),
    },
];

/// Runs the benches whose id contains `filter` and prints the table.
///
/// # Errors
/// If a bench fails, a row was not measured, or a goal is missed.
pub fn run(filter: &str) -> Result<()> {
    setup::system()?;
    setup::python()?;
    step::heading("Build for measuring");
    // The benches load the plugin and the one that does nothing, as hosts do.
    step::run(&mut step::cargo([
        "build",
        "--release",
        "-p",
        "barform-clap",
        "-p",
        "barform-empty",
    ]))?;
    step::heading("Benches");
    let start = SystemTime::now();
    let mut benches = step::cargo(["bench", "--workspace", "--bench", "*", "--"]);
    if !filter.is_empty() {
        benches.arg(filter);
    }
    step::run(&mut benches)?;
    let medians = medians(&bundle::target_dir()?.join("criterion"), start)?;
    step::heading("Figures");
    table(&medians, filter)
}

/// The median of each bench that was measured since `start`, in nanoseconds.
fn medians(folder: &Path, start: SystemTime) -> Result<HashMap<String, f64>> {
    let mut medians = HashMap::new();
    let mut folders = vec![folder.to_path_buf()];
    while let Some(folder) = folders.pop() {
        let entries = folder.read_dir().context("no figures were left")?;
        for entry in entries {
            let entry = entry?;
            if entry.file_type()?.is_dir() {
                folders.push(entry.path());
            }
        }
        let (about, figures) = (folder.join("benchmark.json"), folder.join("estimates.json"));
        if !folder.ends_with("new") || !figures.exists() || figures.metadata()?.modified()? < start
        {
            continue;
        }
        let read = |path: &Path| -> Result<Value> {
            Ok(serde_json::from_str(&std::fs::read_to_string(path)?)?)
        };
        let id = read(&about)?["full_id"]
            .as_str()
            .context("no id")?
            .to_owned();
        let median = &read(&figures)?["median"]["point_estimate"];
        medians.insert(id, median.as_f64().context("no median")?);
    }
    Ok(medians)
}

fn table(medians: &HashMap<String, f64>, filter: &str) -> Result<()> {
    let taken = |row: &Row| medians.get(row.id).map(|median| median / row.per_turn);
    let row_of = |id: &str| ROWS.iter().find(|row| row.id == id);
    let mut missed = Vec::new();
    println!("{:<44}{:>12}  goal", "", "median");
    for row in ROWS.iter().filter(|row| row.id.contains(filter)) {
        let took = taken(row);
        let (goal, limit) = match row.goal {
            Goal::AtMost(limit) => (format!("at most {}", shown(limit)), Some(limit)),
            Goal::Times(times, id) => {
                let other = row_of(id).context("a goal names a row that is none")?;
                let goal = format!("at most {times} × {}", other.what);
                (goal, taken(other).map(|other| other * times))
            }
            Goal::None => ("yardstick".to_owned(), Some(f64::INFINITY)),
        };
        let verdict = match (took, limit) {
            (Some(took), Some(limit)) if took <= limit => "reached",
            (Some(_), Some(_)) => "MISSED",
            _ => "NOT MEASURED",
        };
        if verdict != "reached" {
            missed.push(row.id);
        }
        let took = took.map_or_else(|| "-".to_owned(), shown);
        println!("{:<44}{took:>12}  {goal:<46}  {verdict}", row.what);
    }
    let mut others: Vec<_> = medians
        .iter()
        .filter(|(id, _)| row_of(id.as_str()).is_none())
        .collect();
    others.sort_by(|a, b| a.0.cmp(b.0));
    for (id, median) in others {
        println!("{id:<44}{:>12}  no goal", shown(*median));
    }
    if missed.is_empty() {
        Ok(())
    } else {
        bail!("goals not reached: {}", missed.join(", "))
    }
}

/// Nanoseconds in a unit that fits.
fn shown(ns: f64) -> String {
    match ns {
        _ if ns < US => format!("{ns:.1} ns"),
        _ if ns < MS => format!("{:.2} µs", ns / US),
        _ if ns < 1e3 * MS => format!("{:.2} ms", ns / MS),
        _ => format!("{:.2} s", ns / (1e3 * MS)),
    }
}
