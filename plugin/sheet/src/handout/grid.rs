//! A grid in words: "4 sixteenths, then 6 sixteenth-note triplets".

use barform_score::music::{Beats, BeatsError, Grid, Letter};

/// Note values by the number of times a beat, a quarter note, is halved after
/// a whole note: one of it, several, and as a triplet.
const VALUES: [(&str, &str, &str); 8] = [
    ("whole note", "whole notes", "whole-note triplets"),
    ("half note", "half notes", "half-note triplets"),
    ("quarter note", "quarter notes", "quarter-note triplets"),
    ("eighth", "eighths", "eighth-note triplets"),
    ("sixteenth", "sixteenths", "sixteenth-note triplets"),
    (
        "thirty-second",
        "thirty-seconds",
        "thirty-second-note triplets",
    ),
    (
        "sixty-fourth",
        "sixty-fourths",
        "sixty-fourth-note triplets",
    ),
    ("128th", "128ths", "128th-note triplets"),
];

/// Most parts that are told; longer grids end in "and so on".
const MOST: usize = 8;

/// The letter as printed.
pub fn shown(letter: &Letter) -> String {
    letter.as_str().replace('\'', "′")
}

/// `1 beat`, `3/2 beats`.
pub fn beats(length: Beats) -> String {
    let one = length <= Beats::ONE && length.is_positive();
    format!("{length} beat{}", if one { "" } else { "s" })
}

/// What a grid is made of, in the words of the trade where there are any.
pub fn words(grid: &Grid) -> Result<String, BeatsError> {
    let mut runs: Vec<(u8, Beats, usize)> = Vec::new();
    for span in grid.spans() {
        match runs.last_mut() {
            Some((slots, length, times)) if *slots == span.slots && *length == span.length => {
                *times += 1;
            }
            _ => runs.push((span.slots, span.length, 1)),
        }
    }
    let mut parts = Vec::new();
    for (slots, length, times) in runs.iter().take(MOST) {
        parts.push(run(*slots, *length, *times)?);
    }
    if runs.len() > MOST {
        parts.push("and so on".to_owned());
    }
    Ok(parts.join(", then "))
}

/// `times` spans alike.
fn run(slots: u8, length: Beats, times: usize) -> Result<String, BeatsError> {
    let slot = length.checked_div(Beats::whole(i64::from(slots)))?;
    let all = usize::from(slots) * times;
    if let Some((one, more, _)) = value(slot)? {
        return Ok(format!("{all} {}", if all == 1 { one } else { more }));
    }
    if slots.is_multiple_of(3) {
        let plain = slot.checked_mul(Beats::new(3, 2))?;
        if let Some((_, _, triplets)) = value(plain)? {
            return Ok(format!("{all} {triplets}"));
        }
    }
    let even = match (slots, length == Beats::ONE) {
        (5, true) => "a quintuplet".to_owned(),
        (7, true) => "a septuplet".to_owned(),
        (1, _) => format!("one slot of {}", beats(length)),
        _ => format!("{slots} even slots in {}", beats(length)),
    };
    Ok(match times {
        1 => even,
        2 => format!("{even} twice"),
        _ => format!("{even} {times} times"),
    })
}

/// The note value of a length.
fn value(
    length: Beats,
) -> Result<Option<&'static (&'static str, &'static str, &'static str)>, BeatsError> {
    let mut beats = Beats::whole(4);
    for names in &VALUES {
        if beats == length {
            return Ok(Some(names));
        }
        beats = beats.checked_div(Beats::whole(2))?;
    }
    Ok(None)
}
