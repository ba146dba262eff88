//! `docs/take.md` shows what the command prints.

use std::path::Path;
use std::process::Command;

/// Set to write what the commands print into the page.
const REWRITE: &str = "BARFORM_REWRITE_DOCS";

fn printed(folder: &Path, command: &str) -> String {
    let args = command.strip_prefix("barform ").unwrap().split(' ');
    let output = Command::new(env!("CARGO_BIN_EXE_barform"))
        .args(args)
        .current_dir(folder)
        .env_remove("COLUMNS")
        .output()
        .unwrap();
    let error = String::from_utf8_lossy(&output.stderr);
    assert!(output.status.success(), "{command}: {error}");
    String::from_utf8(output.stdout).unwrap()
}

#[test]
fn the_page_shows_what_the_commands_print() {
    let folder = tempfile::tempdir().unwrap();
    let path = Path::new(env!("CARGO_MANIFEST_DIR")).join("../../docs/take.md");
    let page = std::fs::read_to_string(&path).unwrap();
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
        std::fs::write(&path, &now).unwrap();
    }
    assert_eq!(page, now);
    assert!(commands >= 3);
    // What was written can be read again.
    printed(folder.path(), "barform check solo.barform");
}
