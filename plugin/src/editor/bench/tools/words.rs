//! A cell in two lines of text, as the command line prints it.

use barform_core::music::{Articulation, Beats, Cell, Limb, Slot, Stroke};
use barform_core::score::{StickToken, stick_slot_text};

/// Characters in a line: what 260 points hold.
const WIDTH: usize = 35;

/// Sticking and voices, column under column, in pieces as wide as the panel. The
/// voices are left out where each limb plays its plain one.
pub fn lines(cell: &Cell) -> Vec<String> {
    let plain = |s: &Stroke| {
        let plain = Stroke::plain(s.limb);
        (s.voice, s.articulation) == (plain.voice, plain.articulation)
    };
    let with_voices = !cell.slots.iter().flatten().all(plain);
    let sticks: Vec<String> = cell.slots.iter().map(sticking).collect();
    let full: Vec<String> = cell.slots.iter().map(voices).collect();
    let mut lines = Vec::new();
    let (mut above, mut below) = (String::new(), String::new());
    let mut flush = |above: &mut String, below: &mut String| {
        lines.push(std::mem::take(above).trim_end().to_owned());
        let below = std::mem::take(below);
        if with_voices {
            lines.push(below.trim_end().to_owned());
        }
    };
    for (i, stick) in sticks.iter().enumerate() {
        let same = i > 0 && full[i] == full[i - 1] && full[i] != "-" && !above.is_empty();
        let voice = if same { "." } else { full[i].as_str() };
        let voice = if with_voices { voice } else { "" };
        let width = stick.chars().count().max(voice.chars().count());
        let have = above.chars().count();
        let voice = if have > 0 && have + width > WIDTH {
            flush(&mut above, &mut below);
            if with_voices { full[i].as_str() } else { "" }
        } else {
            voice
        };
        let width = stick.chars().count().max(voice.chars().count());
        above += &format!("{stick:<width$} ");
        below += &format!("{voice:<width$} ");
    }
    if !above.is_empty() {
        flush(&mut above, &mut below);
    }
    lines
}

/// A slot as a sticking line writes it.
pub fn sticking(slot: &Slot) -> String {
    let token = |s: &Stroke| StickToken {
        limb: s.limb,
        level: s.level,
        graces: s.graces,
        buzz: s.buzz,
    };
    stick_slot_text(&slot.iter().map(token).collect())
}

fn voices(slot: &Slot) -> String {
    if slot.is_empty() {
        return "-".to_owned();
    }
    let name = |s: &Stroke| match s.articulation {
        Articulation::Plain => s.voice.name().to_owned(),
        how => format!("{}:{}", s.voice.name(), how.name()),
    };
    slot.iter().map(name).collect::<Vec<_>>().join("+")
}

/// `1 slot`, `3 slots`.
pub fn count(n: u64, one: &str) -> String {
    match n {
        1 => format!("1 {one}"),
        _ => format!("{n} {one}s"),
    }
}

/// `1 beat`, `3/2 beats`.
pub fn beats(length: Beats) -> String {
    let one = length <= Beats::ONE && length.is_positive();
    format!("{length} beat{}", if one { "" } else { "s" })
}

/// The slot and the number in it of each hand stroke, in the order of the cell.
pub fn hand_strokes(cell: &Cell) -> Vec<(usize, usize)> {
    let hand = |limb: Limb| !limb.is_foot();
    let mut all = Vec::new();
    for (slot, strokes) in cell.slots.iter().enumerate() {
        let hands = strokes.iter().enumerate().filter(|(_, s)| hand(s.limb));
        all.extend(hands.map(|(number, _)| (slot, number)));
    }
    all
}
