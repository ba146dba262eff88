//! `barform respell`: a score in its regular spelling.

use crate::args::RespellArgs;
use crate::failure::Failure;
use crate::output;
use std::io::{self, Write};
use std::path::Path;

/// Prints or writes the score.
pub fn run(args: &RespellArgs) -> Result<(), Failure> {
    let piece = args.source.read()?;
    let path = args.target.output.as_deref().unwrap_or(Path::new("-"));
    output::write_file(path, piece.score.to_toml().as_bytes(), args.target.force)?;
    if piece.text.lines().any(has_comment) {
        let _ = writeln!(
            io::stderr(),
            "barform: {}: comments are left out",
            piece.name
        );
    }
    Ok(())
}

/// Whether a line of TOML has a comment. Strings of a score are on one line.
fn has_comment(line: &str) -> bool {
    let mut quote = None;
    let mut escaped = false;
    for c in line.chars() {
        match (quote, c) {
            _ if escaped => escaped = false,
            (Some('"'), '\\') => escaped = true,
            (Some(q), c) if q == c => quote = None,
            (None, '"' | '\'') => quote = Some(c),
            (None, '#') => return true,
            _ => {}
        }
    }
    false
}
