//! One line of music in staff spaces: its width is shared out, then everything
//! is drawn from the staff outward, each layer clear of the one before.

use super::canvas::{Canvas, line, sign};
use super::column::{FEET, HANDS, shifted};
use super::metrics::{self, LINE_GAP, STAFF, STAFF_LINE, THICK, THIN};
use super::piece::{Piece, meter_width};
use super::rows::{self, Placed};
use super::{stems, tuplets};
use crate::{Bounds, Element, Glyph, Item, Kind, Role, Spot, VoiceLine};
use barform_score::music::Meter;

/// Room of the clef at the start of a line.
pub const CLEF_ROOM: f32 = 2.2;
/// Room of a meter that warns of a change at the end of a line.
pub fn warning_width(piece: &Piece) -> f32 {
    0.6 + meter_width(&piece.bar) + 0.4
}

/// How a line is to be filled.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Fill {
    /// From margin to margin.
    Justified,
    /// At a looseness, unless that is wider than the line.
    Loose(f32),
    /// So wide from the clef to the end, unless the line is shorter.
    Wide(f32),
}

/// A line drawn, in staff spaces, y 0 on its upper staff line.
#[derive(Debug)]
pub struct Line {
    /// What is drawn.
    pub items: Vec<Item>,
    /// Box of all of it.
    pub bounds: Bounds,
    /// Moments, x in staff spaces; the system is for the caller to fill in.
    pub spots: Vec<Spot>,
}

/// Draws a line of pieces that is `width` wide; `warn` is a meter to announce at
/// its end. A single piece that cannot be closed up enough is drawn wider, and
/// the caller makes it smaller.
pub fn draw(
    pieces: &[Piece],
    width: f32,
    fill: Fill,
    warn: Option<&Piece>,
    numbered: bool,
) -> Line {
    let warning = warn.map_or(0.0, warning_width);
    let room = width - CLEF_ROOM - warning;
    let total = |s: f32| pieces.iter().map(|p| p.width(s)).sum::<f32>();
    let looseness = match fill {
        Fill::Loose(s) if total(s) <= room => s,
        Fill::Wide(wide) => looseness(total, room.min(wide)),
        _ => looseness(total, room),
    };
    let mut x = CLEF_ROOM;
    let mut placed: Vec<Placed> = Vec::with_capacity(pieces.len());
    for piece in pieces {
        let (mut xs, wide) = piece.positions(looseness);
        for at in &mut xs {
            *at += x;
        }
        placed.push(Placed {
            piece,
            left: x,
            xs,
            right: x + wide,
        });
        x += wide;
    }
    if fill == Fill::Justified
        && x + warning < width
        && let Some(last) = placed.last_mut()
    {
        // What bisection leaves, far less than a hair.
        x = width - warning;
        last.right = x;
    }
    let end = x + warning;
    let mut canvas = Canvas::new(end + 1.0);
    for step in 0..5 {
        let y = step as f32;
        canvas.put(line((0.0, y), (end, y), STAFF_LINE, Role::StaffLine));
    }
    canvas.put(sign(
        Glyph::PercussionClef,
        0.6,
        STAFF / 2.0,
        1.0,
        Role::Clef,
        None,
    ));
    for (i, p) in placed.iter().enumerate() {
        let before = i.checked_sub(1).and_then(|i| placed.get(i));
        bar_signs(&mut canvas, p, before, placed.get(i + 1));
    }
    if let Some(piece) = warn {
        meter(
            &mut canvas,
            piece.bar.meter,
            x + 0.6,
            meter_width(&piece.bar),
        );
    }
    for p in &placed {
        for (column, x) in p.piece.columns.iter().zip(&p.xs) {
            for item in &column.items {
                canvas.put(shifted(item.clone(), *x));
            }
        }
    }
    for voice in [HANDS, FEET] {
        for p in &placed {
            stems::draw(&mut canvas, p.piece, &p.xs, voice);
        }
    }
    for p in &placed {
        bar_rest(&mut canvas, p);
    }
    for voice in [HANDS, FEET] {
        for p in &placed {
            tuplets::signs(&mut canvas, p.piece, &p.xs, voice);
        }
        for p in &placed {
            tuplets::draw(&mut canvas, p.piece, &p.xs, voice);
        }
    }
    rows::under(&mut canvas, &placed);
    rows::times(&mut canvas, &placed);
    if numbered {
        rows::bar_number(&mut canvas, &placed);
    }
    rows::letters(&mut canvas, &placed);
    rows::sections(&mut canvas, &placed, end);
    let bounds = canvas.items.iter().map(|i| i.bounds).reduce(Bounds::with);
    Line {
        items: canvas.items,
        bounds: bounds.unwrap_or_default(),
        spots: placed.iter().flat_map(spots).collect(),
    }
}

/// The looseness at which the pieces are as wide as the room.
fn looseness(total: impl Fn(f32) -> f32, room: f32) -> f32 {
    let (mut low, mut high) = (0.0_f32, 1.0_f32);
    while total(high) < room && high < 4096.0 {
        (low, high) = (high, high * 2.0);
    }
    for _ in 0..28 {
        let middle = (low + high) / 2.0;
        if total(middle) <= room {
            low = middle
        } else {
            high = middle
        }
    }
    low
}

/// Meter and bar lines of a piece.
fn bar_signs(canvas: &mut Canvas, p: &Placed, before: Option<&Placed>, after: Option<&Placed>) {
    let bar = &p.piece.bar;
    let mut x = p.left;
    if p.piece.opens && bar.show_meter {
        let wide = meter_width(bar);
        meter(canvas, bar.meter, x + 0.8, wide);
        x += 0.8 + wide + 0.8;
    }
    let upright = |canvas: &mut Canvas, left: f32, width: f32| {
        let x = left + width / 2.0;
        canvas.put(line((x, 0.0), (x, STAFF), width, Role::BarLine));
    };
    let dots = |canvas: &mut Canvas, left: f32| {
        let b = metrics::glyph(Glyph::Dot);
        for y in [1.5, 2.5] {
            canvas.put(sign(Glyph::Dot, left - b.left, y, 1.0, Role::BarLine, None));
        }
    };
    if p.piece.opens && bar.repeat_from {
        // The line that closes the bar before is part of this sign.
        let shared = match before {
            Some(b) if x == p.left && b.piece.bar.repeat_to.is_some() => THICK,
            Some(b) if x == p.left => b.piece.closing(),
            _ => 0.0,
        };
        let left = x - shared;
        upright(canvas, left, THICK);
        upright(canvas, left + THICK + LINE_GAP, THIN);
        dots(canvas, left + THICK + LINE_GAP + THIN + 0.3);
    }
    // A repeat sign that follows at once takes the place of this bar line.
    let replaced =
        after.is_some_and(|a| a.piece.opens && a.piece.bar.repeat_from && !a.piece.bar.show_meter);
    if !p.piece.closes || (replaced && bar.repeat_to.is_none()) {
        return;
    }
    let right = p.right;
    if bar.repeat_to.is_some() {
        upright(canvas, right - THICK, THICK);
        upright(canvas, right - THICK - LINE_GAP - THIN, THIN);
        dots(canvas, right - THICK - LINE_GAP - THIN - 0.3 - 0.4);
    } else if p.piece.last {
        upright(canvas, right - THICK, THICK);
        upright(canvas, right - THICK - LINE_GAP - THIN, THIN);
    } else {
        upright(canvas, right - THIN, THIN);
        if bar.double_after {
            upright(canvas, right - 2.0 * THIN - LINE_GAP, THIN);
        }
    }
}

/// The two numbers of a meter, one over the other.
fn meter(canvas: &mut Canvas, meter: Meter, left: f32, width: f32) {
    for (number, y) in [(meter.count(), 1.0), (meter.unit(), 3.0)] {
        let wide = super::piece::number_width(number);
        let mut x = left + (width - wide) / 2.0;
        for digit in number.to_string().bytes() {
            let glyph = Glyph::MeterDigit(digit - b'0');
            canvas.put(sign(glyph, x, y, 1.0, Role::Meter, None));
            x += metrics::glyph(glyph).right + 0.08;
        }
    }
}

/// A rest for the whole bar stands in the middle between the bar lines, out of
/// the way of whatever the other voice has there.
fn bar_rest(canvas: &mut Canvas, p: &Placed) {
    let whole = |line: &VoiceLine| -> bool {
        let shown = |e: &Element| {
            matches!(
                e.kind,
                Kind::Rest {
                    hidden: false,
                    whole_bar: true
                }
            )
        };
        line.elements.iter().any(shown)
    };
    for (voice, line) in [(HANDS, &p.piece.bar.hands), (FEET, &p.piece.bar.feet)] {
        if !whole(line) {
            continue;
        }
        let b = metrics::glyph(Glyph::Rest(0));
        let left = p.left + p.piece.lead();
        let x = (left + p.right - p.piece.closing()) / 2.0 - (b.left + b.right) / 2.0;
        let mut y = STAFF / 2.0;
        let mut rest = sign(Glyph::Rest(0), x, y, 1.0, Role::Rest, None);
        let near = Bounds {
            left: x - 0.2,
            right: x + b.right + 0.2,
            ..rest.bounds
        };
        let in_way: Vec<Bounds> = canvas
            .items
            .iter()
            .filter(|i| !matches!(i.role, Role::StaffLine))
            .map(|i| i.bounds)
            .filter(|i| i.left < near.right && near.left < i.right)
            .collect();
        let by = if voice == HANDS { -1.0 } else { 1.0 };
        while in_way
            .iter()
            .any(|i| i.top - 0.1 < rest.bounds.bottom && rest.bounds.top < i.bottom + 0.1)
        {
            y += by;
            rest = sign(Glyph::Rest(0), x, y, 1.0, Role::Rest, None);
        }
        canvas.put(rest);
    }
}

/// Moments of a piece: each slot, each moment that is written, and each beat
/// between them.
fn spots(p: &Placed) -> Vec<Spot> {
    let start = p.piece.bar.start.to_f64();
    let (from, to) = (p.piece.span.0.to_f64(), p.piece.span.1.to_f64());
    let mut spots = Vec::new();
    let end = p.right - p.piece.closing();
    let mut known: Vec<(f64, f32)> = p
        .piece
        .columns
        .iter()
        .map(|c| c.at.to_f64())
        .zip(p.xs.iter().copied())
        .collect();
    if known.is_empty() {
        known.push((from, p.left + p.piece.lead() + 1.0));
    }
    for (i, (at, x)) in known.iter().copied().enumerate() {
        let sources = p.piece.columns.get(i).map_or(&[][..], |c| &c.sources);
        let spot = |source| Spot {
            beats: start + at,
            source,
            system: 0,
            x,
        };
        if sources.is_empty() {
            spots.push(spot(None));
        }
        spots.extend(sources.iter().map(|s| spot(Some(*s))));
        let (next, next_x) = known.get(i + 1).copied().unwrap_or((to, end.max(x)));
        let mut beat = at.floor() + 1.0;
        while beat < next - 1e-9 {
            let part = ((beat - at) / (next - at)) as f32;
            spots.push(Spot {
                beats: start + beat,
                source: None,
                system: 0,
                x: x + (next_x - x) * part,
            });
            beat += 1.0;
        }
    }
    spots
}
