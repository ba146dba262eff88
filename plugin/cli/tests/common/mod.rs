//! Running the command in a folder of its own.

// Each test program uses a part of this.
#![allow(dead_code)]

pub mod page;

use std::fs;
use std::io::Write;
use std::path::Path;
use std::process::{Command, Output, Stdio};

pub const SOUND: &str = r#"
barform = 1
title = "Four"
tempo = 120
form = "A A |"

[cell.A]
grid = "2 2"
sticking = "R L R> K"
"#;

pub const UNSOUND: &str = r#"barform = 1
form = "A |"

[cell.A]
grid = "2 2"
sticking = "R L R Q"
"#;

pub fn barform(folder: &Path, args: &[&str]) -> Output {
    barform_reading(folder, args, "")
}

pub fn barform_reading(folder: &Path, args: &[&str], input: &str) -> Output {
    let mut child = Command::new(env!("CARGO_BIN_EXE_barform"))
        .args(args)
        .current_dir(folder)
        .env_remove("NO_COLOR")
        .env_remove("COLUMNS")
        .stdin(Stdio::piped())
        .stdout(Stdio::piped())
        .stderr(Stdio::piped())
        .spawn()
        .unwrap();
    // A verb that reads no input may be gone already.
    let _ = child.stdin.take().unwrap().write_all(input.as_bytes());
    child.wait_with_output().unwrap()
}

pub fn status(output: &Output) -> i32 {
    output.status.code().unwrap()
}

pub fn out(output: &Output) -> &str {
    std::str::from_utf8(&output.stdout).unwrap()
}

pub fn err(output: &Output) -> &str {
    std::str::from_utf8(&output.stderr).unwrap()
}

pub fn folder_with(files: &[(&str, &str)]) -> tempfile::TempDir {
    let folder = tempfile::tempdir().unwrap();
    for (name, text) in files {
        fs::write(folder.path().join(name), text).unwrap();
    }
    folder
}

pub fn names(folder: &Path) -> Vec<String> {
    let entries = fs::read_dir(folder).unwrap();
    let mut names: Vec<String> = entries
        .map(|e| e.unwrap().file_name().into_string().unwrap())
        .collect();
    names.sort();
    names
}
