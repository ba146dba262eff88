//! From an item's name to a file name that every system takes, and to the form
//! in which names are compared.

use deunicode::deunicode;
use std::collections::HashSet;

/// Longest stem of a file name, in bytes. With a number and an ending it stays
/// far below the 143 bytes that the strictest file system in use (an encrypted
/// one) leaves, and paths below the 260 characters of older Windows programs.
const MAX_STEM: usize = 60;

/// Names that Windows keeps for devices, whatever the ending. Microsoft,
/// *Naming Files, Paths, and Namespaces*.
const RESERVED: [&str; 6] = ["con", "prn", "aux", "nul", "conin$", "conout$"];

/// Text without regard to case, accents and width of gaps: `Füße` and `FUSSE`
/// are the same.
pub fn fold(text: &str) -> String {
    let plain = deunicode(text).to_lowercase();
    plain.split_whitespace().collect::<Vec<_>>().join(" ")
}

/// A file name without its ending for an item's name: ASCII letters, digits,
/// blanks, `-` and `_`. ASCII because systems disagree on how they store an
/// accent and on how many bytes they count for it; the name itself stands in the
/// file, in full.
pub fn safe_stem(name: &str) -> String {
    let mut stem = String::new();
    for c in deunicode(name).chars() {
        let fits = c.is_ascii_alphanumeric() || c == '_';
        let c = match c {
            c if fits => c,
            ' ' => ' ',
            '\'' | '"' => continue,
            _ => '-',
        };
        // One separator in a row, and none at the start.
        if fits || !(stem.is_empty() || stem.ends_with([' ', '-'])) {
            stem.push(c);
        }
    }
    stem.truncate(MAX_STEM);
    let stem = stem.trim_end_matches([' ', '-']);
    if stem.is_empty() {
        return "item".to_owned();
    }
    if is_reserved(stem) {
        return format!("{stem}_");
    }
    stem.to_owned()
}

fn is_reserved(stem: &str) -> bool {
    let lower = stem.to_ascii_lowercase();
    let port = |kind| {
        lower
            .strip_prefix(kind)
            .is_some_and(|n| n.len() == 1 && n.bytes().all(|b| b.is_ascii_digit()))
    };
    RESERVED.contains(&lower.as_str()) || port("com") || port("lpt")
}

/// `stem.ending`, or `stem 2.ending` and so on: the first that nobody has. Case
/// does not tell files apart, for some systems do not see it.
pub(super) fn free_name(stem: &str, ending: &str, taken: &HashSet<String>) -> String {
    let first = format!("{stem}.{ending}");
    if !taken.contains(&first.to_lowercase()) {
        return first;
    }
    let numbered = (2_u64..).map(|n| format!("{stem} {n}.{ending}"));
    let mut free = numbered.filter(|name| !taken.contains(&name.to_lowercase()));
    free.next().unwrap_or(first)
}
