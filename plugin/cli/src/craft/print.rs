//! Cells and tables as text, and cells as JSON.

use barform_app::music::{Cell, Slot};
use barform_app::words::{sticking, voices as voices_of};
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

/// Each slot's voices; `.` where they are those of the slot before.
fn voices(slots: &[Slot]) -> Vec<String> {
    let full: Vec<String> = slots.iter().map(voices_of).collect();
    let before = std::iter::once(None).chain(full.iter().map(Some));
    full.iter()
        .zip(before)
        .map(|(here, before)| match before {
            Some(before) if before == here && here != "-" => ".".to_owned(),
            _ => here.clone(),
        })
        .collect()
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
                "voices": voices_of(slot),
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
