//! How well the tests bite: `cargo-mutants` changes a sample of a crate's code, one
//! place at a time, and runs the tests that are meant for it.

use std::fs;
use std::path::PathBuf;

use anyhow::{Context, Result, bail};
use serde_json::Value;

use crate::{setup, step};

/// Changes tried per crate.
const SAMPLE: usize = 50;

/// Seconds after which a test that goes on for ever counts as failed.
const TIMEOUT_S: &str = "120";

/// A crate, and where its tests are.
struct Part {
    name: &'static str,
    /// Folder whose code is changed.
    code: &'static str,
    /// Package whose tests are run: cells, scores and files are tested where all
    /// layers come together.
    tests: &'static str,
    /// What the names of these tests begin with; all if empty.
    filters: &'static [&'static str],
}

const PARTS: [Part; 6] = [
    Part {
        name: "score",
        code: "plugin/score/src",
        tests: "barform-app",
        filters: &["score", "timeline", "music_facts", "refit", "carry"],
    },
    Part {
        name: "play",
        code: "plugin/play/src",
        tests: "barform-play",
        filters: &[],
    },
    Part {
        name: "files",
        code: "plugin/files/src",
        tests: "barform-app",
        filters: &["import", "midi", "musicxml", "audio"],
    },
    Part {
        name: "sheet",
        code: "plugin/sheet/src/notate",
        tests: "barform-app",
        filters: &["sheet_notate", "musicxml"],
    },
    Part {
        name: "take",
        code: "plugin/take/src",
        tests: "barform-take",
        filters: &[],
    },
    Part {
        name: "practice",
        code: "plugin/practice/src",
        tests: "barform-practice",
        filters: &[],
    },
];

/// Changes a sample of a crate, or of each, and prints what the tests let through.
/// The seed chooses the sample.
///
/// # Errors
/// If there is no such crate, the seed is not a number or a program fails. A change
/// that no test notices is not an error.
pub fn run(args: &[&str]) -> Result<()> {
    let (names, seed) = match args {
        [] => (None, 0),
        [one] if one.parse::<usize>().is_ok() => (None, one.parse()?),
        [name] => (Some(*name), 0),
        [name, seed] => (Some(*name), seed.parse().context("the seed is no number")?),
        _ => bail!("at most a crate and a seed"),
    };
    let parts: Vec<&Part> = PARTS
        .iter()
        .filter(|part| names.is_none_or(|n| n == part.name))
        .collect();
    if parts.is_empty() {
        let all: Vec<_> = PARTS.iter().map(|part| part.name).collect();
        bail!("one of {}", all.join(", "));
    }
    setup::system()?;
    if !step::succeeds(&mut step::cargo(["mutants", "--version"])) {
        step::heading("Install cargo-mutants");
        step::run(&mut step::cargo(["install", "--locked", "cargo-mutants"]))?;
    }
    let mut rows = Vec::new();
    for part in parts {
        rows.push(sample(part, seed)?);
    }
    println!("\n{:<10} {:>6} {:>7} {:>7}", "crate", "tried", "caught", "");
    for (name, tried, caught) in rows {
        let share = 100.0 * caught as f64 / tried.max(1) as f64;
        println!("{name:<10} {tried:>6} {caught:>7} {share:>6.0} %");
    }
    Ok(())
}

fn of(part: &Part, more: &[&str]) -> std::process::Command {
    let mut command = step::cargo(["mutants", "--workspace", "--file"]);
    command.arg(format!("{}/**/*.rs", part.code)).args(more);
    command
}

/// Name, changes that compiled, and how many of them the tests caught.
fn sample(part: &Part, seed: usize) -> Result<(&'static str, u64, u64)> {
    step::heading(&format!("Change {}", part.name));
    let all = step::output(&mut of(part, &["--list"]))?.lines().count();
    let shards = all.div_ceil(SAMPLE).max(1);
    let shard = format!("{}/{shards}", seed % shards);
    let folder = PathBuf::from("target/mutants").join(part.name);
    fs::create_dir_all(&folder)?;
    let mut command = of(part, &["--shard", &shard, "--sharding", "round-robin"]);
    command.args([
        "--no-shuffle",
        "--timeout",
        TIMEOUT_S,
        "--test-package",
        part.tests,
    ]);
    command.arg("--output").arg(&folder);
    command
        .args(["--", "--lib", "--tests", "--"])
        .args(part.filters);
    command.env("PROPTEST_MAX_SHRINK_ITERS", "0");
    // It ends with 2 or 3 where something gets through or runs for ever.
    let code = command.status().context("cannot run cargo mutants")?.code();
    if !matches!(code, Some(0 | 2 | 3)) {
        bail!("cargo mutants failed: {code:?}");
    }
    let outcomes = fs::read(folder.join("mutants.out/outcomes.json"))?;
    let outcomes: Value = serde_json::from_slice(&outcomes)?;
    let count = |what: &str| outcomes[what].as_u64().unwrap_or(0);
    let caught = count("caught") + count("timeout");
    Ok((part.name, caught + count("missed"), caught))
}
