//! Note values by name, tempos in decimals.

use barform_score::music::Beats;

/// Undotted note values in quarter notes.
const PLAIN: [(i64, i64, &str); 8] = [
    (8, 1, "double whole"),
    (4, 1, "whole"),
    (2, 1, "half"),
    (1, 1, "quarter"),
    (1, 2, "eighth"),
    (1, 4, "sixteenth"),
    (1, 8, "32nd"),
    (1, 16, "64th"),
];

/// What is made of a plain one: so many in the time of so many (a dot makes two
/// into the time of three). Common practice.
const MADE: [(i64, i64, &str, &str); 8] = [
    (1, 1, "", ""),
    (3, 2, "dotted ", ""),
    (2, 3, "", "-triplet"),
    (7, 4, "double-dotted ", ""),
    (4, 5, "", " of a quintuplet"),
    (4, 7, "", " of a septuplet"),
    (8, 9, "", " of a nonuplet"),
    (8, 11, "", " of an eleven-tuplet"),
];

/// The name of a note value in quarter notes: `sixteenth-triplet` for 1/6;
/// `N quarter notes` where the trade has none.
pub fn note_value(length: Beats) -> String {
    for (up, down, before, after) in MADE {
        for (numer, denom, name) in PLAIN {
            if Beats::new(numer * up, denom * down) == length {
                return format!("{before}{name}{after}");
            }
        }
    }
    format!("{length} quarter notes")
}

/// A tempo in decimals: exact if `places` (at most 9) suffice, else rounded half
/// up with `about` ahead of it.
pub fn decimal(tempo: Beats, places: u32) -> String {
    let places = places.min(9);
    let scale = 10_i128.pow(places);
    let (numer, denom) = (i128::from(tempo.numer()) * scale, i128::from(tempo.denom()));
    let exact = numer % denom == 0;
    // Half up, below zero too.
    let scaled = (2 * numer + denom).div_euclid(2 * denom);
    let sign = if scaled < 0 { "-" } else { "" };
    let (whole, rest) = (scaled.abs() / scale, scaled.abs() % scale);
    let digits = format!("{rest:0width$}", width = places as usize);
    let digits = if exact {
        digits.trim_end_matches('0')
    } else {
        &digits
    };
    let point = if digits.is_empty() || places == 0 {
        ""
    } else {
        "."
    };
    let digits = if places == 0 { "" } else { digits };
    let about = if exact { "" } else { "about " };
    format!("{about}{sign}{whole}{point}{digits}")
}
