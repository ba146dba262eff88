//! When nothing changes nothing is drawn; while something plays, all moves.

mod window;

use std::time::Duration;

use barform::editor::Page;
use barform::handover::{Clock, Reading};
use window::Window;

/// How soon the window wants to be drawn again.
fn wants(window: &mut Window) -> Duration {
    window.harness.run_steps(1);
    let viewport = egui::ViewportId::ROOT;
    window.harness.output().viewport_output[&viewport].repaint_delay
}

const PAGES: [Page; 6] = [
    Page::Stand,
    Page::Bench,
    Page::Score,
    Page::Kit,
    Page::Shelf,
    Page::Settings,
];

/// Lets animations of a new page end.
fn open(window: &mut Window, page: Page) {
    window.harness.state_mut().desk_mut().page = page;
    window.settle();
    window.harness.run_steps(8);
}

#[test]
fn a_window_in_which_nothing_happens_asks_for_no_frame() {
    for clock in [Clock::Host, Clock::OwnForWant] {
        let mut window = Window::open();
        let reading = Reading {
            position_beats: Some(1.0),
            tempo_bpm: 120.0,
            rolling: false,
            clock,
            letter: None,
        };
        window.params.session.live.publish(reading);
        for page in PAGES {
            open(&mut window, page);
            for frame in 0..40 {
                // The audio thread says the same over and over.
                window.params.session.live.publish(reading);
                let wanted = wants(&mut window);
                let causes = window.harness.ctx.repaint_causes();
                assert_eq!(wanted, Duration::MAX, "{page:?}, frame {frame}: {causes:?}");
            }
        }
    }
}

#[test]
fn while_time_runs_or_something_is_heard_by_itself_frames_follow() {
    let most = Duration::from_millis(40);
    let mut window = Window::open();
    let mut reading = Reading {
        position_beats: Some(1.0),
        tempo_bpm: 120.0,
        rolling: true,
        clock: Clock::Host,
        letter: None,
    };
    for page in PAGES {
        open(&mut window, page);
        window.params.session.live.publish(reading);
        assert!(wants(&mut window) <= most, "{page:?}");
    }
    reading.rolling = false;
    window.params.session.live.publish(reading);
    window.harness.run_steps(4);
    assert_eq!(wants(&mut window), Duration::MAX);
    let session = window.params.session.clone();
    let timeline = session.checked().timeline;
    session.audition.play(timeline, 100.0, false);
    assert!(wants(&mut window) <= most);
    session.audition.stop();
    window.harness.run_steps(4);
    assert_eq!(wants(&mut window), Duration::MAX);
}
