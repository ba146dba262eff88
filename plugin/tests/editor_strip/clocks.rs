//! A click above the blocks goes there on the own clock; the host's clock is moved
//! in the host, and nothing here says otherwise.

use barform::handover::{Clock, Reading};

use super::*;

/// What is said of clicks above the blocks.
const PROMISE: &str = "play from there";

fn rules(window: &mut Window, clock: Clock) {
    window.params.session.live.publish(Reading {
        tempo_bpm: 100.0,
        clock,
        ..Reading::default()
    });
    window.harness.run_steps(2);
}

/// Clicks above the third block; where the clock is asked to go, in beats.
fn click_above(window: &mut Window) -> Option<f64> {
    let at = block(window, 3) - egui::vec2(0.0, 38.0);
    window.harness.hover_at(at);
    window.harness.run_steps(1);
    window.harness.drag_at(at);
    window.harness.run_steps(1);
    window.harness.drop_at(at);
    window.settle();
    window.params.session.live.take_locate()
}

#[test]
fn a_click_that_does_nothing_is_not_promised() {
    let mut window = with_form("A B C C");
    for (clock, works) in [
        (Clock::Own, true),
        (Clock::Host, false),
        (Clock::OwnForWant, true),
    ] {
        rules(&mut window, clock);
        let said = window.harness.query_all_by_label_contains(PROMISE).count();
        assert_eq!(said, usize::from(works), "{clock:?}");
        window
            .harness
            .get_by_label_contains("Click a block to select it");
        let went = click_above(&mut window);
        assert_eq!(went.is_some(), works, "{clock:?}");
        if let Some(beats) = went {
            // Three beats of A, one of B, and half of C.
            assert!((beats - 5.0).abs() < 0.1, "{beats}");
        }
    }
}
