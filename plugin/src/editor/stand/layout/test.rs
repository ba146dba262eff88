use proptest::prelude::*;

use super::*;

/// Widths of what is printed, as multiples of the capitals' height, measured at
/// a condensed bold face: `A` 1.0, `W` 1.4, `B2` 1.8, `W2’` 2.5; the longest
/// letter that a score may hold is a capital, two digits and eight primes.
fn letters() -> impl Strategy<Value = f32> {
    prop_oneof![0.3_f32..1.5, 1.5_f32..2.5, 2.5_f32..6.5]
}

/// Windows from the least to a large screen, and what is left for the Stand
/// under the top line, the transport and the strip.
fn rooms() -> impl Strategy<Value = (Rect, f32, bool)> {
    (800.0_f32..=1_920.0, 500.0_f32..=1_080.0, any::<bool>()).prop_map(|(width, height, full)| {
        let above = if full { 0.0 } else { 200.0 };
        let room = Rect::from_min_max(pos2(0.0, above), pos2(width, height));
        (room, height, full)
    })
}

/// Everything that may not overlap, with a name for messages.
fn parts(layout: &Layout) -> [(&'static str, Rect); 9] {
    [
        ("letter", layout.letter),
        ("section", layout.section),
        ("count", layout.count),
        ("hand", layout.hand),
        ("bar and beat", layout.place),
        ("ahead", layout.ahead),
        ("next", layout.next),
        ("staff", layout.staff),
        ("hint", layout.hint),
    ]
}

fn apart(layout: &Layout, room: Rect) {
    let parts = parts(layout);
    for (n, (name, rect)) in parts.iter().enumerate() {
        assert!(
            rect.width() >= 0.0 && rect.height() >= 0.0,
            "{name}: {rect}"
        );
        assert!(room.expand(0.01).contains_rect(*rect), "{name} is outside");
        for (other, with) in &parts[..n] {
            let common = rect.intersect(*with);
            let overlap = common.width() > 0.01 && common.height() > 0.01;
            assert!(!overlap, "{name} lies on {other}");
        }
    }
}

proptest! {
    #[test]
    fn nothing_overlaps_or_leaves_the_room(
        (room, window_height, full) in rooms(),
        letter in letters(),
        next in proptest::option::of(letters()),
    ) {
        let wants = Wants { letter, next, window_height, full };
        let layout = Layout::of(room, &wants);
        apart(&layout, room);
        // A staff of 22 points with sticking and counts is some 100 points high.
        prop_assert!(layout.staff.height() >= 110.0, "{}", layout.staff);
        prop_assert!(layout.staff.width() >= 800.0);
    }

    #[test]
    fn the_letter_is_a_quarter_of_the_window_high(
        (room, window_height, full) in rooms(),
        letter in 0.3_f32..2.0,
        next in proptest::option::of(letters()),
    ) {
        // A single letter in any window; two signs where the window is wide.
        let wide = room.width() >= window_height * 1.4;
        let letter = if wide { letter } else { letter.min(1.2) };
        let wants = Wants { letter, next, window_height, full };
        let layout = Layout::of(room, &wants);
        prop_assert!(layout.letter_cap >= window_height / 4.0);
        // What is read beside it at three metres: bar, beat and count.
        let least = window_height * 0.04;
        for rect in [layout.count, layout.hand, layout.place] {
            prop_assert!(rect.height() >= least && rect.width() >= 60.0, "{rect}");
        }
    }

    #[test]
    fn rooms_of_any_size_are_laid_out(
        width in 0.0_f32..4_000.0,
        height in 0.0_f32..3_000.0,
        letter in letters(),
        next in proptest::option::of(letters()),
        full in any::<bool>(),
    ) {
        let room = Rect::from_min_size(pos2(3.0, 5.0), vec2(width, height));
        let wants = Wants { letter, next, window_height: height, full };
        apart(&Layout::of(room, &wants), room);
    }
}
