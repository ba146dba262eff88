//! `docs/craft.md` shows what the commands print.

mod common;

use common::page::{self, printed};
use serde_json::Value;
use std::collections::BTreeSet;

#[test]
fn the_page_shows_what_the_commands_print() {
    let folder = tempfile::tempdir().unwrap();
    let commands = page::check("craft.md", folder.path());
    // Every verb of the craft is there.
    for verb in [
        "count",
        "stick",
        "rudiments",
        "playable",
        "vary",
        "refit",
        "revoice",
        "forms",
        "mend",
    ] {
        let shows = |command: &String| command.split(' ').nth(1) == Some(verb);
        assert!(commands.iter().any(shows), "{verb} is not shown");
    }
}

/// All keys of a JSON value, at any depth; those of `divisions` are numbers.
fn keys(value: &Value, found: &mut BTreeSet<String>) {
    match value {
        Value::Object(map) => {
            for (key, inner) in map {
                found.insert(key.clone());
                if key != "divisions" {
                    keys(inner, found);
                }
            }
        }
        Value::Array(list) => list.iter().for_each(|inner| keys(inner, found)),
        _ => {}
    }
}

/// The words in backticks.
fn ticked(text: &str) -> BTreeSet<String> {
    text.split('`')
        .skip(1)
        .step_by(2)
        .map(str::to_owned)
        .collect()
}

#[test]
fn the_page_names_every_key_of_the_json_and_no_other() {
    let folder = tempfile::tempdir().unwrap();
    let page = page::read("craft.md");
    let rows: Vec<(&str, &str)> = page
        .lines()
        .filter_map(|line| {
            line.strip_prefix("| `")?
                .strip_suffix(" |")?
                .split_once("` | ")
        })
        .collect();
    let cell: BTreeSet<String> = [
        "letter", "grid", "beats", "slots", "count", "sticking", "voices",
    ]
    .map(String::from)
    .into();
    for (row, commands) in [
        ("count", &["count --demo", "count --demo --letter A"][..]),
        ("count --traditions", &["count --traditions"]),
        ("stick", &["stick --demo"]),
        ("rudiments", &["rudiments --demo"]),
        ("rudiments --list", &["rudiments --list"]),
        ("playable", &["playable --demo"]),
        ("vary", &["vary --demo --letter A"]),
        ("vary --shift …", &["vary --demo --shift 1"]),
        ("refit", &["refit --demo"]),
        ("refit --to", &["refit --demo --letter A --to 16ths"]),
        ("refit --to --carry", &["refit --demo --to 16ths --carry"]),
        ("revoice", &["revoice --demo --kit snare"]),
        ("forms", &["forms --demo --bars 1"]),
        ("mend", &["mend --demo --form 'A A C E G C |'"]),
    ] {
        let text = rows
            .iter()
            .find(|(name, _)| *name == row)
            .map(|(_, text)| *text);
        let named = ticked(text.unwrap_or_else(|| panic!("no row for {row}")));
        let mut found = BTreeSet::new();
        for command in commands {
            let json = printed(folder.path(), &format!("barform {command} --json"));
            keys(&serde_json::from_str(&json).unwrap(), &mut found);
        }
        let allowed: BTreeSet<String> = named.union(&cell).cloned().collect();
        assert!(
            found.is_subset(&allowed),
            "{row}: {:?} not named",
            found.difference(&allowed)
        );
        assert!(
            named.is_subset(&found),
            "{row}: {:?} not there",
            named.difference(&found)
        );
    }
}
