//! `docs/craft.md` shows what the commands print.

use serde_json::Value;
use std::collections::BTreeSet;
use std::path::Path;
use std::process::Command;

/// Set to write what the commands print into the page: after a wanted change,
/// to be read before it is kept.
const REWRITE: &str = "BARFORM_REWRITE_DOCS";

/// The words of a command line; single quotes keep blanks.
fn words(line: &str) -> Vec<String> {
    let mut words = vec![String::new()];
    let mut quoted = false;
    for c in line.chars() {
        match c {
            '\'' => quoted = !quoted,
            ' ' if !quoted => words.push(String::new()),
            _ => words.last_mut().unwrap().push(c),
        }
    }
    words
}

fn printed(command: &str) -> String {
    let args = words(command.strip_prefix("barform ").unwrap());
    let output = Command::new(env!("CARGO_BIN_EXE_barform"))
        .args(args)
        .env_remove("COLUMNS")
        .output()
        .unwrap();
    let error = String::from_utf8_lossy(&output.stderr);
    assert!(output.status.success(), "{command}: {error}");
    String::from_utf8(output.stdout).unwrap()
}

/// The page with every command's output as it is now, and the commands.
fn as_printed(page: &str) -> (String, Vec<String>) {
    let mut out = String::new();
    let mut commands = Vec::new();
    let mut in_console = false;
    for line in page.lines() {
        if let Some(command) = line.strip_prefix("$ ").filter(|_| in_console) {
            if commands.last().is_some() && !out.ends_with("```console\n") {
                out.push('\n');
            }
            out += &format!("{line}\n{}", printed(command));
            commands.push(command.to_owned());
        } else if !in_console || line == "```" {
            out += &format!("{line}\n");
        }
        in_console = line == "```console" || (in_console && line != "```");
    }
    (out, commands)
}

#[test]
fn the_page_shows_what_the_commands_print() {
    let path = Path::new(env!("CARGO_MANIFEST_DIR")).join("../../docs/craft.md");
    let page = std::fs::read_to_string(&path).unwrap();
    let (now, commands) = as_printed(&page);
    if std::env::var_os(REWRITE).is_some() {
        std::fs::write(&path, &now).unwrap();
    }
    for (line, (shown, prints)) in page.lines().zip(now.lines()).enumerate() {
        assert_eq!(shown, prints, "docs/craft.md:{}", line + 1);
    }
    assert_eq!(page, now);
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
    let path = Path::new(env!("CARGO_MANIFEST_DIR")).join("../../docs/craft.md");
    let page = std::fs::read_to_string(path).unwrap();
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
            let json = printed(&format!("barform {command} --json"));
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
