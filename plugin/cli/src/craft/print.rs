//! Cells and tables as text, and cells as JSON.

use barform_app::music::{Articulation, Beats, Cell, Slot, Stroke, Voice};
use barform_app::score::{StickToken, stick_slot_text};
use serde_json::{Value, json};

/// Rows in columns, two blanks between them, each line indented by `indent`.
pub fn table(rows: &[Vec<String>], indent: usize) -> String {
    let columns = rows.iter().map(Vec::len).max().unwrap_or(0);
    let width = |column: usize| {
        let cells = rows.iter().filter(|row| column + 1 < row.len());
        cells
            .filter_map(|row| row.get(column))
            .map(|c| c.chars().count())
            .max()
            .unwrap_or(0)
    };
    let widths: Vec<usize> = (0..columns).map(width).collect();
    let mut out = String::new();
    for row in rows {
        let mut line = " ".repeat(indent);
        for (cell, width) in row.iter().zip(&widths) {
            line += &format!("{cell:<width$}  ");
        }
        out += line.trim_end();
        out.push('\n');
    }
    out
}

/// Counts, sticking and voices of a cell, one under the other.
pub fn cell(cell: &Cell, counts: &[String], indent: usize) -> String {
    let sticking = cell.slots.iter().map(sticking).collect();
    table(&[counts.to_vec(), sticking, voices(&cell.slots)], indent)
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

/// A whole sticking line.
pub fn sticking_line(slots: &[Slot]) -> String {
    slots.iter().map(sticking).collect::<Vec<_>>().join(" ")
}

/// Each slot's voices; `.` where they are those of the slot before.
fn voices(slots: &[Slot]) -> Vec<String> {
    let full: Vec<String> = slots.iter().map(slot_voices).collect();
    let before = std::iter::once(None).chain(full.iter().map(Some));
    full.iter()
        .zip(before)
        .map(|(here, before)| match before {
            Some(before) if before == here && here != "-" => ".".to_owned(),
            _ => here.clone(),
        })
        .collect()
}

fn slot_voices(slot: &Slot) -> String {
    if slot.is_empty() {
        return "-".to_owned();
    }
    let names: Vec<String> = slot
        .iter()
        .map(|s| voice(s.voice, s.articulation))
        .collect();
    names.join("+")
}

/// `hat:open`.
pub fn voice(voice: Voice, articulation: Articulation) -> String {
    match articulation {
        Articulation::Plain => voice.name().to_owned(),
        _ => format!("{}:{}", voice.name(), articulation.name()),
    }
}

/// `1 beat`, `3/2 beats`.
pub fn beats(length: Beats) -> String {
    let one = length <= Beats::ONE && length.is_positive();
    format!("{length} beat{}", if one { "" } else { "s" })
}

/// A cell with its counts.
pub fn cell_json(cell: &Cell, counts: &[String]) -> Value {
    let slots: Vec<Value> = cell
        .slots
        .iter()
        .enumerate()
        .map(|(i, slot)| {
            json!({
                "count": counts.get(i),
                "sticking": sticking(slot),
                "voices": slot_voices(slot),
            })
        })
        .collect();
    json!({
        "letter": cell.letter.as_str(),
        "grid": cell.grid.to_string(),
        "beats": cell.grid.length().map(|length| length.to_string()).ok(),
        "slots": slots,
    })
}
