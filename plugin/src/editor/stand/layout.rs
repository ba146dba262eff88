//! Where everything stands on the Stand, worked out from sizes alone.

use egui::{Rect, pos2, vec2};

/// Height of the letter's capitals as a share of the window's: a quarter and
/// some more, since type is set in whole steps.
const LETTER_SHARE: f32 = 0.265;

/// The same while the Stand has the full window.
const FULL_LETTER_SHARE: f32 = 0.3;

/// Room round a letter on its colour, as a share of its capitals' height.
const PAD: (f32, f32) = (0.16, 0.1);

/// The following letter's height as a share of the letter's.
const NEXT_SHARE: f32 = 0.45;

/// What the layout depends on besides the room.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Wants {
    /// Width of the letter as a multiple of its capitals' height.
    pub letter: f32,
    /// The same of the letter that follows; `None` if none does.
    pub next: Option<f32>,
    /// Height of the whole window in points.
    pub window_height: f32,
    /// The Stand has the full window.
    pub full: bool,
}

/// Where everything stands, in points.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Layout {
    /// The letter's ground.
    pub letter: Rect,
    /// Height of the letter's capitals.
    pub letter_cap: f32,
    /// Section, or what plays it.
    pub section: Rect,
    /// What is counted now.
    pub count: Rect,
    /// What plays it: hands and feet.
    pub hand: Rect,
    /// Bar and beat.
    pub place: Rect,
    /// The word above the letter that follows.
    pub ahead: Rect,
    /// The following letter's ground.
    pub next: Rect,
    /// Height of its capitals.
    pub next_cap: f32,
    /// The staff with counts and sticking.
    pub staff: Rect,
    /// How to leave the full window.
    pub hint: Rect,
}

impl Layout {
    /// Lays out a room of any size.
    pub fn of(room: Rect, wants: &Wants) -> Layout {
        let margin = (room.width().min(room.height()) * 0.025).clamp(0.0, 28.0);
        let hint_height = if wants.full {
            22.0_f32.min(room.height() * 0.08)
        } else {
            0.0
        };
        let hint = Rect::from_min_max(pos2(room.left(), room.bottom() - hint_height), room.max);
        let inner = Rect::from_min_max(room.min, pos2(room.right(), hint.top())).shrink(margin);
        let share = if wants.full {
            FULL_LETTER_SHARE
        } else {
            LETTER_SHARE
        };
        // What is left must hold a staff.
        let most_cap = inner.height() * 0.56 / (1.0 + 2.0 * PAD.1);
        let most_width = inner.width() * 0.56;
        let cap = (wants.window_height * share)
            .min(most_cap)
            .min(most_width / (wants.letter + 2.0 * PAD.0))
            .max(0.0);
        let letter = Rect::from_min_size(inner.min, badge(cap, wants.letter));
        let gap = margin.max(6.0).min(inner.width() * 0.02);
        let head = Rect::from_min_max(
            pos2(letter.right() + gap, inner.top()),
            pos2(inner.right(), letter.bottom()),
        );
        let (middle, right) = split(head, cap, wants.next, gap);
        let rows = rows(middle, [0.2, 0.46, 0.34]);
        let [count, hand] = halves(rows[1], gap);
        let [ahead, next_room] = [
            Rect::from_min_max(right.min, pos2(right.right(), rows[0].bottom())),
            Rect::from_min_max(pos2(right.left(), rows[1].top()), right.max),
        ];
        let next = wants.next.unwrap_or(0.0);
        let next_cap = (cap * NEXT_SHARE)
            .min(next_room.width() / (next + 2.0 * PAD.0))
            .min(next_room.height() / (1.0 + 2.0 * PAD.1))
            .max(0.0);
        let size = badge(next_cap, next);
        Layout {
            letter,
            letter_cap: cap,
            section: rows[0],
            count,
            hand,
            place: rows[2],
            ahead,
            next: Rect::from_min_size(pos2(next_room.right() - size.x, next_room.top()), size),
            next_cap,
            staff: Rect::from_min_max(pos2(inner.left(), letter.bottom() + margin), inner.max),
            hint,
        }
    }
}

/// Size of a letter's ground.
fn badge(cap: f32, width: f32) -> egui::Vec2 {
    vec2(cap * (width + 2.0 * PAD.0), cap * (1.0 + 2.0 * PAD.1))
}

/// The middle of the head, and its right for the letter that follows.
fn split(head: Rect, cap: f32, next: Option<f32>, gap: f32) -> (Rect, Rect) {
    let wide = next.map_or(0.0, |next| {
        let badge = badge(cap * NEXT_SHARE, next).x;
        // Room for the words above it.
        badge.max(cap * 1.05).min(head.width() * 0.42)
    });
    let at = head.right() - wide;
    let middle = Rect::from_min_max(head.min, pos2((at - gap).max(head.left()), head.bottom()));
    let right = Rect::from_min_max(pos2(at, head.top()), head.max);
    (middle, right)
}

fn rows(room: Rect, shares: [f32; 3]) -> [Rect; 3] {
    let mut top = room.top();
    shares.map(|share| {
        let bottom = top + room.height() * share;
        let row = Rect::from_x_y_ranges(room.x_range(), top..=bottom);
        top = bottom;
        row
    })
}

fn halves(room: Rect, gap: f32) -> [Rect; 2] {
    let middle = room.left() + room.width() * 0.5;
    let gap = gap.min(room.width() * 0.1) / 2.0;
    [
        Rect::from_x_y_ranges(room.left()..=middle - gap, room.y_range()),
        Rect::from_x_y_ranges(middle + gap..=room.right(), room.y_range()),
    ]
}

#[cfg(test)]
mod test;
