//! Colours of letters in the terminal.

use std::env;
use std::io::{self, IsTerminal};

/// The Okabe-Ito colours (Okabe and Ito, *Color Universal Design*, 2008), which
/// people who see few colours can tell apart; black and yellow are left out
/// because one of them vanishes on any background.
const OKABE_ITO: [(u8, u8, u8); 6] = [
    (230, 159, 0),
    (86, 180, 233),
    (0, 158, 115),
    (213, 94, 0),
    (204, 121, 167),
    (0, 114, 178),
];

/// Paints text in the colour of a letter, a variation's in its parent's: only on a
/// terminal that has colours, and not if NO_COLOR is set.
pub fn for_stdout() -> impl Fn(&str, &str) -> String {
    let unwanted = env::var_os("NO_COLOR").is_some_and(|v| !v.is_empty());
    let dumb = env::var_os("TERM").is_some_and(|t| t == "dumb");
    let enabled = io::stdout().is_terminal() && !unwanted && !dumb;
    move |letter, text| {
        let base = letter.bytes().next().filter(u8::is_ascii_uppercase);
        match base {
            Some(base) if enabled => {
                let (r, g, b) = OKABE_ITO[usize::from(base - b'A') % OKABE_ITO.len()];
                format!("\x1b[1;38;2;{r};{g};{b}m{text}\x1b[0m")
            }
            _ => text.to_owned(),
        }
    }
}
