//! Pages in `docs` that show what the commands print.

use std::fs;
use std::path::{Path, PathBuf};
use std::process::Command;

/// Set to write what the commands print into the pages: after a wanted change, to
/// be read before it is kept.
const REWRITE: &str = "BARFORM_REWRITE_DOCS";

fn path(name: &str) -> PathBuf {
    let docs = Path::new(env!("CARGO_MANIFEST_DIR")).join("../../docs");
    docs.join(name)
}

/// The text of a page.
pub fn read(name: &str) -> String {
    fs::read_to_string(path(name)).unwrap()
}

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

/// What a command line prints when it is run in a folder.
pub fn printed(folder: &Path, command: &str) -> String {
    let output = Command::new(env!("CARGO_BIN_EXE_barform"))
        .args(words(command.strip_prefix("barform ").unwrap()))
        .current_dir(folder)
        .env("XDG_DATA_HOME", folder)
        .env_remove("COLUMNS")
        .output()
        .unwrap();
    let error = String::from_utf8_lossy(&output.stderr);
    assert!(output.status.success(), "{command}: {error}");
    String::from_utf8(output.stdout).unwrap()
}

/// Runs the commands that a page shows, in order and in one folder, and compares
/// what they print with the page. Returns the commands.
pub fn check(name: &str, folder: &Path) -> Vec<String> {
    let page = read(name);
    let (mut now, mut commands) = (String::new(), Vec::new());
    let (mut in_console, mut after_blank) = (false, false);
    for line in page.lines() {
        if let Some(command) = line.strip_prefix("$ ").filter(|_| in_console) {
            if after_blank {
                now.push('\n');
            }
            now += &format!("{line}\n{}", printed(folder, command));
            commands.push(command.to_owned());
        } else if !in_console || line == "```" {
            now += &format!("{line}\n");
        }
        in_console = line == "```console" || (in_console && line != "```");
        after_blank = line.is_empty();
    }
    if std::env::var_os(REWRITE).is_some() {
        fs::write(path(name), &now).unwrap();
    }
    for (number, (shown, prints)) in page.lines().zip(now.lines()).enumerate() {
        assert_eq!(shown, prints, "docs/{name}:{}", number + 1);
    }
    assert_eq!(page, now);
    commands
}
