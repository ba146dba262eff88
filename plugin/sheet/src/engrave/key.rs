//! Which head is which voice: a small staff for each that occurs, with its name.

use super::canvas::{Canvas, line, moved, sign, words};
use super::heads;
use super::metrics::{self, STAFF, STAFF_LINE};
use crate::{Anchor, Bounds, Face, Item, Kind, Role, Written, WrittenStroke};
use barform_score::music::{Articulation, Kit, Voice};

/// Size against the music.
const SCALE: f32 = 0.62;
/// Width of a small staff.
const STUB: f32 = 3.2;
/// Size of the names.
const NAME: (Face, f32) = (Face::Serif, 2.3);

/// The trade's name of a voice struck in a way that has a head of its own.
fn name(voice: Voice, articulation: Articulation) -> String {
    match articulation {
        Articulation::Rim | Articulation::Cross | Articulation::Bell => {
            format!("{}, {}", voice.said(), articulation.said())
        }
        _ => voice.said().to_owned(),
    }
}

/// The key to all heads that occur, in rows no wider than `width` staff spaces,
/// and its height.
pub fn key(written: &Written, kit: &Kit, width: f32) -> (Vec<Item>, f32) {
    let mut seen: Vec<WrittenStroke> = Vec::new();
    let lines = written.bars.iter().flat_map(|b| [&b.hands, &b.feet]);
    for element in lines.flat_map(|l| &l.elements) {
        let Kind::Notes(strokes) = &element.kind else {
            continue;
        };
        for s in strokes {
            let same = |o: &WrittenStroke| {
                o.stroke.voice == s.stroke.voice && o.head == s.head && o.step == s.step
            };
            if !seen.iter().any(same) {
                seen.push(*s);
            }
        }
    }
    let rank = |s: &WrittenStroke| {
        let place = kit.order.iter().position(|v| *v == s.stroke.voice);
        (
            place.unwrap_or(usize::MAX),
            s.stroke.voice,
            s.stroke.articulation,
        )
    };
    seen.sort_by_key(rank);
    let mut items = Vec::new();
    let (mut x, mut y, mut height) = (0.0_f32, 0.0_f32, 0.0_f32);
    let mut row: Vec<Item> = Vec::new();
    let mut flush = |row: &mut Vec<Item>, y: &mut f32, height: &mut f32| {
        if let Some(b) = row.iter().map(|i| i.bounds).reduce(Bounds::with) {
            let top = *y - b.top;
            items.extend(row.drain(..).map(|i| moved(i, 1.0, 0.0, top)));
            *height = *y + b.bottom - b.top;
            *y = *height + 0.7;
        }
    };
    for stroke in seen {
        let articulation = match stroke.stroke.articulation {
            a @ (Articulation::Rim | Articulation::Cross | Articulation::Bell) => a,
            _ => Articulation::Plain,
        };
        let (entry, wide) = entry(stroke, &name(stroke.stroke.voice, articulation));
        if x > 0.0 && x + wide > width {
            flush(&mut row, &mut y, &mut height);
            x = 0.0;
        }
        row.extend(entry.into_iter().map(|i| moved(i, 1.0, x, 0.0)));
        x += wide + 2.0;
    }
    flush(&mut row, &mut y, &mut height);
    for item in &mut items {
        item.role = Role::Key;
        item.source = None;
    }
    (items, height)
}

fn entry(stroke: WrittenStroke, name: &str) -> (Vec<Item>, f32) {
    let mut canvas = Canvas::new(STUB);
    for step in 0..5 {
        let y = step as f32;
        canvas.put(line((0.0, y), (STUB, y), STAFF_LINE, Role::Key));
    }
    let placed = heads::place(&[stroke], 2, super::column::HANDS);
    for item in heads::ledgers(placed.iter()) {
        canvas.put(moved(item, 1.0, STUB / 2.0, 0.0));
    }
    for head in &placed {
        canvas.put(sign(head.glyph, STUB / 2.0, head.y, 1.0, Role::Key, None));
    }
    let label = words(
        name,
        (STUB + 0.8, STAFF / 2.0 + 0.8),
        NAME,
        Anchor::Start,
        Role::Key,
    );
    let right = metrics::text_at(name, STUB + 0.8, 0.0, NAME.1, NAME.0, Anchor::Start).right;
    canvas.put(label);
    let items = canvas
        .items
        .into_iter()
        .map(|i| moved(i, SCALE, 0.0, 0.0))
        .collect();
    (items, right * SCALE)
}
