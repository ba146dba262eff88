//! `docs/practice.md` shows what the commands print, and names every option and
//! every key of a plan.

use std::path::Path;
use std::process::Command;

/// Set to write what the commands print into the page.
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

fn printed(folder: &Path, command: &str) -> String {
    let args = words(command.strip_prefix("barform ").unwrap());
    let output = Command::new(env!("CARGO_BIN_EXE_barform"))
        .args(args)
        .current_dir(folder)
        .env("XDG_DATA_HOME", folder)
        .env_remove("COLUMNS")
        .output()
        .unwrap();
    let error = String::from_utf8_lossy(&output.stderr);
    assert!(output.status.success(), "{command}: {error}");
    String::from_utf8(output.stdout).unwrap()
}

fn page() -> String {
    let path = Path::new(env!("CARGO_MANIFEST_DIR")).join("../../docs/practice.md");
    std::fs::read_to_string(path).unwrap()
}

#[test]
fn the_page_shows_what_the_commands_print() {
    let folder = tempfile::tempdir().unwrap();
    let page = page();
    let (mut now, mut in_console, mut commands) = (String::new(), false, 0);
    for line in page.lines() {
        if let Some(command) = line.strip_prefix("$ ").filter(|_| in_console) {
            now += &format!("{line}\n{}", printed(folder.path(), command));
            commands += 1;
        } else if !in_console || line == "```" {
            now += &format!("{line}\n");
        }
        in_console = line == "```console" || (in_console && line != "```");
    }
    if std::env::var_os(REWRITE).is_some() {
        let path = Path::new(env!("CARGO_MANIFEST_DIR")).join("../../docs/practice.md");
        std::fs::write(path, &now).unwrap();
    }
    assert_eq!(page, now);
    assert!(commands >= 8);
    // A plan that is printed can be read.
    let plan = printed(
        folder.path(),
        "barform practice plan --gaps '1 of 4' --fade '20% every bar'",
    );
    std::fs::write(folder.path().join("mine.plan"), &plan).unwrap();
    assert_eq!(
        printed(folder.path(), "barform practice plan --plan mine.plan"),
        plan
    );
}

#[test]
fn the_page_names_every_option_and_every_key_of_a_plan() {
    let folder = tempfile::tempdir().unwrap();
    let page = page();
    for verb in ["track", "review", "today", "latency", "plan"] {
        let help = printed(folder.path(), &format!("barform practice {verb} --help"));
        let options = help
            .lines()
            .filter_map(|line| line.trim_start().split("--").nth(1));
        let letter = |c: char| c.is_ascii_lowercase() || c == '-';
        let starts = options.map(|o| o.split(|c| !letter(c)).next().unwrap());
        let mut count = 0;
        for option in starts.filter(|o| !o.is_empty() && *o != "help") {
            assert!(
                page.contains(&format!("`--{option}`")),
                "--{option} of {verb}"
            );
            count += 1;
        }
        assert!(count >= 3, "{verb}");
    }
    let all = "barform practice plan --play drawn --count-last 8ths --click 8ths --fade '5% every bar' \
               --gaps '1 of 4' --trade 'barform 1 bar, echo' --player A --layers R";
    let plan = printed(folder.path(), all);
    let mut table = String::new();
    let mut keys = 0;
    for line in plan.lines() {
        if let Some(head) = line.strip_prefix("[practice") {
            table = head
                .trim_end_matches(']')
                .trim_start_matches('.')
                .to_owned();
        } else if let Some((key, _)) = line.split_once(" = ").filter(|(k, _)| *k != "barform") {
            let path = match table.as_str() {
                "" => key.to_owned(),
                table => format!("{table}.{key}"),
            };
            assert!(page.contains(&format!("`{path}`")), "{path}");
            keys += 1;
        }
    }
    assert!(keys >= 20, "{plan}");
}
