//! What may be written: signs that every face has, from left to right.

use super::face::{FACES, letters};
use deunicode::deunicode_char;

/// Words as they can be printed in any [`Face`](super::super::Face): white space becomes spaces,
/// control and format characters go, signs that a face lacks and scripts that
/// run from right to left are spelled in Latin letters, what has no spelling
/// becomes `?`.
pub fn printable(text: &str) -> String {
    let mut words = String::with_capacity(text.len());
    for sign in text.chars() {
        if sign.is_whitespace() {
            words.push(' ');
        } else if is_control(sign) {
        } else if can_be_set(sign) {
            words.push(sign);
        } else {
            match deunicode_char(sign) {
                Some(spelled) => words.extend(spelled.chars().filter(|s| can_be_set(*s))),
                None => words.push('?'),
            }
        }
    }
    words
}

/// Signs that show nothing and steer how others are shown (general categories
/// Cc and Cf of Unicode, variation selectors, tags).
fn is_control(sign: char) -> bool {
    sign.is_control()
        || matches!(
            u32::from(sign),
            0xAD | 0x34F | 0x600..=0x605 | 0x61C | 0x6DD | 0x70F | 0x180B..=0x180F
                | 0x200B..=0x200F | 0x202A..=0x202E | 0x2060..=0x206F | 0xFE00..=0xFE0F
                | 0xFEFF | 0xFFF9..=0xFFFB | 0x1D173..=0x1D17A | 0xE0000..=0xE0FFF
        )
}

/// Scripts that run from right to left or join their letters: set sign by sign
/// they cannot be read.
fn needs_shaping(sign: char) -> bool {
    matches!(
        u32::from(sign),
        0x590..=0x8FF | 0x900..=0xDFF | 0xFB1D..=0xFDFF | 0xFE70..=0xFEFF | 0x10800..=0x10FFF
            | 0x1E800..=0x1EFFF
    )
}

fn can_be_set(sign: char) -> bool {
    !is_control(sign)
        && !needs_shaping(sign)
        && FACES.iter().all(|face| {
            letters(*face)
                .glyph(sign)
                .is_some_and(|glyph| glyph.bounds.is_some() || sign == ' ')
        })
}
