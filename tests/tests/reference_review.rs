//! Human takes, read into a score of their own and reviewed against it: mean and
//! spread as `numpy` works them out. The takes are no part of the project:
//! `BARFORM_TAKES` names their folder, or they lie beside the workspace.

use anyhow::Result;
use barform_tests::command;
use serde_json::{Value, json};
use std::fs;
use std::path::{Path, PathBuf};

/// Every so many of the long takes: enough for a test.
const EVERY: usize = 8;

fn folder() -> Option<PathBuf> {
    let beside = Path::new(env!("CARGO_MANIFEST_DIR")).join("../../shared/takes");
    let stated = std::env::var_os("BARFORM_TAKES").map(PathBuf::from);
    let all = stated.into_iter().chain([beside]);
    all.into_iter().find(|f| f.join("info.csv").is_file())
}

/// The take as a score, and what the command says of the take against it; `None`
/// where a take gives no score.
fn review(scratch: &Path, number: usize, take: &Path) -> Result<Option<Value>> {
    let score = scratch.join(format!("{number}.barform"));
    let mut reading = command::barform()?;
    reading
        .arg("take")
        .arg(take)
        .args(["--by", "hand", "--beats", "click", "--quiet", "-o"]);
    if !reading.arg(&score).output()?.status.success() {
        return Ok(None);
    }
    let mut barform = command::barform()?;
    barform.args(["practice", "review"]).arg(&score).arg(take);
    let told = barform.args(["--count-in", "0", "--json"]).output()?;
    let told = command::checked(told, "review")?;
    let review: Value = serde_json::from_str(&told)?;
    Ok(Some(json!({ "file": take, "review": review })))
}

#[test]
fn human_takes_have_the_mean_and_spread_that_numpy_finds() -> Result<()> {
    let Some(folder) = folder() else {
        println!("no human takes at hand: BARFORM_TAKES names no folder; skipped");
        return Ok(());
    };
    let info = fs::read_to_string(folder.join("info.csv"))?;
    let rows = info
        .lines()
        .skip(1)
        .map(|line| line.split(',').collect::<Vec<_>>());
    let long = rows.filter(|row| row[5] == "beat");
    let scratch = tempfile::tempdir()?;
    let mut cases = Vec::new();
    for (number, row) in long.step_by(EVERY).enumerate() {
        cases.extend(review(scratch.path(), number, &folder.join(row[7]))?);
    }
    let list = scratch.path().join("cases.json");
    fs::write(&list, serde_json::to_vec(&cases)?)?;
    let read: Value = serde_json::from_str(&command::python("read_review.py", &[&list])?)?;
    let seen = |what: &str| read[what].as_u64().unwrap_or(0);
    assert!(seen("takes") >= 10, "{read}");
    // Within 1 ms and 10 %; where strokes of one drum come close on each other the
    // nearest note is not always the right one.
    assert!(10 * seen("agree") >= 9 * seen("takes"), "{read}");
    Ok(())
}
